// SPDX-License-Identifier: Apache-2.0

package relax

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Answer is what would save an order, as far as it has been tried.
type Answer struct {
	Order       string       `json:"order" doc:"order number"`
	Due         Tick         `json:"due" doc:"due instant of the line with the least slack"`
	Completion  Tick         `json:"completion" doc:"when the plan has it complete"`
	Lost        bool         `json:"lost" doc:"true: an event order, worthless when late; false: a firm one"`
	Chain       []Link       `json:"chain" doc:"what the date hangs on, first step first"`
	Tried       int          `json:"tried" doc:"changes solved"`
	Asked       int          `json:"asked" doc:"changes worth trying so far"`
	Relaxations []Relaxation `json:"relaxations" doc:"what was solved, the cheapest that saves the order first"`
	Iterations  int64        `json:"iterations" doc:"of each search"`
	Seed        uint64       `json:"seed" doc:"of the searches"`
}

// Link is a step of the chain.
type Link struct {
	Piece     string          `json:"piece" doc:"serial"`
	Operation string          `json:"operation" doc:"operation's ID"`
	Station   string          `json:"station" doc:"station's ID"`
	Start     Tick            `json:"start" doc:"start of loading"`
	End       Tick            `json:"end" doc:"end"`
	Waited    Seconds         `json:"waited" doc:"how long it waited, seconds"`
	Kind      scheduler.Cause `json:"kind" doc:"what it waited for, in one word"`
	Because   string          `json:"because" doc:"what it waited for"`
}

// Answer ranks what has been solved; asked is how many changes there were to
// try.
func (q *Question) Answer(done []Relaxation, asked int) *Answer {
	a := &Answer{
		Order: q.Order.Order, Due: q.Order.Due, Completion: q.Order.Completion, Lost: q.Order.Status == scheduler.OrderLost,
		Chain: []Link{}, Tried: len(done), Asked: asked, Relaxations: append([]Relaxation{}, done...),
		Iterations: q.effort.Iterations, Seed: q.effort.Seed,
	}
	for i := range q.Chain {
		s := &q.Chain[i]
		a.Chain = append(a.Chain, Link{s.Piece, s.Operation, s.Station, s.Start, s.End, s.Waited, s.Kind, s.Because})
	}
	Rank(a.Relaxations)
	return a
}

// Saving are the relaxations that save the order.
func (a *Answer) Saving() []Relaxation {
	n := slices.IndexFunc(a.Relaxations, func(r Relaxation) bool { return !r.Saved })
	if n < 0 {
		return a.Relaxations
	}
	return a.Relaxations[:n]
}

// Rank sorts: what saves the order first; then what costs fewest others their
// dates, asks for fewest things, for fewest people's hours. What does not save
// it follows by how much sooner the order is complete.
func Rank(list []Relaxation) {
	saved := func(r *Relaxation) int {
		if r.Saved {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(list, func(a, b Relaxation) int {
		if c := cmp.Compare(saved(&a), saved(&b)); c != 0 {
			return c
		}
		if !a.Saved {
			return cmp.Or(cmp.Compare(b.Earlier, a.Earlier), cheaper(&a, &b), cmp.Compare(a.Key, b.Key))
		}
		return cmp.Or(cmp.Compare(len(a.Hurt), len(b.Hurt)), cheaper(&a, &b), cmp.Compare(b.Slack, a.Slack), cmp.Compare(a.Key, b.Key))
	})
}

func cheaper(a, b *Relaxation) int {
	return cmp.Or(cmp.Compare(a.Things, b.Things), cmp.Compare(a.Hours, b.Hours), cmp.Compare(slices.Index(Kinds(), a.Kind), slices.Index(Kinds(), b.Kind)))
}

// Next is what to try when everything so far has been solved: half the length
// of the extra shifts that save the order, or, while nothing saves it, those that
// help most, each together with what the chain that is left then waits for. Each
// change is proposed once.
func (q *Question) Next(done []Relaxation) []Candidate {
	known := map[string]bool{}
	for i := range done {
		known[done[i].Key] = true
	}
	best := slices.Clone(done)
	Rank(best)
	var out []Candidate
	add := func(c Candidate) {
		if !known[c.Key] {
			known[c.Key] = true
			out = append(out, c)
		}
	}
	if len(best) > 0 && best[0].Saved {
		if best[0].Kind == Search {
			return nil // nothing is cheaper than nothing
		}
		for i := range best {
			if r := &best[i]; r.Saved && r.Kind == Shift && len(out) < 2 {
				if c, ok := q.Shorter(&r.Candidate); ok {
					add(c)
				}
			}
		}
		return out
	}
	// The limit that binds once another is lifted is in the chain that is left.
	const few, deep = 3, 2
	tried := 0
	for i := range best {
		r := &best[i]
		if r.Kind == Search || r.Kind == Both || tried == few {
			continue
		}
		tried++
		left := 0
		for k := range r.then {
			if c, ok := pair(&r.Candidate, &r.then[k]); ok && left < deep {
				left++
				add(c)
			}
		}
	}
	return out
}

// Shorter is an extra shift of half the length, whole hours; false when that is
// less than one.
func (q *Question) Shorter(c *Candidate) (Candidate, bool) {
	s := c.Set.Changes[0].Shift
	long := (s.End - s.Start) / 2 / Tick(resources.Hour) * Tick(resources.Hour)
	if long < Tick(resources.Hour) {
		return Candidate{}, false
	}
	f := &finder{s: q.state, now: q.now, due: q.Order.Due, order: q.Order.Order, found: map[string]*Candidate{}}
	half, change := f.extra(s.Crews[0], resources.Interval{Start: s.Start, End: s.Start + long})
	half.Waited = c.Waited
	half.Set = resources.ChangeSet{Name: half.Words, Changes: []resources.Change{change}}
	return half, true
}

// pair is two changes together; false when both are of one thing, where the
// second, found on the changed shop, would not say what both ask for.
func pair(a, b *Candidate) (Candidate, bool) {
	if a.Key == b.Key {
		return Candidate{}, false
	}
	words := a.Words + "; and " + b.Words
	if b.Key < a.Key {
		a, b = b, a
	}
	return Candidate{
		Key: fmt.Sprintf("%s & %s", a.Key, b.Key), Kind: Both, Words: words, Hours: a.Hours + b.Hours, Things: a.Things + b.Things,
		Waited: a.Waited + b.Waited,
		Set:    resources.ChangeSet{Name: words, Changes: slices.Concat(a.Set.Changes, b.Set.Changes)},
	}, true
}
