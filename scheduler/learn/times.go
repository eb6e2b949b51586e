// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
)

// Differences too small to change a plant for; our own choice, without a
// source.
const (
	leastShift  = 0.03 // of a time
	leastSpread = 1.33 // times as wide, or as narrow
	enough      = 30   // observations for a spread
)

// usual is how the plant file says that an operation varies on a station.
type usual struct {
	standard   float64            // seconds, all parts
	share      [3]float64         // of that: load, run, unload
	mean       [3]float64         // mean factor of each
	run        resources.Spread   // as the file has it for the run
	total      Belief             // of the whole, over standard
	factor, cv float64            // its mean and spread
	station    *resources.Station // where most of it is done
}

// times compares how long an operation takes, apart for each station with a
// time of its own.
func (l *learner) times(p *resources.Product, op *resources.Operation) []Proposal {
	groups := map[string][]*Job{}
	for _, j := range l.seen[opOf{p.ID, op.ID}] {
		at := ""
		if _, own := op.RunAt[j.Station]; own {
			at = j.Station
		}
		groups[at] = append(groups[at], j)
	}
	var all []Proposal
	for _, at := range slices.Sorted(maps.Keys(groups)) {
		all = append(all, l.time(p, op, at, groups[at]))
	}
	return all
}

func (l *learner) time(p *resources.Product, op *resources.Operation, at string, jobs []*Job) Proposal {
	x := Proposal{About: Time, Product: p.ID, Operation: op.ID, Station: at, N: len(jobs), Revisions: []resources.Revision{}}
	logs := make([]float64, len(jobs))
	on := map[string]int{}
	for i, j := range jobs {
		logs[i] = math.Log(float64(j.Took) / float64(j.Standard))
		on[j.Station]++
		x.dates(j.Span.End)
	}
	most := ""
	for _, id := range slices.Sorted(maps.Keys(on)) {
		if on[id] > on[most] {
			most = id
		}
	}
	u := l.usual(op, l.s.Plant.Station(most))
	median, deviation := Median(logs), Deviation(logs)
	got := u.total.Shrink(x.N, median, min(deviation, sigmaOf(widestCV)), l.o.Weight)
	factor := math.Exp(got.Mu + got.Sigma*got.Sigma/2)
	x.Plant, x.Seen, x.Estimate = u.standard*u.factor, u.standard*math.Exp(median), u.standard*factor
	x.PlantCV, x.SeenCV, x.EstimateCV = u.cv, cvOf(min(deviation, sigmaOf(widestCV))), cvOf(got.Sigma)
	low, high, known := MedianInterval(logs, l.o.Confidence)
	if known {
		x.Low, x.High = u.standard*math.Exp(low), u.standard*math.Exp(high)
	}
	shifted := math.Abs(factor/u.factor-1) >= leastShift
	wider := u.cv == 0 && x.EstimateCV > 0.01 || u.cv > 0 && (x.EstimateCV > leastSpread*u.cv || x.EstimateCV*leastSpread < u.cv)
	switch {
	case x.N < l.o.Least || !known:
		x.Why = fmt.Sprintf("too few: %d of %d", x.N, l.o.Least)
		return x
	case shifted && !x.within(u.standard*math.Exp(u.total.Mu)):
		x.Why = "the plant's median lies outside the interval"
	case wider && x.N >= enough:
		x.Why = "the spread is another"
		factor = u.factor
	default:
		x.Why = "agrees with the plant file"
		return x
	}
	x.Revisions = u.revise(p, op, at, factor, x.EstimateCV, wider && x.N >= enough)
	return x
}

