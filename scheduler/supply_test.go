// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// rods is a shop whose rods are wound from tow and packed with ends, with so much
// of each, and an order of so many for each of some dates, in days.
func rods(t require.TestingT, tow, ends int64, quantity int, days ...int) *scheduler.State {
	plant := schedtest.Plant(resources.Plant{
		Stations: []resources.Station{{ID: "W"}, {ID: "PACK"}},
		Materials: []resources.Material{
			{ID: "tow", Name: "Carbon tow", Unit: "kg", Stock: tow},
			{ID: "ends", Unit: "sets", Stock: ends - 1000, Receipts: []resources.Receipt{{At: schedtest.Monday + 3600, Quantity: 1000}}},
		},
		Products: []resources.Product{{ID: "ROD", Routing: []resources.Operation{
			{ID: "wind", Stations: []string{"W"}, Run: 3600, Draws: []resources.Draw{{Material: "tow", Quantity: 500}}},
			{ID: "pack", Stations: []string{"PACK"}, Run: 600, Draws: []resources.Draw{{Material: "ends", Quantity: 1000}}, After: []resources.Link{{Operation: "wind"}}},
		}}},
	})
	var lines []resources.OrderLine
	for i, day := range days {
		lines = append(lines, resources.OrderLine{
			Order: string(rune('A' + i)), Line: "1", Product: "ROD", Quantity: quantity, Weight: 1, Due: schedtest.Monday + resources.Tick(day)*86400,
		})
	}
	s, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	return s
}

func TestWhoIsDueLastGoesWithout(t *testing.T) {
	s := rods(t, 1700, 9000, 2, 9, 3)
	require.Equal(t, map[scheduler.Member]string{{Piece: "A-1-02", Operation: "wind"}: "tow"}, scheduler.Lacking(s))
	short := scheduler.Shortages(s)
	require.Equal(t, []scheduler.Shortage{{Material: "tow", Lack: 300, Pieces: []string{"A-1-02"}, Orders: []string{"A"}}}, short)
	require.Equal(t, "0.3 kg short of Carbon tow; 1 piece waits for it, of order A", short[0].Words(s.Plant))
	require.Equal(t, "0.3 kg short of Carbon tow; 1 piece waits for it, of what is asked for", short[0].WordsOfAsked(s.Plant, "A"))
}

// A sentence names some orders and counts the others; a material that everybody
// lacks something else before is short all the same.
func TestManyThatWaitAreCounted(t *testing.T) {
	days := []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	s := rods(t, 0, 9000, 1, days...)
	short := scheduler.Shortages(s)
	require.Len(t, short, 2)
	require.Equal(t, "5 kg short of Carbon tow; 10 pieces wait for it, of orders A, B, C, D, E, F, G, H and 2 more", short[0].Words(s.Plant))
	require.Equal(t, "5 kg short of Carbon tow; 10 pieces wait for it, of what is asked for and of orders A, C, D, E, F, G, H, I and 1 more", short[0].WordsOfAsked(s.Plant, "B"))
	require.Equal(t, "1 sets short of ends; what wants it lacks something else before", short[1].Words(s.Plant))
}

func TestWhatHasBegunIsServedFirst(t *testing.T) {
	s := rods(t, 9000, 1000, 1, 3, 9)
	require.Equal(t, map[scheduler.Member]string{{Piece: "B-1-01", Operation: "pack"}: "ends"}, scheduler.Lacking(s))
	op := schedtest.Op(t, s, "B-1-01", "wind")
	op.Status, op.Station, op.Started = scheduler.Started, "W", schedtest.Monday
	require.Equal(t, map[scheduler.Member]string{{Piece: "A-1-01", Operation: "pack"}: "ends"}, scheduler.Lacking(s))
}

// A piece that goes without tow takes no ends from another, and what is scrapped or
// cancelled wants nothing, although it may have drawn.
func TestWhoGoesWithoutTakesNothingElse(t *testing.T) {
	s := rods(t, 500, 1000, 1, 3, 9)
	op := schedtest.Op(t, s, "B-1-01", "wind")
	op.Status = scheduler.Done
	require.Equal(t, map[scheduler.Member]string{{Piece: "A-1-01", Operation: "wind"}: "tow"}, scheduler.Lacking(s))
	s.Lines["A/1"].Cancelled = true
	require.Empty(t, scheduler.Lacking(s))
	s.Lines["A/1"].Cancelled, s.Pieces["B-1-01"].Scrapped = false, true
	require.Equal(t, map[scheduler.Member]string{{Piece: "A-1-01", Operation: "wind"}: "tow"}, scheduler.Lacking(s))
	require.Empty(t, scheduler.Lacking(rods(t, 1000, 2000, 1, 3, 9)))
}

// Whatever there is, it is not given twice, and nobody goes without it while there
// is enough for one more.
func TestMaterialIsGivenOnceAndAsFarAsItGoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.SliceOfN(rapid.IntRange(1, 20), 1, 6).Draw(t, "days")
		quantity := rapid.IntRange(1, 4).Draw(t, "quantity")
		tow, ends := rapid.Int64Range(0, 12000).Draw(t, "tow"), rapid.Int64Range(1000, 24000).Draw(t, "ends")
		s := rods(t, tow, ends, quantity, days...)
		lack := scheduler.Lacking(s)
		wound, packed := int64(0), int64(0)
		for serial := range s.Pieces {
			if lack[scheduler.Member{Piece: serial, Operation: "wind"}] != "" {
				continue
			}
			wound++
			if lack[scheduler.Member{Piece: serial, Operation: "pack"}] == "" {
				packed++
			}
		}
		all := int64(len(s.Pieces))
		require.Equal(t, min(all, tow/500), wound)
		require.Equal(t, min(wound, ends/1000), packed)
	})
}
