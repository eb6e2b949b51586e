// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"towpath/resources"
)

// LastDate is until when an order of a product for a race weekend is taken.
type LastDate struct {
	Event    string `json:"event" doc:"race weekend, as orders' notes or the forecast name it; may be empty"`
	Due      Tick   `json:"due" doc:"when goods for it must leave"`
	Product  string `json:"product" doc:"product's ID"`
	Quantity int    `json:"quantity" doc:"pieces of a usual order line, for which the date holds"`
	Latest   Tick   `json:"latest" doc:"nothing can be taken later: the routing alone, with every station waiting for it; empty: it is too late"`
	Safe     Tick   `json:"safe" doc:"taken until then it finds free hours and the usual waits on its way; empty: it is too late"`
	By       string `json:"by" doc:"key of the row whose free hours hold it back most; empty: none"`
}

// weekend is a date that orders for an event must make.
type weekend struct {
	due   Tick
	label string
}

// weekends lists the dates of event orders and of the forecast's events.
func (m *model) weekends() []weekend {
	labels := map[Tick]map[string]bool{}
	note := func(due Tick, label string) {
		if due <= m.g.now || due >= m.g.end {
			return
		}
		if labels[due] == nil {
			labels[due] = map[string]bool{}
		}
		if label = strings.TrimSpace(label); label != "" {
			labels[due][label] = true
		}
	}
	for _, line := range m.in.State.Lines {
		if line.Kind == resources.Event && !line.Cancelled {
			label, _, _ := strings.Cut(line.Note, ";")
			note(line.Due, label)
		}
	}
	if f := m.in.Forecast; f != nil {
		for i := range f.Lines {
			if l := &f.Lines[i]; l.Event != "" {
				note(l.Due, l.Event)
			}
		}
	}
	out := make([]weekend, 0, len(labels))
	for due, names := range labels {
		out = append(out, weekend{due, strings.Join(slices.Sorted(maps.Keys(names)), ", ")})
	}
	slices.SortFunc(out, func(a, b weekend) int { return cmp.Compare(a.due, b.due) })
	return out
}

// season is what last dates are worked back through: all that is asked for, and the
// part that is ordered, over all weeks that anything is known of.
type season struct {
	*model
	rows, ordered map[string]*Row
	planned       int
}

// seasonOf looks as far as orders and forecast reach, however few weeks a report
// shows: when an order is safe does not depend on what is looked at.
func seasonOf(m *model, r *Report) (*season, error) {
	in := m.in
	if weeks := reach(in); weeks > in.Weeks {
		in.Weeks = weeks
		var err error
		if m, r, err = loads(in); err != nil {
			return nil, err
		}
	}
	s := &season{model: m, rows: byKey(r), planned: r.Planned}
	if s.ordered = s.rows; in.Forecast != nil {
		in.Forecast = nil
		_, o, err := loads(in)
		if err != nil {
			return nil, err
		}
		s.ordered = byKey(o)
	}
	return s, nil
}

func byKey(r *Report) map[string]*Row {
	rows := map[string]*Row{}
	for i := range r.Rows {
		rows[r.Rows[i].Key] = &r.Rows[i]
	}
	return rows
}

// lastDates works back from each weekend for each product.
func lastDates(m *model, r *Report) ([]LastDate, error) {
	s, err := seasonOf(m, r)
	if err != nil {
		return nil, err
	}
	dates, before := []LastDate{}, make([]LastDate, len(m.plant.Products))
	for _, end := range m.weekends() {
		for i := range m.plant.Products {
			product := &m.plant.Products[i]
			quantity := lotOf(m.in.State, product.ID)
			if quantity > 1e6 {
				quantity = 1
			}
			d := LastDate{Event: end.label, Due: end.due, Product: product.ID, Quantity: max(1, int(quantity+0.5))}
			other := d // for which the forecast of this weekend is not meant
			s.lastDate(&d, s.foreseen(&d))
			s.lastDate(&other, 0)
			// What would be ready for an earlier weekend is ready for this one.
			if d.Safe < before[i].Safe {
				d.Safe, d.By = before[i].Safe, before[i].By
			}
			if before[i].Safe < other.Safe {
				before[i] = other
			}
			dates = append(dates, d)
		}
	}
	return dates, nil
}

