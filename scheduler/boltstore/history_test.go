// SPDX-License-Identifier: Apache-2.0

package boltstore_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// at is 2026-03-02T08:00:00Z, a Monday.
const at resources.Tick = 1772438400

// story tells the invented shop of testdata/plants/bench.yaml an endless
// series of facts: order after order, each piece started and finished. The
// same number is the same event, so that a history can be told again.
type story struct {
	plant string // text of the plant file
	name  string
}

func newStory(t testing.TB) *story {
	text, err := os.ReadFile("../../testdata/plants/bench.yaml")
	require.NoError(t, err)
	plant, findings := resources.ReadPlant("bench.yaml", text)
	require.NotNil(t, plant, findings)
	return &story{plant: string(text), name: plant.Name}
}

// perOrder is how many events tell one order: added, and for each of its
// pieces a start and an end.
const perOrder = 1 + 2*pieces

const pieces = 25

// event is the fact with sequence n, from 1.
func (s *story) event(n int) events.Event {
	e := events.Event{ID: fmt.Sprintf("story-%d", n), Plant: s.name, At: at + resources.Tick(n), Seq: uint64(n)}
	if n == 1 {
		e.Kind, e.Data = events.PlantDeclared, events.PlantData{File: s.plant}
		return e
	}
	order, step := (n-2)/perOrder, (n-2)%perOrder
	if step == 0 {
		e.Kind = events.OrderAdded
		e.Data = events.OrderData{
			Order: fmt.Sprintf("O%d", order), Line: "1", Customer: "somebody", Product: "BOX", Quantity: pieces,
			ShipBy: at + 864000, Due: at + 864000, Weight: 1, Kind: "firm",
		}
		return e
	}
	e.Station, e.Kind = "B1", events.OperationStarted
	if step%2 == 0 {
		e.Kind = events.OperationFinished
	}
	e.Data = events.OperationData{Piece: fmt.Sprintf("O%d-1-%02d", order, (step+1)/2), Operation: "join"}
	return e
}

// tell applies the facts up to number n to a new state, or to the given one.
func (s *story) tell(t testing.TB, state *scheduler.State, n int) *scheduler.State {
	if state == nil {
		state = scheduler.NewState(nil)
	}
	for i := int(state.Seq) + 1; i <= n; i++ {
		_, err := state.Apply(s.event(i))
		require.NoError(t, err, "event %d", i)
	}
	return state
}
