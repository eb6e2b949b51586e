// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"slices"
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

// savings keeps what has been found for orders.
type savings struct {
	now long[view.SavingJob] // of the order asked for last

	mu     sync.Mutex
	before []view.SavingJob // of others, the oldest first
}

// of is what has been found for an order.
func (v *savings) of(order string) view.SavingJob {
	v.mu.Lock()
	defer v.mu.Unlock()
	if job := v.last(); job.Order == order {
		return job
	}
	if i := slices.IndexFunc(v.before, func(j view.SavingJob) bool { return j.Order == order }); i >= 0 {
		return v.before[i]
	}
	return view.SavingJob{State: "idle", Order: order}
}

func (v *savings) last() view.SavingJob {
	job, state, text := v.now.look()
	job.State, job.Text = state, text
	return job
}

// begin looks for what would save an order, as long.begin does; what was found for
// another before stays.
func (v *savings) begin(life context.Context, log *slog.Logger, job view.SavingJob, work func(context.Context) error, failed func(error) string) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	last := v.last()
	if !v.now.begin(life, log, job, work, failed) {
		return false
	}
	if last.Order != "" {
		v.before = append(v.before, last)
	}
	v.before = slices.DeleteFunc(v.before, func(j view.SavingJob) bool { return j.Order == job.Order })
	v.before = v.before[max(0, len(v.before)-mostSavings+1):]
	return true
}

// stop gives up what is being solved for an order.
func (v *savings) stop(order string) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.last().Order == order {
		v.now.stop()
	}
}

func (s *Server) savingJob(order string) view.SavingJob {
	job := s.savings.of(order)
	if job.State != "idle" {
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
	order := sheet.Order.ID
	save := func(ctx context.Context) error {
		return s.saver.Save(ctx, p, order, func(a *relax.Answer) {
			s.savings.now.edit(func(j *view.SavingJob) { j.Answer = a })
		})
	}
	if !s.savings.begin(s.life, s.log, view.SavingJob{Order: order, Since: p.Now, Base: p.Plan.Version}, save, func(err error) string {
		s.log.Error("solve what would save order "+strconv.Quote(order), "err", err)
		if errors.Is(err, relax.ErrSafe) {
			return "The plan has it in time by now."
		}
		return "It cannot be solved: " + err.Error()
	}) {
		return fault(http.StatusConflict, "busy", "What would save order "+s.savings.last().Order+" is being solved.", "Wait for the answer, or stop it first on that order's page.")
	}
	return c.JSON(http.StatusOK, s.savingJob(order))
}

// stopSaving gives up what is being solved for an order; what is solved stays.
func (s *Server) stopSaving(c echo.Context) error {
	if _, err := orderModel(s, c); err != nil {
		return err
	}
	order := part(c, "order")
	s.savings.stop(order)
	return c.JSON(http.StatusOK, s.savingJob(order))
}