func (s *season) lastDate(d *LastDate, foreseen float64) {
	route := s.clock.routings[d.Product]
	t := s.clock.latest(d.Product, d.Due)
	if t.late {
		return
	}
	d.Latest = slices.Min(t.start)
	early := d.Latest - Tick(s.waiting(s.rows, s.planned, route, t)) - Tick(s.following(route, t, d.Quantity))
	shift := 0
	for i := range route.after {
		op := &route.product.Routing[i]
		week := s.g.of(t.start[i])
		n := float64(d.Quantity) * route.reach[i] * route.runs[i]
		if op.Per == resources.PerTube {
			n /= float64(route.split)
		}
		if week < 0 || op.Per == resources.PerSample {
			continue
		}
		for _, need := range s.needsOf(op, n) {
			back, ok := s.weeksBack(need, week, foreseen)
			if !ok {
				d.By = need.keys[0]
				return
			}
			if back > shift {
				shift, d.By = back, need.keys[0]
			}
		}
	}
	early -= Tick(shift) * Tick(7*resources.Day)
	if early >= s.g.now {
		d.Safe = early
	}
}

// foreseen is the share of an order that the forecast already counts.
func (m *model) foreseen(d *LastDate) float64 {
	left := 0
	for i := range m.rests {
		if l := &m.rests[i]; l.Product == d.Product && l.Due == d.Due {
			left += l.left
		}
	}
	return min(1, float64(left)/float64(d.Quantity))
}

// need is hours that any of some rows may give.
type need struct {
	keys  []string
	hours float64
}

// needsOf is the hours that n operations want from stations and skills.
func (m *model) needsOf(op *resources.Operation, n float64) []need {
	var out []need
	stations := need{}
	for k, id := range op.Stations {
		st := m.plant.Station(id)
		if st == nil {
			continue
		}
		stations.keys = append(stations.keys, string(Station)+":"+id)
		if hours := m.perPiece(op, st) * n; k == 0 || hours < stations.hours {
			stations.hours = hours
		}
	}
	if len(stations.keys) > 0 {
		out = append(out, stations)
		st := m.plant.Station(op.Stations[0])
		j := m.clock.jobOf(op, st)
		for _, x := range op.Needs {
			part := map[resources.Part]Seconds{resources.PartLoad: j.load, resources.PartRun: j.run, resources.PartUnload: j.unload}[x.Part]
			per := n
			if st.Batch != nil {
				per *= over(m.perPiece(op, st), float64(j.total())/3600)
			}
			out = append(out, need{[]string{string(Skill) + ":" + x.Skill}, per * float64(part) / 3600 * float64(x.Share) / 1000})
		}
	}
	for _, take := range op.Takes {
		if pool := m.plant.Tool(take.Tool); pool != nil {
			out = append(out, need{[]string{string(Tool) + ":" + pool.ID}, n * float64(pool.Turnaround) / 3600})
		}
	}
	return out
}

// perPiece is the hours one piece takes of a station; in a load, its share.
func (m *model) perPiece(op *resources.Operation, st *resources.Station) float64 {
	hours := float64(m.clock.jobOf(op, st).total()) / 3600
	if st.Batch == nil {
		return hours
	}
	part := 0.0
	for dim, room := range st.Batch.Capacity {
		if room > 0 {
			part = max(part, float64(op.Size[dim])/float64(room))
		}
	}
	return hours * part
}

// weeksBack is how many weeks before its own the free hours begin to be enough
// for a need.
func (s *season) weeksBack(x need, week int, foreseen float64) (int, bool) {
	free, hours := s.free(x, week, foreseen), x.hours
	for back := 0; back <= week && week < len(free); back++ {
		if hours -= free[week-back]; hours <= 1e-9 {
			return back, true
		}
	}
	return 0, false
}

