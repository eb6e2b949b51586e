// SPDX-License-Identifier: Apache-2.0

// Package webtest is a shop in memory for tests of the pages: the demo plant
// with its season, planned, and worked by the simulated shop up to an instant.
// It has no log and no search in the background.
package webtest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/simulate"
	"towpath/web"
	"towpath/web/view"
)

// Shop is the fake. Its clock stands still but for Advance.
type Shop struct {
	mu     sync.Mutex
	plant  *resources.Plant
	log    []events.Event // all that was believed
	past   past
	state  *scheduler.State
	now    resources.Tick
	seq    uint64
	known  map[string]uint64 // sequence by event ID
	rec    []web.Recent
	rej    []web.Reject
	notes  []web.Noted
	alerts []web.Alert // about the program
	watch  scheduler.Watch
	sim    *simulate.Shop
	subs   map[chan struct{}]bool
	pic    atomic.Pointer[web.Picture]
}

// Empty is a shop that has read its log and found no plant.
func Empty(now resources.Tick) *Shop {
	s := &Shop{now: now, known: map[string]uint64{}, subs: map[chan struct{}]bool{}, state: scheduler.NewState(nil)}
	s.show("idle")
	return s
}

// OfPlant is a shop with a plant and order lines, planned for now.
func OfPlant(p *resources.Plant, lines []resources.OrderLine, now resources.Tick) (*Shop, error) {
	s := Empty(now)
	s.plant, s.state = p, scheduler.NewState(p)
	for i := range lines {
		if err := s.take(orderAdded(p, &lines[i], now)); err != nil {
			return nil, err
		}
	}
	s.sim = simulate.New(7, simulate.Ordinary())
	if err := s.plan(); err != nil {
		return nil, err
	}
	s.show("idle")
	return s, nil
}

func orderAdded(p *resources.Plant, l *resources.OrderLine, now resources.Tick) events.Event {
	return events.Event{
		ID: "order-" + l.Order + "-" + l.Line, Kind: events.OrderAdded, Plant: p.ID, At: now, By: "orders.csv", Data: events.OrderDataOf(l),
	}
}

// Demo is the demo's plant and season at its first instant. The first plan is
// made once per process.
func Demo() (*Shop, error) {
	first, err := firstDemo()
	if err != nil {
		return nil, err
	}
	s := Empty(first.now)
	s.plant, s.state, s.seq, s.known = first.plant, first.state.Clone(), first.seq, maps.Clone(first.known)
	s.past, s.log, s.rec, s.notes = first.past, slices.Clone(first.log), slices.Clone(first.rec), slices.Clone(first.notes)
	s.sim = simulate.New(7, simulate.Ordinary())
	s.show("idle")
	return s, nil
}

var firstDemo = sync.OnceValues(func() (*Shop, error) {
	plant, lines, err := demoFiles()
	if err != nil {
		return nil, err
	}
	return OfPlant(plant, lines, plant.StartsAt)
})

func demoFiles() (*resources.Plant, []resources.OrderLine, error) {
	_, here, _, _ := runtime.Caller(0)
	dir := filepath.Join(filepath.Dir(here), "..", "..", "testdata", "demo")
	text, err := os.ReadFile(filepath.Join(dir, "plant.yaml"))
	if err != nil {
		return nil, nil, err
	}
	plant, findings := resources.ReadPlant("plant.yaml", text)
	if plant == nil {
		return nil, nil, fmt.Errorf("demo plant: %v", findings)
	}
	if text, err = os.ReadFile(filepath.Join(dir, "orders.csv")); err != nil {
		return nil, nil, err
	}
	lines, findings := resources.ReadOrders("orders.csv", text, plant)
	if resources.HasErrors(findings) {
		return nil, nil, fmt.Errorf("demo orders: %v", findings)
	}
	return plant, lines, nil
}

// take applies an event as the next of the log.
func (s *Shop) take(e events.Event) error {
	e.Seq = s.seq + 1
	notes, err := s.state.Apply(e)
	if err != nil {
		return err
	}
	s.seq++
	s.known[e.ID] = s.seq
	s.append(e)
	for _, n := range notes {
		s.notes = append(s.notes, web.Noted{Seq: e.Seq, At: e.At, Note: n})
	}
	if data, ok := e.Data.(events.PlanData); ok {
		data.Gzip = nil
		e.Data = data
	}
	s.rec = append(s.rec, web.Recent{Event: e, Believed: true})
	return nil
}

