// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"slices"
	"strings"
)

// Told is the event that told a fact: its ID, its place in the log, when it
// happened as reported and who reported it. An empty ID: nobody did, the fact
// follows from others.
type Told struct {
	Event string `json:"event" doc:"ID of the event; empty: implied by others"`
	Seq   uint64 `json:"seq" doc:"its place in the log; 0: not in the log"`
	At    Tick   `json:"at" doc:"when it happened"`
	By    string `json:"by" doc:"who reported it; empty: not said"`
}

// Trace is everything that went into a piece and came of it, with the events
// behind each fact. A shaft's trace holds its tube's operations too, and the
// results of its lot's destroyed samples.
type Trace struct {
	Serial   string        `json:"serial" doc:"serial of the piece"`
	Order    string        `json:"order" doc:"order it is for"`
	Line     string        `json:"line" doc:"line of the order"`
	Customer string        `json:"customer" doc:"customer of the order"`
	Product  string        `json:"product" doc:"product"`
	State    string        `json:"state" doc:"open, held, scrapped or done"`
	Why      string        `json:"why" doc:"of a hold or scrap; empty: none"`
	Tube     string        `json:"tube" doc:"tube it was cut from; empty: it is one"`
	Shafts   []string      `json:"shafts" doc:"shafts cut from it"`
	Sample   bool          `json:"sample" doc:"true: made to be destroyed"`
	Replaces string        `json:"replaces" doc:"piece it was made for again; empty: none"`
	Steps    []TraceStep   `json:"steps" doc:"operations begun, by start"`
	Mixes    []TraceMix    `json:"mixes" doc:"mixes of resin that went into it"`
	Loads    []TraceLoad   `json:"loads" doc:"loads it was in"`
	Results  []TraceResult `json:"results" doc:"results at gates, of the piece, its tube and its lot's samples"`
}

// TraceStep is one operation as it was done.
type TraceStep struct {
	Piece     string   `json:"piece" doc:"the piece itself, or its tube"`
	Operation string   `json:"operation" doc:"operation's ID"`
	Name      string   `json:"name" doc:"operation's name"`
	Station   string   `json:"station" doc:"where"`
	Place     int      `json:"place" doc:"place on the station; 0: none"`
	Started   Told     `json:"started" doc:"start"`
	Ended     Told     `json:"ended" doc:"end; no instant: not over"`
	Tools     []string `json:"tools" doc:"marks of the mandrel or fixture"`
	Mix       string   `json:"mix" doc:"mix it drew from; empty: none"`
	Load      string   `json:"load" doc:"load it was done in; empty: none"`
	Lots      []string `json:"lots" doc:"supplier lots, as material lot"`
	Again     bool     `json:"again" doc:"true: had to be done again later"`
}

// TraceMix is a mix of resin.
type TraceMix struct {
	Mix       string   `json:"mix" doc:"ID"`
	Resin     string   `json:"resin" doc:"resin system"`
	Grams     int64    `json:"grams" doc:"mass made"`
	Made      Told     `json:"made" doc:"when and by whom"`
	Expiry    Tick     `json:"expiry" doc:"end of its pot life"`
	Weighed   bool     `json:"weighed" doc:"true: weights reported and within tolerance"`
	Lots      []string `json:"lots" doc:"supplier lots of its ingredients"`
	Discarded Told     `json:"discarded" doc:"thrown away; no instant: not reported"`
	Left      int64    `json:"left" doc:"grams thrown away"`
	Held      string   `json:"held" doc:"why it is on hold; empty: it is not"`
}

// TraceLoad is a load of a batch station.
type TraceLoad struct {
	Load    string `json:"load" doc:"ID"`
	Station string `json:"station" doc:"where it ran"`
	Recipe  string `json:"recipe" doc:"cure recipe; empty: none"`
	Started Told   `json:"started" doc:"start"`
	Ended   Told   `json:"ended" doc:"end; no instant: not over"`
	Members int    `json:"members" doc:"pieces in it"`
	Held    string `json:"held" doc:"why it is on hold; empty: it is not"`
}

