// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"
	"strings"

	"towpath/resources"
)

// Zooms of the line-up, by key.
func Zooms() []Choice {
	return []Choice{{"day", "day"}, {"3days", "3 days"}, {"week", "week"}}
}

func zoomDays(key string) int {
	switch key {
	case "3days":
		return 3
	case "week":
		return 7
	}
	return 1
}

// LineupQuery is which stretch of time to draw, and of what.
type LineupQuery struct {
	From  resources.Tick // 0: shortly before now
	Zoom  string         // one of Zooms' keys; empty: day
	Order string         // mark the pieces of this order; empty: none
	Kind  string         // only stations of this kind; empty: all
}

// Lineup is a time axis with a row per station. Positions are in percent of
// the axis, so that a page can draw it at any width.
type Lineup struct {
	From    resources.Tick `json:"from" doc:"left end of the axis"`
	To      resources.Tick `json:"to" doc:"right end of the axis"`
	Zoom    string         `json:"zoom" doc:"length of the axis: day, 3days or week"`
	Order   string         `json:"order" doc:"order whose pieces are marked"`
	Kind    string         `json:"kind" doc:"kind of stations shown; empty: all"`
	Kinds   []string       `json:"kinds" doc:"kinds of stations there are"`
	Earlier resources.Tick `json:"earlier" doc:"left end of the stretch before"`
	Later   resources.Tick `json:"later" doc:"left end of the stretch after"`
	Now     float64        `json:"now" doc:"place of now, percent; negative: not on the axis"`
	Marks   []Mark         `json:"marks" doc:"grid lines with their words"`
	Rows    []LineupRow    `json:"rows" doc:"stations in the order of the plant file"`
	Plan    int64          `json:"plan" doc:"version of the plan; 0: none yet"`
	Gaps    []GapRow       `json:"gaps" doc:"how far the plan may be from the best, part by part; empty: not computed yet"`
	Optimal bool           `json:"optimal" doc:"true: proven, no plan is better"`
	Change  *PlanChange    `json:"change" doc:"what it changed against the plan before; null: there was none"`
}

// Mark is a line of the grid.
type Mark struct {
	At   resources.Tick `json:"at" doc:"instant"`
	X    float64        `json:"x" doc:"place, percent"`
	Word string         `json:"word" doc:"what stands at it; empty: nothing"`
	Day  bool           `json:"day" doc:"true: a day begins"`
}

// Stretch is a part of the axis.
type Stretch struct {
	X    float64 `json:"x" doc:"left end, percent"`
	W    float64 `json:"w" doc:"width, percent"`
	Word string  `json:"word" doc:"what it is"`
}

// LineupRow is a station on the axis.
type LineupRow struct {
	ID     string    `json:"id" doc:"station's ID"`
	Name   string    `json:"name" doc:"station's name"`
	Kind   string    `json:"kind" doc:"kind of station"`
	Batch  bool      `json:"batch" doc:"true: blocks are loads"`
	Cure   bool      `json:"cure" doc:"true: it runs cure recipes"`
	Lanes  int       `json:"lanes" doc:"rows of blocks, one per place"`
	Closed []Stretch `json:"closed" doc:"when it is closed"`
	Down   []Stretch `json:"down" doc:"when it is down"`
	Blocks []Block   `json:"blocks" doc:"jobs, by start"`
}

// Block is a job on the axis.
type Block struct {
	X      float64 `json:"x" doc:"left end of loading, percent"`
	W      float64 `json:"w" doc:"width, percent"`
	SetupX float64 `json:"setup_x" doc:"left end of the changeover, percent"`
	SetupW float64 `json:"setup_w" doc:"width of the changeover, percent; 0: none"`
	Lane   int     `json:"lane" doc:"row within the station, from 0"`
	Marked bool    `json:"marked" doc:"true: of the order asked for"`
	Job    *Job    `json:"job" doc:"the job"`
	Moved  bool    `json:"-"` // beside another line-up: it is not there
}

// Lineup computes the line-up page.
func (v *View) Lineup(q LineupQuery) Lineup {
	days := zoomDays(q.Zoom)
	length := resources.Tick(resources.Day) * resources.Tick(days)
	l := Lineup{
		From: q.From, Zoom: cmp.Or(q.Zoom, "day"), Order: q.Order, Kind: q.Kind, Kinds: []string{}, Marks: []Mark{}, Rows: []LineupRow{}, Now: -1,
		Gaps: v.Gaps(), Optimal: v.Picture.Optimal, Change: v.Change(),
	}
	if l.From == 0 {
		l.From = v.shortlyBefore(days)
	}
	l.To = l.From + length
	l.Earlier, l.Later = l.From-length/2, l.From+length/2
	if p := v.Picture.Plan; p != nil {
		l.Plan = p.Version
	}
	a := axis{from: l.From, to: l.To}
	if v.zone.Now >= l.From && v.zone.Now < l.To {
		l.Now = a.at(v.zone.Now)
	}
	l.Marks = v.marks(a, days)
	for i := range v.plant.Stations {
		st := &v.plant.Stations[i]
		if !slices.Contains(l.Kinds, st.Kind) {
			l.Kinds = append(l.Kinds, st.Kind)
		}
		if q.Kind == "" || q.Kind == st.Kind {
			l.Rows = append(l.Rows, v.lineupRow(st, a, q.Order))
		}
	}
	return l
}

