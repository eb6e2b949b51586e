// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
)

// stops tells of stations and people of whom nobody says until when they are
// down or away, and of stations and tools that are not back when they should be.
func (l *look) stops() {
	for _, id := range sortedKeys(l.s.Stations) {
		if st := l.s.Stations[id]; st.Down {
			l.stop(Alert{About: id, Station: id}, l.stationName(id)+" is down", st.Since, st.Until, st.Why, st.Until == 0)
		}
	}
	for _, unit := range sortedKeys(l.s.Tools) {
		if tool := l.s.Tools[unit]; tool.Out && tool.Until != 0 {
			l.stop(Alert{About: unit}, unit+" is out of use", tool.Since, tool.Until, tool.Why, false)
		}
	}
	for i := range l.s.Plant.Crews {
		l.awayForGood(&l.s.Plant.Crews[i])
	}
}

// awayForGood tells of people of a crew of whom nobody says when they are back.
// Those who are expected back need not report.
func (l *look) awayForGood(c *resources.Crew) {
	people, since, why := 0, Tick(lastInstant), ""
	for _, id := range sortedKeys(l.s.Absences) {
		if a := l.s.Absences[id]; a.Crew == c.ID && a.Until == 0 && a.From <= l.now {
			if people += a.People; a.From < since {
				since, why = a.From, a.Why
			}
		}
	}
	if people > 0 {
		l.stop(Alert{About: "crew " + c.ID, Crew: c.ID}, fmt.Sprintf("%s: %d away", l.crewName(c.ID), people), since, 0, why, true)
	}
}

// stop fills in an alert that says what stands still, and for how long.
func (l *look) stop(a Alert, what string, since, until Tick, why string, unsaid bool) {
	clock := l.s.clock
	a.Kind, a.Who, a.Do = StopOpen, manager, "say until when, so that the plan can count on it"
	switch {
	case unsaid && since+Tick(stopUnsaid) <= l.now:
		a.By = since + Tick(stopUnsaid)
		a.Text = fmt.Sprintf("%s since %s%s; nobody has said until when, the plan counts on %s more", what, clock(since), because(why), resources.Spell(openEnd))
	case !unsaid && until <= l.now:
		a.By = until
		a.Text = fmt.Sprintf("%s since %s%s; it was expected back at %s", what, clock(since), because(why), clock(until))
		a.Do = "report it back, or say until when"
	default:
		return
	}
	l.tell(a)
}

// unmet is a draw of a material that has not happened.
type unmet struct {
	at    Tick // planned; 0: not planned
	due   Tick
	order string
	milli int64
}

// materials tells of materials that open work will lack.
func (l *look) materials() {
	if len(l.s.Plant.Materials) == 0 {
		return
	}
	planned := map[Member]Tick{}
	if l.s.Plan != nil {
		for i := range l.s.Plan.Work {
			w := &l.s.Plan.Work[i]
			planned[Member{w.Piece, w.Operation}] = w.Start
		}
	}
	gone, needs := map[string]int64{}, map[string][]unmet{}
	for _, serial := range sortedKeys(l.s.Pieces) {
		l.draw(l.s.Pieces[serial], planned, gone, needs)
	}
	for i := range l.s.Plant.Materials {
		m := &l.s.Plant.Materials[i]
		l.material(m, gone[m.ID], needs[m.ID])
	}
}

// draw adds up what a piece has drawn and will draw.
func (l *look) draw(p *Piece, planned map[Member]Tick, gone map[string]int64, needs map[string][]unmet) {
	product := l.t.product(p)
	if product == nil {
		return
	}
	line := l.s.Lines[LineKey(p.Order, p.Line)]
	for o, d := range draws(p, product) {
		if o.Status != Planned {
			gone[d.Material] += d.Quantity
		} else if !p.Scrapped && line != nil && !line.Cancelled {
			at := planned[Member{p.Serial, o.Operation}]
			needs[d.Material] = append(needs[d.Material], unmet{at, line.Due, p.Order, d.Quantity})
		}
	}
}

func (l *look) material(m *resources.Material, gone int64, needs []unmet) {
	there := suppliedBy(m, l.now) - gone
	all := m.Stock - gone
	var next *resources.Receipt
	for i := range m.Receipts {
		r := &m.Receipts[i]
		all += r.Quantity
		if r.At > l.now && (next == nil || r.At < next.At) {
			next = r
		}
	}
	a := Alert{Kind: MaterialShort, About: m.ID, Who: manager}
	name := cmp.Or(m.Name, m.ID)
	if lack := total(needs) - all; lack > 0 {
		// Who is due last goes without.
		slices.SortStableFunc(needs, func(a, b unmet) int { return cmp.Compare(a.due, b.due) })
		first := *lacking(needs, all)
		a.By, a.Order = first.due, first.order
		a.Text = fmt.Sprintf("%s short of %s: open work needs %s, %s are there and expected", quantity(lack, m.Unit), name, quantity(total(needs), m.Unit), quantity(max(0, all), m.Unit))
		a.Do = "order more and enter the receipt in the plant file, or cancel the line; order " + first.order + " is the first that would lack it"
		l.tell(a)
		return
	}
	if next == nil || next.At > l.now+Tick(stockAhead) {
		return
	}
	slices.SortStableFunc(needs, func(a, b unmet) int { return cmp.Compare(a.at, b.at) })
	needs = slices.DeleteFunc(needs, func(n unmet) bool { return n.at == 0 })
	first := lacking(needs, there)
	enough := stockShort
	if l.watch.has(a.Key()) {
		enough = stockEnough
	}
	if first == nil || first.at-next.At >= Tick(enough) {
		return
	}
	a.By, a.Order = first.at, first.order
	a.Text = fmt.Sprintf("%s runs out at %s; the %s expected at %s are needed %s later", name, l.s.clock(first.at), quantity(next.Quantity, m.Unit), l.s.clock(next.At), resources.Spell(Seconds(max(0, first.at-next.At))))
	a.Do = "make sure that they come"
	l.tell(a)
}

// lacking is the first of the needs, in their order, that a quantity does not
// cover; nil: it covers all.
func lacking(needs []unmet, there int64) *unmet {
	for i := range needs {
		if there -= needs[i].milli; there < 0 {
			return &needs[i]
		}
	}
	return nil
}

func total(needs []unmet) int64 {
	var sum int64
	for i := range needs {
		sum += needs[i].milli
	}
	return sum
}

// quantity writes thousandths of a unit: "1.5 kg", "3 sets".
func quantity(milli int64, unit string) string {
	text := strconv.FormatInt(milli/1000, 10)
	if rest := milli % 1000; rest != 0 {
		text += strings.TrimRight(fmt.Sprintf(".%03d", rest), "0")
	}
	return text + " " + unit
}
