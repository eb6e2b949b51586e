// SPDX-License-Identifier: Apache-2.0

package relax

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"towpath/resources"
	"towpath/scheduler"
)

// Tick and Seconds are the engine's time, whole seconds UTC.
type (
	Tick    = resources.Tick
	Seconds = resources.Seconds
)

// Kind says what sort of change it is.
type Kind string

// The kinds, the least asked for first.
const (
	Search  Kind = "search"  // nothing: another order of work, with this order put forward
	Release Kind = "release" // starting earlier
	Shift   Kind = "shift"   // people stay longer, or come in, once
	Person  Kind = "person"  // one more in a crew
	Tool    Kind = "tool"    // one more mandrel or fixture
	Station Kind = "station" // one more place, or one more station of the kind
	Both    Kind = "both"    // two of these together
)

// Kinds lists them.
func Kinds() []Kind { return []Kind{Search, Release, Shift, Person, Tool, Station, Both} }

// Candidate is a change worth trying.
type Candidate struct {
	Key    string  `json:"key" doc:"tells changes apart, e.g. tool:M-36, person:bonders, station:O1"`
	Kind   Kind    `json:"kind" doc:"sort of change: search, release, shift, person, tool, station or both"`
	Words  string  `json:"words" doc:"the change in words"`
	Hours  float64 `json:"person_hours" doc:"people's hours it asks for until the order is due"`
	Things int     `json:"things" doc:"mandrels, fixtures, places and stations it asks for"`
	Waited Seconds `json:"waited" doc:"how long the steps behind it waited, in the chain"`

	Set resources.ChangeSet `json:"-"`
}

// mostCandidates is how many single changes are tried for an order.
const mostCandidates = 12

// shiftLong is the longest extra shift tried, shiftLeast the shortest gap worth
// one. Working time is for the site's own rules.
const (
	shiftLong  = 8 * resources.Hour
	shiftLeast = 2 * resources.Hour
)

// idle is a wait too short to do anything about.
const idle = 5 * resources.Minute

// finder collects candidates from a chain.
type finder struct {
	s     *scheduler.State
	now   Tick
	due   Tick
	order string
	found map[string]*Candidate
	keys  []string // in the order of the chain
}

// candidates lists what may shorten the chain of an order, the longest waits
// first.
func candidates(s *scheduler.State, now Tick, order string, due Tick, chain []scheduler.Step) []Candidate {
	f := &finder{s: s, now: now, due: due, order: order, found: map[string]*Candidate{}}
	for i := range chain {
		if step := &chain[i]; step.Start > now && step.Waited > idle {
			f.step(step)
		}
	}
	f.release(chain)
	var out []Candidate
	for _, k := range f.keys {
		out = append(out, *f.found[k])
	}
	slices.SortStableFunc(out, func(a, b Candidate) int { return cmp.Compare(b.Waited, a.Waited) })
	return out[:min(len(out), mostCandidates)]
}

// others lists, for a chain that is left after a change, what its steps wait
// for and, after that, the stations they are on, the longest work first: a plan
// that has no reason to hurry hides the next limit.
func others(s *scheduler.State, now Tick, order string, due Tick, chain []scheduler.Step) []Candidate {
	out := candidates(s, now, order, due, chain)
	f := &finder{s: s, now: now, due: due, order: order, found: map[string]*Candidate{}}
	ahead := slices.DeleteFunc(slices.Clone(chain), func(x scheduler.Step) bool { return x.Start <= now })
	slices.SortStableFunc(ahead, func(a, b scheduler.Step) int { return cmp.Compare(b.End-b.Start, a.End-a.Start) })
	for i := range ahead {
		f.station(ahead[i].Station, 0)
	}
	for _, k := range f.keys {
		if !slices.ContainsFunc(out, func(c Candidate) bool { return c.Key == k }) {
			out = append(out, *f.found[k])
		}
	}
	return out
}

// add notes a candidate, or that one more step waited for it.
func (f *finder) add(c Candidate, change resources.Change, waited Seconds) {
	if old := f.found[c.Key]; old != nil {
		old.Waited += waited
		return
	}
	c.Waited = waited
	c.Set = resources.ChangeSet{Name: c.Words, Changes: []resources.Change{change}}
	f.found[c.Key] = &c
	f.keys = append(f.keys, c.Key)
}

