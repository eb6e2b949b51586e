// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler/relax"
)

// SavingJob is the state of finding what would save an order.
type SavingJob struct {
	State  string         `json:"state" doc:"idle, running, done, stopped or failed"`
	Order  string         `json:"order" doc:"order number"`
	Since  resources.Tick `json:"since" doc:"the shop's instant it is solved for; empty: never asked"`
	Base   int64          `json:"plan" doc:"version of the plan in question; 0: never asked"`
	Stale  bool           `json:"stale" doc:"true: another plan has been published since"`
	Text   string         `json:"text" doc:"why it failed; empty: it did not"`
	Answer *relax.Answer  `json:"answer" doc:"what is solved, the cheapest that saves the order first; null: nothing yet"`
}

// OrderPage is an order with what would save it.
type OrderPage struct {
	OrderSheet
	Saving SavingJob
	Can    bool // it can be asked here
}

// Savable tells whether it makes sense to ask what would save the order.
func (p OrderPage) Savable() bool {
	return !p.Order.Done && (p.Order.Standing == Late || p.Order.Standing == Lost)
}

// Found are the changes to show: those that save the order, or while there are
// none, those that help most. Where another order of work saves it at nobody's
// cost, what asks for more and gives no more is left out.
func (j SavingJob) Found() []relax.Relaxation {
	if j.Answer == nil {
		return nil
	}
	list := j.Answer.Saving()
	if len(list) == 0 {
		list = j.Answer.Relaxations
	} else if free := list[0]; free.Kind == relax.Search && len(free.Hurt) == 0 {
		list = slices.DeleteFunc(slices.Clone(list), func(r relax.Relaxation) bool {
			return r.Kind != relax.Search && r.Slack <= free.Slack && len(r.Helped) <= len(free.Helped)
		})
	}
	const most = 10
	return list[:min(len(list), most)]
}

// Saves tells whether something found saves the order.
func (j SavingJob) Saves() bool { return j.Answer != nil && len(j.Answer.Saving()) > 0 }

// Asks says what a change costs to have.
func Asks(r *relax.Relaxation) string {
	var list []string
	if r.Things > 0 {
		list = append(list, fmt.Sprintf("%s to buy or borrow", Count(r.Things, "thing")))
	}
	if r.Hours > 0 {
		list = append(list, fmt.Sprintf("%.0f person-hours", r.Hours))
	}
	if len(list) == 0 {
		return "asks for nothing"
	}
	return strings.Join(list, ", ")
}

// Effect says what a change does to the order's date.
func Effect(r *relax.Relaxation) string {
	switch {
	case r.Slack >= 0:
		return resources.Spell(r.Slack) + " to spare"
	case r.Earlier > 0:
		return resources.Spell(r.Earlier) + " sooner, still " + resources.Spell(-r.Slack) + " late"
	case r.Earlier < 0:
		return resources.Spell(-r.Earlier) + " later than in the plan"
	}
	return "no sooner"
}
