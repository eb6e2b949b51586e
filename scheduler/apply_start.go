// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"slices"

	"towpath/events"
	"towpath/resources"
)

// start is what is known of an operation that begins.
type start struct {
	piece     string
	operation string
	station   string
	place     int
	mix       string
	tools     []string
	lots      []events.LotUse
	at        Tick
	setup     Tick // when the changeover for it began; 0: nobody says
	load      string
	// over says that the report is of the end and the start is only implied:
	// what stands at the station now says nothing about then.
	over    bool
	guessed bool // at is an estimate
}

func (t *change) operationStarted(d events.OperationData) *Refusal {
	p, k, r := t.step(d.Piece, d.Operation)
	if r != nil {
		return r
	}
	o := &p.Ops[k]
	m := operationLife.move(operationState(o.Status), events.OperationStarted, func(string) bool { return o.StartGuessed && o.Load == "" })
	if m.Refuse != "" {
		return t.already(p, o, m)
	}
	if o.Status == Done {
		return t.correctStart(p.Serial, k, d)
	}
	station, r := t.stationFor(p, o, t.e.Station)
	if r != nil {
		return r
	}
	return t.start(start{
		piece: d.Piece, operation: d.Operation, station: station.ID, place: d.Place,
		mix: d.Mix, tools: d.Tools, lots: d.Lots, at: t.e.At, setup: d.Setup,
	})
}

// already refuses a report that somebody made before.
func (t *change) already(p *Piece, o *OpState, m *Move) *Refusal {
	about := "piece " + p.Serial
	hint := "nothing to do; if that report is wrong, void it"
	switch {
	case m.Refuse == RefusedNotYet && o.Status == Planned:
		return refuse(RefusedNotYet, about, "report the start first", "%s has not been reported started", o.Operation)
	case m.Refuse == RefusedNotYet:
		return refuse(RefusedNotYet, about, "nothing to do", "%s is not paused", o.Operation)
	case o.Status == Done:
		return refuse(m.Refuse, about, hint, "%s is already finished, reported%s at %s", o.Operation, by(o.EndedBy), t.s.clock(o.Ended))
	case o.Status == Paused && t.e.Kind == events.OperationPaused:
		return refuse(m.Refuse, about, hint, "%s is already paused since %s", o.Operation, t.s.clock(o.PausedAt))
	case o.Status == Paused:
		return refuse(m.Refuse, about, "resume it", "%s was already started%s at %s and is paused", o.Operation, by(o.StartedBy), t.s.clock(o.Started))
	}
	return refuse(m.Refuse, about, hint, "%s was already started%s on %s at %s", o.Operation, by(o.StartedBy), o.Station, t.s.clock(o.Started))
}

// stationFor finds the station an operation was reported from, one that does
// it and takes one piece at a time.
func (t *change) stationFor(p *Piece, o *OpState, id string) (*resources.Station, *Refusal) {
	st, r := t.eligible(p, o, id)
	if r != nil {
		return nil, r
	}
	if st.Batch != nil {
		hint := "report the load with its pieces"
		if o.Load != "" {
			hint = "report load " + o.Load
		}
		return nil, refuse(RefusedInLoad, "piece "+p.Serial, hint, "%s runs loads", st.ID)
	}
	if o.Load != "" {
		return nil, refuse(RefusedInLoad, "piece "+p.Serial, "report the load, or void its closing", "%s is in load %s on %s", o.Operation, o.Load, t.loads.look(o.Load).Station)
	}
	return st, nil
}

// eligible finds a station by ID, or the one an operation is planned on or
// bound to, and asks whether it does the operation.
func (t *change) eligible(p *Piece, o *OpState, id string) (*resources.Station, *Refusal) {
	op := &t.product(p).Routing[o.Index]
	if id == "" {
		if w := t.planned(p.Serial, o.Operation); w != nil {
			id = w.Station
		} else if len(op.Stations) == 1 {
			id = op.Stations[0]
		}
	}
	st := t.plant.Station(id)
	switch {
	case id == "":
		return nil, refuse(RefusedMalformed, "piece "+p.Serial, "say which station: "+list(op.Stations), "%s was reported without a station", o.Operation)
	case st == nil:
		return nil, refuse(RefusedUnknown, "station "+id, "check the name", "the plant has no such station")
	case !slices.Contains(op.Stations, id):
		return nil, refuse(RefusedWrongPlace, "piece "+p.Serial, "it may run on "+list(op.Stations), "%s does not run on %s", o.Operation, id)
	}
	return st, nil
}

