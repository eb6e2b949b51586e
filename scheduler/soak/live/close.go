// SPDX-License-Identifier: Apache-2.0

package live

import (
	"context"
	"fmt"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// close lets people tell the rest and draws the account.
func (t *trial) close(ctx context.Context, audit *auditor) error {
	now := t.clock.Now()
	if err := t.flush(ctx, now); err != nil {
		return err
	}
	last, err := t.o.Log.Last(ctx)
	if err != nil {
		return err
	}
	settled, err := t.runner.Settle(ctx, last)
	if err != nil {
		return err
	}
	if err := audit.wait(settled.Seq); err != nil {
		return err
	}
	state := t.runner.Picture().State
	r := &t.report
	r.account(t, audit, state)
	r.StateEqualsAudit = audit.audit.State().Hash() == state.Hash()
	if r.StateIsReplay, err = t.replay(ctx, state); err != nil {
		return err
	}
	t.pieces()
	differ := t.model.Compare(state)
	r.StateIsModel = len(differ) == 0
	r.find("what was done and what the shop believes differ", differ)
	r.ordersOf(state, now)
	p99, runs := t.planner.told()
	r.RepairP99MS, r.ImproveRuns = p99.Milliseconds(), runs
	return nil
}

// account counts what was told against what is believed.
func (r *Report) account(t *trial, audit *auditor, state *scheduler.State) {
	a := &audit.audit
	r.Events, r.Reject = a.Records, a.Rejected
	r.PlansPublished, r.PlansUnverified, r.Unexplained, r.NextJobChanges = a.Plans, len(a.Unverified), len(a.Unexplained), a.Changed
	r.find("plan that cannot be followed", a.Unverified)
	r.find("next job changed without a reason", a.Unexplained)
	book := t.mouths.Account(t.stands)
	for id, seq := range t.acked {
		if got := audit.ids[id]; len(got) == 0 || got[0] != seq {
			book.Lost = append(book.Lost, fmt.Sprintf("report %s, acknowledged as number %d, is in the log at %v", id, seq, got))
		}
	}
	r.Lost, r.Doubled, r.Overtaken = len(book.Lost), len(book.Doubled), book.Overtaken
	r.find("lost", book.Lost)
	r.find("doubled", book.Doubled)
}

// replay folds the log from nothing.
func (t *trial) replay(ctx context.Context, state *scheduler.State) (bool, error) {
	list, err := read(ctx, t.o.Log, 0, state.Seq)
	if err != nil {
		return false, err
	}
	again, _ := scheduler.Fold(func(yield func(events.Event) bool) {
		for _, e := range list {
			if !yield(e) {
				return
			}
		}
	})
	again.Skip(state.Seq)
	return again.Hash() == state.Hash(), nil
}

// ordersOf counts orders by what the model of dates says: an event order is
// lost when it was not complete at its date.
func (r *Report) ordersOf(state *scheduler.State, now resources.Tick) {
	ends := scheduler.MeasureLines(state, &scheduler.Plan{})
	orders, open, lost := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for key, line := range state.Lines {
		if line.Cancelled || line.Order == scheduler.StockOrder {
			continue
		}
		orders[line.Order] = true
		end := ends[key]
		if !end.Known {
			open[line.Order] = true
		}
		if line.Kind == resources.Event && line.Due <= now && (!end.Known || end.End > line.Due) {
			lost[line.Order] = true
		}
	}
	r.Orders, r.OrdersDone, r.OrdersLost = len(orders), len(orders)-len(open), len(lost)
}
