// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"bytes"
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
	r := &ovenReader{file: file, used: map[string]bool{}}
	if !isText(text) {
		r.findings = append(r.findings, resources.Finding{
			File: file, Allowed: "MiniZinc data, plain text", Text: "this is not text",
		})
		return nil, r.findings
	}
	if len(bytes.TrimSpace(text)) == 0 {
		r.findings = append(r.findings, resources.Finding{File: file, Allowed: "MiniZinc data", Text: "the file is empty"})
		return nil, r.findings
	}
	scanner := &dznScanner{text: text}
	values, errs := scanner.assignments()
	for _, e := range errs {
		r.findings = append(r.findings, resources.Finding{
			File: file, Line: e.line, Field: e.field, Found: e.found, Allowed: e.wanted, Text: e.text,
		})
	}
	r.values, r.last = values, scanner.line
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
	last     int // line of the file
	used     map[string]bool
	ovens    Ovens
	findings []resources.Finding
}

// hints are assignments that only help a solver.
var hints = []string{"l", "s", "running_time_bound", "min_duration", "max_duration", "max_setup_time", "max_setup_cost"}

// greatest keeps a factor times a sum of times inside 64 bits.
const greatest = 1_000_000_000_000

// read reads everything even where counts are missing or wrong, so that all
// faults are found at once; what depends on another value waits for that.
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
	r.jobs(n, m)
	r.machines(m)
	o.SetupTime = r.matrix("setup_times", o.Attributes)
	o.SetupCost = r.matrix("setup_costs", o.Attributes)
	if !resources.HasErrors(r.findings) {
		r.weighable()
		r.runnable()
	}
}

// orLimit is the largest number of a counted thing, when the count is known.
func orLimit(count int) int64 {
	if count == 0 {
		return limit
	}
	return int64(count)
}

func (r *ovenReader) jobs(n, m int) {
	eligible := r.sets("eligible_machine", n, 1, orLimit(m))
	earliest, latest := r.list("earliest_start", n, 0, limit), r.list("latest_end", n, 0, limit)
	least, most := r.list("min_time", n, 1, limit), r.list("max_time", n, 1, limit)
	size, kind := r.list("size", n, 0, limit), r.list("attribute", n, 1, orLimit(r.ovens.Attributes))
	for i := range min(len(least), len(most)) {
		if least[i] > 0 && most[i] > 0 && most[i] < least[i] {
			r.fail("max_time", i, fmt.Sprint(most[i]), fmt.Sprintf("at least the job's min_time, %d", least[i]), "the job may not stay as long as it must")
		}
	}
	if resources.HasErrors(r.findings) {
		return
	}
	for i := range n {
		job := OvenJob{
			Earliest: earliest[i], Latest: latest[i], Min: least[i], Max: most[i], Size: size[i], Attribute: int(kind[i]),
		}
		for _, e := range eligible[i] {
			job.Eligible = append(job.Eligible, int(e))
		}
		r.ovens.Jobs = append(r.ovens.Jobs, job)
	}
}

func (r *ovenReader) machines(m int) {
	none := int64(limit)
	if r.ovens.Attributes > 0 {
		none = int64(r.ovens.Attributes) + 1
	}
	capacity, initial := r.list("max_cap", m, 0, limit), r.list("initState", m, 1, none)
	if r.values["min_cap"] != nil {
		// The published problem has no rule about a least load.
		if least := r.list("min_cap", m, 0, limit); slices.ContainsFunc(least, func(x int64) bool { return x > 0 }) {
			r.warn("min_cap", "a least load is no rule of the published problem and is not kept")
		}
	}
	from, to := r.rows("m_a_s", m), r.rows("m_a_e", m)
	for i := range min(len(from), len(to)) {
		oven := Oven{Open: r.open(i, from[i], to[i])}
		if i < len(capacity) && i < len(initial) {
			oven.Capacity, oven.Initial = capacity[i], int(initial[i])
		}
		r.ovens.Ovens = append(r.ovens.Ovens, oven)
	}
}

// open is the availability of one oven; intervals without length say nothing.
func (r *ovenReader) open(i int, from, to []int64) []Span {
	if len(from) != len(to) {
		r.fail("m_a_e", i, fmt.Sprintf("%d ends", len(to)), fmt.Sprintf("as many as m_a_s has starts, %d", len(from)), "availability is not in pairs")
		return nil
	}
	var open []Span
	for k := range from {
		s := Span{from[k], to[k]}
		if s.Start < 0 || s.End > limit || s.End < s.Start {
			r.fail("m_a_e", i, fmt.Sprintf("%d..%d", s.Start, s.End), fmt.Sprintf("0 ≤ start ≤ end ≤ %d", limit), "not a stretch of time")
		} else if s.Start < s.End {
			open = append(open, s)
		}
	}
	slices.SortFunc(open, func(a, b Span) int { return cmp.Compare(a.Start, b.Start) })
	for k := 1; k < len(open); k++ {
		if open[k].Start < open[k-1].End {
			r.fail("m_a_s", i, fmt.Sprint(open[k].Start), "stretches that do not overlap", "the oven is available twice at once")
		}
	}
	return open
}

