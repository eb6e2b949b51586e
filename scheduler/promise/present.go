// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// Present is the shop as it is, with a plan that can be followed from now on.
// It may be asked any number of times, by one goroutine at a time.
type Present struct {
	State *scheduler.State
	Now   Tick
	Plan  *scheduler.Plan
	Ends  map[string]scheduler.LineEnd // of each open line, by the plan

	unproven bool // nobody has asked the verifier about the plan yet
}

// To answers one question. It takes the published plan as it is on trust: the
// plan with the asked work in it, which holds all of the published one, passes
// the verifier or is not answered with. Where that is not so it begins anew.
func To(s *scheduler.State, now Tick, ask Ask) (*Answer, error) {
	if s != nil && s.Plant != nil && s.Plan != nil && s.Plan.Made <= now {
		b := &Present{State: s, Now: now, Plan: s.Plan, Ends: scheduler.MeasureLines(s, s.Plan), unproven: true}
		a, err := b.Answer(ask)
		var wrong *Fault
		if err == nil || errors.As(err, &wrong) {
			return a, err
		}
	}
	b, err := Begin(s, now)
	if err != nil {
		return nil, err
	}
	return b.Answer(ask)
}

// proven is the present with a plan that has passed the verifier.
func (b *Present) proven() (*Present, error) {
	if !b.unproven {
		return b, nil
	}
	return Begin(b.State, b.Now)
}

// Begin takes the published plan where it can still be followed to the second,
// and repairs it where facts have overtaken it; without one it makes a first.
func Begin(s *scheduler.State, now Tick) (*Present, error) {
	if s == nil || s.Plant == nil {
		return nil, errors.New("promise: there is no plant")
	}
	plan := s.Plan
	if plan == nil || plan.Made > now || len(scheduler.Check(s, now, plan)) > 0 {
		var err error
		if plan, err = remade(s, now); err != nil {
			return nil, err
		}
	}
	return &Present{State: s, Now: now, Plan: plan, Ends: scheduler.MeasureLines(s, plan)}, nil
}

// remade is a plan from now on.
func remade(s *scheduler.State, now Tick) (*scheduler.Plan, error) {
	problem, err := scheduler.Compile(s, now)
	if err != nil {
		return nil, err
	}
	plan, err := (*scheduler.Plan)(nil), errors.New("no plan")
	if s.Plan != nil {
		plan, err = search.Repair(problem, s.Plan)
	}
	if err != nil {
		if plan, err = search.Construct(problem); err != nil {
			return nil, err
		}
	}
	if found := scheduler.Check(s, now, plan); len(found) > 0 {
		return nil, fmt.Errorf("promise: the plan fails verification: %s", found[0].String())
	}
	return plan, nil
}

// Bar is the latest instant at which a line may be complete: its due instant,
// or, when it is late already, when the present plan has it.
func (b *Present) Bar(key string) Tick {
	line := b.State.Lines[key]
	return max(line.Due, b.Ends[key].End)
}

// Moved is another order's line that a plan has complete at another time than
// the present plan.
type Moved struct {
	Order string            `json:"order" doc:"order number"`
	Line  string            `json:"line" doc:"line of it"`
	Due   Tick              `json:"due" doc:"when it must be complete"`
	Was   Tick              `json:"was" doc:"complete by the present plan"`
	Will  Tick              `json:"will" doc:"complete then"`
	Later scheduler.Seconds `json:"later" doc:"seconds later than by the present plan"`
	Late  scheduler.Seconds `json:"late" doc:"seconds after its due instant; 0: in time"`
	Spare scheduler.Seconds `json:"spare" doc:"seconds before its due instant that are left then; 0: none"`
}

// Fit is a plan with the asked lines in it.
type Fit struct {
	State *scheduler.State // with the lines asked
	Plan  *scheduler.Plan
	Ready []Tick  // when each asked line is complete
	Ships []Tick  // next shipment after that
	Moved []Moved // others, the latest against their due first
	Kept  bool    // every promised date is kept
}

// turns is how many earlier turns are tried for asked work.
const turns = 4

// candidate is a way to fit asked lines in, by the search's own reckoning.
type candidate struct {
	plan  func() *scheduler.Plan
	ready []Tick
	ships []Tick
}

// Fit plans asked lines, which after has besides the lines of the present. It
// breaks no promised date.
func (b *Present) Fit(after *scheduler.State, asked []string) (*Fit, error) {
	if err := b.supplied(after, asked); err != nil {
		return nil, err
	}
	list, failed := b.candidates(after, asked)
	for _, c := range slices.Backward(list) {
		if fit := b.verified(after, c.plan(), asked); fit.Kept {
			return fit, nil
		}
	}
	return nil, cmp.Or(failed, fmt.Errorf("%w that keeps every promised date", scheduler.ErrNothingPossible))
}

// supplied tells whether asked lines leave everybody the material they have now;
// the error names what is not there.
func (b *Present) supplied(after *scheduler.State, asked []string) error {
	var was []scheduler.Shortage
	for i, x := range scheduler.Shortages(after) {
		if i == 0 {
			was = scheduler.Shortages(b.State)
		}
		if !slices.ContainsFunc(was, func(w scheduler.Shortage) bool { return w.Material == x.Material && w.Lack >= x.Lack }) {
			return &Short{Words: x.WordsOfAsked(b.State.Plant, after.Lines[asked[0]].Order)}
		}
	}
	return nil
}

// candidates are ways to fit asked lines in, the best last. The error is why
// there is none.
func (b *Present) candidates(after *scheduler.State, asked []string) (list []candidate, failed error) {
	in, err := b.inserter(after, asked)
	if err != nil {
		return nil, err
	}
	return b.tries(in, after)
}

