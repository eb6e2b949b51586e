// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"
	"time"
)

// Settled says how a stepped runner came to rest.
type Settled struct {
	Seq uint64 // last record taken in
	Err error  // planning failed; the last plan stands
}

// settle is a call of Settle on its way through the owner.
type settle struct {
	seq   uint64
	reply chan Settled

	begun bool
}

// Settle lets a stepped runner plan until there is nothing to be planned, once
// it has taken in the log up to seq. An improvement that this begins is left
// running; its plan is looked at in the next Settle, as one that took a while
// is on a shop floor. So what is published depends on the facts, the clock's
// readings and the seed, and not on how fast the machine is.
func (r *Runner) Settle(ctx context.Context, seq uint64) (Settled, error) {
	if !r.opt.Stepped {
		return Settled{}, errors.New("settle: the runner is not stepped")
	}
	s := settle{seq: seq, reply: make(chan Settled, 1)}
	select {
	case r.settles <- &s:
	case <-r.ended:
		return Settled{}, ErrStopped
	case <-ctx.Done():
		return Settled{}, ctx.Err()
	}
	select {
	case got := <-s.reply:
		return got, nil
	case <-r.ended:
		return Settled{}, ErrStopped
	case <-ctx.Done():
		return Settled{}, ctx.Err()
	}
}

// stepped is loop for a stepped runner: facts are taken in as they come, and
// planning goes on only between the beginning and the end of a Settle.
func (r *Runner) stepped(ctx context.Context) error {
	var now *settle // under way
	for {
		// Results are taken only when one is awaited: that of an improvement
		// must not come now in one Settle, now in another.
		results, asked := r.results, r.settles
		if now == nil {
			results = nil
		} else {
			asked = nil
		}
		var err error
		select {
		case <-ctx.Done():
			return nil
		case batch := <-r.entries:
			err = r.ingest(ctx, batch)
		case why := <-r.unread:
			r.heard(why)
		case a := <-r.asks:
			err = r.answer(ctx, a)
		case res := <-results:
			err = r.consider(ctx, res)
		case now = <-asked:
		}
		if err != nil {
			return err
		}
		if now != nil && r.settled(ctx, now) {
			now = nil
		}
	}
}

// settled does what is next on the way to rest and says whether it is reached.
func (r *Runner) settled(ctx context.Context, s *settle) bool {
	p := &r.plan
	waits := func() bool { return p.repairing || p.published > r.state.Seq }
	switch {
	case r.state.Seq < s.seq || len(r.parked) > 0 || waits():
		return false
	case !s.begun && p.improving:
		return false // begun in an earlier Settle
	case !s.begun:
		s.begun, p.failure = true, nil
		r.retain(ctx)
		if len(r.state.Overdue(r.now())) > 0 {
			s.begun = false
			if err := r.expire(ctx); err != nil {
				p.failure = err
				break
			}
			return false
		}
		p.hold(r.state, r.now())
	}
	for p.failure == nil && !p.improving && (p.dirty || p.pending != nil || p.want.why != "") {
		p.notBefore = time.Time{}
		dirty, want := p.dirty, p.want
		if r.schedule(ctx); waits() {
			return false
		}
		if p.dirty == dirty && p.want == want {
			break // there is nothing to plan
		}
	}
	r.show()
	s.reply <- Settled{Seq: r.state.Seq, Err: p.failure}
	return true
}
