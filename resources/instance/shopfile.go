// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"
	"strconv"
	"strings"

	"towpath/resources"
)

// ReadJobShop reads a job shop in the text form of the benchmark libraries:
// empty lines and what follows a # aside, the first line is the number of jobs
// and of machines, then comes a line per job with a pair "machine time" for
// every machine, machines from 0. Where there are not as many lines as jobs,
// line ends do not count, as long as there are as many numbers as there should
// be. Every fault is a finding; the shop is nil when there is an error. A job
// that comes to a machine twice is planned as it is, with a warning.
func ReadJobShop(file string, text []byte) (*Shop, []resources.Finding) {
	r := &shopReader{file: file, job: (*shopReader).pairs, even: true}
	return r.read(text)
}

// ReadFlexibleShop reads a flexible job shop in the text form of Brandimarte
// (1993): the first line is the number of jobs and of machines, and perhaps
// the mean number of machines a step has; a line per job follows with its
// number of steps and, for each, the number of its machines and a pair
// "machine time" for each of them, machines from 1.
func ReadFlexibleShop(file string, text []byte) (*Shop, []resources.Finding) {
	r := &shopReader{file: file, job: (*shopReader).choices, mean: true}
	return r.read(text)
}

// maxMachines keeps a short file from asking for more machines than fit.
const maxMachines = 100_000

// shopReader reads line by line and collects what is wrong.
type shopReader struct {
	file     string
	job      func(*shopReader, []string) []Step // reads one line of a job
	even     bool                               // every job has a pair for each machine
	mean     bool                               // a third number may follow in the first line
	shop     Shop
	jobs     int
	findings []resources.Finding
	line     int
}

// shopLine is a line with something on it.
type shopLine struct {
	line   int
	fields []string
}

func (r *shopReader) read(text []byte) (*Shop, []resources.Finding) {
	r.shop.Name = r.file
	if !isText(text) {
		r.fail("", "", "plain text with numbers", "this is not text")
		return nil, r.findings
	}
	lines := shopLines(string(text))
	if len(lines) == 0 {
		r.fail("", "", "a first line with the number of jobs and of machines", "the file is empty")
		return nil, r.findings
	}
	r.line = lines[0].line
	if !r.header(lines[0].fields) {
		return nil, r.findings
	}
	lines = r.regroup(lines[1:])
	for i := range lines {
		r.line = lines[i].line
		if i == r.jobs {
			r.fail(fmt.Sprintf("job %d", i), lines[i].fields[0], fmt.Sprintf("%d lines of jobs, as the first line says", r.jobs), "more jobs than announced")
			break
		}
		r.shop.Jobs = append(r.shop.Jobs, r.job(r, lines[i].fields))
	}
	if n := len(lines); n < r.jobs {
		r.fail(fmt.Sprintf("job %d", n), "", fmt.Sprintf("%d lines of jobs, as the first line says", r.jobs), fmt.Sprintf("the file is cut short after %d jobs", n))
	}
	if resources.HasErrors(r.findings) {
		return nil, r.findings
	}
	return &r.shop, r.findings
}

// shopLines splits a text into lines and fields, without comments.
func shopLines(text string) []shopLine {
	var lines []shopLine
	for i, raw := range strings.Split(strings.TrimPrefix(text, "\ufeff"), "\n") {
		raw, _, _ = strings.Cut(raw, "#")
		if fields := strings.Fields(raw); len(fields) > 0 {
			lines = append(lines, shopLine{i + 1, fields})
		}
	}
	return lines
}

// regroup makes a line a job of numbers that are broken into lines otherwise.
func (r *shopReader) regroup(lines []shopLine) []shopLine {
	var all []string
	var at []int
	for _, l := range lines {
		for _, f := range l.fields {
			all, at = append(all, f), append(at, l.line)
		}
	}
	width := 2 * r.shop.Machines
	if !r.even || len(lines) == r.jobs || len(all)%width != 0 || len(all)/width != r.jobs {
		return lines
	}
	out := make([]shopLine, r.jobs)
	for j := range out {
		out[j] = shopLine{at[j*width], all[j*width : (j+1)*width]}
	}
	return out
}

