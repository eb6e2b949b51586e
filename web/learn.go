// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"sync"

	"github.com/labstack/echo/v4"

	"towpath/resources"
	"towpath/scheduler/learn"
	"towpath/web/view"
)

// History knows what the state no longer holds. It may be called from any
// goroutine.
type History interface {
	// Stops are those of stations that are over, and when the history begins.
	Stops(ctx context.Context) (stops []learn.Stop, since resources.Tick, err error)
}

// learned keeps what was learned from the latest picture asked for, once the
// history of it could be read.
type learned struct {
	mu     sync.Mutex
	of     *Picture
	report *learn.Report
}

// learn compares the plant of the latest picture with what was done. Without a
// history, or when it cannot be read, nothing is said of breakdowns; in the latter
// case the next who asks may be told more.
func (s *Server) learn(ctx context.Context) (*learn.Report, error) {
	l := &s.learned
	l.mu.Lock()
	defer l.mu.Unlock()
	p := s.shop.Picture()
	if l.of == p {
		return l.report, nil
	}
	var o learn.Options
	if s.history != nil {
		stops, since, err := s.history.Stops(ctx)
		if errors.Is(err, context.Canceled) { // whoever asked is gone
			return nil, err
		}
		if err != nil {
			s.log.Warn("the log's stops cannot be read", "err", err)
			return learn.Learn(p.State, o), nil
		}
		o.Stops, o.Since = stops, since
	}
	l.of, l.report = p, learn.Learn(p.State, o)
	return l.report, nil
}

func learnModel(s *Server, c echo.Context) (any, error) {
	r, err := s.learn(c.Request().Context())
	if err != nil {
		return nil, err
	}
	return *r, nil
}

func learnPage(s *Server, c echo.Context) (any, error) {
	r, err := s.learn(c.Request().Context())
	if err != nil {
		return nil, err
	}
	return view.NewLearnPage(r), nil
}

func (s *Server) hasPlant() error {
	if p := s.shop.Picture(); p.State == nil || p.State.Plant == nil {
		return fault(http.StatusServiceUnavailable, "starting", "There is no plant yet.", "Ask again in a moment.")
	}
	return nil
}

// plantText is the text of the plant file in force.
func (s *Server) plantText() ([]byte, error) {
	if err := s.hasPlant(); err != nil {
		return nil, err
	}
	text := s.shop.Picture().State.PlantFile
	if text == "" {
		return nil, fault(http.StatusNotFound, "not_found", "This shop was begun without the text of a plant file.", "Change the file it was begun with by hand.")
	}
	return []byte(text), nil
}

// plantFile answers with the plant file in force.
func (s *Server) plantFile(c echo.Context) error {
	text, err := s.plantText()
	if err != nil {
		return err
	}
	return s.sendPlant(c, "plant.yaml", text)
}

// learnedPlant answers with the plant file with the proposals taken, all of
// them when none is named. It changes nothing in the shop.
func (s *Server) learnedPlant(c echo.Context) error {
	text, err := s.plantText()
	if err != nil {
		return err
	}
	take := c.QueryParams()["take"]
	report, err := s.learn(c.Request().Context())
	if err != nil {
		return err
	}
	var revisions []resources.Revision
	for i := range report.Proposals {
		if p := &report.Proposals[i]; len(take) == 0 || slices.Contains(take, p.Key()) {
			revisions = append(revisions, p.Revisions...)
		}
	}
	for _, key := range take {
		if !slices.ContainsFunc(report.Proposals, func(p learn.Proposal) bool { return p.Key() == key && len(p.Revisions) > 0 }) {
			return fault(http.StatusConflict, "conflict", "“"+key+"” is not proposed any more.", "Load the page again, and choose from what it proposes now.")
		}
	}
	text, err = learn.Revised(text, revisions)
	if err != nil {
		return fault(http.StatusConflict, "conflict", "The plant file cannot be changed here: "+err.Error()+".", "Leave that proposal out, and make the change by hand.")
	}
	return s.sendPlant(c, "learned.yaml", text)
}

// sendPlant answers with a plant file, and what stands on top of the one in
// force told behind it.
func (s *Server) sendPlant(c echo.Context, name string, text []byte) error {
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="`+name+`"`)
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, "application/yaml", withOnTop(text, s.view().OnTop()))
}
