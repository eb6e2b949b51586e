// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"
	"slices"

	"towpath/resources"
)

// Jobs is a problem of one machine that does one job at a time without
// pausing. Due, Weight and Release may be nil: due at the start, weight 1,
// there from the start.
type Jobs struct {
	Name    string
	Time    []int64
	Due     []int64
	Weight  []int64
	Release []int64
}

// WeightedTardiness is 1|r|ΣwT: a firm order per job, due at its date.
func (j *Jobs) WeightedTardiness() (*Case, error) {
	return j.build(func(c *Case, i int, id string, due, weight, release int64) {
		c.Lines = append(c.Lines, line(id, id, id, due, weight, release, resources.Firm))
	}, tardy(), int64(Unit))
}

// WeightedCompletion is 1|r|ΣwC: a firm order per job, due at the start. Due
// is not looked at.
func (j *Jobs) WeightedCompletion() (*Case, error) {
	return j.build(func(c *Case, _ int, id string, _, weight, release int64) {
		c.Lines = append(c.Lines, line(id, id, id, 0, weight, release, resources.Firm))
	}, tardy(), int64(Unit))
}

// LateJobs is 1|r|ΣwU: an event order per job, lost when it ends after its
// date (Moore 1968).
func (j *Jobs) LateJobs() (*Case, error) {
	return j.build(func(c *Case, _ int, id string, due, weight, release int64) {
		c.Lines = append(c.Lines, line(id, id, id, due, weight, release, resources.Event))
	}, resources.Objective{Lost: resources.Term{Weight: 1}}, 1)
}

// Lateness is 1|r|Lmax: one firm order with a line per job. Its tardiness is
// never negative, so every date is moved to the front by the latest one, which
// the value then has too much. Weight is not looked at.
func (j *Jobs) Lateness() (*Case, error) {
	if len(j.Due) == 0 {
		return nil, fmt.Errorf("%s: lateness needs due dates", j.Name)
	}
	latest := slices.Max(j.Due)
	c, err := j.build(func(c *Case, _ int, id string, due, _, release int64) {
		c.Lines = append(c.Lines, line(all, id, id, due-latest, 1, release, resources.Firm))
	}, tardy(), int64(Unit))
	if err == nil {
		c.Shift = latest
	}
	return c, err
}

// build makes the station and a product per job, then lets add make the order
// line of each.
func (j *Jobs) build(add func(c *Case, i int, id string, due, weight, release int64),
	goal resources.Objective, scale int64) (*Case, error) {
	n := len(j.Time)
	due, weight, release := orAll(j.Due, n, 0), orAll(j.Weight, n, 1), orAll(j.Release, n, 0)
	if n == 0 {
		return nil, fmt.Errorf("%s: no jobs", j.Name)
	}
	if err := sized(j.Name, n, due, weight, release); err != nil {
		return nil, err
	}
	if err := inRange(j.Name, 0, slices.Concat(j.Time, due, weight, release)...); err != nil {
		return nil, err
	}
	var work int64
	for i := range n {
		work += j.Time[i]
	}
	p := newPlant(j.Name, work+slices.Max(release))
	p.Objective = goal
	p.Stations = []resources.Station{{ID: "M", Name: "Machine", Kind: "machine", Places: 1, Speed: 1}}
	c := &Case{Name: j.Name, Plant: p, Scale: scale}
	for i := range n {
		id := numbered("J", i+1, n)
		p.Products = append(p.Products, resources.Product{ID: id, Name: fmt.Sprintf("Job %d", i+1),
			Routing: []resources.Operation{{ID: "run", Name: "Run", Stations: []string{"M"}, Run: span(j.Time[i])}},
		})
		add(c, i, id, due[i], weight[i], release[i])
	}
	return c, nil
}

// orAll is the list, or n times what when there is none.
func orAll(list []int64, n int, what int64) []int64 {
	if list != nil {
		return list
	}
	return slices.Repeat([]int64{what}, n)
}

// Chains is 1|chains|ΣwC: jobs, numbered from 0, each in one chain that fixes
// the order of its jobs.
type Chains struct {
	Name   string
	Time   []int64
	Weight []int64
	Chains [][]int
}

// WeightedCompletion casts chains with a completion that counts at every job
// of them. A routing counts its last operation only, so each job is an order
// whose piece passes its chain up to this job, and the machine runs loads: all
// pieces that pass the same job may do so as one load. Whoever passes a job
// first might as well take the others along, so the best plans do every job
// once and have the published value.
func (c *Chains) WeightedCompletion() (*Case, error) {
	n := len(c.Time)
	if err := c.validate(n); err != nil {
		return nil, err
	}
	var work int64
	for i := range n {
		work += c.Time[i] * int64(n)
	}
	p := newPlant(c.Name, work)
	p.Objective = tardy()
	p.Stations = []resources.Station{{ID: "M", Name: "Machine", Kind: "machine", Places: 1, Speed: 1,
		Batch: &resources.Batch{Capacity: map[string]int64{"pieces": int64(n)}, Same: []string{"job"}},
	}}
	cs := &Case{Name: c.Name, Plant: p, Scale: int64(Unit)}
	for _, chain := range c.Chains {
		for k, job := range chain {
			id := numbered("J", job+1, n)
			p.Products = append(p.Products, resources.Product{
				ID: id, Name: fmt.Sprintf("Chain up to job %d", job+1), Routing: c.routing(chain[:k+1]),
			})
			cs.Lines = append(cs.Lines, line(id, id, id, 0, c.Weight[job], 0, resources.Firm))
		}
	}
	return cs, nil
}

func (c *Chains) routing(jobs []int) []resources.Operation {
	var ops []resources.Operation
	for k, job := range jobs {
		id := numbered("J", job+1, len(c.Time))
		op := resources.Operation{
			ID: id, Name: fmt.Sprintf("Job %d", job+1), Stations: []string{"M"}, Run: span(c.Time[job]),
			Size: map[string]int64{"pieces": 1}, Attributes: map[string]string{"job": id},
		}
		if k > 0 {
			op.After = []resources.Link{{Operation: ops[k-1].ID}}
		}
		ops = append(ops, op)
	}
	return ops
}

func (c *Chains) validate(n int) error {
	if n == 0 {
		return fmt.Errorf("%s: no jobs", c.Name)
	}
	if err := sized(c.Name, n, c.Weight); err != nil {
		return err
	}
	if err := inRange(c.Name, 0, slices.Concat(c.Time, c.Weight)...); err != nil {
		return err
	}
	seen := make([]bool, n)
	for _, job := range slices.Concat(c.Chains...) {
		if job < 0 || job >= n || seen[job] {
			return fmt.Errorf("%s: job %d is not one of the %d jobs or in two chains", c.Name, job, n)
		}
		seen[job] = true
	}
	if slices.Contains(seen, false) {
		return fmt.Errorf("%s: job %d is in no chain", c.Name, slices.Index(seen, false))
	}
	return nil
}
