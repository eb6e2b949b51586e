// SPDX-License-Identifier: Apache-2.0

package search_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// moment is a shop in the middle of its plan: what facts are there until now,
// and the plan that was published then.
type moment struct {
	s   *scheduler.State
	now resources.Tick
}

// at advances a fresh state along a plan made for its beginning, to the second,
// and publishes what a repair makes of it then.
func at(t testing.TB, s *scheduler.State, plan *scheduler.Plan, now resources.Tick) moment {
	t.Helper()
	schedtest.Advance(s, plan, now)
	again, err := search.Repair(compile(t, s, now), s.Plan)
	require.NoError(t, err)
	s.Plan = again
	return moment{s, now}
}

// happening is one event that may come at a moment, and when it is known.
type happening struct {
	kind string
	s    *scheduler.State // with the event, and the plan from before it
	now  resources.Tick
}

// teller applies events to copies of a moment.
type teller struct {
	t testing.TB
	moment
	out []happening
}

// tell adds the moment with an event in it, unless the state refuses it. Undo
// may first take back facts that the moment has.
func (x *teller) tell(kind string, undo func(*scheduler.State), e events.Event) bool {
	s := x.s.Clone()
	if undo != nil {
		undo(s)
	}
	e.ID, e.Plant = fmt.Sprintf("%s-%d-%d", kind, x.now, len(x.out)), "p"
	if e.At == 0 {
		e.At = x.now
	}
	if _, err := s.Apply(e); err != nil {
		return false
	}
	x.out = append(x.out, happening{kind, s, max(x.now, e.At)})
	return true
}

// happenings are single events of many kinds that may come at a moment, up to
// so many of each.
func happenings(t testing.TB, m moment, each int) []happening {
	t.Helper()
	x := &teller{t: t, moment: m}
	x.operations(each)
	x.loads(each)
	x.pieces(each)
	x.stations(each)
	x.crews(each)
	x.orders(each)
	return x.out
}

// some calls try for things spread over a list until it has said yes often
// enough.
func some(n, each int, try func(i int) bool) {
	found, step := 0, max(1, n/(4*each))
	for first := range step {
		for i := first; i < n; i += step {
			if found == each {
				return
			}
			if try(i) {
				found++
			}
		}
	}
}

func (x *teller) operations(each int) {
	work := x.s.Plan.Work
	op := func(w *scheduler.Work) events.OperationData {
		return events.OperationData{Piece: w.Piece, Operation: w.Operation, Mix: w.Mix, Tools: w.Tools}
	}
	next, started := 0, 0
	for i := range work {
		w := &work[i]
		if w.Load == "" && w.Status == scheduler.Planned && w.Start >= x.now && next < each {
			// On time, or by somebody who was quick.
			e := events.Event{Kind: events.OperationStarted, Station: w.Station, Data: op(w)}
			if next%2 == 0 {
				e.At = w.Start
			}
			if x.tell("started", nil, e) {
				next++
			}
		}
		if w.Load == "" && w.Status == scheduler.Started && w.End > x.now && started < each {
			if x.tell("finished early", nil, events.Event{Kind: events.OperationFinished, Station: w.Station, Data: op(w)}) {
				started++
			}
		}
	}
	done := 0
	for i := range work {
		w := &work[len(work)-1-i]
		if w.Load != "" || w.Status != scheduler.Done || w.End < x.now-resources.Tick(3*hour) || done == each || !x.loose(w) {
			continue
		}
		running := func(s *scheduler.State) { x.reopen(s, w) }
		if x.tell("finished late", running, events.Event{Kind: events.OperationFinished, Station: w.Station, Data: op(w)}) {
			done++
		}
	}
}

// loose tells whether nothing has begun that waits for a piece of work that is
// done, and it gives no tool back.
func (x *teller) loose(w *scheduler.Work) bool {
	piece := x.s.Pieces[w.Piece]
	product := x.s.Plant.Product(piece.Product)
	for i := range product.Routing {
		for _, take := range product.Routing[i].Takes {
			if take.Until == w.Operation {
				return false
			}
		}
	}
	for i := range x.s.Plan.Work {
		other := &x.s.Plan.Work[i]
		if other.Status != scheduler.Planned && other.Start >= w.End &&
			(other.Order == w.Order && other.Line == w.Line || other.Station == w.Station && other.Place == w.Place) {
			return false
		}
	}
	return true
}

