// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"maps"
	"slices"

	"towpath/events"
	"towpath/resources"
)

// Churn is what a plan changes against the one published before it, in the
// eyes of those who follow it: of the operations that both plan and that have
// not begun, how many are moved, and which stations begin with another job.
// Moved means another start or another station.
type Churn struct {
	Against  int64     `json:"against" doc:"version of the plan it is compared with"`
	Compared int       `json:"compared" doc:"operations not begun that both plans have"`
	Moved    int       `json:"moved" doc:"of those, with another start or station"`
	Station  int       `json:"station" doc:"of the moved, on another station"`
	Near     int       `json:"near" doc:"of the moved, published for the frozen window or the four hours after it: what the objective pays for"`
	Frozen   int       `json:"frozen" doc:"of those compared, published for the frozen window"`
	Slipped  int       `json:"slipped" doc:"of the frozen, moved all the same because facts have pushed them"`
	Next     []NextJob `json:"next" doc:"stations whose next job is another one, by station"`
}

// NextJob is a station where people find another job next than they were told.
// A job is named by its first member.
type NextJob struct {
	Station string `json:"station" doc:"station's ID"`
	Was     Member `json:"was" doc:"what was to be begun next"`
	Is      Member `json:"is" doc:"what is now; empty: nothing"`
}

// ChurnOf compares a plan with the one published in s; nil when there is none.
func ChurnOf(s *State, p *Plan) *Churn {
	before := s.published()
	if before == nil || s.Plant == nil {
		return nil
	}
	return churn(s.Plant, before, p)
}

// ChurnBetween compares a plan with any other for the same plant, as if that
// had been published.
func ChurnBetween(plant *resources.Plant, was, p *Plan) *Churn { return churn(plant, index(was), p) }

func churn(plant *resources.Plant, before *publication, p *Plan) *Churn {
	x := &Churn{Against: before.plan.Version, Next: []NextJob{}}
	near, freeze := map[string]Seconds{}, map[string]Seconds{}
	for i := range plant.Stations {
		st := &plant.Stations[i]
		freeze[st.ID] = FreezeOf(plant, st)
		near[st.ID] = NearWindow(freeze[st.ID])
	}
	now := map[Member]*Work{}
	for i := range p.Work {
		w := &p.Work[i]
		was := before.work(w.Piece, w.Operation)
		if w.Status != Planned || was == nil || was.Status != Planned {
			continue
		}
		now[Member{w.Piece, w.Operation}] = w
		x.compare(was, w, was.Setup-p.Made, near, freeze)
	}
	x.next(before.plan, p, now)
	return x
}

// compare counts one operation; ahead is how far ahead it was published to
// begin, with its changeover.
func (x *Churn) compare(was, w *Work, ahead Tick, near, freeze map[string]Seconds) {
	moved := was.Station != w.Station || was.Start != w.Start
	window, known := freeze[was.Station]
	frozen := known && ahead < Tick(window)
	x.Compared++
	if frozen {
		x.Frozen++
	}
	if !moved {
		return
	}
	x.Moved++
	if was.Station != w.Station {
		x.Station++
	}
	if known && ahead < Tick(near[was.Station]) {
		x.Near++
	}
	if frozen {
		x.Slipped++
	}
}

// next finds the stations that begin with another job. Of jobs that start
// together any is the next.
func (x *Churn) next(before, p *Plan, now map[Member]*Work) {
	first := map[string]*Work{} // by station, of the plan before
	for i := range before.Work {
		w := &before.Work[i]
		if now[Member{w.Piece, w.Operation}] == nil {
			continue
		}
		if f := first[w.Station]; f == nil || compareWork(*w, *f) < 0 {
			first[w.Station] = w
		}
	}
	is := map[string]*Work{}
	for i := range p.Work {
		w := &p.Work[i]
		if w.Status != Planned {
			continue
		}
		if f := is[w.Station]; f == nil || compareWork(*w, *f) < 0 {
			is[w.Station] = w
		}
	}
	for _, station := range slices.Sorted(maps.Keys(first)) {
		was := first[station]
		w := now[Member{was.Piece, was.Operation}]
		head := is[station]
		if head != nil && w.Station == station && w.Start == head.Start {
			continue
		}
		job := NextJob{Station: station, Was: Member{was.Piece, was.Operation}}
		if head != nil {
			job.Is = Member{head.Piece, head.Operation}
		}
		x.Next = append(x.Next, job)
	}
}

// Quiet says that nobody finds anything else than they were told.
func (x *Churn) Quiet() bool { return x.Moved == 0 && len(x.Next) == 0 }

// event is the churn in the words of events.
func (x *Churn) event() *events.PlanChurn {
	if x == nil {
		return nil
	}
	e := &events.PlanChurn{
		Against: x.Against, Compared: x.Compared, Moved: x.Moved, Station: x.Station, Near: x.Near, Frozen: x.Frozen, Slipped: x.Slipped,
	}
	for _, n := range x.Next {
		e.Next = append(e.Next, n.Station)
	}
	return e
}
