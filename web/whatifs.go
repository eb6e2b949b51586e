// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"log/slog"
	"slices"
	"sync"

	"towpath/resources"
	"towpath/scheduler/whatif"
	"towpath/web/view"
)

// mostWhatIfs is how many sets of changes are kept.
const mostWhatIfs = 20

// whatifs keeps the sets of changes that were tried. One is tried at a time, as
// each takes the machine's cores; the others wait for their turn.
type whatifs struct {
	mu    sync.Mutex
	list  []*tried // oldest first
	busy  chan struct{}
	shelf Shelf // nil: they are not kept over a restart
	log   *slog.Logger

	shelving sync.Mutex // held while the shelf is written, so that it ends as the list is; taken before mu

	pair     [2]*Trial // held against each other last
	between  *whatif.Comparison
	twoSides *view.Sides
}

// tried is a set of changes with what came of it.
type tried struct {
	view.WhatIf
	q        *whatif.Question // nil: it comes from the shelf
	trial    *Trial           // nil: not known yet, or not any more
	cancel   context.CancelFunc
	sides    func() *view.Sides // made when they are first drawn; nil as long as trial is
	adopting bool
}

func newWhatIfs(shelf Shelf, log *slog.Logger) *whatifs {
	w := &whatifs{busy: make(chan struct{}, 1), shelf: shelf, log: log}
	if shelf == nil {
		return w
	}
	list, err := shelf.Load()
	if err != nil {
		log.Error("read what was tried before", "err", err)
	}
	for _, x := range list {
		if x.Open() {
			x.State, x.Doing, x.Done, x.Most = "stopped", "", 0, 0
		}
		x.Shelved = true
		w.list = append(w.list, &tried{WhatIf: x, cancel: func() {}})
	}
	return w
}

// add keeps a set and lets the oldest go beyond the most.
func (w *whatifs) add(x *tried) string {
	x.ID = newID()[:12]
	w.mu.Lock()
	w.list = append(w.list, x)
	over := max(0, len(w.list)-mostWhatIfs)
	gone := slices.Clone(w.list[:over])
	w.list = w.list[over:]
	w.mu.Unlock()
	for _, old := range gone {
		old.cancel()
		w.unshelve(old.ID)
	}
	w.put(x.ID)
	return x.ID
}

// put keeps a set over a restart, as it is now.
func (w *whatifs) put(id string) {
	if w.shelf == nil {
		return
	}
	w.shelving.Lock()
	defer w.shelving.Unlock()
	var x *view.WhatIf
	w.edit(id, func(t *tried) {
		one := t.WhatIf
		x = &one
	})
	if x == nil {
		return
	}
	if err := w.shelf.Put(*x); err != nil {
		w.log.Error("keep what was tried", "name", x.Name, "err", err)
	}
}

// unshelve forgets over a restart a set that is not kept any more.
func (w *whatifs) unshelve(id string) {
	if w.shelf == nil {
		return
	}
	w.shelving.Lock()
	defer w.shelving.Unlock()
	if err := w.shelf.Drop(id); err != nil {
		w.log.Error("forget what was tried", "id", id, "err", err)
	}
}

// find is a copy of a set as it stands with the shop as it is now; nil when it is
// not kept.
func (w *whatifs) find(id string, p *Picture) *tried {
	var out *tried
	w.edit(id, func(x *tried) {
		one := *x
		one.Before = before(w.list, x, func(o *tried) string { return o.State })
		out = &one
	})
	if out != nil { // outside the lock: it looks at every piece
		out.WhyNot = out.whyNot(p)
	}
	return out
}

// whyNot says why a set cannot be adopted; empty: it can.
func (x *tried) whyNot(p *Picture) string {
	switch {
	case x.Adopted != nil:
		return "it was adopted already"
	case x.Shelved:
		return "it was tried before the program was started anew; try it again"
	case x.trial == nil && x.Open():
		return "it is not compared yet"
	case x.trial == nil:
		return "it was not compared"
	case p.State == nil:
		return "the shop is not known yet"
	}
	if _, err := x.q.Adopt(p.State, "probe"); err != nil {
		return err.Error()
	}
	return ""
}

// edit changes a set that is kept.
func (w *whatifs) edit(id string, change func(*tried)) (found bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	i := slices.IndexFunc(w.list, func(x *tried) bool { return x.ID == id })
	if i >= 0 {
		change(w.list[i])
	}
	return i >= 0
}