// free is the hours by week that a need may have. What is ordered and a week cannot
// do has been done before it, or, where there is no time left before, after it and
// late. What the forecast has beyond a week's hours is promised to nobody, and takes
// those of no other week. The share of a need that is foreseen is counted in the
// work of its week already.
func (s *season) free(x need, week int, foreseen float64) []float64 {
	free, missing := make([]float64, lastWeek(s.rows, x.keys)+1), 0.0
	for w := len(free) - 1; w >= 0; w-- {
		left, kept := -missing, -missing
		for _, key := range x.keys {
			if row := s.rows[key]; row != nil {
				left += row.Cells[w].There - row.Cells[w].Asked
				kept += row.Cells[w].There - s.ordered[key].Cells[w].Asked
			}
		}
		if w == week {
			left += foreseen * x.hours
		}
		free[w], missing = max(0, left), max(0, -kept)
	}
	for w := range free {
		late := min(missing, free[w])
		free[w] -= late
		missing -= late
	}
	return free
}

func lastWeek(rows map[string]*Row, keys []string) int {
	for _, key := range keys {
		if row := rows[key]; row != nil {
			return len(row.Cells) - 1
		}
	}
	return -1
}

// waiting is the wait to be expected along a product's slowest way: in the
// finite plan where it reaches that far, else by queueing.
func (m *model) waiting(rows map[string]*Row, planned int, route *routing, t *timing) Seconds {
	sum := make([]float64, len(route.after))
	longest := 0.0
	for _, i := range route.order {
		before := 0.0
		for _, from := range route.after[i] {
			if from >= 0 {
				before = max(before, sum[from])
			}
		}
		sum[i] = before + m.waitAt(rows, planned, &route.product.Routing[i], t.start[i])
		longest = max(longest, sum[i])
	}
	return Seconds(longest * 3600)
}

// following is how long after the first piece of a lot its last one is done, on
// the wall clock: the lot goes through its slowest station piece by piece, or
// load by load.
func (m *model) following(route *routing, t *timing, quantity int) Seconds {
	longest := 0.0
	for i := range route.after {
		op := &route.product.Routing[i]
		n := float64(quantity)
		if op.Per == resources.PerTube {
			n /= float64(route.split)
		}
		week := m.g.of(t.start[i])
		if n <= 1 || week < 0 || op.Per == resources.PerSample {
			continue
		}
		rate, open := 0.0, 0.0 // pieces an hour, all its stations together
		for _, id := range op.Stations {
			st := m.plant.Station(id)
			if per := m.perPiece(op, st); per > 0 {
				rate += float64(placesOf(st)) / per
			}
			open = max(open, m.openShare(id, week))
		}
		if rate > 0 && open > 0 {
			longest = max(longest, (n-1)/rate/open)
		}
	}
	return Seconds(longest * 3600)
}

// openShare is the share of a week in which a station is there.
func (m *model) openShare(station string, week int) float64 {
	for s := range m.plant.Stations {
		if st := &m.plant.Stations[s]; st.ID == station {
			return m.there[s][week] / float64(placesOf(st)) / m.spanOf(week)
		}
	}
	return 0
}

func (m *model) spanOf(week int) float64 {
	return float64(m.g.weeks[week].To-m.g.weeks[week].From) / 3600
}

// waitAt is the wait, on the wall clock, before an operation: the least of its
// stations', and the longest for one of the people it needs. A queue without
// end counts a week.
func (m *model) waitAt(rows map[string]*Row, planned int, op *resources.Operation, at Tick) float64 {
	week, least := m.g.of(at), -1.0
	if week < 0 {
		return 0
	}
	for _, id := range op.Stations {
		row := rows[string(Station)+":"+id]
		if row == nil {
			continue
		}
		c, wait := &row.Cells[week], 0.0
		if week < planned && c.Planned > 0 {
			wait = c.PlannedWait
		} else {
			wait = onTheWall(c, m.openShare(id, week))
		}
		if least < 0 || wait < least {
			least = wait
		}
	}
	people := 0.0
	for _, need := range op.Needs {
		row := rows[string(Skill)+":"+need.Skill]
		if i, ok := m.skillIx[need.Skill]; ok && row != nil && week >= planned {
			people = max(people, onTheWall(&row.Cells[week], m.anybody[i][week]/m.spanOf(week)))
		}
	}
	return max(0, least) + people
}

// onTheWall is a wait of open hours by the clock on the wall.
func onTheWall(c *Cell, open float64) float64 {
	if c.Wait == Endless || c.Closed || open <= 0 && c.Asked > 0 {
		return 7 * 24
	}
	return over(c.Wait, min(1, open))
}
