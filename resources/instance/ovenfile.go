// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"towpath/resources"
)

// ReadDZN reads an instance of the oven scheduling problem from MiniZinc data
// (see Ovens for what it means and for its source): n jobs, m ovens, a
// attributes; by job eligible_machine, earliest_start, latest_end, min_time,
// max_time, size, attribute; by oven max_cap, initState and rows of
// availability m_a_s and m_a_e; setup_times and setup_costs with a row for
// each attribute and one for none; the factors of the cost and its
// upper_bound_integer_objective. Every fault is a finding, names that are not
// known are warnings; the instance is nil when there is an error.
func ReadDZN(file string, text []byte) (*Ovens, []resources.Finding) {
	scanner := &dznScanner{text: text}
	values, err := scanner.assignments()
	if err != nil {
		return nil, []resources.Finding{{
			File: file, Line: err.line, Field: err.field, Found: err.found, Allowed: err.wanted, Text: "cannot be read",
		}}
	}
	r := &ovenReader{file: file, values: values, used: map[string]bool{}}
	r.read()
	r.unknown()
	resources.SortFindings(r.findings)
	if resources.HasErrors(r.findings) {
		return nil, r.findings
	}
	return &r.ovens, r.findings
}

type ovenReader struct {
	file     string
	values   map[string]*dzn
	used     map[string]bool
	ovens    Ovens
	findings []resources.Finding
}

// hints are assignments that only help a solver.
var hints = []string{"l", "s", "running_time_bound", "min_duration", "max_duration", "max_setup_time", "max_setup_cost"}

// greatest keeps a factor times a sum of times inside 64 bits.
const greatest = 1_000_000_000_000

func (r *ovenReader) read() {
	o := &r.ovens
	o.Name = r.file
	n, m := int(r.number("n", 1, limit)), int(r.number("m", 1, limit))
	o.Attributes = int(r.number("a", 1, limit))
	o.Factors = OvenFactors{
		RunTime:   r.number("mult_factor_total_runtime", 0, greatest),
		Late:      r.number("mult_factor_finished_toolate", 0, greatest),
		SetupCost: r.number("mult_factor_total_setupcosts", 0, greatest),
		Bound:     r.number("upper_bound_integer_objective", 1, greatest*1000),
	}
	if r.values["mult_factor_total_setuptimes"] != nil {
		o.Factors.SetupTime = r.number("mult_factor_total_setuptimes", 0, greatest)
	}
	if len(r.findings) > 0 {
		return
	}
	r.jobs(n, m)
	r.machines(m)
	o.SetupTime = r.matrix("setup_times", o.Attributes+1, o.Attributes)
	o.SetupCost = r.matrix("setup_costs", o.Attributes+1, o.Attributes)
	if len(r.findings) == 0 {
		r.weighable()
	}
}

func (r *ovenReader) jobs(n, m int) {
	eligible := r.sets("eligible_machine", n, 1, int64(m))
	earliest, latest := r.list("earliest_start", n, 0, limit), r.list("latest_end", n, 0, limit)
	least, most := r.list("min_time", n, 1, limit), r.list("max_time", n, 1, limit)
	size, kind := r.list("size", n, 0, limit), r.list("attribute", n, 1, int64(r.ovens.Attributes))
	if len(r.findings) > 0 {
		return
	}
	for i := range n {
		job := OvenJob{
			Earliest: earliest[i], Latest: latest[i], Min: least[i], Max: most[i], Size: size[i], Attribute: int(kind[i]),
		}
		for _, e := range eligible[i] {
			job.Eligible = append(job.Eligible, int(e))
		}
		if job.Max < job.Min {
			r.fail("max_time", i, fmt.Sprint(job.Max), fmt.Sprintf("at least the job's min_time, %d", job.Min), "the job may not stay as long as it must")
		}
		r.ovens.Jobs = append(r.ovens.Jobs, job)
	}
}

func (r *ovenReader) machines(m int) {
	capacity := r.list("max_cap", m, 0, limit)
	initial := r.list("initState", m, 1, int64(r.ovens.Attributes)+1)
	if r.values["min_cap"] != nil {
		// A least load is a rule of its own that no published instance uses.
		r.list("min_cap", m, 0, 0)
	}
	from, to := r.rows("m_a_s", m), r.rows("m_a_e", m)
	if len(r.findings) > 0 {
		return
	}
	for i := range m {
		oven := Oven{Capacity: capacity[i], Initial: int(initial[i])}
		if len(from[i]) != len(to[i]) {
			r.fail("m_a_e", i, fmt.Sprintf("%d ends", len(to[i])), fmt.Sprintf("as many as m_a_s has starts, %d", len(from[i])), "availability is not in pairs")
			continue
		}
		for k := range from[i] {
			s := Span{from[i][k], to[i][k]}
			if s.Start < 0 || s.End > limit || s.End < s.Start {
				r.fail("m_a_e", i, fmt.Sprintf("%d..%d", s.Start, s.End), fmt.Sprintf("0 ≤ start ≤ end ≤ %d", limit), "not a stretch of time")
			} else if s.Start < s.End {
				oven.Open = append(oven.Open, s)
			}
		}
		slices.SortFunc(oven.Open, func(a, b Span) int { return cmp.Compare(a.Start, b.Start) })
		for k := 1; k < len(oven.Open); k++ {
			if oven.Open[k].Start < oven.Open[k-1].End {
				r.fail("m_a_s", i, fmt.Sprint(oven.Open[k].Start), "stretches that do not overlap", "the oven is available twice at once")
			}
		}
		r.ovens.Ovens = append(r.ovens.Ovens, oven)
	}
}

