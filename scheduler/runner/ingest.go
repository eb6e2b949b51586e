// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"
	"fmt"
	"time"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// maxGroup is how many waiting records share one transaction at most: enough
// to make a sync to disk cheap per record, small enough that pages stay fresh.
const maxGroup = 2000

// recoverState loads the projection, or folds the log from the newest snapshot
// or from nothing when there is none that belongs to it.
func (r *Runner) recoverState(ctx context.Context) error {
	state, err := r.opt.Store.Load()
	if err != nil && !errors.Is(err, ErrNoState) {
		return fmt.Errorf("load projection: %w", err)
	}
	if err != nil {
		r.opt.Logger.Info("no projection; replaying the log", "why", err)
		state = nil
	}
	last, err := r.opt.Log.Last(ctx)
	if err != nil {
		return fmt.Errorf("read end of log: %w", err)
	}
	if state != nil && state.Seq > last {
		// The projection knows more than the log: it belongs to another log,
		// or the log was cut. The log alone is the truth.
		r.opt.Logger.Warn("projection is ahead of the log; replaying", "seq", state.Seq, "last", last)
		state = nil
		if err := r.opt.Store.Cut(last + 1); err != nil {
			return fmt.Errorf("drop snapshots after %d: %w", last, err)
		}
	}
	first, err := r.opt.Log.First(ctx)
	if err != nil {
		return fmt.Errorf("read beginning of log: %w", err)
	}
	if state != nil && state.Seq+1 >= first {
		r.state = state
		return nil
	}
	if err := r.refold(ctx, last); errors.Is(err, errGone) {
		return fmt.Errorf("the log begins with number %d and no stored state reaches it: put the data folder's snapshots back from a backup (%w)", first, err)
	} else if err != nil {
		return err
	}
	if last == 0 {
		return nil
	}
	if err := r.opt.Store.Replace(r.state); err != nil {
		return fmt.Errorf("save projection at %d: %w", r.state.Seq, err)
	}
	return nil
}

// follow begins to read the log after the state, catches up with its present
// end and leaves a goroutine that hands over what comes later.
func (r *Runner) follow(ctx context.Context) error {
	last, err := r.opt.Log.Last(ctx)
	if err != nil {
		return fmt.Errorf("read end of log: %w", err)
	}
	// The feed begins a little before the state, so that the log page has
	// something to show after a restart.
	read := r.state.Seq - min(r.state.Seq, keepRecent)
	feed, err := r.opt.Log.Follow(ctx, read)
	if err != nil {
		return fmt.Errorf("follow log: %w", err)
	}
	for read < last {
		batch, err := feed.Next(ctx)
		if err == nil && len(batch) > 0 {
			read = batch[len(batch)-1].Seq
			err = r.ingest(ctx, batch)
		}
		if err != nil {
			feed.Close()
			return fmt.Errorf("catch up with log: %w", err)
		}
	}
	r.search.Go(func() { r.pump(ctx, feed, read) })
	return nil
}

// pump hands records from the feed to the owner. When the feed breaks, it is
// opened again where it was.
func (r *Runner) pump(ctx context.Context, feed Feed, read uint64) {
	for {
		batch, err := feed.Next(ctx)
		if err == nil && len(batch) > 0 {
			select {
			case r.entries <- batch:
				read = batch[len(batch)-1].Seq
			case <-ctx.Done():
			}
		}
		if ctx.Err() != nil {
			feed.Close()
			return
		}
		if err == nil {
			continue
		}
		r.opt.Logger.Error("read log; trying again", "after", read, "err", err)
		feed.Close()
		if feed = r.reopen(ctx, read); feed == nil {
			return
		}
	}
}

// reopen tries until the log can be followed again; nil when ctx ends. A reason
// why it cannot is logged once and shown for as long as it holds.
func (r *Runner) reopen(ctx context.Context, after uint64) Feed {
	why := ""
	say := func(now string) {
		if now == why {
			return
		}
		why = now
		select {
		case r.unread <- now:
		case <-ctx.Done():
		}
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(time.Second):
		}
		feed, err := r.opt.Log.Follow(ctx, after)
		if err == nil {
			say("")
			return feed
		}
		if ctx.Err() == nil && err.Error() != why {
			r.opt.Logger.Error("follow log; trying again", "after", after, "err", err)
			say(err.Error())
		}
	}
}

// heard shows why the log cannot be read; empty: it can be again.
func (r *Runner) heard(why string) {
	if why == "" {
		r.clearAlert("log")
		return
	}
	r.alert("log", fmt.Sprintf("the log cannot be read; what has been reported since is not shown: %s", why))
}

// ingest applies a batch and whatever else waits. Each group saves once,
// acknowledges once and tells who waited; a void ends a group, since what
// follows it must meet the state made anew.
func (r *Runner) ingest(ctx context.Context, batch []Entry) error {
	batch = r.gather(batch)
	for len(batch) > 0 {
		n, err := r.group(ctx, batch)
		if err != nil {
			return err
		}
		batch = batch[n:]
	}
	return r.unpark(ctx)
}

// gather adds records that wait already, so that they share a transaction.
func (r *Runner) gather(batch []Entry) []Entry {
	for len(batch) < maxGroup {
		select {
		case more := <-r.entries:
			batch = append(batch, more...)
		default:
			return batch
		}
	}
	return batch
}

// verdict is what became of one record.
type verdict struct {
	entry *Entry
	notes []scheduler.Note
	err   error // not believed
}

