// SPDX-License-Identifier: Apache-2.0

package resources

// Tick is an instant: seconds since 1970-01-01T00:00:00Z. Plans, events and
// calendars count in it, so no floating point and no zone can creep in.
type Tick int64

// Seconds is a length of time in whole seconds.
type Seconds int64

// Lengths of time, in seconds.
const (
	Minute Seconds = 60
	Hour   Seconds = 3600
	Day    Seconds = 24 * Hour
)

// Interval is the half-open span [Start, End).
type Interval struct {
	Start Tick
	End   Tick
}

// Length is End minus Start, in seconds; negative for a reversed interval.
func (i Interval) Length() Seconds { return Seconds(i.End - i.Start) }