// TraceResult is a result at a gate.
type TraceResult struct {
	Piece     string   `json:"piece" doc:"the piece itself, its tube, or a sample of its lot"`
	Operation string   `json:"operation" doc:"operation with the gate"`
	Gate      string   `json:"gate" doc:"kind of result"`
	Decision  string   `json:"decision" doc:"pass, rework, remake or hold"`
	Ruled     string   `json:"ruled" doc:"what the rule alone said, where a person decided otherwise; empty: nobody did"`
	Values    []string `json:"values" doc:"what was worked out, with units"`
	Why       string   `json:"why" doc:"reason"`
	Station   string   `json:"station" doc:"reporting station"`
	Told      Told     `json:"told" doc:"when, by whom, which event"`
}

// Used is every piece that a mix, a load or a lot went into.
type Used struct {
	Key      string      `json:"key" doc:"mix/ID, load/ID or lot/MATERIAL/LOT"`
	Name     string      `json:"name" doc:"the same in words"`
	Held     bool        `json:"held" doc:"true: on hold"`
	Hold     Told        `json:"hold" doc:"last time it was put on hold; no instant: never"`
	Why      string      `json:"why" doc:"of the hold"`
	Released Told        `json:"released" doc:"last time it was released; no instant: never since"`
	Mix      *TraceMix   `json:"mix" doc:"the mix; null: it is none"`
	Load     *TraceLoad  `json:"load" doc:"the load; null: it is none"`
	Mixes    []string    `json:"mixes" doc:"mixes that a lot went into"`
	Pieces   []UsedPiece `json:"pieces" doc:"pieces, by serial"`
}

// UsedPiece is a piece that something went into.
type UsedPiece struct {
	Serial    string `json:"serial" doc:"serial"`
	Tube      string `json:"tube" doc:"through this tube; empty: itself"`
	Order     string `json:"order" doc:"order"`
	Customer  string `json:"customer" doc:"customer"`
	Product   string `json:"product" doc:"product"`
	State     string `json:"state" doc:"open, held, scrapped or done"`
	Operation string `json:"operation" doc:"operation it went in at"`
	Told      Told   `json:"told" doc:"start of that operation"`
}

// Trace answers what went into a piece; false when there is no such piece.
func (s *State) Trace(serial string) (Trace, bool) {
	p := s.Pieces[serial]
	if p == nil || s.Plant == nil {
		return Trace{}, false
	}
	t := Trace{
		Serial: serial, Order: p.Order, Line: p.Line, Product: p.Product, State: s.standing(p), Why: p.Why, Tube: p.Parent,
		Sample: p.Sample, Replaces: p.Replaces, Shafts: []string{}, Steps: []TraceStep{}, Mixes: []TraceMix{}, Loads: []TraceLoad{}, Results: []TraceResult{},
	}
	if l := s.Lines[LineKey(p.Order, p.Line)]; l != nil {
		t.Customer = l.Customer
	}
	for _, q := range s.family(p) {
		if q.Parent == serial {
			t.Shafts = append(t.Shafts, q.Serial)
			continue
		}
		s.traceResults(&t, q)
		if q == p || q.Serial == p.Parent {
			s.traceSteps(&t, q)
		}
	}
	slices.SortStableFunc(t.Steps, func(a, b TraceStep) int { return cmp.Compare(a.Started.At, b.Started.At) })
	slices.SortStableFunc(t.Results, func(a, b TraceResult) int { return cmp.Compare(a.Told.At, b.Told.At) })
	return t, true
}

