// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"sync"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/web"
	"towpath/web/view"
)

// webShop lets the pages stand on the runner.
type webShop struct {
	runner *runner.Runner
	clock  runner.Clock

	mu   sync.Mutex
	from *runner.Picture // that last was made from
	last *web.Picture
}

// Picture is the runner's, in the words of the pages; the same pointer as long
// as there is no newer one.
func (s *webShop) Picture() *web.Picture {
	p := s.runner.Picture()
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.from != p {
		s.from, s.last = p, webPicture(p)
	}
	return s.last
}

func webPicture(p *runner.Picture) *web.Picture {
	w := &web.Picture{
		Starting: p.Starting, Version: p.Version, Now: p.Now, State: p.State, Plan: p.Plan(),
		Planning: p.Planning, Score: p.Score, Gaps: p.Gaps, Optimal: p.Optimal,
	}
	for _, x := range p.Recent {
		w.Recent = append(w.Recent, web.Recent{Event: x.Event, Believed: x.Believed})
	}
	for _, x := range p.Rejects {
		w.Rejects = append(w.Rejects, web.Reject{Seq: x.Seq, ID: x.ID, Kind: x.Kind, At: x.At, About: x.About, By: x.By, Reason: x.Reason})
	}
	for _, x := range p.Notes {
		w.Notes = append(w.Notes, web.Noted{Seq: x.Seq, At: x.At, Note: x.Note})
	}
	for _, x := range p.Alerts {
		if x.Infeasible != nil {
			w.Alerts = append(w.Alerts, view.PlanAlert(x.Text, x.At, x.Infeasible, p.State))
			continue
		}
		w.Alerts = append(w.Alerts, view.ProgramAlert(x.Key, x.Text, x.At))
	}
	for i := range p.Floor {
		w.Alerts = append(w.Alerts, view.FloorAlert(&p.Floor[i]))
	}
	return w
}

// Now is the shop's instant and how fast its clock runs.
func (s *webShop) Now() (resources.Tick, float64) { return s.clock.Now(), s.clock.Speed() }

// Subscribe tells of new pictures until ctx ends.
func (s *webShop) Subscribe(ctx context.Context) <-chan struct{} {
	news, cancel := s.runner.Subscribe()
	context.AfterFunc(ctx, cancel)
	return news
}

// Report tells the shop facts.
func (s *webShop) Report(ctx context.Context, batch ...events.Event) (web.Outcome, error) {
	out, err := s.runner.Report(ctx, batch...)
	if err != nil {
		return web.Outcome{}, webRefusal(err)
	}
	return web.Outcome{Seq: out.Seq, Notes: out.Notes, Repeat: out.Repeat}, nil
}

// webRefusal puts a refusal in the words of the pages; other errors pass.
func webRefusal(err error) error {
	var mine *runner.Refusal
	if !errors.As(err, &mine) {
		return err
	}
	w := &web.Refusal{Seq: mine.Seq, Reason: mine.Error()}
	var core *scheduler.Refusal
	if errors.As(err, &core) {
		w.Reason, w.Hint = core.Text, core.Hint
		if core.About != "" {
			w.Reason = core.About + ": " + core.Text
		}
	}
	return w
}
