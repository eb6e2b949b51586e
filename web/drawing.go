// SPDX-License-Identifier: Apache-2.0

package web

import (
	"fmt"
	"strings"

	"towpath/web/view"
)

// Measures of the line-up's rows, in CSS pixels.
const (
	laneTall  = 28
	loadHead  = 21
	tubeTall  = 13
	tubeLines = 4
	loadTall  = loadHead + tubeLines*tubeTall + 5
)

// RowHeight is how tall a station's row is drawn.
func (p Page) RowHeight(r view.LineupRow) int {
	if r.Batch && r.Cure {
		return loadTall + 4
	}
	return r.Lanes*laneTall + 4
}

// LaneTop is where a block begins in its row.
func (p Page) LaneTop(r view.LineupRow, b view.Block) int {
	if r.Batch {
		return 2
	}
	return 2 + b.Lane*laneTall
}

// LaneHeight is how tall a block is drawn.
func (p Page) LaneHeight(r view.LineupRow) int {
	if r.Batch && r.Cure {
		return loadTall
	}
	return laneTall - 3
}

// Lane is a station's row with the axis it is drawn on.
type Lane struct {
	Key   string // no other lane of the page has it
	Row   view.LineupRow
	Marks []view.Mark
	Now   float64
}

// Lane is the page around a station's row.
func (p Page) Lane(key string, row view.LineupRow, marks []view.Mark, now float64) Page {
	return p.With(Lane{Key: key, Row: row, Marks: marks, Now: now})
}

// Trying is the page when what it draws is not the shop's own plan: blocks lead
// nowhere, as the shop may have no such job.
func (p Page) Trying() Page {
	p.trying = true
	return p
}

// Tube is a line of text in a load's block.
type Tube struct {
	Top  int
	Text string
}

// Wide says whether a block is wide enough for words on the narrowest axis.
func (p Page) Wide(b view.Block) bool { return b.W > 2.4 }

// Tubes are the lines that name what is in a load; the last one counts those
// that have no room.
func (p Page) Tubes(j *view.Job) []Tube {
	var out []Tube
	for i := range j.Pieces {
		text := j.Pieces[i].Piece
		if i == tubeLines-1 && len(j.Pieces) > tubeLines {
			text = fmt.Sprintf("and %d more", len(j.Pieces)-i)
		}
		out = append(out, Tube{Top: loadHead + 10 + i*tubeTall, Text: text})
		if i == tubeLines-1 {
			break
		}
	}
	return out
}

// BlockLink is where a block leads: to the order, or to the loads.
func (p Page) BlockLink(j *view.Job) string {
	switch {
	case p.trying:
		return "#lineups"
	case j.Kind == view.PieceJob:
		return pathOf("orders", j.Pieces[0].Order) + "#" + j.Pieces[0].Piece
	case j.Kind == view.LoadJob:
		return "/loads?all=1&done=1#" + j.ID
	}
	return pathOf("station", j.Station)
}

// BlockWord is what stands in a block.
func (p Page) BlockWord(j *view.Job) string {
	switch j.Kind {
	case view.PieceJob:
		return j.Pieces[0].Piece + "  " + j.Title
	case view.LoadJob:
		return j.Subject() + "  " + j.Title
	}
	return j.ID + "  " + view.Grams(j.Grams)
}

// BlockText is when a block is, and how its orders stand.
func (p Page) BlockText(j *view.Job) string {
	text := fmt.Sprintf("%s on %s, %s – %s, %s", j.Subject(), j.Station, p.Time(j.Start), p.Time(j.End), j.Status)
	if j.Setup < j.Start {
		text += ", changeover from " + p.Time(j.Setup)
	}
	if j.Kind == view.MixJob {
		text += ", lives until " + p.Time(j.Expiry)
	}
	if j.Standing.Bad() || j.Standing == view.Tight {
		text += ", order " + j.Standing.Word()
	}
	return text
}

// BlockLabel is a block for those who cannot see it.
func (p Page) BlockLabel(j *view.Job) string { return j.Title + ": " + p.BlockText(j) }

// BlockPieces names the pieces of a block.
func (p Page) BlockPieces(j *view.Job) string {
	if j.Kind == view.PieceJob {
		return ""
	}
	names := make([]string, len(j.Pieces))
	for i := range j.Pieces {
		names[i] = j.Pieces[i].Piece
	}
	return strings.Join(names, ", ")
}