// runnable is an error for each job that no oven can run, even alone: its size
// must fit, and set-up and run must lie inside one availability interval.
func (r *ovenReader) runnable() {
	o := &r.ovens
	setup := make([]int64, o.Attributes)
	for to := range setup {
		setup[to] = o.SetupTime[0][to]
		for from := range o.SetupTime {
			setup[to] = min(setup[to], o.SetupTime[from][to])
		}
	}
	for i := range o.Jobs {
		job := &o.Jobs[i]
		var room, longest int64
		fits := false
		for _, m := range job.Eligible {
			oven := &o.Ovens[m-1]
			room = max(room, oven.Capacity)
			if oven.Capacity < job.Size {
				continue
			}
			fits = true
			for _, s := range oven.Open {
				longest = max(longest, s.End-max(s.Start+setup[job.Attribute-1], job.Earliest))
			}
		}
		switch {
		case !fits:
			r.fail("size", i, fmt.Sprint(job.Size), fmt.Sprintf("at most %d, the largest max_cap of its eligible_machine", room), "nobody can run the job: it fits none of its ovens")
		case longest < job.Min:
			r.fail("min_time", i, fmt.Sprint(job.Min), fmt.Sprintf("at most %d, what is left of the longest availability interval of its ovens after earliest_start and set-up", longest),
				"nobody can run the job: no oven is available for so long")
		}
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
	if resources.HasErrors(r.findings) {
		return
	}
	for _, name := range slices.Sorted(maps.Keys(r.values)) {
		if !r.used[name] {
			r.warn(name, "not used")
		}
	}
}

func (r *ovenReader) warn(name, text string) {
	r.findings = append(r.findings, resources.Finding{
		Severity: resources.Warning, File: r.file, Line: r.values[name].line, Field: name, Text: text,
	})
}

// value is an assignment, nil with a finding if it is not there, and nil
// without one if what it says could not be read.
func (r *ovenReader) value(name string) *dzn {
	r.used[name] = true
	v := r.values[name]
	if v == nil {
		r.findings = append(r.findings, resources.Finding{File: r.file, Line: r.last, Field: name, Allowed: "a value", Text: "missing"})
		return nil
	}
	if v.number == nil && !v.isList && !v.isSets && !v.isRows {
		return nil
	}
	return v
}

func (r *ovenReader) number(name string, least, most int64) int64 {
	v := r.value(name)
	switch {
	case v == nil:
	case v.number == nil:
		r.fail(name, -1, v.kind(), "a whole number", "not a number")
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
	if !v.isList {
		r.fail(name, -1, v.kind(), "a list of numbers", "not a list of numbers")
		return nil
	}
	r.counted(name, len(v.list), n, "a list of %d numbers", "entries")
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
	if !v.isSets {
		r.fail(name, -1, v.kind(), "a list of sets such as {1,2}", "not a list of sets")
		return nil
	}
	r.counted(name, len(v.sets), n, "a list of %d sets such as {1,2}", "entries")
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
	if !v.isRows {
		r.fail(name, -1, v.kind(), "rows such as [|1,2|3,4|]", "not rows of numbers")
		return nil
	}
	r.counted(name, len(v.rows), n, "%d rows such as [|1,2|3,4|]", "rows")
	return v.rows
}

// counted is an error unless there are n of something; 0: nobody knows how
// many there should be.
func (r *ovenReader) counted(name string, found, n int, allowed, what string) {
	if n > 0 && found != n {
		r.fail(name, -1, fmt.Sprintf("%d %s", found, what), fmt.Sprintf(allowed, n), "wrong number of "+what)
	}
}

// kind is what a value is, in words.
func (v *dzn) kind() string {
	switch {
	case v.number != nil:
		return "a number"
	case v.isRows:
		return "rows"
	case v.isSets && !v.isList:
		return "sets"
	}
	return "a list"
}

// matrix has a row for each attribute, and one for none, and a column for each.
func (r *ovenReader) matrix(name string, attributes int) [][]int64 {
	rows := 0
	if attributes > 0 {
		rows = attributes + 1
	}
	m := r.rows(name, rows)
	for i, row := range m {
		if attributes > 0 && len(row) != attributes {
			r.fail(name, i, fmt.Sprintf("%d numbers", len(row)), fmt.Sprintf("a row of %d", attributes), "wrong number of entries")
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