// usual works out how the plant says that an operation varies as a whole: the
// parts vary each by itself, so the whole varies less than they do.
func (l *learner) usual(op *resources.Operation, st *resources.Station) usual {
	chance := l.s.Plant.Chance.Or(resources.DefaultChance())
	hands, run := op.Spread.Or(chance.Hands), chance.Machine
	switch {
	case op.Recipe != "":
		run = chance.Cure
	case slices.ContainsFunc(op.Needs, func(n resources.Need) bool { return n.Part == resources.PartRun && n.Share >= 1000 }):
		run = chance.Hands
	}
	u := usual{run: op.Spread.Or(run), station: st}
	parts := [3]float64{float64(op.Load + op.LoadEach), float64(l.s.Plant.RunTime(op, st)), float64(op.Unload + op.UnloadEach)}
	u.standard = parts[0] + parts[1] + parts[2]
	if u.standard == 0 {
		u.standard, u.total.Sigma, u.factor = 1, 0, 1
		return u
	}
	variance := 0.0
	for i, spread := range []resources.Spread{hands, u.run, hands} {
		mean, cv := moments(spread)
		u.share[i], u.mean[i] = parts[i]/u.standard, mean
		u.factor += u.share[i] * mean
		variance += math.Pow(u.share[i]*mean*cv, 2)
	}
	u.cv = math.Sqrt(variance) / u.factor
	sigma := sigmaOf(u.cv)
	u.total = Belief{Mu: math.Log(u.factor) - sigma*sigma/2, Sigma: sigma}
	return u
}

// revise changes the run of an operation so that the whole has another mean;
// where the run is not given as a time, its spread. With vary the spread
// changes too.
func (u *usual) revise(p *resources.Product, op *resources.Operation, at string, factor, cv float64, vary bool) []resources.Revision {
	all := []resources.Revision{}
	add := func(key, text string) {
		all = append(all, resources.Revision{Product: p.ID, Operation: op.ID, Key: key, Text: text})
	}
	parts := math.Sqrt(u.share[0]*u.share[0] + u.share[1]*u.share[1] + u.share[2]*u.share[2])
	own := cv / max(parts, 1e-9)
	plain := at != "" || op.Recipe == "" && op.Run > 0
	if !plain {
		if !vary {
			_, own = moments(u.run)
		}
		add("spread", spreadText(reshape(u.run, factor, own)))
		return all
	}
	run := u.standard * u.share[1]
	run = max(run/5, run+u.standard*(factor-u.factor)/u.mean[1])
	if math.Abs(factor/u.factor-1) >= leastShift {
		if at == "" {
			if u.station.Speed > 0 {
				run *= u.station.Speed
			}
			add("run", durationText(run))
		} else {
			add("run_at", runAtText(op.RunAt, at, run))
		}
	}
	if vary {
		add("spread", spreadText(reshape(u.run, u.mean[1], own)))
	}
	return all
}

func runAtText(was map[string]resources.Seconds, at string, run float64) string {
	var parts []string
	for _, id := range slices.Sorted(maps.Keys(was)) {
		took := float64(was[id])
		if id == at {
			took = run
		}
		parts = append(parts, strconv.Quote(id)+": "+durationText(took))
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// durationText is a time as a plant file has it: to the minute from 20 minutes
// on, else to the second.
func durationText(seconds float64) string {
	if seconds >= 20*60 {
		return fmt.Sprintf("%.0fm", seconds/60)
	}
	return fmt.Sprintf("%.0fs", max(1, seconds))
}

var shapeNames = map[resources.Shape]string{
	resources.Lognormal: "lognormal", resources.Gamma: "gamma", resources.Triangular: "triangular", resources.Pert: "pert", resources.Empirical: "empirical",
}

// spreadText is a spread as a plant file has it.
func spreadText(s resources.Spread) string {
	text := "{shape: " + shapeNames[s.Shape]
	switch s.Shape {
	case resources.Lognormal, resources.Gamma:
		if s.Mean != 1 {
			text += fmt.Sprintf(", mean: %g", s.Mean)
		}
		text += fmt.Sprintf(", cv: %g", s.CV)
	case resources.Triangular, resources.Pert:
		text += fmt.Sprintf(", low: %g, likely: %g, high: %g", s.Low, s.Likely, s.High)
	default:
		parts := make([]string, len(s.Values))
		for i, v := range s.Values {
			parts[i] = fmt.Sprintf("%g", v)
		}
		text += ", values: [" + strings.Join(parts, ", ") + "]"
	}
	return text + "}"
}
