// SPDX-License-Identifier: Apache-2.0

package web

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"github.com/labstack/echo/v4"

	"towpath/resources"
	"towpath/scheduler/capacity"
	"towpath/web/view"
)

// Season is what looking far ahead needs besides the picture. Its methods may
// be called from any goroutine.
type Season interface {
	// Forecast is the season forecast; nil when there is none.
	Forecast() *resources.Forecast
	// Worth solves the shop as it is and with each addition. It tells how the
	// shop stands as it is once that is solved, and after each addition what is
	// solved so far, ranked. It stops when ctx ends.
	Worth(ctx context.Context, in capacity.Input, list []capacity.Addition, told func(base capacity.Standing, soFar []capacity.Worth)) error
	// Workbook writes tables as an XLSX workbook.
	Workbook(sheets []resources.Sheet, zone *time.Location) ([]byte, error)
}

// reports keeps the last capacity report, and what it was computed from.
type reports struct {
	mu       sync.Mutex
	picture  *Picture
	forecast *resources.Forecast
	weeks    int
	last     *capacity.Report
}

func (s *Server) forecast() *resources.Forecast {
	if s.season == nil {
		return nil
	}
	return s.season.Forecast()
}

// capacityInput is what capacity is computed from.
func (s *Server) capacityInput(p *Picture, weeks int) capacity.Input {
	return capacity.Input{State: p.State, Now: p.Now, Plan: p.Plan, Forecast: s.forecast(), Weeks: weeks}
}

// capacityReport is the report that is asked for, of the latest picture.
func (s *Server) capacityReport(c echo.Context) (*capacity.Report, error) {
	weeks := 0
	if text := c.QueryParam("weeks"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > capacity.MaxWeeks {
			return nil, fault(http.StatusBadRequest, "bad_request", "weeks is "+strconv.Quote(text)+", which it cannot be.", fmt.Sprintf("It is a whole number from 1 to %d.", capacity.MaxWeeks))
		}
		weeks = n
	}
	p := s.shop.Picture()
	if p.State == nil || p.State.Plant == nil {
		return capacity.NoReport(p.Now), nil
	}
	return s.reportOf(p, s.capacityInput(p, weeks))
}

// reportOf computes the report of a picture, or hands out the last one when it is
// of the same.
func (s *Server) reportOf(p *Picture, in capacity.Input) (*capacity.Report, error) {
	r := &s.reports
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.last != nil && r.picture == p && r.forecast == in.Forecast && r.weeks == in.Weeks {
		return r.last, nil
	}
	report, err := capacity.Of(in)
	if err != nil {
		return nil, err
	}
	r.picture, r.forecast, r.weeks, r.last = p, in.Forecast, in.Weeks, report
	return report, nil
}

func capacityModel(s *Server, c echo.Context) (any, error) {
	r, err := s.capacityReport(c)
	if err != nil {
		return nil, err
	}
	return *r, nil
}

func capacityPage(s *Server, c echo.Context) (any, error) {
	q := view.CapacityQuery{Kind: c.QueryParam("kind"), Row: c.QueryParam("row"), Week: c.QueryParam("week")}
	if err := oneOf("kind", q.Kind, keys(view.CapacityKinds())); err != nil {
		return nil, err
	}
	r, err := s.capacityReport(c)
	if err != nil {
		return nil, err
	}
	p := view.NewCapacityPage(r, q)
	p.Worth, p.Can = s.worthJob(), s.season != nil
	return p, nil
}

func (s *Server) worthJob() view.WorthJob {
	job, state, text := s.worths.look()
	job.State, job.Text = state, text
	if job.Worths == nil {
		job.Worths = []capacity.Worth{}
	}
	return job
}

func worthModel(s *Server, _ echo.Context) (any, error) { return s.worthJob(), nil }

// WorthBody asks what additions are worth.
type WorthBody struct {
	Count int      `json:"count,omitempty" doc:"so many of the most loaded things, 1 to 60; left out: 20"`
	Keys  []string `json:"keys,omitempty" doc:"these things instead, e.g. tool:M-36"`
}

// mostAdditions bounds one asking.
const mostAdditions = 60

