// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"towpath/resources"
)

// unknownStop is how long a stop is taken to last, from when the plan was
// made, when nobody knows its end: a shift, then somebody looks again.
const unknownStop = 8 * resources.Hour

// farthest is how many seconds from now a plan may reach. It only keeps a
// damaged file from laying out calendars over millennia.
const farthest = Tick(20 * 366 * resources.Day)

// Check re-derives every rule from the plant, the facts and the plan, and
// returns what the plan breaks; an empty result means that it may be
// published. It is written to be read and shares nothing with the code that
// makes plans. The state must hold a plant; the plan may be anything at all.
// The result is sorted and depends on nothing but the arguments.
//
// What it cannot see: whether a recorded breach could have been avoided by a
// wholly different plan, and who really serves work that has already started.
func Check(s *State, now Tick, p *Plan) []Violation {
	v := &verifier{s: s, now: now, p: p}
	if p == nil {
		v.add(BreaksCoverage, Violation{At: now}, "there is no plan")
		return v.found
	}
	v.indexPlant()
	v.indexTasks()
	v.indexWork()
	v.waitsOfTasks()

	v.checkCoverage()
	v.checkQuantities()
	v.checkFacts()
	v.checkFreeze()
	v.checkNow()

	v.buildStays()
	v.checkClosedLoads()
	v.layOutCalendars()
	for _, y := range v.stays {
		v.checkStay(y)
	}
	v.checkPlaces()
	v.checkUnwanted()
	v.checkWaits()
	v.checkTools()
	v.checkMixes()
	v.checkStock()
	v.checkCrews()
	return sortViolations(v.found)
}

// verifier holds what Check looks up. It lives for one call.
type verifier struct {
	s   *State
	now Tick
	p   *Plan

	found []Violation

	stations  map[string]*resources.Station
	crews     map[string]*resources.Crew
	products  map[string]*resources.Product
	resins    map[string]*resources.Resin
	recipes   map[string]*resources.Recipe
	calendars map[string]*openings // laid out when first asked for
	rosters   map[string]*roster   // of crews
	from, to  Tick                 // the stretch calendars are laid out over

	tasks  []task
	byName map[Member]*task
	waits  []wait
	loads  map[string]*Load
	mixes  map[string]*Mix
	stays  []*stay
	uses   map[string][]crewUse // by crew

	changeovers map[changeoverKey]Seconds
	stops       map[string][]resources.Interval // by station
}

// task is one operation of one piece, as the state knows it, with what the
// plan says about it.
type task struct {
	piece   *Piece
	line    *Line // nil if the state has lost it
	product *resources.Product
	op      *resources.Operation
	state   *OpState
	work    *Work // nil: the plan does not have it, or not in a usable shape
	listed  bool  // the plan has it in some shape
	blocked bool  // cannot be planned: the piece is held or lacks a material, or it waits for one that does
	stay    *stay
}

func (t *task) name() Member  { return Member{t.piece.Serial, t.op.ID} }
func (t *task) planned() bool { return t.state.Status == Planned }

// open says that somebody still wants the piece.
func (t *task) open() bool {
	return !t.piece.Scrapped && t.line != nil && !t.line.Cancelled
}

// at is where the task is for a message.
func (t *task) at(when Tick) Violation {
	x := Violation{Piece: t.piece.Serial, Operation: t.op.ID, Order: t.piece.Order, At: when}
	if t.work != nil {
		x.Station = t.work.Station
	}
	return x
}

func (t *task) String() string {
	return fmt.Sprintf("piece %s, operation %s", t.piece.Serial, t.op.ID)
}

// add records a violation; where fills in everything but kind and text.
func (v *verifier) add(kind ViolationKind, where Violation, format string, args ...any) {
	where.Kind = kind
	where.Text = fmt.Sprintf(format, args...)
	v.found = append(v.found, where)
}

// clock writes an instant as the plant's people read it.
func (v *verifier) clock(t Tick) string {
	zone := time.UTC
	if v.s.Plant.Zone != nil {
		zone = v.s.Plant.Zone
	}
	return time.Unix(int64(t), 0).In(zone).Format("2006-01-02 15:04:05")
}

// long writes a length of time.
func long(d Seconds) string { return (time.Duration(d) * time.Second).String() }

// never is the instant until which something nobody can date is out of reach:
// the plant's horizon, counted from when the plan was made.
func (v *verifier) never() Tick {
	horizon := v.s.Plant.Horizon
	if horizon <= 0 {
		horizon = 26 * 7 * resources.Day
	}
	return v.made() + Tick(horizon)
}

