// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"fmt"
	"math"

	"towpath/resources"
	"towpath/scheduler/risk"
)

// leastStops is how many breakdowns must be seen before a station is said to
// have them at all; our own choice, without a source.
const leastStops = 3

// breakdowns compares the running time between breakdowns and how long they
// last. Only what began after the log did counts.
func (l *learner) breakdowns(st *resources.Station, jobs []Job) []Proposal {
	every := Proposal{About: Breakdowns, Station: st.ID, Revisions: []resources.Revision{}}
	repair := Proposal{About: Repair, Station: st.ID, Revisions: []resources.Revision{}}
	running := 0.0
	for i := range jobs {
		if j := &jobs[i]; j.Station == st.ID && j.Span.Start >= l.o.Since {
			running += max(0, float64(j.Took))
			every.dates(j.Span.End)
		}
	}
	var logs []float64
	for i := range l.o.Stops {
		if s := &l.o.Stops[i]; s.Station == st.ID && s.Start >= l.o.Since {
			logs = append(logs, math.Log(float64(s.Length())))
			repair.dates(s.End)
		}
	}
	n := len(logs)
	if running == 0 {
		return nil
	}
	every.N, repair.N = n, n
	weight, was := 0.0, resources.Breakdowns{}
	if st.Breakdowns != nil {
		weight, was = l.o.Weight, *st.Breakdowns
	}
	every.Plant, repair.Plant = float64(was.Every), float64(was.Repair)
	low, high := MeanTimeInterval(running, n, l.o.Confidence)
	every.Low = low
	if !math.IsInf(high, 1) {
		every.High = high
	}
	if n > 0 {
		every.Seen = running / float64(n)
	}
	if weight+float64(n) > 0 {
		every.Estimate = shrinkMeanTime(every.Plant, running, n, weight)
	}
	l.repair(&repair, st.Breakdowns, logs)
	switch {
	case n == 0 && st.Breakdowns == nil:
		return nil
	case n < leastStops && st.Breakdowns == nil:
		every.Why = fmt.Sprintf("too few: %d of %d", n, leastStops)
	case st.Breakdowns == nil:
		every.Why = "the plant file has none for this station"
	case !every.within(every.Plant):
		every.Why = "the plant's mean lies outside the interval"
	case repair.Low > 0 && !repair.within(l.medianRepair(&was)):
		every.Why = "agrees with the plant file; the repair does not"
	default:
		every.Why = "agrees with the plant file"
	}
	repair.Why = "proposed together with the time between them, if at all"
	if every.Why == "agrees with the plant file" || every.Estimate < float64(resources.Minute) || n < leastStops {
		return withRepair(every, repair)
	}
	text := "{every: " + durationText(every.Estimate) + ", repair: " + durationText(repair.Estimate)
	if was.Spread.Shape != resources.Unsaid && was.Spread.Shape != resources.FixedShape {
		text += ", spread: " + spreadText(was.Spread)
	} else if was.Spread.Shape == resources.FixedShape {
		text += ", spread: {shape: fixed}"
	}
	every.Revisions = append(every.Revisions, resources.Revision{Station: st.ID, Key: "breakdowns", Text: text + "}"})
	return withRepair(every, repair)
}

// withRepair leaves the repairs out when none was seen.
func withRepair(every, repair Proposal) []Proposal {
	if repair.N == 0 {
		return []Proposal{every}
	}
	return []Proposal{every, repair}
}

// repair fills in how long breakdowns last. The shape stays that of the plant
// file, exponential unless it says another; only its scale is learned.
func (l *learner) repair(x *Proposal, was *resources.Breakdowns, logs []float64) {
	x.Estimate = x.Plant
	if len(logs) == 0 {
		return
	}
	median := Median(logs)
	x.Seen = math.Exp(median)
	if low, high, ok := MedianInterval(logs, l.o.Confidence); ok {
		x.Low, x.High = math.Exp(low), math.Exp(high)
	}
	if was == nil {
		x.Estimate = x.Seen / math.Ln2 // mean of an exponential law with this median
		return
	}
	mid := math.Log(l.medianRepair(was))
	got := Belief{Mu: mid}.Shrink(len(logs), median, 0, l.o.Weight)
	x.Estimate = x.Plant * math.Exp(got.Mu-mid)
}

// medianRepair is the median of the repairs as the plant file has them.
func (l *learner) medianRepair(b *resources.Breakdowns) float64 {
	if b.Spread.Shape == resources.Unsaid {
		return math.Ln2 * float64(b.Repair)
	}
	mean, _ := moments(b.Spread)
	if quantile := risk.Quantile(b.Spread); quantile != nil {
		mean = quantile(0.5)
	}
	return mean * float64(b.Repair)
}