// startWorth begins to solve additions; one asking at a time.
func (s *Server) startWorth(c echo.Context) error {
	var body WorthBody
	if err := readBody(c, &body); err != nil {
		return err
	}
	if s.season == nil {
		return fault(http.StatusNotFound, "not_found", "This shop does not solve additions.", "Use towpath capacity --worth.")
	}
	p := s.shop.Picture() // once: what is most loaded is of the same shop as what is solved
	if p.State == nil || p.State.Plant == nil {
		return fault(http.StatusServiceUnavailable, "starting", "There is no plant yet.", "Ask again in a moment.")
	}
	in := s.capacityInput(p, 0)
	r, err := s.reportOf(p, in)
	if err != nil {
		return err
	}
	list, err := additions(in, r, &body)
	if err != nil {
		return err
	}
	solve := func(ctx context.Context) error {
		return s.season.Worth(ctx, in, list, func(base capacity.Standing, soFar []capacity.Worth) {
			s.worths.edit(func(j *view.WorthJob) { j.Ready, j.Base, j.Done, j.Worths = true, &base, len(soFar), soFar })
		})
	}
	if !s.worths.begin(s.life, s.log, view.WorthJob{Asked: len(list), Since: in.Now}, solve, func(err error) string {
		s.log.Error("solve additions", "err", err)
		return err.Error()
	}) {
		return fault(http.StatusConflict, "busy", "Additions are being solved already.", "Wait for the answer, or stop it first.")
	}
	return c.JSON(http.StatusOK, s.worthJob())
}

func additions(in capacity.Input, r *capacity.Report, body *WorthBody) ([]capacity.Addition, error) {
	all := capacity.Additions(in.State.Plant, r)
	if body.Count < 0 || body.Count > mostAdditions || len(body.Keys) > mostAdditions {
		return nil, fault(http.StatusBadRequest, "bad_request", "That many additions cannot be asked for at once.", fmt.Sprintf("Ask for 1 to %d.", mostAdditions))
	}
	if len(body.Keys) == 0 {
		count := body.Count
		if count == 0 {
			count = 20
		}
		return all[:min(len(all), count)], nil
	}
	var list []capacity.Addition
	for _, key := range body.Keys {
		a, ok := capacity.Named(all, key)
		if !ok {
			return nil, fault(http.StatusBadRequest, "bad_request", "There is no addition "+strconv.Quote(key)+".", "Additions are keyed like tool:M-36, person:bonders, shift:bonders, station:O1.")
		}
		list = append(list, a)
	}
	return list, nil
}

// stopWorth gives up what is being solved; what is solved stays.
func (s *Server) stopWorth(c echo.Context) error {
	s.worths.stop()
	return c.JSON(http.StatusOK, s.worthJob())
}

// sheetsOf are the report's tables with what was solved last.
func (s *Server) sheetsOf(c echo.Context) ([]resources.Sheet, error) {
	r, err := s.capacityReport(c)
	if err != nil {
		return nil, err
	}
	return r.Sheets(s.worthJob().Worths), nil
}

func (s *Server) capacityCSV(c echo.Context) error {
	sheets, err := s.sheetsOf(c)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for _, row := range sheets[0].Rows {
		cells := make([]string, len(row))
		for i, v := range row {
			cells[i] = fmt.Sprint(v)
		}
		if err := w.Write(cells); err != nil {
			return err
		}
	}
	w.Flush()
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="capacity.csv"`)
	return c.Blob(http.StatusOK, "text/csv; charset=utf-8", b.Bytes())
}

func (s *Server) capacityXLSX(c echo.Context) error {
	if s.season == nil {
		return fault(http.StatusNotFound, "not_found", "This shop writes no workbooks.", "Take /api/capacity.csv.")
	}
	sheets, err := s.sheetsOf(c)
	if err != nil {
		return err
	}
	zone := time.UTC
	if p := s.shop.Picture(); p.State != nil && p.State.Plant != nil {
		zone = p.State.Plant.Zone
	}
	text, err := s.season.Workbook(sheets, zone)
	if err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderContentDisposition, `attachment; filename="capacity.xlsx"`)
	return c.Blob(http.StatusOK, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", text)
}
