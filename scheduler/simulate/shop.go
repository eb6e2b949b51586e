// SPDX-License-Identifier: Apache-2.0

// Package simulate is a shop that does not exist: people and machines that
// follow a published plan about as well as real ones do, with random
// durations, stops, failed tests and slips of reporting. It is pure: a state
// and an instant in, what has happened by then out. All its numbers are
// invented for demonstrations and tests.
package simulate

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/chance"
)

// Odds say how unruly the shop is.
type Odds struct {
	Spread    float64           // deviation of the logarithm of an attended step's duration
	Tardy     resources.Seconds // mean delay of a start
	Stop      float64           // chance that a station breaks down on a day
	StopLong  resources.Seconds // median length of a stop
	Fail      bool              // gates fail as often as the products' yields say
	Bad       float64           // chance that a gate fails, in the place of those yields; 0: as they say
	Second    float64           // chance that a failed piece passes when looked at again; else it is scrapped
	Hold      float64           // chance that a piece is held for a while after a step
	Absent    float64           // chance that a crew is missing for a while on a day
	AwayLong  resources.Seconds // median length of that, until somebody stands in
	Told      float64           // chance that such an absence is reported; else nobody is told
	Unsaid    float64           // chance that of a reported one nobody knows when it ends
	Forgotten float64           // chance that a start is not reported
	Repeated  float64           // chance that a report is sent twice
	Nonsense  float64           // chance that a report of something impossible is sent
}

// Ordinary is a shop on an ordinary week.
func Ordinary() Odds {
	return Odds{
		Spread: 0.07, Tardy: 90, Stop: 0.03, StopLong: 50 * resources.Minute, Fail: true, Second: 0.6,
		Hold: 0.004, Forgotten: 0.02, Repeated: 0.01, Nonsense: 0.003,
	}
}

// Shop is the shop's own memory: what runs and when it will end. It belongs to
// one goroutine.
type Shop struct {
	odds Odds
	luck chance.Seed
	last resources.Tick
	ends map[string]resources.Tick // running work, by piece and operation or by load

	told map[string]resources.Tick // when people were first told to begin a step or a load

	mixing map[string]scheduler.Mix // being made, as they were planned when it began

	state *scheduler.State
	now   resources.Tick
	plans map[scheduler.Member]*scheduler.Work
	out   []events.Event
}

// New is a shop whose fate the seed decides.
func New(seed uint64, odds Odds) *Shop {
	return &Shop{odds: odds, luck: chance.Seed(seed), ends: map[string]resources.Tick{}, told: map[string]resources.Tick{}, mixing: map[string]scheduler.Mix{}}
}

// maxRounds bounds how many things that depend on one another happen in one
// step; what is left happens in the next.
const maxRounds = 6

// Step is what happens until now, in order, given the state and the plan in
// it. The state must be a copy: it is changed as the events would change it.
// Call it with what the shop itself reported before taken into the state.
func (s *Shop) Step(state *scheduler.State, now resources.Tick) []events.Event {
	s.state, s.now, s.out, s.plans = state, now, nil, map[scheduler.Member]*scheduler.Work{}
	if state.Plant == nil || state.Plan == nil {
		s.last = now
		return nil
	}
	for i := range state.Plan.Work {
		w := &state.Plan.Work[i]
		s.plans[scheduler.Member{Piece: w.Piece, Operation: w.Operation}] = w
	}
	if s.last == 0 {
		s.last = now
	}
	for range maxRounds {
		acts := s.due()
		if len(acts) == 0 {
			break
		}
		moved := false
		for _, a := range acts {
			moved = a.do() || moved
		}
		if !moved {
			break
		}
	}
	s.last = now
	return s.out
}

// act is one thing that is due.
type act struct {
	at   resources.Tick
	rank int // of things at the same instant: ends, then mixes, then starts
	name string
	do   func() bool
}

// due lists what should have happened by now, in order of time.
func (s *Shop) due() []act {
	var acts []act
	acts = s.stops(acts)
	acts = s.absences(acts)
	acts = s.finishes(acts)
	acts = s.mixes(acts)
	acts = s.verdicts(acts)
	acts = s.starts(acts)
	acts = s.loads(acts)
	slices.SortFunc(acts, func(a, b act) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.rank, b.rank), strings.Compare(a.name, b.name))
	})
	return acts
}

// report makes an event, tries it on the copy and, when it is believed there,
// sends it. Nothing goes on at a station that has stopped since it fell due:
// the shop would believe that the stop is over.
func (s *Shop) report(kind events.Kind, station string, at resources.Tick, data any) bool {
	switch kind {
	case events.OperationStarted, events.OperationFinished, events.LoadStarted, events.LoadFinished, events.MixMade:
		if !s.works(station) {
			return false
		}
	}
	e := s.event(kind, station, at, data)
	if _, err := s.state.Apply(e); err != nil {
		return false
	}
	s.out = append(s.out, e)
	if s.luck.Uniform("repeat", e.ID) < s.odds.Repeated {
		s.out = append(s.out, e)
	}
	return true
}

// event names itself after what it says, so that the same report after a
// restart is recognised as the same.
func (s *Shop) event(kind events.Kind, station string, at resources.Tick, data any) events.Event {
	e := events.Event{Kind: kind, Plant: s.state.Plant.ID, Station: station, At: at, By: "simulated shop", Data: data}
	e.ID = fmt.Sprintf("sim-%016x", s.luck.Bits("id", kind, station, at, data))
	return e
}

// station says whether a station is known and not stopped.
func (s *Shop) works(id string) bool {
	st := s.state.Stations[id]
	return st != nil && !st.Down
}

func key(piece, operation string) string { return piece + "/" + operation }

// sorted lists the keys of a map in order.
func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