// family is the tube of a piece, itself, its shafts, and the samples of its
// line.
func (s *State) family(p *Piece) []*Piece {
	var out []*Piece
	if tube := s.Pieces[p.Parent]; tube != nil {
		out = append(out, tube)
	}
	out = append(out, p)
	for _, serial := range sortedKeys(s.Pieces) {
		q := s.Pieces[serial]
		if q != p && q.Serial != p.Parent && (q.Parent == p.Serial || q.Sample && q.Order == p.Order && q.Line == p.Line) {
			out = append(out, q)
		}
	}
	return out
}

func (s *State) traceSteps(t *Trace, p *Piece) {
	product := s.Plant.Product(p.Product)
	for i, ops := range [][]OpState{p.Earlier, p.Ops} {
		for k := range ops {
			o := &ops[k]
			if o.Status == Planned {
				continue
			}
			step := TraceStep{
				Piece: p.Serial, Operation: o.Operation, Name: o.Operation, Station: o.Station, Place: o.Place, Again: i == 0,
				Started: s.told(o.StartEvent, o.Started, o.StartedBy), Ended: s.told(o.EndEvent, o.Ended, o.EndedBy),
				Tools: append([]string{}, o.Tools...), Mix: o.Mix, Load: o.Load, Lots: lotTexts(o.Lots),
			}
			recipe := ""
			if product != nil && o.Index >= 0 && o.Index < len(product.Routing) {
				op := &product.Routing[o.Index]
				step.Name, recipe = cmp.Or(op.Name, op.ID), op.Recipe
			}
			t.Steps = append(t.Steps, step)
			if m := s.Mixes[o.Mix]; m != nil && !slices.ContainsFunc(t.Mixes, func(x TraceMix) bool { return x.Mix == o.Mix }) {
				t.Mixes = append(t.Mixes, s.traceMix(m))
			}
			if l := s.Loads[o.Load]; l != nil && !slices.ContainsFunc(t.Loads, func(x TraceLoad) bool { return x.Load == o.Load }) {
				t.Loads = append(t.Loads, s.traceLoad(l, recipe))
			}
		}
	}
}

func (s *State) traceResults(t *Trace, p *Piece) {
	for i := range p.Results {
		r := &p.Results[i]
		out := TraceResult{
			Piece: p.Serial, Operation: r.Operation, Gate: r.Gate, Decision: string(r.Decision), Ruled: string(r.Ruled),
			Values: []string{}, Why: r.Why, Station: r.Station, Told: s.told(r.Event, r.At, r.By),
		}
		for _, v := range append(slices.Clone(r.Values), r.Plain...) {
			out.Values = append(out.Values, strings.TrimSpace(v.Of+" "+v.Text()))
		}
		t.Results = append(t.Results, out)
	}
}

func (s *State) traceMix(m *MixRun) TraceMix {
	t := TraceMix{
		Mix: m.ID, Resin: m.Resin, Grams: m.Grams, Made: s.told(m.Event, m.Made, m.By), Expiry: m.Expiry, Weighed: m.Weighed,
		Lots: lotTexts(m.Lots), Left: m.Left, Held: s.heldWhy(batchMix + m.ID),
	}
	if m.Discarded {
		t.Discarded = s.told(m.EndEvent, m.Ended, "")
	}
	return t
}

func (s *State) traceLoad(l *LoadRun, recipe string) TraceLoad {
	t := TraceLoad{
		Load: l.ID, Station: l.Station, Recipe: recipe, Members: len(l.Members), Held: s.heldWhy(batchLoad + l.ID),
		Started: s.told(l.StartEvent, l.Started, ""), Ended: s.told(l.EndEvent, l.Ended, ""),
	}
	if l.Status == Done {
		t.Ended.By = l.By
	} else {
		t.Started.By = l.By
	}
	return t
}

// heldWhy is why a batch is on hold, empty when it is not.
func (s *State) heldWhy(key string) string {
	if b := s.Batches[key]; b != nil && b.Held {
		return cmp.Or(b.Why, "no reason given")
	}
	return ""
}

// told finds an event's place in the log.
func (s *State) told(event string, at Tick, by string) Told {
	seq, _ := s.seen.seq(event)
	return Told{Event: event, Seq: seq, At: at, By: by}
}

