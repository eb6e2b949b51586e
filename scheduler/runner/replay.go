// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"towpath/events"
	"towpath/scheduler"
)

// stretch is how many records are folded at a time: they are held in memory,
// as a fold goes through them twice.
const stretch = 16384

// refold makes the state anew up to a sequence: from the newest kept state
// that no void reaches behind, stretch by stretch. A record whose application
// fails inside is left out, and so is a void of what is no longer kept; then
// the fold of its stretch begins again.
func (r *Runner) refold(ctx context.Context, last uint64) error {
	began := time.Now()
	var source *reading
	defer func() { source.close() }()
	rejects := slices.Clone(r.shown.rejects)
	first, count := last, 0
	base, err := r.base(ctx, last+1)
	if err != nil {
		return err
	}
	for reach := uint64(0); ; {
		end := min(last, max(base.Seq+stretch, reach))
		source = source.at(r, ctx, base.Seq, last)
		state, found, err := r.fold(ctx, base, source, end, nil)
		var broken *panicked
		var deep *scheduler.TooDeep
		switch {
		case errors.As(err, &deep):
			earlier, err := r.base(ctx, deep.Seq)
			switch {
			case errors.Is(err, errGone):
				r.poison[deep.At] = err
			case err != nil:
				return err
			default:
				r.past.cut(deep.Seq) // they hold what is void now
				base, reach = earlier, end
			}
			continue
		case errors.As(err, &broken) && broken.at != 0 && r.poison[broken.at] == nil:
			r.opt.Logger.Error("apply panicked", "seq", broken.at, "err", broken, "stack", broken.stack)
			r.poison[broken.at] = errBroken
			continue
		case err != nil:
			return fmt.Errorf("replay log: %w", err)
		}
		state.Skip(end)
		r.past.cut(base.Seq + 1) // the fold has not looked whether a void reaches them
		if err := r.opt.Store.Cut(base.Seq + 1); err != nil {
			return fmt.Errorf("drop snapshots after %d: %w", base.Seq, err)
		}
		rejects = slices.DeleteFunc(rejects, func(x Reject) bool { return x.Seq > base.Seq })
		rejects = keepLast(append(rejects, found...), keepRecent)
		first, count = min(first, base.Seq), count+len(found)
		if end == last {
			r.state, r.shown.rejects = state, rejects
			break
		}
		r.past.passed(state)
		base = state
	}
	if err := r.keepRejects(ctx, rejects); err != nil {
		return err
	}
	r.opt.Logger.Info("replayed the log", "after", first, "seq", last, "rejects", count, "took", time.Since(began).Round(time.Millisecond))
	return nil
}

// errGone says that a state cannot be made, as the log no longer has the
// records it follows from.
var errGone = errors.New("is no longer kept")

// base is the newest kept state from before a sequence that the log goes on
// from: of those in memory, else of the store's, else the empty one.
func (r *Runner) base(ctx context.Context, seq uint64) (*scheduler.State, error) {
	first, err := r.opt.Log.First(ctx)
	if err != nil {
		return nil, fmt.Errorf("read beginning of log: %w", err)
	}
	if s := r.past.before(seq); s != nil && s.Seq+1 >= first {
		return s, nil
	}
	s, err := r.opt.Store.Before(seq)
	switch {
	case err == nil && s.Seq+1 >= first:
		return s, nil
	case err != nil && !errors.Is(err, ErrNoState) && first > 1:
		return nil, fmt.Errorf("load snapshot: %w", err)
	case err != nil && !errors.Is(err, ErrNoState):
		r.opt.Logger.Warn("the log is folded from its beginning", "why", err)
	case first > 1:
		return nil, fmt.Errorf("what happened before number %d %w; correct it by reporting how things are now", seq, errGone)
	}
	return scheduler.NewState(nil), nil
}

