// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"towpath/resources"
)

// promises tells of open orders that miss their date or have little to spare
// before it: each of those due first, and the others together. What waits for
// a decision about a piece is told with the hold.
func (l *look) promises(m *measure) {
	var risky []OrderScore
	for _, o := range m.orders() {
		since, was := l.watch.risky[o.Order]
		enough := slackShort
		if was {
			enough = slackEnough
		}
		if !l.openOrder[o.Order] || o.Status == OrderWaiting || o.Status == OrderOnTime && o.Slack >= enough {
			continue
		}
		if !was {
			since = l.now
		}
		l.risky[o.Order] = since
		if since+Tick(riskSure) <= l.now {
			risky = append(risky, o)
		}
	}
	slices.SortFunc(risky, func(a, b OrderScore) int {
		return cmp.Or(cmp.Compare(a.Due, b.Due), strings.Compare(a.Order, b.Order))
	})
	for i, o := range risky {
		if i == riskNamed && len(risky) > riskNamed+1 {
			l.manyAtRisk(risky[i:])
			return
		}
		l.atRisk(o)
	}
}

func (l *look) atRisk(o OrderScore) {
	a := Alert{
		Kind: PromiseAtRisk, About: o.Order, Order: o.Order, Who: manager, By: l.changeable(o.Order),
		Do: "speed up what holds it up, or tell the customer",
	}
	due := l.s.clock(o.Due)
	switch o.Status {
	case OrderLost:
		a.Text = fmt.Sprintf("Order %s%s misses its date %s and is lost", o.Order, l.customer(o.Order), due)
	case OrderLate:
		a.Text = fmt.Sprintf("Order %s%s is late for %s", o.Order, l.customer(o.Order), due)
	default:
		a.Text = fmt.Sprintf("Order %s%s has only %s to spare before %s", o.Order, l.customer(o.Order), resources.Spell(o.Slack), due)
	}
	if o.Slack < 0 && o.Completion != 0 {
		a.Text += fmt.Sprintf(", by %s as planned", resources.Spell(-o.Slack))
	}
	l.tell(a)
}

func (l *look) manyAtRisk(list []OrderScore) {
	a := Alert{Kind: PromiseAtRisk, About: "other orders", Who: manager, Do: "add hours or people, or tell the customers"}
	lost := 0
	for i, o := range list {
		if by := l.changeable(o.Order); i == 0 || by < a.By {
			a.By = by
		}
		if o.Status == OrderLost {
			lost++
		}
	}
	a.Text = fmt.Sprintf("%d more orders would miss their dates or have little to spare, the first is %s, due %s", len(list), list[0].Order, l.s.clock(list[0].Due))
	if lost > 0 {
		a.Text += fmt.Sprintf("; %d of them would be lost", lost)
	}
	l.tell(a)
}

// changeable is until when much can still be changed for an order: the start
// of its next step that is not frozen.
func (l *look) changeable(order string) Tick {
	if next, ok := l.nextOf[order]; ok {
		return next
	}
	return l.now
}

func (l *look) customer(order string) string {
	for _, key := range sortedKeys(l.s.Lines) {
		if line := l.s.Lines[key]; line.Order == order && line.Customer != "" {
			return " for " + line.Customer
		}
	}
	return ""
}

// holds tells, once for each order, of pieces about which somebody must
// decide.
func (l *look) holds() {
	alerts := map[string]*Alert{}
	reasons := map[string][]string{}
	for _, serial := range sortedKeys(l.s.Pieces) {
		p := l.s.Pieces[serial]
		line := l.s.Lines[LineKey(p.Order, p.Line)]
		if !p.Held || p.Scrapped || line == nil || line.Cancelled {
			continue
		}
		a := alerts[p.Order]
		if a == nil {
			a = &Alert{Kind: HoldUndecided, About: p.Order, Order: p.Order, Who: manager, Do: "release it, scrap it to be made again, or send it back, with the reason"}
			alerts[p.Order] = a
		}
		a.Pieces = append(a.Pieces, serial)
		if by := line.Due - Tick(l.workLeft(p)); a.By == 0 || by < a.By {
			a.By = by
		}
		if who := l.decides(p); who != "" {
			a.Who = who
		}
		if why := cmp.Or(p.Why, "no reason given"); !strings.Contains(strings.Join(reasons[p.Order], "; "), why) {
			reasons[p.Order] = append(reasons[p.Order], why)
		}
	}
	for _, order := range sortedKeys(alerts) {
		a := alerts[order]
		is := "is"
		if len(a.Pieces) > 1 {
			is = "are"
		}
		a.Text = fmt.Sprintf("%s %s on hold: %s", names(a.Pieces), is, strings.Join(reasons[order], "; "))
		l.tell(*a)
	}
}

// decides names who judges a piece held by a failed gate: those who do the
// gate's operation. Other holds are decided by whoever made them or the
// manager; empty.
func (l *look) decides(p *Piece) string {
	for i := range p.Detained {
		serial, operation, gate := strings.Cut(p.Detained[i].By, "/")
		q := l.s.Pieces[serial]
		if !gate || q == nil {
			continue
		}
		if product := l.t.product(q); product != nil {
			if op := product.Operation(operation); op != nil && len(op.Needs) > 0 {
				return l.skilled(op.Needs[0].Skill)
			}
		}
	}
	return ""
}

// workLeft is the longest chain of plain times and least waits from where a
// piece is to the end of its routing: what is left if nothing were in the way.
func (l *look) workLeft(p *Piece) Seconds {
	product := l.t.product(p)
	if product == nil {
		return 0
	}
	done := make([]bool, len(product.Routing))
	for i := range p.Ops {
		if o := &p.Ops[i]; o.Status == Done && o.Index < len(done) {
			done[o.Index] = true
		}
	}
	ends := make(map[int]Seconds, len(product.Routing))
	var end func(k, depth int) Seconds
	end = func(k, depth int) Seconds {
		if t, ok := ends[k]; ok || depth > len(product.Routing) {
			return t
		}
		op := &product.Routing[k]
		var start Seconds
		for i := range op.After {
			if from := product.OperationIndex(op.After[i].Operation); from >= 0 && !done[from] {
				start = max(start, end(from, depth+1)+max(0, op.After[i].Min))
			}
		}
		ends[k] = start + l.plain(op)
		return ends[k]
	}
	var most Seconds
	for k := range product.Routing {
		op := &product.Routing[k]
		if done[k] || op.Per == resources.PerSample && !p.Sample || p.Sample && op.SkipSample {
			continue
		}
		most = max(most, end(k, 0))
	}
	return most
}

// plain is the shortest time an operation takes on any of its stations.
func (l *look) plain(op *resources.Operation) Seconds {
	var best Seconds
	for i, id := range op.Stations {
		if st := l.s.Plant.Station(id); st != nil {
			d := op.Load + op.LoadEach + l.s.Plant.RunTime(op, st) + op.Unload + op.UnloadEach
			if i == 0 || d < best {
				best = d
			}
		}
	}
	return best
}
