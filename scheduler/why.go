// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
)

// Step is one link of the chain behind a date: an operation, how long its
// piece waited for it, and what it waited for. Steps run from the first
// operation to the one that completes the order.
type Step struct {
	Piece     string
	Operation string
	Station   string
	Start     Tick
	End       Tick
	Waited    Seconds // between the moment the piece could have gone on and Start
	Kind      Cause
	Because   string
	Ahead     *Step // what it is kept back for, when that is its cause, and what that waits for
}

// Cause is what an operation waited for.
type Cause string

// The causes, in the words of the shop.
const (
	CauseNothing  Cause = "nothing"  // it went on at once
	CauseFact     Cause = "fact"     // it has started or is done
	CauseRelease  Cause = "release"  // the order may not start before
	CauseWait     Cause = "wait"     // a minimum wait on the wall clock: a cure, a cool down
	CauseStation  Cause = "station"  // somebody else was on the station
	CauseLoad     Cause = "load"     // another member of the load was not ready
	CauseTool     Cause = "tool"     // no mandrel or fixture was free
	CauseMix      Cause = "mix"      // resin had to be mixed
	CauseStock    Cause = "material" // material had to arrive
	CauseCalendar Cause = "calendar" // the station or the people were off
	CausePeople   Cause = "people"   // the people were busy elsewhere
	CauseOrder    Cause = "order"    // the plan gives others the way
	CauseClock    Cause = "clock"    // what must follow it within a time comes later
)

// Explain says why an order is predicted for the date it is: the chain of
// operations that leads to its completion, with what held each of them up. An
// order the plan does not hold gives no steps.
func Explain(s *State, p *Plan, order string) []Step {
	if p == nil {
		return nil
	}
	x := newExplainer(s, p)
	last := x.completing(order)
	var steps []Step
	for w := last; w != nil; {
		step, next := x.step(w)
		steps = append(steps, step)
		if len(steps) > len(p.Work) {
			break
		}
		w = next
	}
	slices.Reverse(steps)
	return steps
}

type explainer struct {
	s       *State
	p       *Plan
	work    map[Member]*Work
	station map[string][]*Work // by station, in order of Setup
	loads   map[string]*Load
	mixes   map[string]*Mix
	tools   map[string][]toolStay
	drawn   map[string]int64     // by material, by what has begun; nil: not counted yet
	rosters map[string][]CapStep // by crew, those asked for
	end     Tick                 // of what is laid out
}

// toolStay is one unit's absence with a piece.
type toolStay struct {
	piece      string
	from, back Tick
}

func newExplainer(s *State, p *Plan) *explainer {
	x := &explainer{
		s: s, p: p,
		work: map[Member]*Work{}, station: map[string][]*Work{},
		loads: map[string]*Load{}, mixes: map[string]*Mix{}, tools: map[string][]toolStay{}, rosters: map[string][]CapStep{}, end: p.Made,
	}
	for i := range p.Work {
		w := &p.Work[i]
		x.work[Member{w.Piece, w.Operation}] = w
		x.station[w.Station] = append(x.station[w.Station], w)
		x.end = max(x.end, w.End)
	}
	x.end += hoursAhead
	for i := range p.Loads {
		x.loads[p.Loads[i].ID] = &p.Loads[i]
	}
	for i := range p.Mixes {
		x.mixes[p.Mixes[i].ID] = &p.Mixes[i]
	}
	for i := range p.Work {
		x.stays(&p.Work[i])
	}
	return x
}

func (x *explainer) operation(w *Work) *resources.Operation {
	piece := x.s.Pieces[w.Piece]
	if piece == nil {
		return nil
	}
	product := x.s.Plant.Product(piece.Product)
	if product == nil {
		return nil
	}
	return product.Operation(w.Operation)
}

func (x *explainer) stays(w *Work) {
	op := x.operation(w)
	if op == nil {
		return
	}
	for i, t := range op.Takes {
		tool := x.s.Plant.Tool(t.Tool)
		give := x.work[Member{w.Piece, t.Until}]
		if i < len(w.Tools) && tool != nil && give != nil {
			x.tools[w.Tools[i]] = append(x.tools[w.Tools[i]], toolStay{w.Piece, w.Setup, give.End + Tick(tool.Turnaround)})
		}
	}
}

