// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"cmp"
	"slices"

	"towpath/scheduler/risk"
)

// Chances are what may become of both plans, played forward on the same luck:
// what both meet alike falls out of the difference.
type Chances struct {
	Replications int      `json:"replications" doc:"histories played of each plan"`
	Seed         uint64   `json:"seed" doc:"of the histories, the same for both"`
	Confidence   float64  `json:"confidence" doc:"of the intervals"`
	Before       Outlook  `json:"before" doc:"the shop as it is"`
	After        Outlook  `json:"after" doc:"the shop with the changes"`
	Orders       []Chance `json:"orders" doc:"orders in both whose chance is another, the biggest difference first"`
	Same         int      `json:"same" doc:"orders in both whose chance is the same"`
	Added        []Chance `json:"added" doc:"orders there are only with the changes; was is 0"`
}

// Outlook is how many dates a plan makes on average.
type Outlook struct {
	Made    float64 `json:"made" doc:"orders that make their date, on average"`
	Lost    float64 `json:"lost" doc:"event orders lost, on average"`
	AllMade float64 `json:"all_made" doc:"share of histories in which every order makes its date"`
}

// Chance is what may become of one order. An order that nobody can date on one
// side has no chance there.
type Chance struct {
	Order string `json:"order" doc:"order number"`
	Was   Odds   `json:"was" doc:"in the shop as it is"`
	Is    Odds   `json:"is" doc:"with the changes"`
}

// Odds are the chance of an order to make its date, with its interval by
// Wilson's score, and when it is complete in 80 % of the histories.
type Odds struct {
	Made   int     `json:"made" doc:"histories in which it makes its date"`
	Chance float64 `json:"chance" doc:"to make its date"`
	Low    float64 `json:"low" doc:"interval of the chance, by Wilson's score"`
	High   float64 `json:"high" doc:"its other end"`
	P80    Tick    `json:"p80" doc:"completion, not later in 80 % of the histories; empty: nobody can say"`
}

// ChancesOf holds two risks against each other. Both are of as many histories
// and of one seed: it is the caller's to see to that.
func ChancesOf(before, after *risk.Report) *Chances {
	c := &Chances{
		Replications: before.Replications, Seed: before.Seed, Confidence: before.Confidence,
		Before: outlook(before), After: outlook(after), Orders: []Chance{}, Added: []Chance{},
	}
	was := map[string]Odds{}
	for i := range before.Orders {
		was[before.Orders[i].Order] = odds(&before.Orders[i])
	}
	for i := range after.Orders {
		x := Chance{Order: after.Orders[i].Order, Is: odds(&after.Orders[i])}
		known := false
		x.Was, known = was[x.Order]
		switch {
		case !known:
			c.Added = append(c.Added, x)
		case x.Was.Made == x.Is.Made:
			c.Same++
		default:
			c.Orders = append(c.Orders, x)
		}
	}
	slices.SortStableFunc(c.Orders, func(a, b Chance) int {
		return cmp.Or(cmp.Compare(b.by(), a.by()), cmp.Compare(a.Order, b.Order))
	})
	return c
}

// by is how much a chance changes, in histories: whole, so that what is equal
// ties.
func (x *Chance) by() int { return max(x.Is.Made-x.Was.Made, x.Was.Made-x.Is.Made) }

func outlook(r *risk.Report) Outlook {
	made := 0 // counted whole and divided once
	for i := range r.Orders {
		made += r.Orders[i].Made
	}
	return Outlook{Made: float64(made) / float64(r.Replications), Lost: r.Lost, AllMade: r.AllMade}
}

func odds(x *risk.OrderRisk) Odds {
	if x.Waiting {
		return Odds{}
	}
	return Odds{Made: x.Made, Chance: x.Chance, Low: x.Low, High: x.High, P80: x.P80}
}
