// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// ErrStopped is what Report answers when the program stops before the outcome
// is known. Sending the same event, with its ID, again is safe.
var ErrStopped = errors.New("stopped before the outcome was known; sending the same report again is safe")

// Limits of Report.
const (
	maxAsks  = 256
	patience = 3 // tries with an expected sequence before a report goes wherever the log ends
)

// Refusal is a report the shop does not believe. Nothing was stored, or, when
// Seq is not 0, it was stored and rejected, because another fact came first.
type Refusal struct {
	Seq uint64
	Err error // often a *scheduler.Refusal, with a hint
}

func (e *Refusal) Error() string { return e.Err.Error() }
func (e *Refusal) Unwrap() error { return e.Err }

// Outcome is what a believed report did.
type Outcome struct {
	Seq    uint64 // of its last event
	Notes  []scheduler.Note
	Repeat bool // the shop knew these very events already
}

// ask is a call of Report on its way through the owner.
type ask struct {
	events  []events.Event
	reply   chan answered
	reserve *reservation                 // not nil: a plan goes with it
	holds   func(*scheduler.State) error // not nil: it is told only to a state that this takes
	tries   int
	fresh   []events.Event // those not known before
	left    int            // fresh events not yet back from the log
	out     Outcome
	err     error
}

type answered struct {
	out Outcome
	err error
}

// Report tells the shop facts, all of them or none. They are tried on a copy
// of the state first; a *Refusal says why they cannot be. Then they are stored
// and applied; Report returns when they are safe. An empty ID is filled in, an
// At of 0 becomes now. Of more than AtOnce facts some may stand when the rest
// are refused, because another fact came between, or cannot be stored.
func (r *Runner) Report(ctx context.Context, batch ...events.Event) (Outcome, error) {
	if len(batch) == 0 {
		return Outcome{}, errors.New("nothing to report")
	}
	return r.send(ctx, &ask{events: append([]events.Event(nil), batch...)})
}

// send hands a report to the owner and waits for what becomes of it.
func (r *Runner) send(ctx context.Context, a *ask) (Outcome, error) {
	a.reply = make(chan answered, 1)
	for i := range a.events {
		if a.events[i].ID == "" {
			a.events[i].ID = NewID()
		}
	}
	select {
	case r.asks <- *a:
	case <-r.ended:
		return Outcome{}, ErrStopped
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	}
	select {
	case got := <-a.reply:
		return got.out, got.err
	case <-r.ended:
		select {
		case got := <-a.reply:
			return got.out, got.err
		default:
			return Outcome{}, ErrStopped
		}
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	}
}

// NewID is a fresh event ID.
func NewID() string {
	var b [16]byte
	rand.Read(b[:]) //nolint:errcheck // it never fails
	return hex.EncodeToString(b[:])
}

// answer takes the reports that wait, tries each on one copy of the state and
// appends the good ones together.
func (r *Runner) answer(ctx context.Context, first ask) error {
	waiting := []*ask{&first}
	for more := true; more && len(waiting) < maxAsks; {
		select {
		case a := <-r.asks:
			waiting = append(waiting, &a)
		default:
			more = false
		}
	}
	return r.append(ctx, waiting)
}

// unpark tries again what had to wait for the log to stand still.
func (r *Runner) unpark(ctx context.Context) error {
	if len(r.parked) == 0 {
		return nil
	}
	waiting := r.parked
	r.parked = nil
	return r.append(ctx, waiting)
}

// append tries reports on a copy of the state and stores the good ones
// together. Those that cannot be judged now are parked.
func (r *Runner) append(ctx context.Context, waiting []*ask) error {
	good, batch := r.sift(ctx, waiting)
	if len(good) == 0 {
		return nil
	}
	after := r.state.Seq
	// What a reservation or an adoption rests on must not change under it.
	reserving := slices.ContainsFunc(good, func(a *ask) bool { return a.reserve != nil })
	bound := reserving || slices.ContainsFunc(good, func(a *ask) bool { return a.holds != nil })
	for _, a := range good {
		if a.tries >= patience && !bound {
			after = Anywhere
		}
		for _, e := range a.fresh {
			r.waiting[e.ID] = a
		}
	}
	seqs, err := r.opt.Log.Append(ctx, after, batch)
	if err == nil {
		if reserving {
			r.plan.published = seqs[len(seqs)-1] // a plan is among them
		}
		r.settleOld(batch, seqs)
		return nil
	}
	for _, a := range good {
		for _, e := range a.fresh {
			delete(r.waiting, e.ID)
		}
		if errors.Is(err, ErrStale) {
			a.tries++
			r.parked = append(r.parked, a)
			continue
		}
		a.settle(Outcome{}, fmt.Errorf("store the report: %w", err))
	}
	if !errors.Is(err, ErrStale) && ctx.Err() == nil {
		r.opt.Logger.Error("append", "err", err)
	}
	return nil
}

// settleOld answers for events that the log had already and the state has been
// past: had they been believed they would be known, so they were rejected.
func (r *Runner) settleOld(batch []events.Event, seqs []uint64) {
	for i := range batch {
		a := r.waiting[batch[i].ID]
		if seqs[i] > r.state.Seq || a == nil {
			continue
		}
		delete(r.waiting, batch[i].ID)
		a.landed(verdict{entry: &Entry{Seq: seqs[i], Event: batch[i]}, err: fmt.Errorf(
			"this very report was rejected before, as number %d of the log; report anew, with another ID", seqs[i])})
	}
}