// completing is the operation that completes the order last.
func (x *explainer) completing(order string) *Work {
	var last *Work
	for i := range x.p.Work {
		w := &x.p.Work[i]
		piece := x.s.Pieces[w.Piece]
		if w.Order != order || piece == nil || piece.Sample {
			continue
		}
		if last == nil || w.End > last.End {
			last = w
		}
	}
	return last
}

// step explains one operation and finds the one to look at before it.
func (x *explainer) step(w *Work) (Step, *Work) {
	step := Step{Piece: w.Piece, Operation: w.Operation, Station: w.Station, Start: w.Start, End: w.End}
	ready, before, wait := x.ready(w)
	step.Waited = max(0, Seconds(w.Start-ready))
	switch {
	case w.Status != Planned:
		step.Kind, step.Because, step.Waited = CauseFact, "has begun", 0
		if w.Status == Done {
			step.Because = "is done"
		}
	case step.Waited == 0 && wait > 0:
		step.Kind, step.Waited = CauseWait, wait
		step.Because = fmt.Sprintf("%s must rest %s after %s", before.Piece, resources.Spell(wait), before.Operation)
	case step.Waited == 0 && before == nil && x.release(w) > x.p.Made:
		step.Kind, step.Because = CauseRelease, "the order may not start before"
	case step.Waited == 0:
		step.Kind, step.Because = CauseNothing, "goes on at once"
	default:
		var via *Work
		step.Kind, step.Because, step.Ahead, via = x.cause(w, ready)
		if via != nil {
			before = via
		}
	}
	return step, before
}

func (x *explainer) release(w *Work) Tick {
	if line := x.s.Lines[LineKey(w.Order, w.Line)]; line != nil {
		return max(x.p.Made, line.EarliestStart)
	}
	return x.p.Made
}

// ready is the first instant the waits allow, with the operation that decides
// it and the wait after that.
func (x *explainer) ready(w *Work) (Tick, *Work, Seconds) {
	return x.readyFor(w, true)
}

// readyFor is ready with or without the waits that have a longest.
func (x *explainer) readyFor(w *Work, clocks bool) (Tick, *Work, Seconds) {
	at := x.release(w)
	var by *Work
	var wait Seconds
	op := x.operation(w)
	if op == nil {
		return at, nil, 0
	}
	for _, link := range op.After {
		if link.HasMax && !clocks {
			continue
		}
		for _, from := range x.before(w, link.Operation) {
			end := from.End
			if link.FromStart {
				end = from.Start
			}
			if t := end + Tick(link.Min); t > at || by == nil && from.End > x.p.Made-Tick(365*resources.Day) && t >= at {
				at, by, wait = t, from, link.Min
			}
		}
	}
	if by == nil {
		// Everything before it is done: say which came last.
		for _, link := range op.After {
			if link.HasMax && !clocks {
				continue
			}
			for _, from := range x.before(w, link.Operation) {
				if by == nil || from.End > by.End {
					by = from
				}
			}
		}
	}
	return at, by, wait
}

// before lists the operations of that name which w's piece waits for.
func (x *explainer) before(w *Work, operation string) []*Work {
	piece := x.s.Pieces[w.Piece]
	var out []*Work
	add := func(serial string) {
		if from := x.work[Member{serial, operation}]; from != nil {
			out = append(out, from)
		}
	}
	add(w.Piece)
	if len(out) == 0 && piece.Parent != "" {
		add(piece.Parent)
	}
	if len(out) > 0 {
		return out
	}
	line := x.s.Lines[LineKey(w.Order, w.Line)]
	if line == nil {
		return nil
	}
	for _, serial := range line.Pieces {
		other := x.s.Pieces[serial]
		if other != nil && (other.Parent == w.Piece || other.Sample) {
			add(serial)
		}
	}
	return out
}

