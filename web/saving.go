// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"sync"

	"github.com/labstack/echo/v4"

	"towpath/scheduler/relax"
	"towpath/web/view"
)

// Saver finds what would save an order that is late or lost. It may be called
// from any goroutine.
type Saver interface {
	// Save solves the shop of a picture with one change after another, and tells
	// after each what is known so far. It stops when ctx ends.
	Save(ctx context.Context, p *Picture, order string, told func(*relax.Answer)) error
}

// mostSavings is how many orders' answers are kept.
const mostSavings = 50

// savings keeps what has been found for orders. One is solved at a time, as each
// takes the machine's cores for a minute.
type savings struct {
	mu      sync.Mutex
	jobs    map[string]*view.SavingJob
	asked   []string // orders with an answer, the oldest first
	running string   // order being solved; empty: none
	cancel  context.CancelFunc
}

func (s *Server) savingJob(order string) view.SavingJob {
	s.savings.mu.Lock()
	defer s.savings.mu.Unlock()
	job := view.SavingJob{State: "idle", Order: order}
	if j := s.savings.jobs[order]; j != nil {
		job = *j
		p := s.shop.Picture().Plan
		job.Stale = p == nil || p.Version != job.Base
	}
	return job
}

func savingModel(s *Server, c echo.Context) (any, error) {
	if _, err := orderModel(s, c); err != nil {
		return nil, err
	}
	return s.savingJob(part(c, "order")), nil
}

func orderPage(s *Server, c echo.Context) (any, error) {
	m, err := orderModel(s, c)
	if err != nil {
		return nil, err
	}
	return view.OrderPage{OrderSheet: m.(view.OrderSheet), Saving: s.savingJob(part(c, "order")), Can: s.saver != nil}, nil
}

// startSaving begins to look for what would save an order.
func (s *Server) startSaving(c echo.Context) error {
	var body struct{}
	if err := readBody(c, &body); err != nil {
		return err
	}
	m, err := orderModel(s, c)
	if err != nil {
		return err
	}
	if s.saver == nil {
		return fault(http.StatusNotFound, "not_found", "This shop does not look for what would save an order.", "Use towpath explain.")
	}
	p, sheet := s.shop.Picture(), m.(view.OrderSheet)
	if p.Plan == nil || !(view.OrderPage{OrderSheet: sheet}).Savable() {
		word := sheet.Order.Standing.Word()
		if sheet.Order.Done {
			word = "complete"
		}
		return fault(http.StatusConflict, "not_in_trouble", "Order "+sheet.Order.ID+" is "+word+": there is nothing to save it from.", "Ask about an order that is late or lost.")
	}
	ctx, cancel := context.WithCancel(s.life)
	if other := s.savings.begin(&view.SavingJob{State: "running", Order: sheet.Order.ID, Since: p.Now, Base: p.Plan.Version}, cancel); other != "" {
		cancel()
		return fault(http.StatusConflict, "busy", "What would save order "+other+" is being solved.", "Wait for the answer, or stop it first on that order's page.")
	}
	go s.solveSaving(ctx, cancel, p, sheet.Order.ID)
	return c.JSON(http.StatusOK, s.savingJob(sheet.Order.ID))
}

// begin notes a job, or says which order is solved already.
func (v *savings) begin(job *view.SavingJob, cancel context.CancelFunc) string {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.running != "" {
		return v.running
	}
	if v.jobs == nil {
		v.jobs = map[string]*view.SavingJob{}
	}
	if v.jobs[job.Order] == nil {
		v.asked = append(v.asked, job.Order)
	}
	if len(v.asked) > mostSavings {
		delete(v.jobs, v.asked[0])
		v.asked = v.asked[1:]
	}
	v.jobs[job.Order], v.running, v.cancel = job, job.Order, cancel
	return ""
}

func (s *Server) solveSaving(ctx context.Context, cancel context.CancelFunc, p *Picture, order string) {
	defer cancel()
	v := &s.savings
	err := s.saver.Save(ctx, p, order, func(a *relax.Answer) {
		v.mu.Lock()
		defer v.mu.Unlock()
		v.jobs[order].Answer = a
	})
	v.mu.Lock()
	j := v.jobs[order]
	v.running, v.cancel = "", nil
	switch {
	case ctx.Err() != nil:
		j.State = "stopped"
	case errors.Is(err, relax.ErrSafe):
		j.State, j.Text = "failed", "The plan has it in time by now."
	case err != nil:
		j.State, j.Text = "failed", "It cannot be solved: "+err.Error()
	default:
		j.State = "done"
	}
	v.mu.Unlock()
	if err != nil && ctx.Err() == nil {
		s.log.Error("solve what would save order "+strconv.Quote(order), "err", err)
	}
}

// stopSaving gives up what is being solved for an order; what is solved stays.
func (s *Server) stopSaving(c echo.Context) error {
	if _, err := orderModel(s, c); err != nil {
		return err
	}
	order := part(c, "order")
	s.savings.mu.Lock()
	if s.savings.running == order {
		s.savings.cancel()
	}
	s.savings.mu.Unlock()
	return c.JSON(http.StatusOK, s.savingJob(order))
}