func (r *shopReader) header(fields []string) bool {
	most := 2
	if r.mean {
		most = 3
	}
	if len(fields) < 2 || len(fields) > most {
		r.fail("first line", strings.Join(fields, " "), "the number of jobs and the number of machines", fmt.Sprintf("%d numbers", len(fields)))
		return false
	}
	jobs, ok := r.number("jobs", fields[0], 1, limit)
	machines, ok2 := r.number("machines", fields[1], 1, maxMachines)
	if r.mean && len(fields) == 3 {
		if _, err := strconv.ParseFloat(fields[2], 64); err != nil {
			r.fail("machines per step", fields[2], "a number", "the mean number of machines is not one")
			return false
		}
	}
	r.jobs, r.shop.Machines = int(jobs), int(machines)
	return ok && ok2
}

// pairs reads a job that passes every machine.
func (r *shopReader) pairs(fields []string) []Step {
	job := len(r.shop.Jobs)
	if len(fields) != 2*r.shop.Machines {
		r.fail(fmt.Sprintf("job %d", job), "", fmt.Sprintf("%d numbers: machine and time for each of %d machines", 2*r.shop.Machines, r.shop.Machines),
			fmt.Sprintf("%d numbers", len(fields)))
		return nil
	}
	var steps []Step
	for k := 0; k < len(fields); k += 2 {
		where := fmt.Sprintf("job %d, step %d", job, k/2)
		steps = append(steps, Step{Options: r.option(where, fields[k], fields[k+1], 0)})
	}
	r.again(job, steps)
	return steps
}

// again warns of a machine that a job comes to more than once.
func (r *shopReader) again(job int, steps []Step) {
	first := map[int]int{}
	for k := range steps {
		for _, o := range steps[k].Options {
			if before, twice := first[o.Machine]; twice {
				r.findings = append(r.findings, resources.Finding{
					Severity: resources.Warning, File: r.file, Line: r.line, Field: fmt.Sprintf("job %d, step %d, machine", job, k),
					Found: strconv.Itoa(o.Machine), Text: fmt.Sprintf("the job comes to a machine again, after step %d", before),
				})
			} else {
				first[o.Machine] = k
			}
		}
	}
}

// choices reads a job whose steps name their machines.
func (r *shopReader) choices(fields []string) []Step {
	where := fmt.Sprintf("job %d", len(r.shop.Jobs))
	steps, ok := r.number(where+", steps", fields[0], 1, limit)
	if !ok {
		return nil
	}
	fields = fields[1:]
	var out []Step
	for k := range int(steps) {
		where := fmt.Sprintf("%s, step %d", where, k)
		if len(fields) == 0 {
			r.fail(where, "", fmt.Sprintf("%d steps", steps), "the line is cut short")
			return nil
		}
		n, ok := r.number(where+", machines", fields[0], 1, int64(r.shop.Machines))
		if !ok {
			return nil
		}
		if len(fields) < 1+2*int(n) {
			r.fail(where, "", fmt.Sprintf("machine and time, %d times", n), "the line is cut short")
			return nil
		}
		step := Step{}
		for i := range int(n) {
			step.Options = append(step.Options, r.option(where, fields[1+2*i], fields[2+2*i], 1)...)
		}
		out = append(out, step)
		fields = fields[1+2*int(n):]
	}
	if len(fields) > 0 {
		r.fail(where, fields[0], fmt.Sprintf("%d steps, as its first number says", steps), "the line goes on")
	}
	return out
}

// option reads a machine, counted from first, and a time.
func (r *shopReader) option(where, machine, time string, first int64) []Option {
	m, ok := r.number(where+", machine", machine, first, int64(r.shop.Machines)-1+first)
	t, ok2 := r.number(where+", time", time, 0, limit)
	if !ok || !ok2 {
		return nil
	}
	return []Option{{Machine: int(m - first), Time: t}}
}

func (r *shopReader) number(field, text string, least, most int64) (int64, bool) {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < least || n > most {
		r.fail(field, text, fmt.Sprintf("a whole number from %d to %d", least, most), "not allowed here")
		return 0, false
	}
	return n, true
}

func (r *shopReader) fail(field, found, allowed, text string) {
	if short := []rune(found); len(short) > 40 {
		found = string(short[:40]) + "…"
	}
	r.findings = append(r.findings, resources.Finding{
		Severity: resources.Error, File: r.file, Line: r.line, Field: field, Found: found, Allowed: allowed, Text: text,
	})
}
