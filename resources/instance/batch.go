// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"
	"slices"

	"towpath/resources"
)

// Batches is a problem of like parallel batch machines: jobs with sizes share
// a batch up to the capacity, and it lasts as long as its longest job
// (1|p-batch, s, B|Cmax; Ikura and Gimple 1986 for like sizes, Uzsoy 1994).
type Batches struct {
	Name     string
	Machines int
	Capacity int64
	Time     []int64
	Size     []int64 // nil: 1 each
}

// Makespan casts it as stations M1, M2, … that run loads and one firm order
// with a line per job, due at the start.
func (b *Batches) Makespan() (*Case, error) {
	n := len(b.Time)
	size := orAll(b.Size, n, 1)
	if n == 0 || b.Machines < 1 {
		return nil, fmt.Errorf("%s: %d jobs on %d machines; both take at least one", b.Name, n, b.Machines)
	}
	if err := sized(b.Name, n, size); err != nil {
		return nil, err
	}
	if err := inRange(b.Name, 0, slices.Concat(b.Time, size, []int64{b.Capacity})...); err != nil {
		return nil, err
	}
	if largest := slices.Max(size); largest > b.Capacity {
		return nil, fmt.Errorf("%s: a job of size %d does not fit a machine of capacity %d", b.Name, largest, b.Capacity)
	}
	var work int64
	for _, t := range b.Time {
		work += t
	}
	p := newPlant(b.Name, work)
	var stations []string
	for m := range b.Machines {
		id := numbered("M", m+1, b.Machines)
		stations = append(stations, id)
		p.Stations = append(p.Stations, resources.Station{
			ID: id, Name: fmt.Sprintf("Machine %d", m+1), Kind: "batch machine", Places: 1, Speed: 1,
			Batch: &resources.Batch{Capacity: map[string]int64{"size": b.Capacity}},
		})
	}
	for i := range n {
		p.Products = append(p.Products, resources.Product{
			ID: numbered("J", i+1, n), Name: fmt.Sprintf("Job %d", i+1),
			Routing: []resources.Operation{{
				ID: "run", Name: "Run", Stations: stations, Run: span(b.Time[i]),
				Size: map[string]int64{"size": size[i]},
			}},
		})
	}
	return makespan(b.Name, p), nil
}
