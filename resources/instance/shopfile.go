// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"towpath/resources"
)

// ReadJobShop reads a job shop in the text form of the benchmark libraries:
// lines that begin with # and empty lines aside, the first line is the number
// of jobs and of machines, then comes a line per job with a pair "machine
// time" for every machine, machines from 0. Every fault is a finding; the shop
// is nil when there is one.
func ReadJobShop(file string, text []byte) (*Shop, []resources.Finding) {
	r := &shopReader{file: file}
	return r.read(text, r.pairs)
}

// ReadFlexibleShop reads a flexible job shop in the text form of Brandimarte
// (1993): the first line is the number of jobs and of machines, and perhaps
// the mean number of machines a step has; a line per job follows with its
// number of steps and, for each, the number of its machines and a pair
// "machine time" for each of them, machines from 1.
func ReadFlexibleShop(file string, text []byte) (*Shop, []resources.Finding) {
	r := &shopReader{file: file, mean: true}
	return r.read(text, r.choices)
}

// maxMachines keeps a short file from asking for more machines than fit.
const maxMachines = 100_000

// shopReader reads line by line and collects what is wrong.
type shopReader struct {
	file     string
	mean     bool // a third number may follow in the first line
	shop     Shop
	jobs     int
	findings []resources.Finding
	line     int
}

func (r *shopReader) read(text []byte, job func([]string) []Step) (*Shop, []resources.Finding) {
	r.shop.Name = r.file
	if !utf8.Valid(text) {
		r.fail("", "", "plain text with numbers", "this is not text")
		return nil, r.findings
	}
	header := false
	for i, raw := range strings.Split(string(text), "\n") {
		r.line = i + 1
		fields := strings.Fields(raw)
		switch {
		case len(fields) == 0 || strings.HasPrefix(fields[0], "#"):
		case !header:
			header = true
			if !r.header(fields) {
				return nil, r.findings
			}
		case len(r.shop.Jobs) == r.jobs:
			r.fail("job "+strconv.Itoa(r.jobs), fields[0], fmt.Sprintf("%d lines of jobs, as the first line says", r.jobs), "more jobs than announced")
			return nil, r.findings
		default:
			r.shop.Jobs = append(r.shop.Jobs, job(fields))
		}
	}
	if !header {
		r.fail("", "", "a first line with the number of jobs and of machines", "the file is empty")
	} else if n := len(r.shop.Jobs); n < r.jobs {
		r.fail("job "+strconv.Itoa(n), "", fmt.Sprintf("%d lines of jobs, as the first line says", r.jobs), fmt.Sprintf("the file is cut short after %d jobs", n))
	}
	if len(r.findings) > 0 {
		return nil, r.findings
	}
	return &r.shop, nil
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
	return steps
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
	if len(found) > 40 {
		found = found[:40] + "…"
	}
	r.findings = append(r.findings, resources.Finding{
		Severity: resources.Error, File: r.file, Line: r.line, Field: field, Found: found, Allowed: allowed, Text: text,
	})
}
