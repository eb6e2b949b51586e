// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"log/slog"
	"reflect"
	"slices"
	"sync"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// keepRecent is how many records, rejects and notes a picture carries.
const keepRecent = 500

// Picture is the shop at one instant, for pages. Nobody changes it: the state
// is a copy, the plan is never written to after it was published.
type Picture struct {
	Starting bool   // the log is still being read; nothing else is set
	Version  uint64 // counts pictures
	Seq      uint64
	Now      resources.Tick
	State    *scheduler.State
	Score    scheduler.Score   // of State.Plan, when there is one
	Gaps     []scheduler.Gap   // of State.Plan, when they are known
	Optimal  bool              // no plan is better, proven
	Planning string            // "idle", "repairing" or "improving"
	Recent   []Recent          // newest last
	Rejects  []Reject          // newest last
	Notes    []Noted           // newest last
	Alerts   []Alert           // about the program itself, until it is over
	Floor    []scheduler.Alert // what on the floor wants a person, the first to act first
}

// Plan is the published plan; nil before the first.
func (p *Picture) Plan() *scheduler.Plan {
	if p.State == nil {
		return nil
	}
	return p.State.Plan
}

// Recent is a record of the log and whether it was believed. Plans come
// without their body.
type Recent struct {
	Event    events.Event
	Believed bool
}

// Noted is something the core said when it applied a record.
type Noted struct {
	Seq uint64
	At  resources.Tick
	scheduler.Note
}

// Alert is a condition of the program itself. Key tells kinds apart: "clock",
// "plan".
type Alert struct {
	Key  string
	Text string
	At   resources.Tick

	Infeasible *scheduler.Infeasible // of a failed planning: what cannot hold together; nil: something else
}

// showing is what the owner collects for the next picture.
type showing struct {
	stale   bool
	asked   bool             // somebody who reported is to see it soon
	soon    <-chan time.Time // when it is to be looked at again whether a picture is due
	last    time.Time
	recent  []Recent
	rejects []Reject
	notes   []Noted
	alerts  []Alert
	score   scheduler.Score
	scored  uint64 // sequence the score is of

	watch  scheduler.Watch
	floor  []scheduler.Alert
	looked resources.Tick // instant the floor was looked at
	sight  uint64         // sequence it had then
}

// Picture is the latest picture; never nil.
func (r *Runner) Picture() *Picture { return r.pic.Load() }

// Subscribe tells through the channel that there is a new picture; signals
// that nobody has taken yet are merged. It is closed when the runner stops.
// Call cancel when done.
func (r *Runner) Subscribe() (news <-chan struct{}, cancel func()) { return r.subs.add() }

// showAsked is the shortest wall time between two pictures where somebody has
// reported: less than a person notices, and more than a picture takes.
const showAsked = 5 * time.Millisecond

// showIfDue makes a picture when something changed and the last one is old
// enough; the loop asks again.
func (r *Runner) showIfDue() {
	s := &r.shown
	if !s.stale {
		return
	}
	least := r.opt.Show
	if s.asked {
		least = min(least, showAsked)
	}
	switch left := least - time.Since(s.last); {
	case left <= 0:
		r.show()
	case s.asked && s.soon == nil:
		s.soon = time.After(left)
	}
}

func (r *Runner) show() {
	s := &r.shown
	s.stale, s.asked, s.last = false, false, time.Now()
	r.look()
	p := &Picture{
		Version: r.pic.Load().Version + 1,
		Seq:     r.state.Seq, Now: r.now(), State: r.state.Clone(), Planning: r.plan.doing(),
		Recent: slices.Clone(s.recent), Rejects: slices.Clone(s.rejects),
		Notes: slices.Clone(s.notes), Alerts: slices.Clone(s.alerts), Floor: s.floor,
	}
	if r.state.Plan != nil {
		if s.scored != r.state.Seq {
			err := Guarded(func() error {
				s.score = r.opt.Planner.Measure(r.state, r.state.Plan)
				return nil
			})
			if err != nil {
				r.opt.Logger.Error("measure plan", "rev", r.state.Seq, "err", err)
			}
			s.scored = r.state.Seq
		}
		p.Score = s.score
		known := r.bounding.of(r.state.Plan)
		p.Gaps, p.Optimal = known.gaps, known.optimal
	}
	r.pic.Store(p)
	r.subs.tell()
}