// step adds what lifts the cause of one step's wait.
func (f *finder) step(step *scheduler.Step) {
	op := f.operation(step)
	if op == nil {
		return
	}
	crews := f.crews(op, step.Station)
	switch step.Kind {
	case scheduler.CauseTool:
		for _, t := range op.Takes {
			f.tool(t.Tool, step.Waited)
		}
	case scheduler.CauseStation, scheduler.CauseLoad:
		f.station(step.Station, step.Waited)
		f.shift(crews, step)
	case scheduler.CauseCalendar:
		f.shift(crews, step)
	case scheduler.CausePeople:
		f.people(crews, step.Waited)
		f.shift(crews, step)
	case scheduler.CauseOrder:
		for _, t := range op.Takes {
			f.tool(t.Tool, step.Waited)
		}
		f.station(step.Station, step.Waited)
		f.people(crews, step.Waited)
		f.shift(crews, step)
	case scheduler.CauseClock:
		if step.Ahead != nil {
			f.step(step.Ahead)
		}
	case scheduler.CauseMix:
		if op.Mix == nil {
			return
		}
		if r := f.s.Plant.Resin(op.Mix.Resin); r != nil {
			f.station(r.Station, step.Waited)
			f.people(f.with(r.Skill), step.Waited)
		}
	}
}

func (f *finder) operation(step *scheduler.Step) *resources.Operation {
	piece := f.s.Pieces[step.Piece]
	if piece == nil {
		return nil
	}
	product := f.s.Plant.Product(piece.Product)
	if product == nil {
		return nil
	}
	return product.Operation(step.Operation)
}

