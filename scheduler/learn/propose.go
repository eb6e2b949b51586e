// SPDX-License-Identifier: Apache-2.0

package learn

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Options say how to learn.
type Options struct {
	Weight     float64 // as how many observations the plant file counts
	Confidence float64 // of the intervals
	Least      int     // observations below which nothing is proposed
	Stops      []Stop  // of stations, from the log
	Since      Tick    // when that log begins; 0: there is none, nothing is said of breakdowns
}

// Tick is an instant.
type Tick = resources.Tick

// Usual options. The weight and the least number are our own choice, without
// a source.
const (
	UsualWeight     = 10
	UsualConfidence = 0.95
	UsualLeast      = 10
)

// Or is o with the usual in the place of what is left out. A negative Weight
// stands for none.
func (o Options) Or() Options {
	if o.Weight == 0 {
		o.Weight = UsualWeight
	}
	o.Weight = max(0, o.Weight)
	o.Confidence = cmp.Or(o.Confidence, UsualConfidence)
	o.Least = cmp.Or(o.Least, UsualLeast)
	return o
}

// What a proposal is about.
const (
	Time       = "time"       // how long an operation takes
	Yield      = "yield"      // which share passes a gate at the first try
	Breakdowns = "breakdowns" // running time between them
	Repair     = "repair"     // how long they last
	Changeover = "changeover" // how long a station's changeovers take
)

// Proposal sets what the plant file says beside what was done. Times are in
// seconds, shares in parts of 1.
type Proposal struct {
	About     string `json:"about" doc:"time, yield, changeover, breakdowns or repair"`
	Product   string `json:"product" doc:"product; empty: of a station"`
	Operation string `json:"operation" doc:"operation; empty: of a station"`
	Station   string `json:"station" doc:"station; empty: of an operation, on all its stations"`

	N    int  `json:"n" doc:"observations"`
	From Tick `json:"from" doc:"first of them"`
	To   Tick `json:"to" doc:"last of them"`

	Plant    float64 `json:"plant" doc:"what the plant file says: of times the mean; 0 of breakdowns: nothing"`
	Seen     float64 `json:"seen" doc:"what was seen: of times the median, else the mean or the share"`
	Low      float64 `json:"low" doc:"interval of what was seen, lower end; 0: too few observations"`
	High     float64 `json:"high" doc:"upper end; 0: too few observations, or no end"`
	Estimate float64 `json:"estimate" doc:"between plant and seen, by the number of observations: of times the mean"`

	PlantCV    float64 `json:"plant_cv" doc:"of times: standard deviation over mean by the plant file"`
	SeenCV     float64 `json:"seen_cv" doc:"of times: the same as seen, without wild values"`
	EstimateCV float64 `json:"estimate_cv" doc:"of times: the estimate of it"`

	Why       string               `json:"why" doc:"why it is proposed, or why not"`
	Revisions []resources.Revision `json:"revisions" doc:"changes of the plant file proposed; none: leave it"`
}

// Key names a proposal among the others.
func (p *Proposal) Key() string {
	return p.About + "/" + p.Product + "/" + p.Operation + "/" + p.Station
}

// Report is everything learned.
type Report struct {
	At         Tick       `json:"at" doc:"instant up to which the shop is known"`
	Weight     float64    `json:"weight" doc:"as how many observations the plant file counts"`
	Confidence float64    `json:"confidence" doc:"of the intervals"`
	Least      int        `json:"least" doc:"observations below which nothing is proposed"`
	Log        bool       `json:"log" doc:"true: the log was read too, for breakdowns"`
	Jobs       int        `json:"jobs" doc:"operations and loads whose start and end were reported"`
	Inside     int        `json:"inside" doc:"of those, left out of times because a piece may wait inside for people"`
	Proposals  []Proposal `json:"proposals" doc:"by product and routing, then by station"`
}

// Revisions lists all the changes of the plant file that are proposed.
func (r *Report) Revisions() []resources.Revision {
	var all []resources.Revision
	for i := range r.Proposals {
		all = append(all, r.Proposals[i].Revisions...)
	}
	return all
}

// Learn compares the plant in the state with what was done.
func Learn(s *scheduler.State, o Options) *Report {
	o = o.Or()
	r := &Report{At: s.At, Weight: o.Weight, Confidence: o.Confidence, Least: o.Least, Log: o.Since > 0, Proposals: []Proposal{}}
	if s.Plant == nil {
		return r
	}
	jobs := done(s, o.Stops)
	r.Jobs = len(jobs)
	l := learner{s: s, o: o, results: firstResults(s)}
	r.Inside = l.gather(jobs)
	for i := range s.Plant.Products {
		p := &s.Plant.Products[i]
		for k := range p.Routing {
			op := &p.Routing[k]
			r.Proposals = append(r.Proposals, l.times(p, op)...)
			if x := l.yield(p, op); x.N > 0 {
				r.Proposals = append(r.Proposals, x)
			}
		}
	}
	for i := range s.Plant.Stations {
		r.Proposals = append(r.Proposals, l.changeovers(&s.Plant.Stations[i], jobs)...)
		if o.Since > 0 {
			r.Proposals = append(r.Proposals, l.breakdowns(&s.Plant.Stations[i], jobs)...)
		}
	}
	return r
}

// learner learns from one state.
type learner struct {
	s       *scheduler.State
	o       Options
	seen    map[opOf][]*Job
	results map[opOf][]*scheduler.Result
}

// gather sorts the jobs by what they are of, and counts those where a piece
// may have waited inside, so that its end says nothing of its time.
func (l *learner) gather(jobs []Job) (inside int) {
	l.seen = map[opOf][]*Job{}
	for i := range jobs {
		j := &jobs[i]
		if slices.ContainsFunc(j.ops, func(x opOf) bool { return l.s.Plant.Product(x.product).Operation(x.operation).WaitInside }) {
			inside++
			continue
		}
		if j.Took <= 0 || j.Standard <= 0 {
			continue
		}
		for _, x := range j.ops {
			l.seen[x] = append(l.seen[x], j)
		}
	}
	return inside
}

// dates spreads the evidence's dates over one more instant.
func (p *Proposal) dates(at Tick) {
	if p.From == 0 || at < p.From {
		p.From = at
	}
	p.To = max(p.To, at)
}

// within tells whether the interval leaves room for a value.
func (p *Proposal) within(x float64) bool { return x >= p.Low && (p.High == 0 || x <= p.High) }

// Revised is a plant file with revisions made, and read again to be sure that
// it still is one. What the file cannot take is an error that says which; then
// nothing is changed.
func Revised(file []byte, revisions []resources.Revision) ([]byte, error) {
	text, err := resources.Revise(file, revisions)
	if err != nil {
		return nil, err
	}
	if plant, findings := resources.ReadPlant("the changed plant file", text); plant == nil {
		for i := range findings {
			if findings[i].Severity == resources.Error {
				return nil, fmt.Errorf("%s", findings[i].String())
			}
		}
	}
	return text, nil
}