// weighable is an error when the cost of a plan could leave 64 bits.
func (r *ovenReader) weighable() {
	o, f := &r.ovens, &r.ovens.Factors
	var run, time, cost float64
	for i := range o.Jobs {
		run += float64(o.Jobs[i].Max)
	}
	for i := range o.SetupTime {
		time = max(time, float64(slices.Max(o.SetupTime[i])))
		cost = max(cost, float64(slices.Max(o.SetupCost[i])))
	}
	n := float64(len(o.Jobs))
	worst := float64(f.RunTime)*run + n*(float64(f.Late)+float64(f.SetupTime)*time+float64(f.SetupCost)*cost)
	if worst*float64(Unit) > 1<<62 {
		r.fail("upper_bound_integer_objective", -1, "", "smaller factors, times or costs", "a plan's cost could be too large a number")
	}
}

// unknown warns of names that nothing reads.
func (r *ovenReader) unknown() {
	for _, name := range hints {
		r.used[name] = true
	}
	for _, name := range slices.Sorted(maps.Keys(r.values)) {
		if !r.used[name] && !resources.HasErrors(r.findings) {
			r.findings = append(r.findings, resources.Finding{
				Severity: resources.Warning, File: r.file, Line: r.values[name].line, Field: name, Text: "not used",
			})
		}
	}
}

// value is an assignment, nil with a finding if it is not there.
func (r *ovenReader) value(name string) *dzn {
	r.used[name] = true
	v := r.values[name]
	if v == nil {
		r.findings = append(r.findings, resources.Finding{File: r.file, Field: name, Allowed: "a value", Text: "missing"})
	}
	return v
}

func (r *ovenReader) number(name string, least, most int64) int64 {
	v := r.value(name)
	switch {
	case v == nil:
	case v.number == nil:
		r.fail(name, -1, "a list", "a whole number", "not a number")
	case *v.number < least || *v.number > most:
		r.fail(name, -1, fmt.Sprint(*v.number), fmt.Sprintf("%d to %d", least, most), "out of range")
	default:
		return *v.number
	}
	return 0
}

func (r *ovenReader) list(name string, n int, least, most int64) []int64 {
	v := r.value(name)
	if v == nil {
		return nil
	}
	if !v.isList || len(v.list) != n {
		r.fail(name, -1, fmt.Sprintf("%d entries", len(v.started)), fmt.Sprintf("a list of %d numbers", n), "wrong number of entries")
		return nil
	}
	for i, x := range v.list {
		if x < least || x > most {
			r.fail(name, i, fmt.Sprint(x), fmt.Sprintf("%d to %d", least, most), "out of range")
		}
	}
	return v.list
}

// sets are lists of numbers without order; they come back ascending.
func (r *ovenReader) sets(name string, n int, least, most int64) [][]int64 {
	v := r.value(name)
	if v == nil {
		return nil
	}
	if !v.isSets || len(v.sets) != n {
		r.fail(name, -1, fmt.Sprintf("%d entries", len(v.started)), fmt.Sprintf("a list of %d sets such as {1,2}", n), "wrong number of entries")
		return nil
	}
	for i := range v.sets {
		slices.Sort(v.sets[i])
		v.sets[i] = slices.Compact(v.sets[i])
		if len(v.sets[i]) == 0 {
			r.fail(name, i, "{}", fmt.Sprintf("%d to %d", least, most), "an empty set")
		} else if lo, hi := v.sets[i][0], v.sets[i][len(v.sets[i])-1]; lo < least || hi > most {
			r.fail(name, i, fmt.Sprintf("%d..%d", lo, hi), fmt.Sprintf("%d to %d", least, most), "out of range")
		}
	}
	return v.sets
}

func (r *ovenReader) rows(name string, n int) [][]int64 {
	v := r.value(name)
	if v == nil {
		return nil
	}
	if !v.isRows || len(v.rows) != n {
		r.fail(name, -1, fmt.Sprintf("%d entries", len(v.started)), fmt.Sprintf("%d rows such as [|1,2|3,4|]", n), "wrong number of rows")
		return nil
	}
	return v.rows
}

func (r *ovenReader) matrix(name string, rows, columns int) [][]int64 {
	m := r.rows(name, rows)
	for i, row := range m {
		if len(row) != columns {
			r.fail(name, i, fmt.Sprintf("%d numbers", len(row)), fmt.Sprintf("a row of %d", columns), "wrong number of entries")
			continue
		}
		for _, x := range row {
			if x < 0 || x > limit {
				r.fail(name, i, fmt.Sprint(x), fmt.Sprintf("0 to %d", int64(limit)), "out of range")
			}
		}
	}
	return m
}

// fail is an error at an assignment, or at its entry i, from 0.
func (r *ovenReader) fail(name string, i int, found, allowed, text string) {
	f := resources.Finding{File: r.file, Field: name, Found: found, Allowed: allowed, Text: text}
	if v := r.values[name]; v != nil {
		f.Line = v.line
		if i >= 0 && i < len(v.started) {
			f.Line = v.started[i]
		}
	}
	if i >= 0 {
		f.Field = fmt.Sprintf("%s[%d]", name, i+1)
	}
	r.findings = append(r.findings, f)
}