// group applies records up to the first that asks for a fold, and says how
// many it has dealt with.
func (r *Runner) group(ctx context.Context, batch []Entry) (int, error) {
	var settled []verdict
	fold := false
	n := 0
	for n < len(batch) && !fold {
		e := &batch[n]
		n++
		if e.Seq <= r.state.Seq {
			r.remember(e, true)
			continue
		}
		var v verdict
		v, fold = r.take(e)
		settled = append(settled, v)
		r.state.Skip(e.Seq)
		r.remember(e, v.err == nil)
	}
	if len(settled) == 0 {
		return n, nil
	}
	if fold {
		before := r.state
		if err := r.refold(ctx, r.state.Seq); err != nil {
			return n, err
		}
		v := &settled[len(settled)-1]
		v.notes = fallen(before, r.shown.rejects)
		if why := r.poison[v.entry.Seq]; why != nil && v.err == nil { // a void of what is no longer kept
			v.err = why
		}
	}
	if err := r.keep(ctx, settled, fold); err != nil {
		return n, err
	}
	r.past.passed(r.state)
	return n, nil
}

// take applies one record to the state. It says whether the log must be folded
// again: after a void, and after a fault inside that may have left the state
// half changed.
func (r *Runner) take(e *Entry) (v verdict, fold bool) {
	v.entry = e
	if v.err = r.unbelievable(e); v.err != nil {
		return v, false
	}
	event := e.Event
	event.Seq = e.Seq
	err := Guarded(func() (err error) {
		v.notes, err = r.state.Apply(event)
		return err
	})
	var broken *panicked
	switch {
	case errors.Is(err, scheduler.ErrRebuild):
		return v, true
	case errors.As(err, &broken):
		r.opt.Logger.Error("apply panicked", "seq", e.Seq, "kind", string(event.Kind), "err", broken, "stack", broken.stack)
		r.poison[e.Seq] = errBroken
		v.err = fmt.Errorf("%w (%v)", errBroken, broken.value)
		return v, true
	}
	v.err = err
	return v, false
}

// fallen tells of records that were believed until a void struck out what they
// stood on.
func fallen(before *scheduler.State, rejects []Reject) []scheduler.Note {
	var notes []scheduler.Note
	for _, x := range rejects {
		if seq, believed := before.Applied(x.ID); believed && seq == x.Seq && len(notes) < maxFallen {
			notes = append(notes, scheduler.Note{About: x.About, Text: fmt.Sprintf("number %d, %s, cannot stand without it: %s", x.Seq, x.Kind, x.Reason)})
		}
	}
	return notes
}

// maxFallen is how many of them are told.
const maxFallen = 10

// errBroken is why a record is left out whose application failed inside.
var errBroken = errors.New("this record broke a rule of the program itself and was left out")

// unbelievable says why a record is not even tried; what it says depends on
// the log alone, so that every replay says the same.
func (r *Runner) unbelievable(e *Entry) error {
	switch {
	case e.Err != nil:
		return e.Err
	case r.poison[e.Seq] != nil:
		return r.poison[e.Seq]
	case r.opt.TrustStored && e.Stored != 0 && scheduler.TooFarAhead(e.Event, e.Stored):
		return fmt.Errorf("it claims an instant %s after it was stored; set the clock of the machine that reports",
			resources.Spell(resources.Seconds(e.Event.At-e.Stored)))
	}
	return nil
}

// keep makes a group durable: rejects first, as they are kept once however
// often they are sent, then state and sequence in one transaction. Only then
// it tells.
func (r *Runner) keep(ctx context.Context, settled []verdict, whole bool) error {
	var rejects []Reject
	for _, v := range settled {
		if v.err != nil {
			rejects = append(rejects, rejectOf(v.entry, v.err))
		}
	}
	if err := r.keepRejects(ctx, rejects); err != nil {
		return err
	}
	save := r.opt.Store.Save
	if whole {
		save = r.opt.Store.Replace
	}
	if err := save(r.state); err != nil {
		return fmt.Errorf("save projection at %d: %w", r.state.Seq, err)
	}
	r.tell(settled)
	if !whole { // a fold has listed all rejects anew
		r.shown.rejects = keepLast(append(r.shown.rejects, rejects...), keepRecent)
	}
	return nil
}

func (r *Runner) keepRejects(ctx context.Context, rejects []Reject) error {
	for _, x := range rejects {
		if err := r.opt.Log.Reject(ctx, x); err != nil {
			return fmt.Errorf("keep reject %d: %w", x.Seq, err)
		}
	}
	return nil
}

// tell passes verdicts to those who wait, to the planning loop and to the
// pages.
func (r *Runner) tell(settled []verdict) {
	for _, v := range settled {
		r.addNotes(v)
		if a := r.waiting[v.entry.Event.ID]; a != nil && v.entry.Err == nil {
			delete(r.waiting, v.entry.Event.ID)
			a.landed(v)
			r.shown.asked = true
		}
		if v.err == nil {
			r.plan.happened(v.entry.Event, v.entry.Seq)
			continue
		}
		r.opt.Logger.Info("rejected", "seq", v.entry.Seq, "kind", string(v.entry.Event.Kind), "why", v.err)
	}
	r.shown.stale = true
}

func rejectOf(e *Entry, why error) Reject {
	return Reject{
		Seq: e.Seq, ID: e.Event.ID, Kind: e.Event.Kind, At: e.Event.At,
		About: events.About(e.Event), By: e.Event.By, Reason: why.Error(), Why: why,
	}
}
