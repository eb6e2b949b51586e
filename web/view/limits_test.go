// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/web/view"
)

// Shafts of one tube wait equally long; which of them a sheet names must not
// change from one look to the next.
func TestAStationNamesTheSameShaftEachTime(t *testing.T) {
	p := small()
	tube := p.State.Pieces["B2-1-01"]
	cure := tube.Ops[1:]
	tube.Ops = tube.Ops[:1]
	for i := range 6 {
		shaft := &scheduler.Piece{
			Serial: fmt.Sprint(tube.Serial, "-", i+1), Order: tube.Order, Line: tube.Line, Product: tube.Product,
			Parent: tube.Serial, Shaft: true, Slot: i + 1, Ops: cure,
		}
		p.State.Pieces[shaft.Serial] = shaft
	}
	for range 30 {
		sheet := view.New(p).StationSheet("W1")
		for _, j := range append(sheet.Now, sheet.Next...) {
			if j.Job.Pieces[0].Piece == tube.Serial {
				require.Equal(t, tube.Serial+"-1", j.Then.Piece)
			}
		}
	}
}
