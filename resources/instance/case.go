// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"
	"time"

	"towpath/resources"
)

// Start is the instant at which every problem's time 0 lies: a Monday,
// 2024-01-01T00:00:00Z.
const Start resources.Tick = 1704067200

// Unit is one unit of a problem's time.
const Unit = resources.Minute

// limit is the largest number a problem may contain, so that no sum of times
// can leave 64 bits.
const limit = 1_000_000_000

// all is the order whose lines make a makespan or a largest lateness.
const all = "ALL"

// Case is a published problem as a plant with its order lines. The value of a
// plan, in the unit it was published in, is that of one objective level,
// divided by Scale, less Shift.
type Case struct {
	Name  string
	Plant *resources.Plant
	Lines []resources.OrderLine
	Level int   // objective level that carries the published objective
	Scale int64 // objective units in one published unit
	Shift int64 // published units that every plan has too many
}

// Value is the published figure of a plan with these objective levels, rounded
// up to a whole unit.
func (c *Case) Value(levels [4]int64) int64 {
	v := levels[c.Level]
	whole := v / c.Scale
	if v%c.Scale > 0 {
		whole++
	}
	return whole - c.Shift
}

// at is the instant t units after Start.
func at(t int64) resources.Tick { return Start + resources.Tick(t)*resources.Tick(Unit) }

// span is t units as a length of time.
func span(t int64) resources.Seconds { return resources.Seconds(t) * Unit }

// units is the time of an instant in whole units, rounded up.
func units(t resources.Tick) int64 {
	u := int64(t-Start) / int64(Unit)
	if int64(t-Start)%int64(Unit) > 0 {
		u++
	}
	return u
}

// newPlant is an empty plant in UTC whose calendars reach far enough for work
// units of time one after the other.
func newPlant(name string, work int64) *resources.Plant {
	return &resources.Plant{
		ID:       "instance",
		Name:     name,
		Zone:     time.UTC,
		StartsAt: Start,
		Horizon:  max(span(work)+resources.Day, 7*resources.Day),
		Room:     resources.Room{Celsius: 20},
	}
}

// line is an order line of one piece. Due and release count in units.
func line(order, id, product string, due, weight, release int64, kind resources.OrderKind) resources.OrderLine {
	return resources.OrderLine{
		Order: order, Line: id, Customer: "instance", Product: product, Quantity: 1,
		ShipBy: at(due), Due: at(due), Weight: weight, Kind: kind, EarliestStart: at(release),
	}
}

// tardy is the objective that counts weighted tardiness alone.
func tardy() resources.Objective {
	return resources.Objective{Tardiness: resources.Term{Weight: 1}}
}

// makespan is a case of one firm order with a line for each product of the
// plant, all due at the start.
func makespan(name string, p *resources.Plant) *Case {
	p.Objective = tardy()
	c := &Case{Name: name, Plant: p, Scale: int64(Unit)}
	for i := range p.Products {
		id := p.Products[i].ID
		c.Lines = append(c.Lines, line(all, id, id, 0, 1, 0, resources.Firm))
	}
	return c
}

// numbered is a name of a numbered thing, with as many digits as the largest
// number has so that names sort as numbers do.
func numbered(letter string, i, largest int) string {
	return fmt.Sprintf("%s%0*d", letter, len(fmt.Sprint(largest)), i)
}

// number reads the number of a name made by numbered, -1 if it is none.
func number(letter, name string) int {
	if len(name) <= len(letter) || name[:len(letter)] != letter {
		return -1
	}
	n := 0
	for _, c := range name[len(letter):] {
		if c < '0' || c > '9' || n > limit {
			return -1
		}
		n = n*10 + int(c-'0')
	}
	return n
}

// sized is an error unless every list has n entries.
func sized(what string, n int, lists ...[]int64) error {
	for _, l := range lists {
		if len(l) != n {
			return fmt.Errorf("%s: a list has %d entries; every job needs one, %d in all", what, len(l), n)
		}
	}
	return nil
}

// inRange is an error unless all numbers lie between least and the limit.
func inRange(what string, least int64, numbers ...int64) error {
	for i, x := range numbers {
		if x < least || x > limit {
			return fmt.Errorf("%s: entry %d is %d; allowed are %d to %d", what, i+1, x, least, int64(limit))
		}
	}
	return nil
}
