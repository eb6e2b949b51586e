// SPDX-License-Identifier: Apache-2.0

package view

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/promise"
	"towpath/testdata/demo"
)

// A change is written as a file of changes is read.
func TestChangeRowsAreReadAsTheyAreMeant(t *testing.T) {
	plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", found)
	day := resources.LocalTick(plant.Zone, 2026, 3, 12, 0)
	hour := resources.Tick(resources.Hour)
	crew, station := plant.Crews[0].ID, plant.Stations[0].ID
	changes := []resources.Change{
		{AddOrder: &resources.NewOrder{
			OrderLine: resources.OrderLine{Order: "P-1", Line: "2", Customer: "Harbour crew", Product: "HS-M", Quantity: 3, ShipBy: day + 16*hour, Weight: 2, Kind: resources.Event},
			Asked:     &resources.Asked{Wish: day + 12*hour, Plan: 14, PerMille: 957},
		}},
		{AddOrder: &resources.NewOrder{
			OrderLine: resources.OrderLine{Order: "P-2", Line: "1", Product: "HS-M", Quantity: 1, ShipBy: day + 16*hour, Weight: 1}, Asked: &resources.Asked{},
		}},
		{AddOrder: &resources.NewOrder{OrderLine: resources.OrderLine{Order: "P-3", Line: "1", Product: "HS-M", Quantity: 1, ShipBy: day + 16*hour, Weight: 1}}},
		{Shift: &resources.ShiftChange{Interval: resources.Interval{Start: day + 14*hour, End: day + 18*hour}, Crews: []string{crew}, Heads: 2}},
		{Shift: &resources.ShiftChange{Interval: resources.Interval{Start: day + 22*hour, End: day + 30*hour}, Crews: []string{crew}, Stations: []string{station}}},
	}
	set := Attempt{Name: "asked"}
	for i := range changes {
		set.Changes = append(set.Changes, changeRow(&changes[i], plant.Zone))
	}
	text, err := json.Marshal(map[string]any{"name": set.Name, "changes": set.Changes})
	require.NoError(t, err)
	read, bad := resources.ReadChanges("changes.yaml", text, plant, nil, plant.StartsAt)
	require.Empty(t, bad)
	require.Len(t, read.Changes, len(changes))
	for i := range changes {
		read.Changes[i].Line, read.Changes[i].Source = 0, ""
		if o := read.Changes[i].AddOrder; o != nil {
			o.Due = 0 // the plant's carriers say
		}
		require.Equal(t, changes[i], read.Changes[i])
	}
}

// Where no changes can be tried nothing is offered to try.
func TestNothingIsOfferedWhereNothingCanBeTried(t *testing.T) {
	plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", found)
	split := promise.Alternative{Kind: promise.Split, Words: "two shipments", Parts: []promise.Delivery{{Quantity: 1}, {Quantity: 2}}}
	answer := &promise.Answer{Ask: promise.Ask{Product: "HS-M", Quantity: 3}, Otherwise: &promise.Otherwise{Alternatives: []promise.Alternative{split, {Kind: promise.Loads}}}}
	p := PromisePage{Question: &Question{Answer: answer}, Number: "P-1", Zone: plant.Zone}
	require.Nil(t, p.Attempt(0))
	p.Tries = true
	require.Len(t, p.Attempt(0).Changes, 2)
	require.Nil(t, p.Attempt(1), "that is only another plan")
}
