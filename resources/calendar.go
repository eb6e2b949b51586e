// SPDX-License-Identifier: Apache-2.0

package resources

import "time"

// Calendar says when something is open: weekly shifts with breaks, changed by
// exceptions. Local times are read in the plant's zone; where a clock change
// repeats a local time its first occurrence is meant, and a missing one is
// read with the offset before the gap (RFC 5545, section 3.3.5).
type Calendar struct {
	ID         string
	Shifts     []Shift
	Exceptions []Exception // later ones win
}

// Shift opens on some weekdays from Start to End, seconds after local
// midnight. End may pass 24 h for a night shift. Breaks are cut out.
type Shift struct {
	Days   []time.Weekday
	Start  Seconds
	End    Seconds
	Breaks []ShiftBreak
}

// ShiftBreak is a stretch inside a shift, seconds after the local midnight of
// the shift's day.
type ShiftBreak struct {
	Start Seconds
	End   Seconds
}

// Exception opens or closes stretches of time: one span, repeated by an RFC
// 5545 rule when Rule is not empty.
type Exception struct {
	Open  bool    // true: open then, though the shifts say closed
	Apart bool    // open only: a stretch of its own; work that may not pause does not run on from one that touches it
	Start Tick    // first occurrence
	Long  Seconds // length of each occurrence, in elapsed time
	Rule  string  // RRULE value without the name, e.g. "FREQ=MONTHLY;BYDAY=1WE"
	Why   string
}