// cause finds what kept a piece waiting from ready to its start, the latest
// of what it needed. It may name the operation to look at next, when that is
// of another piece, and the step that it is kept back for.
func (x *explainer) cause(w *Work, ready Tick) (Cause, string, *Step, *Work) {
	type reason struct {
		at   Tick
		kind Cause
		text string
		via  *Work
	}
	var found []reason
	if load := x.loads[w.Load]; load != nil {
		for _, m := range load.Members {
			other := x.work[m]
			if other == nil || other.Piece == w.Piece {
				continue
			}
			if t, _, _ := x.ready(other); t > ready {
				found = append(found, reason{t, CauseLoad, "shares load " + load.ID + " with " + other.Piece + ", which is ready later", other})
			}
		}
	}
	if prev := x.previous(w); prev != nil && prev.End > ready && !x.spare(w, ready) {
		text := x.others(w, prev, ready)
		if w.Setup < w.Start {
			text += " and is set up for " + resources.Spell(Seconds(w.Start-w.Setup))
		}
		found = append(found, reason{prev.End + (w.Start - w.Setup), CauseStation, text, nil})
	}
	for _, unit := range w.Tools {
		for _, stay := range x.tools[unit] {
			if stay.piece != w.Piece && stay.back <= w.Setup && stay.back > ready {
				found = append(found, reason{stay.back, CauseTool, unit + " comes back from " + stay.piece, nil})
			}
		}
	}
	if mix := x.mixes[w.Mix]; mix != nil && mix.End > ready {
		found = append(found, reason{mix.End, CauseMix, "resin mix " + mix.ID + " is made for it", nil})
	}
	if t, material := x.arrival(w, ready); t > ready {
		found = append(found, reason{t, CauseStock, material + " comes in then", nil})
	}
	if t := x.opening(w, ready); t > ready {
		found = append(found, reason{t, CauseCalendar, w.Station + " or its people are off until then" + x.away(w, ready, t), nil})
	}
	if next, within, at := x.keptBack(w, ready); next != nil &&
		!slices.ContainsFunc(found, func(r reason) bool { return r.at > at }) {
		text, ahead, via := x.clock(w, next, within)
		return CauseClock, text, ahead, via
	}
	switch {
	case len(found) == 0 && x.attended(w):
		return CausePeople, "its people are needed elsewhere first" + x.away(w, ready, w.Start), nil, nil
	case len(found) == 0:
		return CauseOrder, "others go first", nil, nil
	}
	best := slices.MaxFunc(found, func(a, b reason) int { return cmp.Compare(a.at, b.at) })
	if best.at < w.Setup && x.opening(w, best.at) >= w.Setup {
		return CauseCalendar, best.text + "; then not enough of the shift is left", nil, nil
	}
	if best.at < w.Setup && best.at < w.Start {
		return CauseOrder, best.text + "; then others go first or its people are busy", nil, nil
	}
	return best.kind, best.text, nil, best.via
}

// attended tells whether people do something about w, or about the load it is in.
func (x *explainer) attended(w *Work) bool {
	if load := x.loads[w.Load]; load != nil {
		for _, m := range load.Members {
			if o := x.work[m]; o != nil && len(o.People) > 0 {
				return true
			}
		}
	}
	return len(w.People) > 0
}

// previous is what was on w's place before it.
func (x *explainer) previous(w *Work) *Work {
	var prev *Work
	for _, o := range x.station[w.Station] {
		if o.Place == w.Place && o.End <= w.Setup && o.Piece != w.Piece && (prev == nil || o.End > prev.End) {
			prev = o
		}
	}
	return prev
}

// spare tells whether another place of w's station was free for as long as w
// waited and ran: then the station did not hold it up.
func (x *explainer) spare(w *Work, ready Tick) bool {
	st := x.s.Plant.Station(w.Station)
	if st == nil || st.Batch != nil || st.Places < 2 {
		return false
	}
	busy := make([]bool, st.Places)
	for _, o := range x.station[w.Station] {
		if o != w && o.Place >= 1 && o.Place <= st.Places && o.End > ready && o.Setup < ready+w.End-w.Setup {
			busy[o.Place-1] = true
		}
	}
	return slices.Contains(busy, false)
}
