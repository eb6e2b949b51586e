// SPDX-License-Identifier: Apache-2.0

package webtest

import (
	"context"
	"errors"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/search"
	"towpath/scheduler/whatif"
	"towpath/web"
)

// Trier tries changes with the engine and little effort, and adopts them in a
// Shop, one caller after the other.
type Trier struct {
	Shop         *Shop
	Hold         chan struct{} // a set is planned as it is received from; nil: at once
	Replications int           // histories played of each plan; 0: none
	Iterations   int64         // of the search for each plan; 0: one
}

// Try plans both sides with few iterations.
func (f *Trier) Try(ctx context.Context, q *whatif.Question, from *scheduler.Plan, told func(web.TryProgress)) (*web.Trial, error) {
	told(web.TryProgress{Doing: "planning", Done: 0, Most: 2})
	if f.Hold != nil {
		select {
		case <-f.Hold:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	t, tries := &web.Trial{}, int64(0)
	for _, side := range []struct {
		p     *scheduler.Problem
		start func(*scheduler.Plan) (*scheduler.Plan, error)
		end   **scheduler.Plan
	}{{q.Problem, q.StartBefore, &t.Before}, {q.Changed, q.StartAfter, &t.After}} {
		start, err := side.start(from)
		if err != nil {
			return nil, err
		}
		found, err := search.Improve(side.p, search.Options{Seed: 1, Iterations: max(1, f.Iterations), Start: start})
		if err != nil {
			return nil, err
		}
		*side.end = found.Plan
		tries += found.Iterations
	}
	var err error
	if t.Comparison, err = q.Compare(t.Before, t.After); err != nil {
		return nil, err
	}
	t.Iterations = tries
	if f.Replications > 0 {
		err = f.play(q, t)
	}
	return t, err
}

func (f *Trier) play(q *whatif.Question, t *web.Trial) error {
	var reports [2]*risk.Report
	for i, side := range []struct {
		s *scheduler.State
		p *scheduler.Plan
	}{{q.Before, t.Before}, {q.After, t.After}} {
		g, err := risk.Compile(side.s, q.Now, side.p)
		if err != nil {
			return err
		}
		if reports[i], _, err = risk.Play(g, risk.Options{Replications: f.Replications, Seed: 1}); err != nil {
			return err
		}
	}
	t.Chances = whatif.ChancesOf(reports[0], reports[1])
	return nil
}

// Adopt applies the changes under the shop's lock, so that nobody comes between.
func (f *Trier) Adopt(_ context.Context, q *whatif.Question, mark, by string) (web.Outcome, error) {
	s := f.Shop
	s.mu.Lock()
	defer s.mu.Unlock()
	list, err := q.Adopt(s.state, mark)
	if err != nil {
		return web.Outcome{}, &web.Refusal{Reason: err.Error(), Hint: "Nothing was changed."}
	}
	return s.told(list, by)
}

// TakeOff declares the plant without a set on top of its file.
func (f *Trier) TakeOff(_ context.Context, key, by string) (web.Outcome, error) {
	s := f.Shop
	s.mu.Lock()
	defer s.mu.Unlock()
	e, err := whatif.TakeOff(s.state, key)
	if err != nil {
		return web.Outcome{}, &web.Refusal{Reason: err.Error(), Hint: "Nothing was changed."}
	}
	e.ID = "off-" + key
	return s.told([]events.Event{e}, by)
}

// told takes what was adopted, which the state takes, and plans anew.
func (s *Shop) told(list []events.Event, by string) (web.Outcome, error) {
	for i := range list {
		list[i].By = by
		if err := s.take(list[i]); err != nil {
			return web.Outcome{}, errors.Join(errors.New("adopted in part"), err)
		}
	}
	s.replan()
	s.show("idle")
	return web.Outcome{Seq: s.seq - 1}, nil
}
