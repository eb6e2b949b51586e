// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"net/http"

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

func (s *Server) riskJob() view.RiskJob {
	job, state, text := s.risks.look()
	job.State, job.Text = state, text
	if state != "idle" {
		p := s.shop.Picture().Plan
		job.Stale = p == nil || p.Version != job.Base
	}
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
	job := view.RiskJob{Asked: o.Replications, Since: p.Now, Base: p.Plan.Version}
	play := func(ctx context.Context) error {
		report, err := s.chances.Play(ctx, p, o, func(done, _ int) { s.risks.edit(func(j *view.RiskJob) { j.Done = done }) })
		s.risks.edit(func(j *view.RiskJob) { j.Report = report })
		return err
	}
	if !s.risks.begin(s.life, s.log, job, play, func(err error) string {
		s.log.Error("play the plan", "err", err)
		return "It cannot be played: " + err.Error()
	}) {
		return fault(http.StatusConflict, "busy", "The plan is being played already.", "Wait for the answer, or stop it first.")
	}
	return c.JSON(http.StatusOK, s.riskJob())
}

// stopRisk gives up playing; what is played stays.
func (s *Server) stopRisk(c echo.Context) error {
	s.risks.stop()
	return c.JSON(http.StatusOK, s.riskJob())
}