// Advance lets the simulated shop work until an instant, in steps, repairing
// the plan after each.
func (s *Shop) Advance(to resources.Tick, step resources.Seconds) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for s.now < to {
		s.now = min(to, s.now+resources.Tick(step))
		for _, e := range s.sim.Step(s.state.Clone(), s.now) {
			if s.known[e.ID] != 0 {
				continue
			}
			if err := s.take(e); err != nil {
				s.reject(e, err)
			}
		}
		s.replan()
	}
	s.show("idle")
	return nil
}

// replan repairs the plan; when that fails the last plan stands and pages are
// told, as in the running program.
func (s *Shop) replan() {
	s.alerts = nil
	if err := s.plan(); err != nil {
		var why *scheduler.Infeasible
		errors.As(err, &why)
		s.alerts = []web.Alert{view.PlanAlert("planning failed; the last plan stands: "+err.Error(), s.now, why, s.state)}
	}
}

// Pass lets time go by in which nothing is reported.
func (s *Shop) Pass(d resources.Seconds) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now += resources.Tick(d)
	s.show("idle")
}

func (s *Shop) reject(e events.Event, why error) {
	s.seq++
	s.state.Skip(s.seq)
	s.rej = append(s.rej, web.Reject{
		Seq: s.seq, ID: e.ID, Kind: e.Kind, At: e.At, About: events.About(e), By: e.By, Reason: why.Error(),
	})
}

// show makes a new picture and tells the subscribers.
func (s *Shop) show(planning string) {
	old := s.pic.Load()
	version := uint64(1)
	if old != nil {
		version = old.Version + 1
	}
	state := s.state.Clone()
	p := &web.Picture{
		Version: version, Now: s.now, State: state, Plan: state.Plan, Planning: planning,
		Recent: append([]web.Recent(nil), s.rec...), Rejects: append([]web.Reject(nil), s.rej...), Notes: append([]web.Noted(nil), s.notes...),
		Alerts: append([]web.Alert(nil), s.alerts...),
	}
	floor := s.watch.Look(state, s.now)
	for i := range floor {
		p.Alerts = append(p.Alerts, view.FloorAlert(&floor[i]))
	}
	if p.Plan != nil {
		p.Score = scheduler.Measure(state, p.Plan)
		p.Gaps, p.Optimal = p.Plan.Gaps, p.Plan.Optimal
	}
	s.pic.Store(p)
	for ch := range s.subs {
		select {
		case ch <- struct{}{}:
		default:
		}
	}
}

// Picture is the latest picture.
func (s *Shop) Picture() *web.Picture { return s.pic.Load() }

// Now is the clock, which stands still between calls of Advance.
func (s *Shop) Now() (resources.Tick, float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now, 1
}

// Subscribe tells of new pictures until the context ends.
func (s *Shop) Subscribe(ctx context.Context) <-chan struct{} {
	ch := make(chan struct{}, 1)
	s.mu.Lock()
	s.subs[ch] = true
	s.mu.Unlock()
	context.AfterFunc(ctx, func() {
		s.mu.Lock()
		delete(s.subs, ch)
		s.mu.Unlock()
	})
	return ch
}

// Report applies facts, all or none, and repairs the plan.
func (s *Shop) Report(_ context.Context, batch ...events.Event) (web.Outcome, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	trial := s.state.Clone()
	var fresh []events.Event
	var out web.Outcome
	for i, e := range batch {
		if seq := s.known[e.ID]; seq != 0 {
			out.Seq = max(out.Seq, seq)
			continue
		}
		e.Seq = s.seq + uint64(i) + 1
		if _, err := trial.Apply(e); err != nil {
			if errors.Is(err, scheduler.ErrRebuild) {
				return s.void(e)
			}
			return out, err
		}
		fresh = append(fresh, e)
	}
	if len(fresh) == 0 {
		out.Repeat = true
		return out, nil
	}
	before := len(s.notes)
	for _, e := range fresh {
		if err := s.take(e); err != nil {
			return out, err
		}
	}
	out.Seq = s.seq
	for _, n := range s.notes[before:] {
		out.Notes = append(out.Notes, n.Note)
	}
	s.replan()
	s.show("idle")
	return out, nil
}

// void takes an event back: the state is folded again without it.
func (s *Shop) void(e events.Event) (web.Outcome, error) {
	s.seq++
	s.known[e.ID] = s.seq
	s.append(e)
	s.state, _ = scheduler.FoldOnto(s.plant, slices.Values(s.log))
	s.rec = append(s.rec, web.Recent{Event: e, Believed: true})
	s.replan()
	s.show("idle")
	return web.Outcome{Seq: s.seq}, nil
}
