// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"sync"

	"towpath/scheduler/risk"
)

// Elsewhere has histories of a sample played on other machines until ctx ends.
// lend says which are wanted, n at most, from ≥ to: none any more. bring takes
// what became of them; it answers an error for what cannot be.
type Elsewhere func(ctx context.Context, lend func(n int) (from, to int), bring func(risk.Part) error)

// What a history is at.
const (
	open   uint8 = iota
	lent         // another machine has it
	inHand       // one of our players has it
	played
)

// deal gives histories to players, here and elsewhere, each in turn. What was
// lent and is not back when a batch more is given out, or all, is played here as
// well: a machine that is slow, or gone, keeps nobody waiting, and what comes
// first counts, as both are the same.
type deal struct {
	mu     sync.Mutex
	sample *risk.Sample
	at     []uint8
	next   int        // all before are given out
	back   int        // all before are given out and not lent any more
	whole  int        // all before are played
	grown  *sync.Cond // whole is more, or it is over
	over   bool
}

func newDeal(s *risk.Sample, n int) *deal {
	d := &deal{sample: s, at: make([]uint8, n)}
	d.grown = sync.NewCond(&d.mu)
	return d
}

// take is a history to be played here; false: there is none left.
func (d *deal) take() (int, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.over {
		return 0, false
	}
	for d.back < d.next && d.at[d.back] != lent {
		d.back++
	}
	r := d.next
	switch {
	case d.back < d.next && (d.next == len(d.at) || d.next-d.back > risk.Batch):
		r = d.back
	case d.next == len(d.at):
		return 0, false
	default:
		d.next++
	}
	d.at[r] = inHand
	return r, true
}

// lend is some histories for another machine.
func (d *deal) lend(n int) (from, to int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.over {
		return 0, 0
	}
	from = d.next
	for d.next < len(d.at) && d.next < from+n {
		d.at[d.next] = lent
		d.next++
	}
	return from, d.next
}

// bring takes what another machine has played, but for what has been taken from
// it.
func (d *deal) bring(p risk.Part) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.sample.Fits(&p); err != nil {
		return err
	}
	for r := p.From; r < p.From+p.Histories(); r++ {
		if !d.over && d.at[r] == lent {
			d.sample.Put(&p, r)
			d.at[r] = played
		}
	}
	d.grow()
	return nil
}

// done notes a history that was played here.
func (d *deal) done(r int) {
	d.mu.Lock()
	d.at[r] = played
	d.grow()
	d.mu.Unlock()
}

func (d *deal) grow() {
	for d.whole < len(d.at) && d.at[d.whole] == played {
		d.whole++
	}
	d.grown.Broadcast()
}

// wait is until all histories before one are played; false: it was over first.
func (d *deal) wait(to int) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	for d.whole < to && !d.over {
		d.grown.Wait()
	}
	return d.whole >= to
}

// end gives nothing out any more.
func (d *deal) end() {
	d.mu.Lock()
	d.over = true
	d.grown.Broadcast()
	d.mu.Unlock()
}