// crews lists those who have a skill that the operation asks for, in file
// order.
func (f *finder) crews(op *resources.Operation, station string) []string {
	var out []string
	add := func(skill string) {
		for _, id := range f.with(skill) {
			if !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	for _, n := range op.Needs {
		add(n.Skill)
	}
	if st := f.s.Plant.Station(station); st != nil && len(st.Setups) > 0 {
		add(st.SetupSkill)
	}
	return out
}

// with lists the crews that have a skill.
func (f *finder) with(skill string) []string {
	var out []string
	for i := range f.s.Plant.Crews {
		if k := &f.s.Plant.Crews[i]; skill != "" && k.HasSkill(skill) && len(k.Shifts) > 0 {
			out = append(out, k.ID)
		}
	}
	return out
}

func (f *finder) tool(id string, waited Seconds) {
	t := f.s.Plant.Tool(id)
	if t == nil {
		return
	}
	f.add(Candidate{
		Key: "tool:" + id, Kind: Tool, Things: 1,
		Words: fmt.Sprintf("one more %s %s", cmp.Or(t.Kind, "tool"), id),
	}, resources.Change{Tool: &resources.ToolChange{ID: id, Count: len(t.Units) + 1}}, waited)
}

func (f *finder) station(id string, waited Seconds) {
	st := f.s.Plant.Station(id)
	if st == nil {
		return
	}
	c := Candidate{Key: "station:" + id, Kind: Station, Things: 1, Words: fmt.Sprintf("one more %s like %s", cmp.Or(st.Kind, "station"), id)}
	change := resources.StationChange{ID: id, Count: 2}
	if st.Batch == nil && st.Places > 1 {
		c.Words = "one more place at " + id
		change = resources.StationChange{ID: id, Count: -1, Places: st.Places + 1}
	}
	f.add(c, resources.Change{Station: &change}, waited)
}

func (f *finder) people(crews []string, waited Seconds) {
	for _, id := range crews {
		crew := f.s.Plant.Crew(id)
		first := crew.Shifts[0]
		f.add(Candidate{
			Key: "person:" + id, Kind: Person, Hours: f.hours(first.Calendar),
			Words: fmt.Sprintf("one more person: %s, %s, until the order is due", cmp.Or(crew.Name, id), cmp.Or(first.Calendar, "always")),
		}, resources.Change{Crew: &resources.CrewChange{ID: id, Calendar: first.Calendar, Heads: first.Heads + 1}}, waited)
	}
}

// hours is how long a calendar is open from now until the order is due.
func (f *finder) hours(calendar string) float64 {
	until := max(f.due, f.now+Tick(resources.Day))
	c := f.s.Plant.Calendar(calendar)
	if c == nil {
		return float64(until-f.now) / 3600
	}
	windows, err := c.Windows(f.s.Plant.Zone, f.now, until)
	if err != nil {
		return 0
	}
	sum := Tick(0)
	for _, w := range windows {
		sum += w.End - w.Start
	}
	return float64(sum) / 3600
}

// shift adds an extra shift of each crew in the last time off before the step.
func (f *finder) shift(crews []string, step *scheduler.Step) {
	for _, id := range crews {
		gap, ok := f.off(id, step)
		if !ok {
			continue
		}
		c, change := f.extra(id, resources.Interval{Start: gap.Start, End: min(gap.End, gap.Start+Tick(shiftLong))})
		f.add(c, change, step.Waited)
	}
}

// extra is an extra shift of a crew.
func (f *finder) extra(crew string, at resources.Interval) (Candidate, resources.Change) {
	k := f.s.Plant.Crew(crew)
	heads := max(1, k.Shifts[0].Heads)
	zone := f.s.Plant.Zone
	clock := func(t Tick, layout string) string { return time.Unix(int64(t), 0).In(zone).Format(layout) }
	c := Candidate{
		Key: fmt.Sprintf("shift:%s@%d+%d", crew, at.Start, at.End-at.Start), Kind: Shift,
		Hours: float64(heads) * float64(at.End-at.Start) / 3600,
		Words: fmt.Sprintf("extra shift: %s, %s to %s, %d at work", cmp.Or(k.Name, crew), clock(at.Start, "Mon 2 Jan 15:04"), clock(at.End, "15:04"), heads),
	}
	return c, resources.Change{Shift: &resources.ShiftChange{Interval: at, Crews: []string{crew}, Heads: heads}}
}

// off is the last time before a step, and within a day before its wait began,
// in which a crew is not at work.
func (f *finder) off(crew string, step *scheduler.Step) (resources.Interval, bool) {
	from := max(f.now, step.Start-Tick(step.Waited)-Tick(resources.Day))
	at := []resources.Interval{{Start: from, End: step.Start}}
	for _, shift := range f.s.Plant.Crew(crew).Shifts {
		c := f.s.Plant.Calendar(shift.Calendar)
		if c == nil {
			return resources.Interval{}, false // always at work
		}
		windows, err := c.Windows(f.s.Plant.Zone, from-Tick(resources.Day), step.Start+Tick(resources.Day))
		if err != nil {
			return resources.Interval{}, false
		}
		at = without(at, windows)
	}
	for i := len(at) - 1; i >= 0; i-- {
		if at[i].End-at[i].Start >= Tick(shiftLeast) {
			return at[i], true
		}
	}
	return resources.Interval{}, false
}

// without cuts windows out of stretches of time; both are sorted and apart.
func without(list, windows []resources.Interval) []resources.Interval {
	var out []resources.Interval
	for _, x := range list {
		for _, w := range windows {
			if w.End <= x.Start || w.Start >= x.End {
				continue
			}
			if w.Start > x.Start {
				out = append(out, resources.Interval{Start: x.Start, End: w.Start})
			}
			x.Start = w.End
		}
		if x.Start < x.End {
			out = append(out, x)
		}
	}
	return out
}

// release lets the lines of the order start now that may not yet.
func (f *finder) release(chain []scheduler.Step) {
	for _, key := range linesOf(f.s, f.order) {
		line := f.s.Lines[key]
		if line.EarliestStart <= f.now {
			continue
		}
		waited := Seconds(0)
		if len(chain) > 0 {
			waited = Seconds(line.EarliestStart - f.now)
		}
		now := line.OrderLine
		now.EarliestStart = 0
		f.add(Candidate{Key: "release:" + key, Kind: Release, Words: "order " + key + " may start now"}, resources.Change{ChangeOrder: &now}, waited)
	}
}
