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

// refold makes the state anew up to a sequence: from the newest checkpoint
// that no void reaches behind, else from the log's beginning. A record whose
// application fails inside is left out and the fold begins again.
func (r *Runner) refold(ctx context.Context, last uint64) error {
	began := time.Now()
	for {
		base := r.past.before(last)
		state, rejects, err := r.fold(ctx, base, last, nil)
		var broken *panicked
		switch {
		case errors.Is(err, scheduler.ErrTooDeep):
			r.past.cut(base.Seq) // it holds what is void now
			continue
		case errors.As(err, &broken) && broken.at != 0 && !r.poison[broken.at]:
			r.opt.Logger.Error("apply panicked", "seq", broken.at, "err", broken, "stack", broken.stack)
			r.poison[broken.at] = true
			continue
		case err != nil:
			return fmt.Errorf("replay log: %w", err)
		}
		from := uint64(0)
		if base != nil {
			from = base.Seq
			r.past.cut(from + 1) // the fold has not looked whether a void reaches them
		}
		r.state = state
		r.state.Skip(last)
		kept := slices.DeleteFunc(slices.Clone(r.shown.rejects), func(x Reject) bool { return x.Seq > from })
		rejects = append(kept, rejects...)
		r.shown.rejects = rejects[max(0, len(rejects)-keepRecent):]
		if err := r.keepRejects(ctx, r.shown.rejects); err != nil {
			return err
		}
		r.opt.Logger.Info("replayed the log", "after", from, "seq", last, "rejects", len(rejects), "took", time.Since(began).Round(time.Millisecond))
		return nil
	}
}

// fold is the state after the log's records up to last, and after more events
// that would follow them, with what was not believed, in the order of the log.
// From nil it reads the log from its beginning.
func (r *Runner) fold(ctx context.Context, base *scheduler.State, last uint64, more []events.Event) (*scheduler.State, []Reject, error) {
	if base == nil {
		base = scheduler.NewState(nil)
	}
	in := &replay{r: r, ctx: ctx, first: base.Seq, last: last, more: more}
	var state *scheduler.State
	err := guarded(func() (err error) {
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

// replay reads the log after a sequence, as often as a fold asks.
type replay struct {
	r       *Runner
	ctx     context.Context
	first   uint64 // read after this
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
	if p.last <= p.first {
		return true
	}
	feed, err := p.r.opt.Log.Follow(p.ctx, p.first)
	if err != nil {
		p.err = err
		return false
	}
	defer feed.Close()
	for read := p.first; read < p.last; {
		batch, err := feed.Next(p.ctx)
		if err != nil {
			p.err = err
			return false
		}
		for i := range batch {
			e := &batch[i]
			if read = e.Seq; read > p.last {
				return true
			}
			if why := p.r.unbelievable(e); why != nil {
				p.bad[e.Seq] = rejectOf(e, why)
				continue
			}
			e.Event.Seq, p.at = e.Seq, e.Seq
			if !yield(e.Event) {
				return false
			}
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
	for seq := r.state.Seq + 1; ; {
		base := r.past.before(seq)
		state, rejects, err := r.fold(ctx, base, r.state.Seq, batch)
		if errors.Is(err, scheduler.ErrTooDeep) {
			seq = base.Seq
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
