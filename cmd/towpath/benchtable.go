// SPDX-License-Identifier: Apache-2.0

package main

import (
	"fmt"
	"io"
	"strings"

	"towpath/cmd/towpath/benchmark"
)

// benchTable prints rows as they come, so that its columns are fixed before
// the first.
type benchTable struct {
	name      int // width of the first column
	published bool
	begun     bool
	rows      int
	cost      float64
	floor     float64
	ratio     float64
	ratios    int
	done      float64 // iterations
	seconds   float64
	parts     benchmark.Parts // sums, of whole shops
	shops     bool
}

func (t *benchTable) columns(names []string, published bool) {
	t.name, t.published = len("instance"), published
	for _, n := range names {
		t.name = max(t.name, len([]rune(n)))
	}
}

func (t *benchTable) row(out io.Writer, s *benchmark.Solved) error {
	parts, shop := s.Cost.(benchmark.Parts)
	t.shops = shop
	if err := t.head(out); err != nil {
		return err
	}
	seconds := float64(s.ElapsedMS) / 1000
	t.rows++
	t.done += float64(s.Iterations)
	t.seconds += seconds
	if shop {
		t.parts.LostOrders += parts.LostOrders
		t.parts.LateOrders += parts.LateOrders
		t.parts.Tardiness += parts.Tardiness
		t.parts.OvenSeconds += parts.OvenSeconds
		t.parts.SetupSeconds += parts.SetupSeconds
		return t.print(out, s.Instance, t.shop(float64(parts.LostOrders), float64(parts.LateOrders), float64(parts.Tardiness),
			float64(parts.OvenSeconds), float64(parts.SetupSeconds), "%8.0f"), float64(s.Iterations), seconds)
	}
	t.cost += s.Value
	t.floor += s.Floor
	if s.Ratio > 0 {
		t.ratio += s.Ratio
		t.ratios++
	}
	return t.print(out, s.Instance, t.one(s.Value, s.Floor, s.Published, s.Ratio), float64(s.Iterations), seconds)
}

func (t *benchTable) head(out io.Writer) error {
	if t.begun {
		return nil
	}
	t.begun = true
	middle := fmt.Sprintf("%12s %12s %7s", "cost", "bound", "gap")
	if t.shops {
		middle = fmt.Sprintf("%8s %8s %14s %10s %12s", "lost", "late", "tardiness h", "ovens h", "changeover h")
	} else if t.published {
		middle += fmt.Sprintf(" %12s %8s", "published", "ratio")
	}
	_, err := fmt.Fprintf(out, "%-*s %s %12s %8s\n", t.name, "instance", middle, "iterations", "seconds")
	return err
}

// mean is the last line.
func (t *benchTable) mean(out io.Writer) error {
	if t.rows == 0 {
		return nil
	}
	n := float64(t.rows)
	var middle string
	if t.shops {
		x := &t.parts
		middle = t.shop(float64(x.LostOrders)/n, float64(x.LateOrders)/n, float64(x.Tardiness)/n, float64(x.OvenSeconds)/n, float64(x.SetupSeconds)/n, "%8.1f")
	} else {
		middle = t.one(t.cost/n, t.floor/n, 0, t.ratio/float64(max(1, t.ratios)))
	}
	return t.print(out, "mean of "+fmt.Sprint(t.rows), middle, t.done/n, t.seconds/n)
}

func (t *benchTable) print(out io.Writer, name, middle string, iterations, seconds float64) error {
	pad := max(0, t.name-len([]rune(name)))
	_, err := fmt.Fprintf(out, "%s%s %s %12.0f %8.1f\n", name, strings.Repeat(" ", pad), middle, iterations, seconds)
	return err
}

func (t *benchTable) one(cost, floor, published, ratio float64) string {
	gap := "-"
	if cost > 0 {
		gap = fmt.Sprintf("%.1f %%", 100*(cost-floor)/cost)
	}
	text := fmt.Sprintf("%12s %12s %7s", figure(cost), figure(floor), gap)
	if t.published {
		text += fmt.Sprintf(" %12s %8s", orDash(published, figure(published)), orDash(ratio, fmt.Sprintf("%.4f", ratio)))
	}
	return text
}

func (t *benchTable) shop(lost, late, tardiness, ovens, changeovers float64, count string) string {
	return fmt.Sprintf(count+" "+count+" %14.1f %10.1f %12.1f", lost, late, tardiness/3600, ovens/3600, changeovers/3600)
}

// figure writes whole numbers as such and others with six places.
func figure(x float64) string {
	if x == float64(int64(x)) {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.6f", x)
}

func orDash(x float64, text string) string {
	if x == 0 {
		return "-"
	}
	return text
}

// printSummary says how the rows compare with what has been published.
func printSummary(out io.Writer, s *benchmark.Summary) error {
	w := &lines{out: out}
	w.add("")
	w.add("%s with a published best value: mean of cost / best %.6f, worst %.4f, at or below it %d", plural(s.Rows, "instance"), s.MeanRatio(), s.Worst, s.Equal)
	if s.Means > 0 {
		w.add("at or below the published mean of repeated runs: %d of %d (%.1f %%)", s.AtOrUnder, s.Means, 100*float64(s.AtOrUnder)/float64(s.Means))
	}
	w.add("better than the best published: %d", len(s.NewBest))
	for _, x := range s.NewBest {
		w.add("  %s", x)
	}
	return w.err
}