// planned is where the published plan has an operation; nil if nowhere.
func (t *change) planned(piece, operation string) *Work {
	if p := t.s.published(); p != nil {
		return p.work(piece, operation)
	}
	return nil
}

// start begins an operation that nobody has reported started. The piece must
// exist, not be scrapped, and pass the operation.
func (t *change) start(x start) *Refusal {
	p := t.editPiece(x.piece)
	k, r := step(p, x.operation)
	if r != nil {
		return r
	}
	if o := &p.Ops[k]; x.at < o.Redo {
		return t.again(p, o, x.at)
	}
	if p.Held {
		if !x.over {
			return refuse(RefusedHeld, "piece "+p.Serial, "have it released first", "it is held%s", because(p.Why))
		}
		t.note(p.Serial, "%s was done though the piece is held%s", x.operation, because(p.Why))
	}
	if r := t.predecessors(p, k, x.at); r != nil {
		return r
	}
	st := t.plant.Station(x.station)
	if r := t.occupy(p, k, st, &x); r != nil {
		return r
	}
	o := &p.Ops[k]
	o.Status, o.Started, o.StartGuessed = Started, x.at, x.guessed
	o.Station, o.Place, o.Load, o.SetupFrom = st.ID, x.place, x.load, x.setup
	if !x.guessed {
		o.StartedBy, o.StartEvent = t.e.By, t.e.ID
	}
	if r := t.recordLots(p, k, x.lots, x.over); r != nil {
		return r
	}
	if r := t.take(p, k, x.tools, x.at); r != nil {
		return r
	}
	return t.draw(p, k, x.mix, x.at, x.over)
}

// occupy puts the piece on a place of the station, and notes what it is set
// up for from now on.
func (t *change) occupy(p *Piece, k int, st *resources.Station, x *start) *Refusal {
	s := t.editStation(st.ID)
	if st.Batch == nil && !x.over {
		place, r := t.freePlace(p, k, st, s, x.place)
		if r != nil {
			return r
		}
		x.place = place
		s.On[place-1] = Member{p.Serial, p.Ops[k].Operation}
	}
	if st.Batch == nil && x.over {
		x.place = min(max(1, x.place), len(s.On))
	}
	if s.Down && x.at >= s.Since {
		s.Down, s.Since, s.Until, s.Why = false, x.at, 0, ""
		t.note(st.ID, "taken to be up again: %s %s started there", p.Serial, x.operation)
	}
	if x.load == "" {
		t.setUp(st, s, p, k, x.at)
	}
	return nil
}

// setUp records what a station is set up for: the attributes of what started
// there last.
func (t *change) setUp(st *resources.Station, s *StationState, p *Piece, k int, at Tick) {
	if len(st.Setups) > 0 && at >= s.SetupAt {
		s.Setup, s.SetupAt = t.product(p).Routing[p.Ops[k].Index].SetupAttributes(), at
	}
}

// freePlace chooses the place asked for, else the planned one, else the first
// that is free.
func (t *change) freePlace(p *Piece, k int, st *resources.Station, s *StationState, asked int) (int, *Refusal) {
	if asked < 0 || asked > len(s.On) {
		return 0, refuse(RefusedWrongPlace, "piece "+p.Serial, "name a place that it has, or none", "%s has no place %d, only %d", st.ID, asked, len(s.On))
	}
	if asked == 0 {
		w := t.planned(p.Serial, p.Ops[k].Operation)
		if w != nil && w.Station == st.ID && w.Place >= 1 && w.Place <= len(s.On) && s.On[w.Place-1] == (Member{}) {
			return w.Place, nil
		}
		if i := slices.Index(s.On, Member{}); i >= 0 {
			return i + 1, nil
		}
		asked = 1
	}
	if there := s.On[asked-1]; there != (Member{}) {
		where := st.ID
		if len(s.On) > 1 {
			where = fmt.Sprintf("place %d of %s", asked, st.ID)
		}
		return 0, refuse(RefusedOccupied, "piece "+p.Serial, "report that finished first",
			"%s still has %s %s", where, there.Piece, there.Operation)
	}
	return asked, nil
}

// vacate frees the place of an operation.
func (t *change) vacate(p *Piece, o *OpState) {
	if s := t.stations.look(o.Station); s != nil && o.Load == "" {
		if i := slices.Index(s.On, Member{p.Serial, o.Operation}); i >= 0 {
			t.editStation(o.Station).On[i] = Member{}
		}
	}
}

func list(names []string) string {
	out := ""
	for i, n := range names {
		if i > 0 {
			out += ", "
		}
		out += n
	}
	return out
}