// shortlyBefore is where the axis begins by itself: an hour or two before
// now on a full hour, or the beginning of today.
func (v *View) shortlyBefore(days int) resources.Tick {
	if days > 1 {
		return v.zone.Midnight(v.zone.Now)
	}
	return (v.zone.Now/3600 - 2) * 3600
}

type axis struct{ from, to resources.Tick }

func (a axis) at(t resources.Tick) float64 {
	x := float64(t-a.from) / float64(a.to-a.from) * 100
	return float64(int64(min(max(x, 0), 100)*1000+0.5)) / 1000
}

// part is the stretch of the axis between two instants; false when none of it
// is on the axis.
func (a axis) part(from, to resources.Tick) (x, w float64, ok bool) {
	if to <= a.from || from >= a.to || to <= from {
		return 0, 0, false
	}
	x = a.at(from)
	return x, float64(int64((a.at(to)-x)*1000+0.5)) / 1000, true
}

// marks draws local days and, between them, hours that divide the day.
func (v *View) marks(a axis, days int) []Mark {
	step := map[int]int{1: 2, 3: 6, 7: 12}[days]
	out := []Mark{}
	for day := v.zone.Midnight(a.from); day < a.to; day = v.zone.NextMidnight(day) {
		if day >= a.from {
			out = append(out, Mark{At: day, X: a.at(day), Word: v.zone.Day(day), Day: true})
		}
		next := v.zone.NextMidnight(day)
		for t := day + resources.Tick(step)*3600; t < next && t < a.to; t += resources.Tick(step) * 3600 {
			if t < a.from {
				continue
			}
			m := Mark{At: t, X: a.at(t), Word: v.zone.Hour(t)}
			if days == 7 {
				m.Word = ""
			}
			out = append(out, m)
		}
	}
	return out
}

func (v *View) lineupRow(st *resources.Station, a axis, order string) LineupRow {
	r := LineupRow{
		ID: st.ID, Name: cmp.Or(st.Name, st.ID), Kind: st.Kind, Batch: st.Batch != nil, Cure: len(st.Recipes) > 0,
		Lanes: max(1, st.Places), Closed: v.closed(st, a), Down: v.downtime(st, a), Blocks: []Block{},
	}
	if r.Batch {
		r.Lanes = 1
	}
	for _, j := range v.station[st.ID] {
		end := j.End
		if (j.Status == JobRunning || j.Status == JobPaused) && end < v.zone.Now {
			end = v.zone.Now // it is still there
		}
		x, w, ok := a.part(j.Start, end)
		sx, sw, hasSetup := a.part(j.Setup, j.Start)
		if !ok && !hasSetup {
			continue
		}
		b := Block{X: x, W: w, SetupX: sx, SetupW: sw, Job: j, Lane: min(max(j.Place-1, 0), r.Lanes-1)}
		for i := range j.Pieces {
			b.Marked = b.Marked || order != "" && j.Pieces[i].Order == order
		}
		r.Blocks = append(r.Blocks, b)
	}
	return r
}

// closed lists when a station's calendar is closed.
func (v *View) closed(st *resources.Station, a axis) []Stretch {
	out := []Stretch{}
	if st.Calendar == "" {
		return out
	}
	open, err := v.plant.Calendar(st.Calendar).Windows(v.plant.Zone, a.from, a.to)
	if err != nil {
		return out
	}
	from := a.from
	for _, w := range append(open, resources.Interval{Start: a.to, End: a.to}) {
		if x, width, ok := a.part(from, w.Start); ok {
			out = append(out, Stretch{X: x, W: width, Word: "closed"})
		}
		from = w.End
	}
	return out
}

// downtime is the present stop of a station; one without a known end is drawn
// to the end of the axis.
func (v *View) downtime(st *resources.Station, a axis) []Stretch {
	out := []Stretch{}
	s := v.Picture.State.Stations[st.ID]
	if s == nil || !s.Down {
		return out
	}
	until := cmp.Or(s.Until, a.to)
	if x, w, ok := a.part(s.Since, max(until, v.zone.Now)); ok {
		out = append(out, Stretch{X: x, W: w, Word: strings.TrimSuffix("down: "+s.Why, ": ")})
	}
	return out
}
