// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler/risk"
)

// RiskJob is the state of playing the plan forward.
type RiskJob struct {
	State  string         `json:"state" doc:"idle, running, done, stopped or failed"`
	Asked  int            `json:"asked" doc:"histories to play"`
	Done   int            `json:"done" doc:"histories played"`
	Since  resources.Tick `json:"since" doc:"the shop's instant it is played from; empty: never asked"`
	Base   int64          `json:"plan" doc:"version of the plan played; 0: never asked"`
	Stale  bool           `json:"stale" doc:"true: another plan has been published since"`
	Text   string         `json:"text" doc:"why it failed; empty: it did not"`
	Report *risk.Report   `json:"report" doc:"what became of each order; null: nothing yet"`
}

// RiskPage is the risk page: orders with the least chance first, those nobody
// can say anything about last.
type RiskPage struct {
	RiskJob
	Orders []risk.OrderRisk
	Can    bool // it can be asked here
}

// NewRiskPage arranges an answer for people.
func NewRiskPage(job RiskJob, can bool) RiskPage {
	p := RiskPage{RiskJob: job, Can: can}
	if job.Report == nil {
		return p
	}
	p.Orders = slices.Clone(job.Report.Orders)
	last := func(o *risk.OrderRisk) int {
		if o.Waiting {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(p.Orders, func(a, b risk.OrderRisk) int {
		return cmp.Or(cmp.Compare(last(&a), last(&b)), cmp.Compare(a.Chance, b.Chance), cmp.Compare(a.Due, b.Due))
	})
	return p
}

// Under counts the orders with less than a chance of 90 % to make their date.
func (p RiskPage) Under() int {
	n := 0
	for i := range p.Orders {
		if !p.Orders[i].Waiting && p.Orders[i].Chance < 0.9 {
			n++
		}
	}
	return n
}

// Likely writes a chance in whole percent, and never 0 or 100 of what has
// happened, or has not, at least once.
func Likely(x float64) string {
	switch {
	case x > 0 && x < 0.005:
		return "under 1 %"
	case x < 1 && x >= 0.995:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*x)
}