// reopen makes a done operation one that still runs.
func (x *teller) reopen(s *scheduler.State, w *scheduler.Work) {
	piece := *s.Pieces[w.Piece]
	piece.Ops = append([]scheduler.OpState(nil), piece.Ops...)
	for i := range piece.Ops {
		if piece.Ops[i].Operation == w.Operation {
			piece.Ops[i].Status, piece.Ops[i].Ended = scheduler.Started, 0
		}
	}
	s.Pieces[w.Piece] = &piece
}

func (x *teller) loads(each int) {
	next, running := 0, 0
	works := map[scheduler.Member]*scheduler.Work{}
	for i := range x.s.Plan.Work {
		w := &x.s.Plan.Work[i]
		works[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
	}
	for i := range x.s.Plan.Loads {
		l := &x.s.Plan.Loads[i]
		data := events.LoadData{Load: l.ID}
		for _, m := range l.Members {
			item := events.LoadItem{Piece: m.Piece, Operation: m.Operation}
			item.Tools, data.Mix = works[m].Tools, works[m].Mix
			data.Pieces = append(data.Pieces, item)
		}
		if l.Status == scheduler.Planned && l.Start < x.now+resources.Tick(resources.Day) && next < each {
			if x.tell("load started", nil, events.Event{Kind: events.LoadStarted, Station: l.Station, At: max(x.now, l.Start), Data: data}) {
				next++
			}
		}
		if l.Status == scheduler.Started && running < each {
			if x.tell("load finished", nil, events.Event{Kind: events.LoadFinished, Station: l.Station, Data: data}) {
				running++
			}
		}
	}
}

func (x *teller) pieces(each int) {
	var begun, fresh []string
	for i := range x.s.Plan.Work {
		w := &x.s.Plan.Work[i]
		if w.Status == scheduler.Done && (len(begun) == 0 || begun[len(begun)-1] != w.Piece) {
			begun = append(begun, w.Piece)
		}
		if w.Status == scheduler.Planned && (len(fresh) == 0 || fresh[len(fresh)-1] != w.Piece) {
			fresh = append(fresh, w.Piece)
		}
	}
	some(len(begun), each, func(i int) bool {
		return x.tell("scrapped", nil, events.Event{Kind: events.PieceScrapped, Data: events.PieceData{Piece: begun[i], Why: "cracked"}})
	})
	some(len(fresh), each, func(i int) bool {
		return x.tell("held", nil, events.Event{Kind: events.PieceHeld, Data: events.PieceData{Piece: fresh[i], Why: "to be looked at"}})
	})
}

func (x *teller) stations(each int) {
	list := x.s.Plant.Stations
	some(len(list), each, func(i int) bool {
		data := events.StationData{Why: "drive", Until: x.now + resources.Tick(resources.Seconds(i%4)*3*hour)}
		if i%4 == 0 {
			data.Until = 0
		}
		return x.tell("breakdown", nil, events.Event{Kind: events.StationDown, Station: list[i].ID, Data: data})
	})
	var marks []string
	for i := range x.s.Plant.Tools {
		marks = append(marks, x.s.Plant.Tools[i].Units...)
	}
	some(len(marks), each, func(i int) bool {
		return x.tell("tool out", nil, events.Event{Kind: events.ToolOut, Data: events.ToolData{
			Unit: marks[i], Why: "coating", Until: x.now + resources.Tick(resources.Seconds(1+i%5)*resources.Day),
		}})
	})
}

// crews go away at once or in days, for hours or days, one or all of them.
func (x *teller) crews(each int) {
	list := x.s.Plant.Crews
	some(len(list), each, func(i int) bool {
		data := events.AbsentData{Crew: list[i].ID, People: 1, Why: "ill", From: x.now + resources.Tick(resources.Seconds(i%3)*50*hour)}
		if i%2 == 0 {
			data.People = list[i].Heads()
		}
		if i%4 != 0 {
			data.Until = data.From + resources.Tick(resources.Seconds(1+i%5)*7*hour)
		}
		return x.tell("people away", nil, events.Event{Kind: events.CrewAbsent, Data: data})
	})
}

func (x *teller) orders(each int) {
	products := x.s.Plant.Products
	for i := range each {
		product := products[i%len(products)]
		by := x.now + resources.Tick(resources.Seconds(10+7*i)*resources.Day)
		kind := "firm"
		if i%3 == 0 {
			kind = "event"
		}
		x.tell("order added", nil, events.Event{Kind: events.OrderAdded, Data: events.OrderData{
			Order: fmt.Sprintf("N%d", i), Line: "1", Product: product.ID, Quantity: 1 + 3*(i%4), ShipBy: by, Weight: 1, Kind: kind,
		}})
	}
}
