// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// OvenSolution is a schedule of an oven instance; numbers as in the instance,
// from 1.
type OvenSolution struct {
	Batches []OvenBatch `json:"batches"`
}

// OvenBatch is one batch.
type OvenBatch struct {
	Machine  int   `json:"machine"`
	Start    int64 `json:"start"`
	Duration int64 `json:"duration"`
	Jobs     []int `json:"jobs"`
}

// OvenCost is the published cost of a schedule and its parts.
type OvenCost struct {
	RunTime   int64
	Late      int64
	SetupTime int64
	SetupCost int64
	Cost      int64 // weighed sum
	Bound     int64
}

// Normalised is the figure in which results are published.
func (c OvenCost) Normalised() float64 { return float64(c.Cost) / float64(c.Bound) }

// Solution writes a plan of the instance's case as a schedule, by oven and
// start.
func (o *Ovens) Solution(placed []Placed) (OvenSolution, error) {
	type key struct{ station, load string }
	batches := map[key]*OvenBatch{}
	for _, w := range placed {
		job, machine := number("J", w.Line), number("M", w.Station)
		if job < 0 || machine < 0 {
			return OvenSolution{}, fmt.Errorf("%s: %s on %s is not of this instance", o.Name, w.Line, w.Station)
		}
		k := key{w.Station, w.Load}
		if w.Load == "" {
			k.load = "alone " + w.Line
		}
		b := batches[k]
		if b == nil {
			b = &OvenBatch{Machine: machine, Start: units(w.Run), Duration: units(w.RunEnd) - units(w.Run)}
			batches[k] = b
		}
		b.Jobs = append(b.Jobs, job)
	}
	out := OvenSolution{Batches: []OvenBatch{}}
	for _, b := range batches {
		slices.Sort(b.Jobs)
		out.Batches = append(out.Batches, *b)
	}
	slices.SortFunc(out.Batches, byOven)
	return out, nil
}

func byOven(a, b OvenBatch) int {
	return cmp.Or(cmp.Compare(a.Machine, b.Machine), cmp.Compare(a.Start, b.Start), slices.Compare(a.Jobs, b.Jobs))
}

// Score checks a schedule against the rules of the problem, knowing nothing of
// plants and plans, and gives its cost. The error joins every rule broken; the
// cost means nothing then.
func (o *Ovens) Score(sol OvenSolution) (OvenCost, error) {
	var errs []error
	cost := OvenCost{Bound: o.Factors.Bound}
	seen := make([]int, len(o.Jobs)+1)
	batches := slices.Clone(sol.Batches)
	slices.SortFunc(batches, byOven)
	for i := range batches {
		b := &batches[i]
		if err := o.known(b); err != nil {
			return OvenCost{}, err
		}
		errs = append(errs, o.members(b)...)
		var before *OvenBatch
		if i > 0 && batches[i-1].Machine == b.Machine {
			before = &batches[i-1]
		}
		errs = append(errs, o.setup(b, before, &cost)...)
		cost.RunTime += b.Duration
		for _, j := range b.Jobs {
			seen[j]++
			if b.Start+b.Duration > o.Jobs[j-1].Latest {
				cost.Late++
			}
		}
	}
	for j := 1; j <= len(o.Jobs); j++ {
		if seen[j] != 1 {
			errs = append(errs, fmt.Errorf("job %d is in %d batches", j, seen[j]))
		}
	}
	f := o.Factors
	cost.Cost = f.RunTime*cost.RunTime + f.Late*cost.Late + f.SetupTime*cost.SetupTime + f.SetupCost*cost.SetupCost
	return cost, errors.Join(errs...)
}

// known is an error when the batch names what does not exist.
func (o *Ovens) known(b *OvenBatch) error {
	if b.Machine < 1 || b.Machine > len(o.Ovens) {
		return fmt.Errorf("machine %d does not exist", b.Machine)
	}
	if len(b.Jobs) == 0 {
		return fmt.Errorf("machine %d: the batch at %d is empty", b.Machine, b.Start)
	}
	for _, j := range b.Jobs {
		if j < 1 || j > len(o.Jobs) {
			return fmt.Errorf("job %d does not exist", j)
		}
	}
	return nil
}

// members checks each job of a batch, and their sizes together.
func (o *Ovens) members(b *OvenBatch) []error {
	var errs []error
	var size int64
	fail := func(job int, what string) {
		errs = append(errs, fmt.Errorf("machine %d, batch at %d: job %d %s", b.Machine, b.Start, job, what))
	}
	for _, j := range b.Jobs {
		job := &o.Jobs[j-1]
		size += job.Size
		if !slices.Contains(job.Eligible, b.Machine) {
			fail(j, "may not go there")
		}
		if b.Start < job.Earliest {
			fail(j, "is not there yet")
		}
		if b.Duration < job.Min {
			fail(j, "needs longer")
		}
		if b.Duration > job.Max {
			fail(j, "may not stay so long")
		}
		if job.Attribute != o.Jobs[b.Jobs[0]-1].Attribute {
			fail(j, "has another attribute")
		}
	}
	if size > o.Ovens[b.Machine-1].Capacity {
		fail(b.Jobs[0], fmt.Sprintf("and the others have size %d together", size))
	}
	return errs
}

// setup adds the set-up before a batch to the cost and checks that both fit
// behind the batch before, and inside one availability interval.
func (o *Ovens) setup(b, before *OvenBatch, cost *OvenCost) []error {
	oven := &o.Ovens[b.Machine-1]
	from := oven.Initial
	if before != nil {
		from = o.Jobs[before.Jobs[0]-1].Attribute
	}
	to := o.Jobs[b.Jobs[0]-1].Attribute
	time := o.SetupTime[from-1][to-1]
	cost.SetupTime += time
	cost.SetupCost += o.SetupCost[from-1][to-1]
	var errs []error
	if before != nil && b.Start-time < before.Start+before.Duration {
		errs = append(errs, fmt.Errorf("machine %d: no time for the set-up before the batch at %d", b.Machine, b.Start))
	}
	inside := slices.ContainsFunc(oven.Open, func(s Span) bool {
		return s.Start <= b.Start-time && b.Start+b.Duration <= s.End
	})
	if !inside {
		errs = append(errs, fmt.Errorf("machine %d: set-up and batch at %d do not lie in one availability interval", b.Machine, b.Start))
	}
	return errs
}