// sift settles the reports that are refused or known and returns the others
// with their events.
func (r *Runner) sift(ctx context.Context, waiting []*ask) (good []*ask, batch []events.Event) {
	now := r.now()
	trial := r.state.Clone()
	under := map[string]bool{} // IDs in this batch
	for i, a := range waiting {
		if len(good) > 0 && len(batch)+a.most() > AtOnce {
			// Together they would not be stored wholly or not at all.
			r.parked = append(r.parked, waiting[i:]...)
			break
		}
		if a.corrects() && len(good) > 0 {
			// What it corrects must be in the state; those behind it meet the
			// state that it makes.
			r.parked = append(r.parked, waiting[i:]...)
			break
		}
		if r.underWay(a, under) {
			r.parked = append(r.parked, a)
			continue
		}
		err := r.retry(trial, a, now)
		if err == nil && a.corrects() && len(a.fresh) > 0 {
			err = r.tryVoid(ctx, a)
		}
		if err != nil {
			a.settle(Outcome{}, err)
			if len(a.events) > 1 || a.reserve != nil { // the events before the bad one have changed the copy
				trial = r.state.Clone()
				for _, g := range good { // they passed before
					_ = r.retry(trial, g, now)
				}
			}
			continue
		}
		if len(a.fresh) == 0 {
			a.out.Repeat = true
			a.settle(a.out, nil)
			continue
		}
		good = append(good, a)
		batch = append(batch, a.fresh...)
		for _, e := range a.fresh {
			under[e.ID] = true
		}
		if a.corrects() {
			r.parked = append(r.parked, waiting[i+1:]...)
			break
		}
	}
	return good, batch
}

// most is how many events a report may add to the log.
func (a *ask) most() int {
	if a.reserve != nil { // its plan
		return len(a.events) + 1
	}
	return len(a.events)
}

// retry is try with what a report rests on and with the plan of a reservation.
func (r *Runner) retry(trial *scheduler.State, a *ask, now resources.Tick) error {
	if a.holds != nil {
		if err := a.holds(trial); err != nil {
			return &Refusal{Err: err}
		}
	}
	err := r.try(trial, a, now)
	if err == nil && a.reserve != nil && len(a.fresh) > 0 {
		err = r.tryPlan(trial, a, now)
	}
	return err
}

// corrects says whether a report voids something.
func (a *ask) corrects() bool {
	return slices.ContainsFunc(a.events, func(e events.Event) bool { return e.Kind == events.EventVoided })
}

// tryVoid looks at the state as a report that voids something would make it. It
// must not keep capacity again that was let go: others may have been promised it.
func (r *Runner) tryVoid(ctx context.Context, a *ask) error {
	after, err := r.corrected(ctx, a.fresh)
	if err != nil {
		return err
	}
	for _, key := range slices.Sorted(maps.Keys(after.Lines)) {
		if line := after.Lines[key]; line.Reserved() && gaveUp(r.state.Lines[key]) {
			return &Refusal{Err: &scheduler.Refusal{
				Reason: scheduler.RefusedStale, About: "promise " + line.Order, Hint: "ask for a date again",
				Text: "what was kept for it was let go, and may be promised to others since",
			}}
		}
	}
	return nil
}

// gaveUp says that nothing is kept for a line: it was let go, or was never to be.
// What has expired is not meant: it expires again.
func gaveUp(line *scheduler.Line) bool {
	return line == nil || line.Promise == nil || line.Promise.Status == scheduler.Released
}

// underWay says whether an event of the report is on its way already, so that
// its outcome must be awaited first.
func (r *Runner) underWay(a *ask, under map[string]bool) bool {
	for _, e := range a.events {
		if under[e.ID] || r.waiting[e.ID] != nil {
			return true
		}
	}
	return false
}

// try puts a report to a copy of the state and notes which of its events are
// new. What follows a void is only looked at; corrected tries it.
func (r *Runner) try(trial *scheduler.State, a *ask, now resources.Tick) error {
	a.fresh, a.left = nil, 0
	void := false
	for i := range a.events {
		e := &a.events[i]
		if e.At == 0 {
			e.At = now
		}
		if e.Plant == "" && trial.Plant != nil {
			e.Plant = trial.Plant.ID
		}
		if seq, known := r.state.Applied(e.ID); known {
			a.out.Seq = max(a.out.Seq, seq)
			continue
		}
		if err := r.tryOne(trial, *e, now, void); err != nil {
			return &Refusal{Err: err}
		}
		void = void || e.Kind == events.EventVoided
		a.fresh = append(a.fresh, *e)
	}
	a.left = len(a.fresh)
	return nil
}

func (r *Runner) tryOne(trial *scheduler.State, e events.Event, now resources.Tick, look bool) error {
	if scheduler.TooFarAhead(e, now) {
		return fmt.Errorf("the report speaks of an instant %s ahead of the shop's clock; set the clock of the machine that reports",
			resources.Spell(resources.Seconds(e.At-now)))
	}
	if err := events.Validate(e); err != nil {
		return err
	}
	if look {
		return nil
	}
	return Guarded(func() error {
		if _, err := trial.Apply(e); err != nil && !errors.Is(err, scheduler.ErrRebuild) {
			return err
		}
		return nil
	})
}

// landed takes in the verdict on one of the events.
func (a *ask) landed(v verdict) {
	a.left--
	a.out.Seq = max(a.out.Seq, v.entry.Seq)
	a.out.Notes = append(a.out.Notes, v.notes...)
	if v.err != nil && a.err == nil {
		a.err = &Refusal{Seq: v.entry.Seq, Err: v.err}
	}
	if a.left <= 0 {
		a.settle(a.out, a.err)
	}
}

// settle answers the caller; it has room for one answer, later ones are lost.
func (a *ask) settle(out Outcome, err error) {
	select {
	case a.reply <- answered{out, err}:
	default:
	}
}
