// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"

	"towpath/resources"
)

// Tour is a round trip through all cities, or a cyclic order of products with
// sequence-dependent set-ups (1|s|Cmax, the asymmetric travelling salesman):
// Setup[i][j] is the way from city i to city j, both from 0.
type Tour struct {
	Name  string
	Setup [][]int64
}

// city is the attribute that changeovers are keyed by.
const city = "city"

// Makespan casts the cycle as a path with the same first and last state: the
// one station is set up for city 0 at the start, every other city is an
// operation C1, C2, … of one product, in any order, and a last operation
// "back" waits for all of them and is of city 0 again. A visit lasts one unit,
// so that no two visits share an instant; the value has them taken off.
func (t *Tour) Makespan() (*Case, error) {
	n := len(t.Setup)
	if n < 2 {
		return nil, fmt.Errorf("%s: %d cities; a tour has at least two", t.Name, n)
	}
	var work int64
	station := resources.Station{
		ID: "M", Name: "Machine", Kind: "machine", Places: 1, Speed: 1,
		Initial: map[string]string{city: t.name(0)},
	}
	for i, row := range t.Setup {
		if len(row) != n {
			return nil, fmt.Errorf("%s: ways from city %d to %d cities; there are %d", t.Name, i, len(row), n)
		}
		var far int64
		for j, way := range row {
			if i == j {
				continue
			}
			if err := inRange(fmt.Sprintf("%s: from city %d", t.Name, i), 0, way); err != nil {
				return nil, err
			}
			far = max(far, way)
			station.Setups = append(station.Setups, resources.SetupRule{
				Attribute: city, From: t.name(i), To: t.name(j), Time: span(way),
			})
		}
		work += far + 1
	}
	p := newPlant(t.Name, work)
	p.Stations = []resources.Station{station}
	product := resources.Product{ID: "T", Name: t.Name}
	back := t.visit("back", 0)
	for i := 1; i < n; i++ {
		product.Routing = append(product.Routing, t.visit(t.name(i), i))
		back.After = append(back.After, resources.Link{Operation: t.name(i)})
	}
	product.Routing = append(product.Routing, back)
	p.Products = []resources.Product{product}
	c := makespan(t.Name, p)
	c.Shift = int64(n)
	return c, nil
}

func (t *Tour) name(i int) string { return numbered("C", i, len(t.Setup)-1) }

func (t *Tour) visit(id string, i int) resources.Operation {
	return resources.Operation{
		ID: id, Name: fmt.Sprintf("City %d", i), Stations: []string{"M"}, Run: Unit,
		Attributes: map[string]string{city: t.name(i)},
	}
}
