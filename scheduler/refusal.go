// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Reason is the short, stable code of a refusal.
type Reason string

// Why an event can be refused.
const (
	RefusedRepeated    Reason = "repeated"    // an event of this ID, or this place in the log, was applied
	RefusedMalformed   Reason = "malformed"   // the event itself cannot be right
	RefusedUnknown     Reason = "unknown"     // it names something that does not exist
	RefusedExists      Reason = "exists"      // it makes something that exists
	RefusedAlready     Reason = "already"     // somebody else has reported it
	RefusedNotYet      Reason = "not yet"     // something must be reported first
	RefusedMissing     Reason = "missing"     // an earlier operation has not been reported finished
	RefusedHeld        Reason = "on hold"     // the piece must not go on
	RefusedScrapped    Reason = "scrapped"    // the piece is no more
	RefusedCancelled   Reason = "cancelled"   // the order line is no more
	RefusedOccupied    Reason = "occupied"    // something else is there
	RefusedWrongPlace  Reason = "wrong place" // that station does not do it, or does it otherwise
	RefusedInLoad      Reason = "in a load"   // the load is reported, not its members
	RefusedUnlike      Reason = "unlike"      // members that cannot run together
	RefusedTooMuch     Reason = "too much"    // more than fits
	RefusedTool        Reason = "tool"        // the tool unit cannot be meant
	RefusedMix         Reason = "mix"         // the mix cannot be meant
	RefusedContradicts Reason = "contradicts" // its time and what is known cannot both be right
	RefusedSuperseded  Reason = "superseded"  // a later report says otherwise
	RefusedStale       Reason = "stale"       // made for a state that is gone
	RefusedInUse       Reason = "in use"      // the plant cannot lose something that is in use
	RefusedBegun       Reason = "begun"       // too late to change: work has begun
)

// Refusal is why an event was not believed. Nothing changed. It reads as one
// line for the person who reported: what it is about, what is wrong, what to
// do.
type Refusal struct {
	Reason Reason
	About  string // serial, station, order, … it speaks of; may be empty
	Text   string // what is wrong
	Hint   string // what to do; may be empty
}

// Error is about, text and hint on one line.
func (r *Refusal) Error() string {
	var b strings.Builder
	if r.About != "" {
		b.WriteString(r.About + ": ")
	}
	b.WriteString(r.Text)
	if r.Hint != "" {
		b.WriteString("; " + r.Hint)
	}
	return b.String()
}

// ErrRebuild is what Apply answers to a void that is in order: the state must
// be made anew with Fold from the log that ends with it. Nothing changed.
var ErrRebuild = errors.New("an earlier event is void: fold the log again")

func refuse(reason Reason, about, hint, format string, args ...any) *Refusal {
	return &Refusal{Reason: reason, About: about, Hint: hint, Text: fmt.Sprintf(format, args...)}
}

// clock writes an instant for people of the plant: "Mon 2 Mar 14:05".
func (s *State) clock(at Tick) string {
	zone := time.UTC
	if s.Plant != nil && s.Plant.Zone != nil {
		zone = s.Plant.Zone
	}
	return time.Unix(int64(at), 0).In(zone).Format("Mon 2 Jan 15:04")
}

// by names a reporter inside a sentence, or nothing.
func by(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}
