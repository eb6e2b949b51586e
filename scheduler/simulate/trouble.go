// SPDX-License-Identifier: Apache-2.0

package simulate

import (
	"math"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

const day = resources.Tick(resources.Day)

// stopWhy are the reasons a stop is reported with.
var stopWhy = []string{"drive fault", "sensor lost", "air pressure low", "guard switch", "controller restart"}

// stops lists breakdowns that begin and stops that are over.
func (s *Shop) stops(acts []act) []act {
	for i := range s.state.Plant.Stations {
		id := s.state.Plant.Stations[i].ID
		st := s.state.Stations[id]
		if st == nil {
			continue
		}
		if st.Down {
			up := max(st.Since+s.stopLong(id, st.Since), min(s.last, s.now))
			if up <= s.now {
				since := st.Since
				acts = append(acts, act{at: up, name: id, do: func() bool { return s.up(id, since, up) }})
			}
			continue
		}
		for d := s.last / day; d <= s.now/day; d++ {
			at := d*day + resources.Tick(s.luck.Uniform("stop at", id, d)*float64(day))
			if at <= s.last || at > s.now || s.luck.Uniform("stop", id, d) >= s.odds.Stop {
				continue
			}
			acts = append(acts, act{at: at, name: id, do: func() bool { return s.down(id, at) }})
		}
	}
	return acts
}

func (s *Shop) down(id string, at resources.Tick) bool {
	guess := (s.stopLong(id, at)/1800 + 1) * 1800 // people guess in half hours
	why := stopWhy[s.luck.Bits("why", id, at)%uint64(len(stopWhy))]
	return s.report(events.StationDown, id, at, events.StationData{Why: why, Until: at + guess})
}

func (s *Shop) up(id string, since, at resources.Tick) bool {
	if !s.report(events.StationUp, id, at, events.StationData{}) {
		return false
	}
	// What was running there goes on for as long again as it stood.
	for _, serial := range sorted(s.state.Pieces) {
		for i := range s.state.Pieces[serial].Ops {
			op := &s.state.Pieces[serial].Ops[i]
			if op.Station == id && op.Status == scheduler.Started {
				s.prolong(key(serial, op.Operation), at-since)
			}
		}
	}
	for _, load := range sorted(s.state.Loads) {
		if l := s.state.Loads[load]; l.Station == id && l.Status == scheduler.Started {
			s.prolong("load "+load, at-since)
		}
	}
	return true
}

func (s *Shop) prolong(id string, by resources.Tick) {
	if end, ok := s.ends[id]; ok {
		s.ends[id] = end + by
	}
}

func (s *Shop) stopLong(id string, since resources.Tick) resources.Tick {
	return resources.Tick(float64(s.odds.StopLong) * math.Exp(0.7*s.luck.Normal("stop long", id, since)))
}

// verdicts lists results of gates that are due: the first right after the
// step, and for a piece that failed a second look or the scrap bin an hour
// later. Pieces held for another reason are released.
func (s *Shop) verdicts(acts []act) []act {
	for _, serial := range sorted(s.state.Pieces) {
		piece := s.state.Pieces[serial]
		if piece.Scrapped {
			continue
		}
		for i := range piece.Ops {
			op := &piece.Ops[i]
			rule := s.operation(serial, op.Operation)
			if op.Status != scheduler.Done || rule == nil || rule.Gate == "" || op.Passed {
				continue
			}
			acts = s.verdict(acts, serial, *op, rule)
		}
		for _, d := range piece.Detained {
			if at := max(d.At+2*3600, min(s.last, s.now)); d.By == serial && at <= s.now {
				acts = append(acts, act{at: at, rank: 2, name: serial, do: func() bool {
					return s.report(events.PieceReleased, "", at, events.PieceData{Piece: serial, Why: "looked at, fit for use"})
				}})
			}
		}
	}
	return acts
}

func (s *Shop) verdict(acts []act, serial string, op scheduler.OpState, rule *resources.Operation) []act {
	id := key(serial, op.Operation)
	data := events.ResultData{Piece: serial, Operation: op.Operation, Gate: rule.Gate, Pass: true}
	if !op.Failed {
		at := op.Ended
		yield := rule.Yield
		if s.odds.Bad > 0 {
			yield = 1 - s.odds.Bad
		}
		data.Pass = !s.odds.Fail || yield == 0 || s.luck.Uniform("yield", id, op.Ended) < yield
		if !data.Pass {
			data.Why = "outside the limits"
		}
		if rule.Rule != nil {
			data.Measured = Readings(rule.Rule, data.Pass)
		}
		return append(acts, act{at: at, rank: 2, name: id, do: func() bool {
			return s.report(events.ResultRecorded, op.Station, at, data)
		}})
	}
	at := max(op.Ended+resources.Tick(resources.Hour), min(s.last, s.now))
	if at > s.now {
		return acts
	}
	return append(acts, act{at: at, rank: 2, name: id, do: func() bool {
		if s.luck.Uniform("second", id, op.Ended) < s.odds.Second {
			data.Why = "measured again"
			if rule.Rule != nil {
				data.Measured = Readings(rule.Rule, true)
			}
			return s.report(events.ResultRecorded, op.Station, at, data)
		}
		return s.report(events.PieceScrapped, op.Station, at, events.PieceData{Piece: serial, Why: "failed at " + rule.Gate})
	}})
}

// maybeHold now and then keeps a piece back after a step.
func (s *Shop) maybeHold(serial, station string, at resources.Tick) {
	if s.luck.Uniform("hold", serial, at) < s.odds.Hold {
		s.report(events.PieceHeld, station, at, events.PieceData{Piece: serial, Why: "mark on the surface"})
	}
}