// brief lists them, the newest first.
func (w *whatifs) brief() view.WhatIfList {
	w.mu.Lock()
	defer w.mu.Unlock()
	l := view.WhatIfList{Most: mostWhatIfs, WhatIfs: []view.WhatIfBrief{}}
	for _, x := range slices.Backward(w.list) {
		l.WhatIfs = append(l.WhatIfs, x.WhatIfBrief)
	}
	return l
}

// drop gives a set up and forgets it.
func (w *whatifs) drop(id string) {
	defer w.unshelve(id)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.list = slices.DeleteFunc(w.list, func(x *tried) bool {
		if x.ID == id {
			x.cancel()
		}
		return x.ID == id
	})
}

// enter waits for the turn of a set; false: it was given up before.
func (w *whatifs) enter(ctx context.Context, id string) bool {
	select {
	case w.busy <- struct{}{}:
	case <-ctx.Done():
		w.edit(id, func(x *tried) { x.State, x.Doing = "stopped", "" })
		w.put(id)
		return false
	}
	w.edit(id, func(x *tried) { x.State = "running" })
	return true
}

func (w *whatifs) leave() { <-w.busy }

func (w *whatifs) told(id string, p TryProgress) {
	w.edit(id, func(x *tried) { x.Doing, x.Done, x.Most = p.Doing, p.Done, p.Most })
}

// ended notes what came of a set.
func (w *whatifs) ended(ctx context.Context, id string, trial *Trial, err error) {
	defer w.put(id)
	w.edit(id, func(x *tried) {
		x.Doing, x.trial = "", trial
		if trial != nil {
			q := x.q
			x.sides = sync.OnceValue(func() *view.Sides { return view.SidesOf(q.Now, q.Before, trial.Before, q.After, trial.After) })
			q.Problem, q.Changed = nil, nil // they have been searched
			c := *trial.Comparison
			c.Name = x.Name // it may have been renamed meanwhile
			x.Comparison = &c
			x.Ready, x.Won, x.Lost, x.Moved = true, len(c.Won), len(c.Lost), len(c.Moved)
		}
		switch {
		case ctx.Err() != nil:
			x.State = "stopped"
		case err != nil:
			x.State, x.Text = "failed", "It cannot be planned: "+err.Error()
		default:
			x.State = "done"
		}
	})
}

// rename calls a set something else.
func (w *whatifs) rename(id, name string) {
	defer w.put(id)
	w.edit(id, func(x *tried) {
		x.Name = name
		if x.Comparison != nil { // others may hold the old one
			c := *x.Comparison
			c.Name = name
			x.Comparison = &c
		}
	})
}

// beginAdopting notes that somebody adopts a set; false: it is adopted, or being adopted.
func (w *whatifs) beginAdopting(id string) (free bool) {
	w.edit(id, func(x *tried) {
		free = !x.adopting && x.Adopted == nil
		x.adopting = x.adopting || free
	})
	return free
}

// endAdopting notes whether it was adopted: 0 is no.
func (w *whatifs) endAdopting(id string, seq uint64, by string, at resources.Tick) {
	defer w.put(id)
	w.edit(id, func(x *tried) {
		x.adopting = false
		if seq != 0 {
			x.Adopted = &view.Adoption{By: by, At: at, Seq: seq}
		}
	})
}

// compared holds two sets against each other; the last two are kept, as the page
// is drawn again and again.
func (w *whatifs) compared(a, b *tried) (*whatif.Comparison, *view.Sides, error) {
	pair := [2]*Trial{a.trial, b.trial}
	w.mu.Lock()
	c, sides := w.between, w.twoSides
	known := w.pair == pair
	w.mu.Unlock()
	if known {
		return c, sides, nil
	}
	c, err := whatif.Between(a.q, a.trial.After, b.q, b.trial.After)
	if err != nil {
		return nil, nil, err
	}
	c.Iterations = a.trial.Iterations + b.trial.Iterations
	c.Proven = a.trial.Proven && b.trial.Proven
	sides = view.SidesBetween(a.sides(), b.sides())
	w.mu.Lock()
	defer w.mu.Unlock()
	w.pair, w.between, w.twoSides = pair, c, sides
	return c, sides, nil
}