// tries puts the asked work into loads with room, into what the plan leaves free,
// and goes through the turns that it may take.
func (b *Present) tries(in *insertion, after *scheduler.State) (list []candidate, failed error) {
	take := func(f *search.Fit, plan func() *scheduler.Plan) {
		c := candidate{plan: plan, ready: f.Ready(in.lines)}
		for _, at := range c.ready {
			c.ships = append(c.ships, shipment(after, at))
		}
		if len(list) == 0 || sooner(after, c.ready, list[len(list)-1].ships) {
			list = append(list, c)
		}
	}
	// The earlier the turn, the more is pushed: between the earliest, which is
	// tried first, and where the work ends anyway, the border is looked for.
	turn, low, high := b.Now, b.Now, b.Now+Tick(b.State.Plant.Horizon)
	if shared, err := in.Shared(b.Now, in.latest); err == nil {
		plan := shared.Plan()
		take(shared, func() *scheduler.Plan { return plan })
	}
	around, failed := in.Around()
	if failed == nil {
		take(around, around.Plan)
	}
	if len(list) > 0 {
		high = slices.Max(append(list[len(list)-1].ready, low))
	}
	soonest := in.Soonest(in.lines)
	for range turns {
		if len(list) > 0 {
			best := list[len(list)-1].ships
			if !sooner(after, soonest, best) {
				break
			}
			in.mustBeSooner(after.Plant, best)
		}
		among, err := in.Among(turn, in.latest)
		var late *search.TooLate
		switch {
		case err == nil:
			plan := among.Plan()
			take(among, func() *scheduler.Plan { return plan })
			high = turn
		case !errors.As(err, &late):
			return list, cmp.Or(failed, err)
		case slices.Contains(in.lines, late.Line):
			high = turn // only an earlier turn could help
		default:
			low = turn
		}
		if high == b.Now {
			break
		}
		turn = low + (high-low)/2
	}
	return list, failed
}

// insertion is a state with asked lines laid out, the present plan in it.
type insertion struct {
	*search.Inserter
	lines  []int32 // the asked ones
	latest []Tick  // of each line of the problem
}

func (b *Present) inserter(after *scheduler.State, asked []string) (*insertion, error) {
	return b.inserterInto(after, b.Plan, asked)
}

// inserterInto is inserter with another plan than the present one.
func (b *Present) inserterInto(after *scheduler.State, plan *scheduler.Plan, asked []string) (*insertion, error) {
	p, err := scheduler.Compile(after, b.Now)
	if err != nil {
		return nil, err
	}
	x, err := search.NewInserter(p, plan)
	if err != nil {
		return nil, err
	}
	in := &insertion{Inserter: x, latest: make([]Tick, len(p.Lines))}
	index := make(map[string]int32, len(p.Lines))
	for i := range p.Lines {
		key := scheduler.LineKey(p.Orders[p.Lines[i].Order].ID, p.Lines[i].ID)
		index[key] = int32(i)
		in.latest[i] = Tick(math.MaxInt64)
		if b.State.Lines[key] != nil {
			in.latest[i] = b.Bar(key)
		}
	}
	for _, key := range asked {
		if i, ok := index[key]; ok {
			in.lines = append(in.lines, i)
			in.latest[i] = Tick(math.MaxInt64)
		}
	}
	return in, nil
}

// mustBeSooner asks of a further try that the first line ships no later than it
// does already, or sooner where it is the only one.
func (in *insertion) mustBeSooner(plant *resources.Plant, ships []Tick) {
	by := ships[0]
	if len(in.lines) == 1 {
		by--
	}
	in.latest[in.lines[0]] = plant.Due(by)
}

// sooner tells whether lines complete then ship earlier than that, the first
// line that differs counting.
func sooner(s *scheduler.State, ready, ships []Tick) bool {
	for i := range ready {
		if at := shipment(s, ready[i]); at != ships[i] {
			return at < ships[i]
		}
	}
	return false
}

// shipment is the next one; where no carrier ever comes, when it is ready.
func shipment(s *scheduler.State, ready Tick) Tick {
	at, _ := s.Plant.NextShipment(ready)
	return at
}

// verified measures a plan with asked lines in it. It is kept only if the
// verifier accepts it and every line of the present is in time.
func (b *Present) verified(after *scheduler.State, plan *scheduler.Plan, asked []string) *Fit {
	f := &Fit{State: after, Plan: plan, Kept: len(scheduler.Check(after, b.Now, plan)) == 0}
	ends := scheduler.MeasureLines(after, plan)
	for _, key := range asked {
		f.Kept = f.Kept && ends[key].Known
		f.Ready = append(f.Ready, ends[key].End)
		f.Ships = append(f.Ships, shipment(after, ends[key].End))
	}
	for _, key := range slices.Sorted(maps.Keys(b.Ends)) {
		was, will, line := b.Ends[key], ends[key], b.State.Lines[key]
		if will.End > b.Bar(key) || was.Known && !will.Known {
			f.Kept = false
		}
		if will.End != was.End {
			f.Moved = append(f.Moved, Moved{
				Order: line.Order, Line: line.Line, Due: line.Due, Was: was.End, Will: will.End,
				Later: scheduler.Seconds(will.End - was.End), Late: scheduler.Seconds(max(0, will.End-line.Due)),
				Spare: scheduler.Seconds(max(0, line.Due-will.End)),
			})
		}
	}
	slices.SortStableFunc(f.Moved, func(x, y Moved) int {
		return cmp.Or(cmp.Compare(y.Late, x.Late), cmp.Compare(y.Later, x.Later))
	})
	return f
}
