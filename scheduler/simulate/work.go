// SPDX-License-Identifier: Apache-2.0

package simulate

import (
	"fmt"
	"math"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// starts lists planned single steps whose time has come.
func (s *Shop) starts(acts []act) []act {
	for i := range s.state.Plan.Work {
		w := &s.state.Plan.Work[i]
		if w.Start > s.now {
			break // Work is sorted by Start
		}
		op := s.opState(w.Piece, w.Operation)
		if w.Load != "" || op == nil || op.Status != scheduler.Planned {
			continue
		}
		at := s.manned(max(s.begin(key(w.Piece, w.Operation), w.Start, s.delay(w.Piece, w.Operation)), min(s.last, s.now)), w.People)
		if at > s.now || !s.works(w.Station) || !s.ready(w, at) {
			continue
		}
		acts = append(acts, act{at: at, rank: 4, name: key(w.Piece, w.Operation), do: func() bool { return s.start(w, at) }})
	}
	return acts
}

func (s *Shop) start(w *scheduler.Work, at resources.Tick) bool {
	id := key(w.Piece, w.Operation)
	data := events.OperationData{Piece: w.Piece, Operation: w.Operation, Place: w.Place, Mix: w.Mix, Tools: w.Tools, Lots: s.lots(w, at), Setup: s.setup(w.Station, id, w.Start-w.Setup, at)}
	if s.state.Plant.Station(w.Station).Batch != nil {
		return false
	}
	end := s.endOf(w, at)
	if s.luck.Uniform("forgotten", id) < s.odds.Forgotten && end <= s.now {
		// Nobody pressed start; the finish says when it was.
		data.Started = at
		return s.report(events.OperationFinished, w.Station, end, data)
	}
	if !s.report(events.OperationStarted, w.Station, at, data) {
		return false
	}
	s.ends[id] = end
	if s.luck.Uniform("nonsense", id) < s.odds.Nonsense {
		wrong := data
		wrong.Piece += "-X"
		s.out = append(s.out, s.event(events.OperationStarted, w.Station, at, wrong))
	}
	return true
}

// setup is when people began the changeover before work that began at an
// instant, planned to take so long; 0: there was none.
func (s *Shop) setup(station, id string, long, at resources.Tick) resources.Tick {
	if long <= 0 {
		return 0
	}
	factor := math.Exp(s.odds.Spread * s.luck.Normal("changeover", station, id))
	return at - max(1, resources.Tick(float64(long)*factor))
}

// endOf is when a step that begins at the given instant will end: as planned,
// moved by its late start and by a random share of its working time.
func (s *Shop) endOf(w *scheduler.Work, at resources.Tick) resources.Tick {
	op := s.operation(w.Piece, w.Operation)
	if op == nil {
		return max(at, w.End)
	}
	station := s.state.Plant.Station(w.Station)
	work := float64(op.Load + s.state.Plant.RunTime(op, station) + op.Unload)
	spread := s.odds.Spread
	if op.Recipe != "" {
		spread /= 10 // an oven's program hardly varies
	}
	factor := math.Exp(spread * s.luck.Normal("long", w.Piece, w.Operation))
	end := w.End + (at - w.Start) + resources.Tick(work*(factor-1))
	return max(end, at+1)
}

// begin is when people begin a step that was to start by now: late by so much
// against when they were first told to. A plan that moves the step while they
// dawdle does not make them begin anew.
func (s *Shop) begin(id string, start, delay resources.Tick) resources.Tick {
	if _, told := s.told[id]; !told {
		s.told[id] = start
	}
	return max(start, s.told[id]+delay)
}

// delay is how late people are at starting.
func (s *Shop) delay(piece, operation string) resources.Tick {
	return resources.Tick(s.luck.Exponential("tardy", piece, operation) * float64(s.odds.Tardy))
}

// finishes lists running steps and loads whose time is up.
func (s *Shop) finishes(acts []act) []act {
	for _, serial := range sorted(s.state.Pieces) {
		piece := s.state.Pieces[serial]
		if piece.Scrapped {
			continue
		}
		for i := range piece.Ops {
			op := &piece.Ops[i]
			if op.Status != scheduler.Started || op.Load != "" {
				continue
			}
			id := key(serial, op.Operation)
			end := s.running(id, serial, op.Operation, op.Started)
			if end > s.now || !s.works(op.Station) {
				continue
			}
			station := op.Station
			data := events.OperationData{Piece: serial, Operation: op.Operation, Place: op.Place}
			acts = append(acts, act{at: end, name: id, do: func() bool {
				if !s.report(events.OperationFinished, station, end, data) {
					return false
				}
				delete(s.ends, id)
				s.maybeHold(serial, station, end)
				return true
			}})
		}
	}
	for _, id := range sorted(s.state.Loads) {
		load := s.state.Loads[id]
		if load.Status != scheduler.Started || len(load.Members) == 0 {
			continue
		}
		first := load.Members[0]
		end := s.running("load "+id, first.Piece, first.Operation, load.Started)
		if end > s.now || !s.works(load.Station) {
			continue
		}
		acts = append(acts, act{at: end, name: id, do: func() bool {
			if !s.report(events.LoadFinished, load.Station, end, events.LoadData{Load: id}) {
				return false
			}
			delete(s.ends, "load "+id)
			return true
		}})
	}
	return acts
}

// running is when running work ends. After a restart the shop has forgotten;
// it then makes the time up again from the plan.
func (s *Shop) running(id, piece, operation string, started resources.Tick) resources.Tick {
	if end, ok := s.ends[id]; ok {
		return end
	}
	end := s.now
	if w := s.plans[scheduler.Member{Piece: piece, Operation: operation}]; w != nil {
		shifted := *w
		shifted.Start = started
		end = max(s.endOf(&shifted, started), s.last)
	}
	s.ends[id] = end
	return end
}

// loads lists planned loads whose time has come and whose members are there.
func (s *Shop) loads(acts []act) []act {
	for i := range s.state.Plan.Loads {
		l := &s.state.Plan.Loads[i]
		if l.Start > s.now {
			break // Loads are sorted by Start
		}
		run := s.state.Loads[l.ID]
		if run != nil && run.Status != scheduler.Planned || run == nil && l.Status != scheduler.Planned {
			continue
		}
		at := max(s.begin("load "+l.ID, l.Start, s.delay(l.ID, "load")), min(s.last, s.now))
		if len(l.Members) > 0 && s.plans[l.Members[0]] != nil {
			at = s.manned(at, s.plans[l.Members[0]].People)
		}
		if at > s.now || !s.works(l.Station) {
			continue
		}
		acts = append(acts, act{at: at, rank: 4, name: l.ID, do: func() bool { return s.load(l, run != nil, at) }})
	}
	return acts
}

func (s *Shop) load(l *scheduler.Load, closed bool, at resources.Tick) bool {
	data := events.LoadData{Load: l.ID}
	var first *scheduler.Work
	for _, m := range l.Members {
		w := s.plans[m]
		op := s.opState(m.Piece, m.Operation)
		if w == nil || op == nil || op.Status != scheduler.Planned || !s.ready(w, at) {
			return false
		}
		if first == nil {
			first = w
		}
		data.Mix = w.Mix
		data.Pieces = append(data.Pieces, events.LoadItem{Piece: m.Piece, Operation: m.Operation, Tools: w.Tools})
	}
	if first == nil {
		return false
	}
	data.Lots = s.lots(first, at)
	if !closed && !s.report(events.LoadClosed, l.Station, at, data) {
		return false
	}
	end := s.endOf(first, at)
	data.Setup = s.setup(l.Station, l.ID, l.Start-l.Setup, at)
	if !s.report(events.LoadStarted, l.Station, at, data) {
		return !closed // the closing was believed
	}
	s.ends["load "+l.ID] = end
	return true
}

// mixes lists planned mixes whose making is over, and mixes that are past
// their life and have to be thrown away. Resin that is being weighed out is
// mixed to the end, whatever a newer plan says.
func (s *Shop) mixes(acts []act) []act {
	for i := range s.state.Plan.Mixes {
		m := &s.state.Plan.Mixes[i]
		if m.Start > s.now {
			break
		}
		if _, begun := s.mixing[m.ID]; !begun && m.Status == scheduler.Planned && s.state.Mixes[m.ID] == nil && s.works(m.Station) && s.back(m.Crew, s.now) <= s.now {
			s.mixing[m.ID] = *m
		}
	}
	for _, id := range sorted(s.mixing) {
		m := s.mixing[id]
		if s.state.Mixes[id] != nil {
			delete(s.mixing, id)
			continue
		}
		at := max(m.End, min(s.last, s.now))
		if at > s.now || !s.works(m.Station) {
			continue
		}
		acts = append(acts, act{at: at, rank: 1, name: id, do: func() bool {
			return s.report(events.MixMade, m.Station, at, events.MixData{
				Mix: id, Resin: m.Resin, Grams: m.Grams, Ingredients: s.weighed(&m),
			})
		}})
	}
	for _, id := range sorted(s.state.Mixes) {
		m := s.state.Mixes[id]
		at := max(m.Expiry+300, min(s.last, s.now))
		if m.Discarded || at > s.now {
			continue
		}
		station := ""
		if resin := s.state.Plant.Resin(m.Resin); resin != nil {
			station = resin.Station
		}
		acts = append(acts, act{at: at, rank: 1, name: id, do: func() bool {
			return s.report(events.MixDiscarded, station, at, events.MixData{Mix: id, Why: "end of pot life"})
		}})
	}
	return acts
}

// lots are the supplier's lots a piece of work draws from: a new one begins with
// each Monday's delivery.
func (s *Shop) lots(w *scheduler.Work, at resources.Tick) []events.LotUse {
	var out []events.LotUse
	if op := s.operation(w.Piece, w.Operation); op != nil {
		for _, d := range op.Draws {
			week := (int64(at)/86400 + 3) / 7
			out = append(out, events.LotUse{Material: d.Material, Lot: fmt.Sprintf("%s-%d", d.Material, week)})
		}
	}
	return out
}

// weighed is what the scale showed for each part of a mix.
func (s *Shop) weighed(m *scheduler.Mix) map[string]float64 {
	resin := s.state.Plant.Resin(m.Resin)
	if resin == nil || len(resin.Ingredients) == 0 {
		return nil
	}
	var parts float64
	for _, in := range resin.Ingredients {
		parts += in.Parts
	}
	grams := make(map[string]float64, len(resin.Ingredients))
	for _, in := range resin.Ingredients {
		off := 1 + resin.IngredientsTol/4*s.luck.Normal("weigh", m.ID, in.Name)
		grams[in.Name] = math.Round(10*float64(m.Grams)*in.Parts/parts*off) / 10
	}
	return grams
}