// fold is the state after the log's records up to last, and after more events
// that would follow them, with what was not believed, in the order of the log.
func (r *Runner) fold(ctx context.Context, base *scheduler.State, source *reading, last uint64, more []events.Event) (*scheduler.State, []Reject, error) {
	in := &replay{r: r, more: more, last: last}
	if last > base.Seq+maxHeld {
		in.again = func() *reading { return source.at(r, ctx, base.Seq, last) }
	} else if in.held, in.err = source.upTo(last); in.err != nil {
		return nil, nil, in.err
	}
	var state *scheduler.State
	err := Guarded(func() (err error) {
		state, in.refused, err = scheduler.FoldAfter(base, in.events, nil)
		return err
	})
	var broken *panicked
	if errors.As(err, &broken) {
		broken.at = in.at
	}
	if in.err != nil {
		err = in.err
	}
	return state, in.rejects(), err
}

// maxHeld is how many records are held in memory at most; a void that reaches
// farther back makes a fold read the log twice.
const maxHeld = 8 * stretch

// replay hands out the records of a stretch, as often as a fold asks.
type replay struct {
	r       *Runner
	held    []Entry
	again   func() *reading // instead of held, each time
	last    uint64
	more    []events.Event // that follow
	at      uint64         // record handed out last
	err     error
	bad     map[uint64]Reject // not even tried
	refused []scheduler.Rejection
}

func (p *replay) events(yield func(events.Event) bool) {
	p.bad = map[uint64]Reject{}
	if p.err != nil || !p.stored(yield) {
		return
	}
	for i, e := range p.more {
		e.Seq = p.last + uint64(i) + 1
		p.at = e.Seq
		if !yield(e) {
			return
		}
	}
}

// stored hands out what the log has; false when no more is wanted.
func (p *replay) stored(yield func(events.Event) bool) bool {
	if p.again == nil {
		return p.give(p.held, yield)
	}
	source := p.again()
	defer source.close()
	for source.next <= p.last {
		batch, err := source.upTo(min(p.last, source.next+stretch))
		if err != nil {
			p.err = err
			return false
		}
		if !p.give(batch, yield) {
			return false
		}
	}
	return true
}

func (p *replay) give(batch []Entry, yield func(events.Event) bool) bool {
	for i := range batch {
		e := &batch[i]
		if why := p.r.unbelievable(e); why != nil {
			p.bad[e.Seq] = rejectOf(e, why)
			continue
		}
		e.Event.Seq, p.at = e.Seq, e.Seq
		if !yield(e.Event) {
			return false
		}
	}
	return true
}

// rejects lists what was not believed, in the order of the log.
func (p *replay) rejects() []Reject {
	list := slices.Collect(maps.Values(p.bad))
	for _, x := range p.refused {
		list = append(list, rejectOf(&Entry{Seq: x.Event.Seq, Event: x.Event}, x.Err))
	}
	slices.SortFunc(list, func(a, b Reject) int { return cmp.Compare(a.Seq, b.Seq) })
	return list
}

// corrected is the state as it would be after reports that hold a void, or the
// reason why one of them cannot be.
func (r *Runner) corrected(ctx context.Context, batch []events.Event) (*scheduler.State, error) {
	var source *reading
	defer func() { source.close() }()
	base, err := r.base(ctx, r.state.Seq+1)
	if err != nil {
		return nil, err
	}
	for {
		source = source.at(r, ctx, base.Seq, r.state.Seq)
		state, rejects, err := r.fold(ctx, base, source, r.state.Seq, batch)
		var deep *scheduler.TooDeep
		if errors.As(err, &deep) {
			earlier, err := r.base(ctx, deep.Seq)
			switch {
			case err == nil:
				base = earlier
			case errors.Is(err, errGone) && deep.At <= r.state.Seq: // it did not count when it came
				r.poison[deep.At] = err
			case errors.Is(err, errGone):
				return nil, &Refusal{Err: err}
			default:
				return nil, err
			}
			continue
		}
		if err != nil {
			return nil, err
		}
		for _, x := range rejects {
			if x.Seq > r.state.Seq {
				return nil, &Refusal{Err: x.Why}
			}
		}
		return state, nil
	}
}