func lotTexts(lots []Lot) []string {
	out := make([]string, 0, len(lots))
	for _, l := range lots {
		out = append(out, l.Material+" "+l.Lot)
	}
	return out
}

// standing is a piece's state in a word.
func (s *State) standing(p *Piece) string {
	if x := pieceState(p); x != "open" {
		return x
	}
	if slices.ContainsFunc(p.Ops, func(o OpState) bool { return o.Status != Done }) {
		return "open"
	}
	return "done"
}

// Used answers what a mix, a load or a lot went into, by its BatchKey: the
// question when one of them is found to be bad. False when nobody has ever
// heard of it.
func (s *State) Used(key string) (Used, bool) {
	u := Used{Key: key, Name: batchText(key), Mixes: []string{}, Pieces: []UsedPiece{}}
	known := false
	if b := s.Batches[key]; b != nil {
		known = true
		u.Held, u.Why, u.Hold = b.Held, b.Why, s.told(b.Event, b.At, b.By)
		if !b.Held {
			u.Released = s.told(b.Release, b.Released, b.Releaser)
		}
	}
	if m := s.Mixes[strings.TrimPrefix(key, batchMix)]; m != nil && strings.HasPrefix(key, batchMix) {
		mix := s.traceMix(m)
		u.Mix, known = &mix, true
	}
	if l := s.Loads[strings.TrimPrefix(key, batchLoad)]; l != nil && strings.HasPrefix(key, batchLoad) {
		load := s.traceLoad(l, "")
		u.Load, known = &load, true
	}
	if _, _, lot := lotOf(key); lot {
		for _, id := range sortedKeys(s.Mixes) {
			if slices.ContainsFunc(s.Mixes[id].Lots, func(l Lot) bool { return l.key() == key }) {
				u.Mixes, known = append(u.Mixes, id), true
			}
		}
	}
	for _, serial := range sortedKeys(s.Pieces) {
		if x, used := s.usedBy(s.Pieces[serial], key, u.Load); used {
			u.Pieces, known = append(u.Pieces, x), true
		}
	}
	return u, known
}

// usedBy tells how a batch went into a piece.
func (s *State) usedBy(p *Piece, key string, load *TraceLoad) (UsedPiece, bool) {
	mix := func(id string) *MixRun { return s.Mixes[id] }
	for _, q := range []*Piece{p, s.Pieces[p.Parent]} {
		if q == nil {
			continue
		}
		o := q.with(key, mix)
		if o == nil {
			continue
		}
		x := UsedPiece{
			Serial: p.Serial, Order: p.Order, Product: p.Product, State: s.standing(p), Operation: o.Operation,
			Told: s.told(o.StartEvent, o.Started, o.StartedBy),
		}
		if q != p {
			x.Tube = q.Serial
		}
		if l := s.Lines[LineKey(p.Order, p.Line)]; l != nil {
			x.Customer = l.Customer
		}
		if product := s.Plant.Product(q.Product); load != nil && product != nil && o.Index >= 0 && o.Index < len(product.Routing) {
			load.Recipe = cmp.Or(load.Recipe, product.Routing[o.Index].Recipe)
		}
		return x, true
	}
	return UsedPiece{}, false
}

// Lots lists the keys of every lot that a report or a hold has named, sorted.
func (s *State) Lots() []string {
	found := map[string]bool{}
	for key := range s.Batches {
		if strings.HasPrefix(key, batchLot) {
			found[key] = true
		}
	}
	for _, m := range s.Mixes {
		for _, l := range m.Lots {
			found[l.key()] = true
		}
	}
	for _, p := range s.Pieces {
		for _, ops := range [][]OpState{p.Earlier, p.Ops} {
			for i := range ops {
				for _, l := range ops[i].Lots {
					found[l.key()] = true
				}
			}
		}
	}
	return sortedKeys(found)
}