// made is the plan's own now, as far as it can be believed.
func (v *verifier) made() Tick { return max(min(v.p.Made, v.now), v.now-farthest) }

func (v *verifier) indexPlant() {
	plant := v.s.Plant
	v.stations = byID(plant.Stations, func(x *resources.Station) string { return x.ID })
	v.crews = byID(plant.Crews, func(x *resources.Crew) string { return x.ID })
	v.products = byID(plant.Products, func(x *resources.Product) string { return x.ID })
	v.resins = byID(plant.Resins, func(x *resources.Resin) string { return x.ID })
	v.recipes = byID(plant.Recipes, func(x *resources.Recipe) string { return x.ID })
	v.calendars = map[string]*openings{}
	v.rosters = map[string]*roster{}
	v.uses = map[string][]crewUse{}
	v.changeovers = map[changeoverKey]Seconds{}
	v.stops = map[string][]resources.Interval{}
}

func byID[T any](list []T, id func(*T) string) map[string]*T {
	m := make(map[string]*T, len(list))
	for i := range list {
		m[id(&list[i])] = &list[i]
	}
	return m
}

// indexTasks lists every operation of every piece ever made.
func (v *verifier) indexTasks() {
	n := 0
	for _, piece := range v.s.Pieces {
		n += len(piece.Ops)
	}
	v.tasks = make([]task, 0, n) // never grows, so that pointers into it stay good
	v.byName = make(map[Member]*task, n)
	for _, serial := range slices.Sorted(maps.Keys(v.s.Pieces)) {
		piece := v.s.Pieces[serial]
		product := v.products[piece.Product]
		line := v.s.Lines[LineKey(piece.Order, piece.Line)]
		for i := range piece.Ops {
			op := routingOf(product, &piece.Ops[i])
			if op == nil {
				v.add(BreaksCoverage, Violation{Piece: serial, Operation: piece.Ops[i].Operation, Order: piece.Order, At: v.now},
					"piece %s: the plant's product %q has no operation %q any more", serial, piece.Product, piece.Ops[i].Operation)
				continue
			}
			v.tasks = append(v.tasks, task{piece: piece, line: line, product: product, op: op, state: &piece.Ops[i]})
			t := &v.tasks[len(v.tasks)-1]
			v.byName[t.name()] = t
		}
	}
}

func routingOf(product *resources.Product, o *OpState) *resources.Operation {
	if product == nil {
		return nil
	}
	if o.Index >= 0 && o.Index < len(product.Routing) && product.Routing[o.Index].ID == o.Operation {
		return &product.Routing[o.Index]
	}
	return product.Operation(o.Operation)
}

// indexWork gives each task its work, and sets aside what no later rule could
// make sense of.
func (v *verifier) indexWork() {
	for i := range v.p.Work {
		w := &v.p.Work[i]
		where := Violation{Piece: w.Piece, Operation: w.Operation, Station: w.Station, Order: w.Order, At: w.Start}
		t := v.byName[Member{w.Piece, w.Operation}]
		if t == nil {
			v.add(BreaksCoverage, where, "piece %s, operation %s: no such operation of any piece is to be done", w.Piece, w.Operation)
			continue
		}
		if t.listed {
			v.add(BreaksCoverage, where, "%s: the plan has it more than once", t)
			continue
		}
		t.listed = true
		if w.Order != t.piece.Order || w.Line != t.piece.Line {
			v.add(BreaksIdentity, where, "%s: the plan says order %q line %q, the piece belongs to order %q line %q",
				t, w.Order, w.Line, t.piece.Order, t.piece.Line)
		}
		if !v.saneTimes(w.Status, w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End) {
			v.add(BreaksTimes, where, "%s: setup %d, start %d, run %d, run end %d, unload %d, end %d are not in order, or not within 20 years of now",
				t, w.Setup, w.Start, w.Run, w.RunEnd, w.Unload, w.End)
			continue
		}
		t.work = w
	}
	v.loads = make(map[string]*Load, len(v.p.Loads))
	v.mixes = make(map[string]*Mix, len(v.p.Mixes))
}

// saneTimes says that instants are in order and, unless all is over, near
// enough to now to compute with.
func (v *verifier) saneTimes(status Status, times ...Tick) bool {
	if !slices.IsSorted(times) {
		return false
	}
	first, last := times[0], times[len(times)-1]
	return status == Done || first >= v.now-farthest && last <= v.now+farthest
}