// lookEvery is how much of the shop's time passes before the floor is looked at
// again without any fact.
const lookEvery = resources.Tick(20)

// lookIfDue finds alerts that come and go with time alone.
func (r *Runner) lookIfDue() {
	if r.now() >= r.shown.looked+lookEvery && time.Since(r.shown.last) >= r.opt.Show && r.look() {
		r.shown.stale = true
	}
}

// look lists what on the floor wants a person, and says whether that has
// changed.
func (r *Runner) look() bool {
	s, now := &r.shown, r.now()
	if r.state.Plant == nil || s.sight == r.state.Seq && now < s.looked+lookEvery && now >= s.looked {
		return false
	}
	s.looked, s.sight = now, r.state.Seq
	was := s.floor
	if err := Guarded(func() error { s.floor = s.watch.Look(r.state, now); return nil }); err != nil {
		r.opt.Logger.Error("look for alerts", "rev", r.state.Seq, "err", err)
		return false
	}
	tellChanges(r.opt.Logger, was, s.floor)
	return !reflect.DeepEqual(was, s.floor)
}

// tellChanges logs alerts that came and went.
func tellChanges(log *slog.Logger, was, is []scheduler.Alert) {
	in := func(list []scheduler.Alert, key string) bool {
		return slices.ContainsFunc(list, func(a scheduler.Alert) bool { return a.Key() == key })
	}
	for i := range is {
		if a := &is[i]; !in(was, a.Key()) {
			log.Info("alert", "key", a.Key(), "who", a.Who, "text", a.Text)
		}
	}
	for i := range was {
		if key := was[i].Key(); !in(is, key) {
			log.Info("alert is over", "key", key)
		}
	}
}

func (p *planning) doing() string {
	switch {
	case p.repairing:
		return "repairing"
	case p.improving || p.pending != nil:
		return "improving"
	}
	return "idle"
}

// remember keeps a record for the log page.
func (r *Runner) remember(e *Entry, believed bool) {
	if e.Err != nil {
		return
	}
	event := e.Event
	event.Seq = e.Seq
	if data, ok := event.Data.(events.PlanData); ok {
		data.Gzip = nil
		event.Data = data
	}
	r.shown.recent = keepLast(append(r.shown.recent, Recent{Event: event, Believed: believed}), keepRecent)
}

func (r *Runner) addNotes(v verdict) {
	for _, n := range v.notes {
		r.opt.Logger.Debug("note", "seq", v.entry.Seq, "about", n.About, "text", n.Text)
		r.shown.notes = keepLast(append(r.shown.notes, Noted{Seq: v.entry.Seq, At: v.entry.Event.At, Note: n}), keepRecent)
	}
}

// alert shows a condition under its key; a second one replaces the first.
func (r *Runner) alert(key, text string) {
	r.shown.stale = true
	if i := r.shown.find(key); i >= 0 {
		r.shown.alerts[i].Text, r.shown.alerts[i].Infeasible = text, nil
		return
	}
	r.shown.alerts = append(r.shown.alerts, Alert{Key: key, Text: text, At: r.guard.last})
	r.opt.Logger.Warn("alert", "key", key, "text", text)
}

func (r *Runner) clearAlert(key string) {
	if i := r.shown.find(key); i >= 0 {
		r.shown.alerts = slices.Delete(r.shown.alerts, i, i+1)
		r.shown.stale = true
	}
}

func (s *showing) find(key string) int {
	return slices.IndexFunc(s.alerts, func(a Alert) bool { return a.Key == key })
}

func keepLast[T any](list []T, n int) []T {
	if len(list) > 2*n { // trimmed now and then, so that appending stays cheap
		return slices.Clone(list[len(list)-n:])
	}
	return list
}

// subscribers are those who want to hear of new pictures.
type subscribers struct {
	mu     sync.Mutex
	chans  map[chan struct{}]bool
	closed bool
}

func (s *subscribers) add() (<-chan struct{}, func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	ch := make(chan struct{}, 1)
	if s.closed {
		close(ch)
		return ch, func() {}
	}
	if s.chans == nil {
		s.chans = map[chan struct{}]bool{}
	}
	s.chans[ch] = true
	return ch, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.chans, ch)
	}
}

func (s *subscribers) tell() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for ch := range s.chans {
		select {
		case ch <- struct{}{}:
		default:
		}
	}
}

func (s *subscribers) close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	for ch := range s.chans {
		close(ch)
	}
	s.chans = nil
}
