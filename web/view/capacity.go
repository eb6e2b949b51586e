// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"towpath/resources"
	"towpath/scheduler/capacity"
)

// CapacityQuery is what the capacity page shows.
type CapacityQuery struct {
	Kind string // only rows of this kind; empty: all
	Row  string // key of the row shown in full; empty: none
	Week string // week shown in full; empty: none
}

// CapacityPage is the capacity page: the report arranged for people.
type CapacityPage struct {
	Report *capacity.Report
	Query  CapacityQuery
	Rows   []*capacity.Row // of the kind, most loaded first
	Row    *capacity.Row   // shown in full; nil: none
	Week   int             // shown in full; -1: none
	Top    []CapacityTop   // of the week shown
	Curve  Curve
	Dates  DateTable
	Worth  WorthJob
	Can    bool // additions can be solved here
}

// CapacityTop is one row in the week shown.
type CapacityTop struct {
	Row  *capacity.Row
	Cell *capacity.Cell
}

// WorthJob is the state of solving what additions are worth.
type WorthJob struct {
	State  string             `json:"state" doc:"idle, running, done, stopped or failed"`
	Asked  int                `json:"asked" doc:"additions to solve"`
	Done   int                `json:"done" doc:"additions solved"`
	Ready  bool               `json:"ready" doc:"true: the shop as it is has been solved"`
	Since  resources.Tick     `json:"since" doc:"the shop's instant it is solved for; empty: never asked"`
	Text   string             `json:"text" doc:"why it failed; empty: it did not"`
	Base   *capacity.Standing `json:"base" doc:"how the shop stands as it is; null: not solved yet"`
	Worths []capacity.Worth   `json:"worths" doc:"what is solved, ranked"`
}

// CapacityKinds are the filters of the page.
func CapacityKinds() []Choice {
	list := []Choice{{Key: "", Word: "all"}}
	for _, k := range capacity.Kinds() {
		list = append(list, Choice{Key: string(k), Word: string(k) + "s"})
	}
	return list
}

// NewCapacityPage arranges a report.
func NewCapacityPage(r *capacity.Report, q CapacityQuery) CapacityPage {
	p := CapacityPage{Report: r, Query: q, Week: -1, Row: r.Row(q.Row)}
	for i := range r.Rows {
		if row := &r.Rows[i]; q.Kind == "" || q.Kind == string(row.Kind) {
			p.Rows = append(p.Rows, row)
		}
	}
	slices.SortStableFunc(p.Rows, func(a, b *capacity.Row) int { return cmp.Compare(b.Peak, a.Peak) })
	for w := range r.Weeks {
		if r.Weeks[w].Week == q.Week {
			p.Week = w
		}
	}
	if p.Week >= 0 {
		for _, row := range p.Rows {
			p.Top = append(p.Top, CapacityTop{row, &row.Cells[p.Week]})
		}
		slices.SortStableFunc(p.Top, func(a, b CapacityTop) int { return cmp.Compare(b.Cell.Ratio, a.Cell.Ratio) })
		p.Top = p.Top[:min(len(p.Top), 15)]
	}
	p.Curve = newCurve(r)
	p.Dates = newDateTable(r)
	return p
}

// Heat is how hot a cell is, 0 to 6: nothing asked, below 50, 75, 90, 100 %, as
// much as there is, and a fifth more or no hours at all. It goes by the number
// the cell shows, so that one number has one colour.
func Heat(c *capacity.Cell) int {
	switch shown := loadPercent(c); {
	case c.Closed || shown >= 120:
		return 6
	case shown >= 100:
		return 5
	case shown >= 90:
		return 4
	case shown >= 75:
		return 3
	case shown >= 50:
		return 2
	case c.Asked > 0:
		return 1
	}
	return 0
}

// HeatText is a cell's load ratio in percent.
func HeatText(c *capacity.Cell) string {
	switch {
	case c.Closed:
		return "shut"
	case c.Asked == 0:
		return "·"
	}
	return fmt.Sprintf("%.0f", loadPercent(c))
}

// loadPercent is a cell's load ratio in whole percent.
func loadPercent(c *capacity.Cell) float64 { return math.Round(100 * c.Ratio) }

// Hours writes hours as tables show them.
func Hours(x float64) string {
	switch {
	case x == capacity.Endless:
		return "no end"
	case x == 0:
		return "–"
	case x < 10:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", x)
}

// Measures of the season curve, in units of its own drawing.
const (
	CurveWide  = 1000
	CurveTall  = 190
	curveLeft  = 40
	curveBase  = 160
	curveReach = 140 // height of the largest bar
)

// Curve is the season curve: pieces by week as bars, and the bottleneck's load
// as a line.
type Curve struct {
	Bars  []CurveBar
	Most  int    // pieces of the largest bar
	Line  string // points of the load's line
	Full  float64
	Scale float64 // load ratio at the top
}

// CurveBar is one week of it.
type CurveBar struct {
	Week                    string
	X, Wide, Middle         float64
	OrderedY, OrderedTall   float64
	ForecastY, ForecastTall float64
	Ordered, Forecast       int
	Bottleneck              capacity.Bottleneck
	LoadY                   float64
	Label                   bool
}

func newCurve(r *capacity.Report) Curve {
	c := Curve{Scale: 1.25}
	for i := range r.Weeks {
		b := CurveBar{Week: r.Weeks[i].Week, Bottleneck: r.Bottlenecks[i]}
		for k := range r.Demand {
			b.Ordered += r.Demand[k].Ordered[i]
			b.Forecast += r.Demand[k].Forecast[i]
		}
		c.Most = max(c.Most, b.Ordered+b.Forecast)
		c.Scale = max(c.Scale, b.Bottleneck.Ratio*1.05)
		c.Bars = append(c.Bars, b)
	}
	step := float64(CurveWide-curveLeft) / float64(max(1, len(c.Bars)))
	every := max(1, (len(c.Bars)+17)/18)
	for i := range c.Bars {
		b := &c.Bars[i]
		b.X, b.Wide = curveLeft+float64(i)*step+step*0.12, step*0.76
		b.Middle = curveLeft + (float64(i)+0.5)*step
		unit := curveReach / float64(max(1, c.Most))
		b.OrderedTall, b.ForecastTall = unit*float64(b.Ordered), unit*float64(b.Forecast)
		b.OrderedY = curveBase - b.OrderedTall
		b.ForecastY = b.OrderedY - b.ForecastTall
		b.LoadY = curveBase - curveReach*b.Bottleneck.Ratio/c.Scale
		b.Label = i%every == 0
		c.Line += fmt.Sprintf("%.1f,%.1f ", b.Middle, b.LoadY)
	}
	c.Full = curveBase - curveReach/c.Scale
	return c
}

// DateTable is the last safe dates, a line a weekend and a column a product.
type DateTable struct {
	Products []string
	Lines    []DateLine
}

// DateLine is one race weekend.
type DateLine struct {
	Event string
	Due   resources.Tick
	Cells []capacity.LastDate
}

func newDateTable(r *capacity.Report) DateTable {
	var t DateTable
	for _, d := range r.Dates {
		if !slices.Contains(t.Products, d.Product) {
			t.Products = append(t.Products, d.Product)
		}
		if n := len(t.Lines); n == 0 || t.Lines[n-1].Due != d.Due {
			t.Lines = append(t.Lines, DateLine{Event: d.Event, Due: d.Due})
		}
		line := &t.Lines[len(t.Lines)-1]
		line.Cells = append(line.Cells, d)
	}
	return t
}
