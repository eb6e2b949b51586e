// SPDX-License-Identifier: Apache-2.0

package relax

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"towpath/resources"
	"towpath/scheduler"
)

// mostMeans is how many differences are told of one change; apart is the least
// difference worth telling.
const (
	mostMeans = 4
	apart     = 15 * resources.Minute
)

// difference is how the order goes through the shop otherwise than in the plan in
// question: in a load with others, on another station, or with work that begins
// later and yet ends the order sooner.
type difference struct {
	rank  int // loads first, then stations, then what begins later
	start Tick
	words string
}

// means tells what a plan does otherwise with the order's own pieces: that is
// what saving it amounts to on the floor. What merely comes sooner is told by the
// completion already.
func (q *Question) means(plan *scheduler.Plan) []string {
	type step struct{ piece, operation string }
	was, loads := map[step]*scheduler.Work{}, map[string]*scheduler.Load{}
	for i := range q.plan.Work {
		if w := &q.plan.Work[i]; w.Order == q.Order.Order {
			was[step{w.Piece, w.Operation}] = w
		}
	}
	for _, p := range []*scheduler.Plan{q.plan, plan} {
		for i := range p.Loads {
			l := &p.Loads[i]
			for _, m := range l.Members {
				if was[step{m.Piece, m.Operation}] != nil {
					loads[fmt.Sprint(p == plan, m)] = l
				}
			}
		}
	}
	var out []difference
	told := map[string]bool{}
	for i := range plan.Work {
		w := &plan.Work[i]
		old := was[step{w.Piece, w.Operation}]
		if old == nil || w.Start <= q.now {
			continue
		}
		m := scheduler.Member{Piece: w.Piece, Operation: w.Operation}
		a, b := loads[fmt.Sprint(false, m)], loads[fmt.Sprint(true, m)]
		d := difference{start: w.Start}
		switch {
		case a != nil && b != nil && !samePieces(a, b):
			if told[b.ID] {
				continue
			}
			told[b.ID] = true
			d.words = fmt.Sprintf("a different load: %s at %s, %s instead of %s, with %s", w.Operation, b.Station, q.clock(b.Start), q.clock(a.Start), company(b, w.Piece))
		case w.Station != old.Station:
			d.rank, d.words = 1, fmt.Sprintf("%s of %s on %s instead of %s", w.Operation, w.Piece, w.Station, old.Station)
		case Seconds(w.Start-old.Start) >= apart:
			d.rank, d.words = 2, fmt.Sprintf("a later %s of %s: %s instead of %s", w.Operation, w.Piece, q.clock(w.Start), q.clock(old.Start))
		default:
			continue
		}
		out = append(out, d)
	}
	slices.SortStableFunc(out, func(a, b difference) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.start, b.start))
	})
	words := []string{}
	for _, d := range out[:min(len(out), mostMeans)] {
		words = append(words, d.words)
	}
	return words
}

func (q *Question) clock(t Tick) string {
	return time.Unix(int64(t), 0).In(q.state.Plant.Zone).Format("Mon 2 Jan 15:04")
}

func samePieces(a, b *scheduler.Load) bool {
	return len(a.Members) == len(b.Members) && !slices.ContainsFunc(a.Members, func(m scheduler.Member) bool { return !slices.Contains(b.Members, m) })
}

// company names who else is in a load, at most three of them.
func company(l *scheduler.Load, piece string) string {
	var others []string
	for _, m := range l.Members {
		if m.Piece != piece {
			others = append(others, m.Piece)
		}
	}
	const few = 3
	switch n := len(others); {
	case n == 0:
		return "no other piece"
	case n > few:
		return fmt.Sprintf("%s and %d more", strings.Join(others[:few], ", "), n-few)
	}
	return strings.Join(others, ", ")
}
