// SPDX-License-Identifier: Apache-2.0

package soak_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/soak"
)

// teller has one deed told until now, with no slips.
func teller(e events.Event) *soak.Reporter {
	r := soak.NewReporter(1, soak.Slips{})
	r.Took(e, scheduler.NewState(nil))
	return r
}

func nothing(string) bool { return false }

// A stop that is refused because the shop knows of something later there is
// not told again and not lost; one that is refused for another reason is told
// until it is believed.
func TestOvertakenStopIsNotToldForEver(t *testing.T) {
	stop := events.Event{ID: "stop", Kind: events.StationDown, Station: "W1", At: 1000, Data: events.StationData{Why: "drive"}}
	for _, tt := range []struct {
		name  string
		state scheduler.StationState
		over  bool
	}{
		{"work began there later", scheduler.StationState{Since: 2000}, true},
		{"an end of the stop at the same second", scheduler.StationState{Since: 1000}, false},
		{"the same stop is known", scheduler.StationState{Since: 1000, Down: true}, true},
		{"nothing later is known", scheduler.StationState{Since: 500}, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := teller(stop)
			s := scheduler.NewState(nil)
			s.Stations["W1"] = &tt.state
			require.Len(t, r.Due(1000, true), 1)
			r.Heard(1000, s, nothing, false)
			a := r.Account(nothing)
			if tt.over {
				require.Zero(t, r.Open())
				require.Empty(t, a.Lost)
				require.Equal(t, 1, a.Overtaken)
				return
			}
			require.Equal(t, 1, r.Open())
			require.Len(t, a.Lost, 1)
			require.Zero(t, a.Overtaken)
		})
	}
}

// Work that is refused is never called overtaken.
func TestOnlyStopsAreOvertaken(t *testing.T) {
	r := teller(events.Event{ID: "go", Kind: events.OperationStarted, Station: "W1", At: 1000, Data: events.OperationData{Piece: "P", Operation: "o"}})
	s := scheduler.NewState(nil)
	s.Stations["W1"] = &scheduler.StationState{Since: 2000}
	require.Len(t, r.Due(1000, true), 1)
	r.Heard(1000, s, nothing, false)
	require.Len(t, r.Account(nothing).Lost, 1)
}
