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

// refold makes the state anew from the log up to a sequence. A record whose
// application fails inside is left out and the fold begins again.
func (r *Runner) refold(ctx context.Context, last uint64) error {
	began := time.Now()
	for {
		in := &replay{r: r, ctx: ctx, last: last}
		err := guarded(func() error {
			r.state, in.refused = scheduler.Fold(in.events)
			return nil
		})
		var broken *panicked
		if errors.As(err, &broken) && in.at != 0 && !r.poison[in.at] {
			r.opt.Logger.Error("apply panicked", "seq", in.at, "err", broken, "stack", broken.stack)
			r.poison[in.at] = true
			continue
		}
		if err = errors.Join(err, in.err); err != nil {
			return fmt.Errorf("replay log: %w", err)
		}
		r.state.Skip(last)
		rejects := in.rejects()
		r.shown.rejects = rejects[max(0, len(rejects)-keepRecent):]
		if err := r.keepRejects(ctx, r.shown.rejects); err != nil {
			return err
		}
		r.opt.Logger.Info("replayed the log", "seq", last, "rejects", len(rejects), "took", time.Since(began).Round(time.Millisecond))
		return nil
	}
}

// replay reads the log from its beginning, as often as a fold asks.
type replay struct {
	r       *Runner
	ctx     context.Context
	last    uint64
	at      uint64 // record handed out last
	err     error
	bad     map[uint64]Reject // not even tried
	refused []scheduler.Rejection
}

func (p *replay) events(yield func(events.Event) bool) {
	p.bad = map[uint64]Reject{}
	if p.last == 0 || p.err != nil {
		return
	}
	feed, err := p.r.opt.Log.Follow(p.ctx, 0)
	if err != nil {
		p.err = err
		return
	}
	defer feed.Close()
	for read := uint64(0); read < p.last; {
		batch, err := feed.Next(p.ctx)
		if err != nil {
			p.err = err
			return
		}
		for i := range batch {
			e := &batch[i]
			if read = e.Seq; read > p.last {
				return
			}
			if why := p.r.unbelievable(e); why != nil {
				p.bad[e.Seq] = rejectOf(e, why)
				continue
			}
			e.Event.Seq, p.at = e.Seq, e.Seq
			if !yield(e.Event) {
				return
			}
		}
	}
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
