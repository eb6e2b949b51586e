// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"net/http"
	"sync"

	"github.com/labstack/echo/v4"

	"towpath/scheduler/risk"
	"towpath/web/view"
)

// Chances plays a plan forward. It may be called from any goroutine.
type Chances interface {
	// Play plays the plan of a picture and tells after each batch how many
	// histories are played. When ctx ends it answers with what was played until
	// then, nil if nothing was, and ctx's error.
	Play(ctx context.Context, p *Picture, o risk.Options, told func(done, most int)) (*risk.Report, error)
}

// mostPlayed bounds one asking; a command may play more.
const mostPlayed = 10000

// risks keeps the last answer. One plan is played at a time.
type risks struct {
	mu     sync.Mutex
	job    view.RiskJob
	cancel context.CancelFunc
}

func (s *Server) riskJob() view.RiskJob {
	s.risks.mu.Lock()
	defer s.risks.mu.Unlock()
	job := s.risks.job
	if job.State == "" {
		job.State = "idle"
		return job
	}
	p := s.shop.Picture().Plan
	job.Stale = p == nil || p.Version != job.Base
	return job
}

func riskModel(s *Server, _ echo.Context) (any, error) { return s.riskJob(), nil }

func riskPage(s *Server, _ echo.Context) (any, error) {
	return view.NewRiskPage(s.riskJob(), s.chances != nil), nil
}

// RiskBody asks for the plan to be played.
type RiskBody struct {
	Replications int     `json:"replications,omitempty" doc:"histories to play, 1 to 10000; left out: 1000"`
	Seed         uint64  `json:"seed,omitempty" doc:"of the histories; left out: 1"`
	Confidence   float64 `json:"confidence,omitempty" doc:"of the interval of each chance, between 0 and 1; left out: 0.95"`
}

// startRisk begins to play the plan as it is.
func (s *Server) startRisk(c echo.Context) error {
	var body RiskBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	if s.chances == nil {
		return fault(http.StatusNotFound, "not_found", "This shop does not play its plan forward.", "Use towpath risk.")
	}
	o := risk.Options{Replications: body.Replications, Seed: body.Seed, Confidence: body.Confidence}.Or()
	if o.Seed == 0 {
		o.Seed = 1
	}
	if err := o.Check(); err != nil {
		return fault(http.StatusBadRequest, "bad_request", "It cannot be played like that: "+err.Error()+".", "Leave it out to take the usual value.")
	}
	if o.Replications > mostPlayed {
		return fault(http.StatusBadRequest, "bad_request", "That many histories are not played here.", "Ask for at most 10000, or use towpath risk.")
	}
	p := s.shop.Picture()
	if p.State == nil || p.State.Plant == nil || p.Plan == nil {
		return fault(http.StatusServiceUnavailable, "starting", "There is no plan yet.", "Ask again in a moment.")
	}
	ctx, cancel := context.WithCancel(s.life)
	r := &s.risks
	r.mu.Lock()
	if r.job.State == "running" {
		r.mu.Unlock()
		cancel()
		return fault(http.StatusConflict, "busy", "The plan is being played already.", "Wait for the answer, or stop it first.")
	}
	r.job = view.RiskJob{State: "running", Asked: o.Replications, Since: p.Now, Base: p.Plan.Version}
	r.cancel = cancel
	r.mu.Unlock()
	go s.playRisk(ctx, cancel, p, o)
	return c.JSON(http.StatusOK, s.riskJob())
}

func (s *Server) playRisk(ctx context.Context, cancel context.CancelFunc, p *Picture, o risk.Options) {
	defer cancel()
	r := &s.risks
	report, err := s.chances.Play(ctx, p, o, func(done, _ int) {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.job.Done = done
	})
	r.mu.Lock()
	r.job.Report = report
	switch {
	case ctx.Err() != nil:
		r.job.State = "stopped"
	case err != nil:
		r.job.State, r.job.Text = "failed", "It cannot be played: "+err.Error()
	default:
		r.job.State = "done"
	}
	r.mu.Unlock()
	if err != nil && ctx.Err() == nil {
		s.log.Error("play the plan", "err", err)
	}
}

// stopRisk gives up playing; what is played stays.
func (s *Server) stopRisk(c echo.Context) error {
	s.risks.mu.Lock()
	if s.risks.cancel != nil {
		s.risks.cancel()
	}
	s.risks.mu.Unlock()
	return c.JSON(http.StatusOK, s.riskJob())
}
