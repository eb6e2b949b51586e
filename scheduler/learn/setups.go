// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"fmt"
	"math"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// changeover is one whose beginning somebody reported.
type changeover struct {
	took, standard resources.Seconds
	at             Tick // its end: the start of the work it was for
}

// changeovers of a station compare what they took with what the plant file says
// that they take, as a share of it: a station's changeovers are quicker or
// slower together, whatever is changed. Nobody reports most of them; those
// whose beginning is told count.
func (l *learner) changeovers(st *resources.Station, jobs []Job) []Proposal {
	seen := l.seenChangeovers(st, jobs)
	if len(seen) == 0 {
		return nil
	}
	x := Proposal{About: Changeover, Station: st.ID, N: len(seen), Revisions: []resources.Revision{}}
	logs, mean := make([]float64, len(seen)), 0.0
	for i, c := range seen {
		logs[i] = math.Log(float64(c.took) / float64(c.standard))
		mean += float64(c.standard) / float64(len(seen))
		x.dates(c.at)
	}
	spread := st.SetupSpread.Or(l.s.Plant.Chance.Or(resources.DefaultChance()).Setup)
	factor, cv := moments(spread)
	sigma := sigmaOf(cv)
	was := Belief{Mu: math.Log(factor) - sigma*sigma/2, Sigma: sigma}
	median, deviation := Median(logs), min(Deviation(logs), sigmaOf(widestCV))
	got := was.Shrink(x.N, median, deviation, l.o.Weight)
	estimate := math.Exp(got.Mu + got.Sigma*got.Sigma/2)
	x.Plant, x.Seen, x.Estimate = mean*factor, mean*math.Exp(median), mean*estimate
	x.PlantCV, x.SeenCV, x.EstimateCV = cv, cvOf(deviation), cvOf(got.Sigma)
	low, high, known := MedianInterval(logs, l.o.Confidence)
	if known {
		x.Low, x.High = mean*math.Exp(low), mean*math.Exp(high)
	}
	switch {
	case x.N < l.o.Least || !known:
		x.Why = fmt.Sprintf("too few: %d of %d", x.N, l.o.Least)
	case math.Abs(estimate/factor-1) >= leastShift && !x.within(mean*math.Exp(was.Mu)):
		x.Why = "the plant's median lies outside the interval"
		x.Revisions = append(x.Revisions, resources.Revision{Station: st.ID, Key: "setup_spread", Text: spreadText(reshape(spread, estimate, cv))})
	default:
		x.Why = "agrees with the plant file"
	}
	return []Proposal{x}
}

// seenChangeovers are those of a station that were told and that the plant file
// has a time for, without stops.
func (l *learner) seenChangeovers(st *resources.Station, jobs []Job) []changeover {
	var seen []changeover
	before := map[int]map[string]string{} // attributes of the job before, by place
	for i := range jobs {
		j := &jobs[i]
		if j.Station != st.ID {
			continue
		}
		op := l.s.Plant.Product(l.s.Pieces[j.Members[0].Piece].Product).Operation(j.Members[0].Operation)
		state := stateOf(l.s, j.Members[0], j.Span.Start)
		place, attributes := max(1, state.Place), op.SetupAttributes()
		from := before[place]
		before[place] = attributes
		if from == nil || state.SetupFrom == 0 || state.SetupFrom >= j.Span.Start {
			continue
		}
		standard, _ := st.Changeover(from, attributes)
		span := resources.Interval{Start: state.SetupFrom, End: j.Span.Start}
		took := resources.Seconds(span.End-span.Start) - stopped(l.o.Stops, st.ID, span)
		if standard > 0 && took > 0 {
			seen = append(seen, changeover{took, standard, j.Span.Start})
		}
	}
	return seen
}

// stateOf is how a piece's operation that began at an instant was done.
func stateOf(s *scheduler.State, m scheduler.Member, began Tick) *scheduler.OpState {
	p := s.Pieces[m.Piece]
	for _, list := range [][]scheduler.OpState{p.Earlier, p.Ops} {
		k := slices.IndexFunc(list, func(o scheduler.OpState) bool { return o.Operation == m.Operation && o.Started == began })
		if k >= 0 {
			return &list[k]
		}
	}
	return &scheduler.OpState{}
}
