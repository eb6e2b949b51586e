// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
)

// The instant at which a promise expires belongs to what comes after: then it can
// no longer be confirmed, and is expired.
func TestTheInstantAPromiseExpires(t *testing.T) {
	promise := events.PromiseData{Promise: "B"}
	f := newFloor(t)
	f.no(scheduler.RefusedMalformed, "", events.PromiseReserved, 30, reserve(30))
	f.ok("", events.PromiseReserved, 29, reserve(30))
	require.Empty(t, f.s.Overdue(mins(30)-1))
	require.Equal(t, []string{"B/1"}, f.s.Overdue(mins(30)))
	f.no(scheduler.RefusedSuperseded, "", events.PromiseConfirmed, 30, promise)
	f.no(scheduler.RefusedNotYet, "", events.PromiseExpired, 29, promise)
	f.ok("", events.PromiseExpired, 30, promise)
	require.Equal(t, scheduler.Expired, f.s.Lines["B/1"].Promise.Status)
	require.Empty(t, f.s.Overdue(mins(30)))

	f = newFloor(t)
	f.ok("", events.PromiseReserved, 5, reserve(30))
	require.Equal(t, mins(30), f.s.Lines["B/1"].EarliestStart, "nobody begins what may be let go")
	f.ok("", events.PromiseConfirmed, 29, promise)
	require.Zero(t, f.s.Lines["B/1"].EarliestStart)
	require.Empty(t, f.s.Overdue(mins(30)))
}

// Of two promises computed from one state the first in the log has the capacity;
// one that is computed after it has what is left.
func TestTheFirstPromiseHasTheCapacity(t *testing.T) {
	f := newFloor(t)
	asked := func(promise string, base uint64) events.ReserveData {
		d := reserve(60)
		d.Promise, d.Base = promise, base
		return d
	}
	before := f.s.Seq
	f.ok("", events.PromiseReserved, 5, asked("B", before))
	f.no(scheduler.RefusedStale, "", events.PromiseReserved, 6, asked("C", before))
	f.no(scheduler.RefusedStale, "", events.PromiseReserved, 6, asked("C", f.s.Claimed-1))
	f.ok("", events.PromiseReserved, 6, asked("C", f.s.Claimed))
}
