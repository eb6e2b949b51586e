// SPDX-License-Identifier: Apache-2.0

package search

import (
	"errors"
	"fmt"
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Inserter fits work that an earlier plan does not know into that plan.
type Inserter struct {
	p      *scheduler.Problem
	old    *scheduler.Plan
	fresh  []int32  // activities the old plan does not know
	around *decoder // has the old plan on its board
	mark   int      // of that board's journal, after the old plan
	among  *decoder // made when it is asked for
	base   *genome  // the old plan's, for among
	own    *genome  // the new work's, for among
	first  []int32  // lines whose new work goes before other new work
	loads  Loading
}

// Fit is one way in which the new work fits. One from Around holds until Around
// is asked again, one from Among until Among is.
type Fit struct {
	d *decoder
}

// NewInserter prepares to fit new work into a plan that the facts have not yet
// overtaken: one that passes scheduler.Check but for the new work.
func NewInserter(p *scheduler.Problem, old *scheduler.Plan) (*Inserter, error) {
	d, err := newDecoder(p)
	if err != nil {
		return nil, explained(p, err)
	}
	x := &Inserter{p: p, old: old, around: d}
	r := &restorer{d: d, old: old}
	if err := r.run(); err != nil {
		return nil, err
	}
	x.fresh, x.mark = r.fresh, d.b.mark()
	d.steady = steady
	return x, nil
}

// Around fits the new work into what the old plan leaves free; nothing else is
// moved by a second. Of several ways to form loads of the new work it takes the
// one that ends first.
func (x *Inserter) Around() (*Fit, error) {
	d, ways := x.around, groupings
	switch {
	case x.loads == Sooner:
		ways = soonerWays
	case d.m.alone():
		ways = ways[:1]
	}
	defer func() { d.latest = nil }()
	var tried [][]*node    // the new work's
	var best, last *genome // the last is on the board
	var end Tick           // with the best
	var failed error
	for _, how := range ways {
		g, err := x.genome(d.m, how)
		if err != nil {
			return nil, err
		}
		own := x.ownNodes(g)
		if slices.ContainsFunc(tried, func(o []*node) bool { return slices.Equal(o, own) }) {
			continue
		}
		tried = append(tried, own)
		if last = nil; !x.place(g) {
			failed = d.fail.err(x.p)
			continue
		}
		if at := d.lastOf(x.fresh); best == nil || at < end {
			best, last, end = g, g, at
			d.latest = x.by(end - 1)
		}
	}
	if best == nil {
		return nil, failed
	}
	if d.latest = nil; best != last && !x.place(best) {
		return nil, d.fail.err(x.p)
	}
	return &Fit{d}, nil
}

// ownNodes are those of the new work, one for each of its activities.
func (x *Inserter) ownNodes(g *genome) []*node {
	nodes := make([]*node, len(x.fresh))
	for i, a := range x.fresh {
		nodes[i] = g.node[a]
	}
	return nodes
}

// by is an instant as the latest completion of every line.
func (x *Inserter) by(at Tick) []Tick {
	latest := make([]Tick, len(x.p.Lines))
	for i := range latest {
		latest[i] = at
	}
	return latest
}

// steady is how long new work looks for a gap in small steps: a full shop has
// few, and to leap over them would promise a date far too late.
const steady = 10000

// place puts the new work on the board, after the old plan.
func (x *Inserter) place(g *genome) bool {
	d := x.around
	d.tardy = -1
	for again := true; again; {
		d.b.undo(x.mark)
		d.marks, d.ends, d.done, d.want, d.floor = d.marks[:0], d.ends[:0], d.done[:0], d.want[:0], d.floor[:0]
		s, ok := d.seq.part(g, slices.Clone(x.fresh))
		if !ok {
			d.fail = failure{act: x.fresh[0], reason: "loads wait for each other in a circle", told: true}
			return false
		}
		broken, ok := d.run(g, s, 0)
		if !ok {
			return false
		}
		again = broken // in its proper order, as decode does
	}
	return true
}

// freshKey is added to the keys of new work: it comes after everything else,
// and never into a load with it.
const freshKey = 1e12

// genome has the new work's keys and loads.
func (x *Inserter) genome(m *model, how grouping) (*genome, error) {
	key, err := x.keys(m)
	if err != nil {
		return nil, err
	}
	return newGenome(m.formOf(x.fresh, key, how), key), nil
}

// keys order the new work behind the old: line after line, in each by latest
// start.
func (x *Inserter) keys(m *model) ([]float64, error) {
	key, err := m.keys(LatestStart)
	if err != nil {
		return nil, err
	}
	for _, a := range x.fresh {
		turn := x.p.Acts[a].Line
		if !slices.Contains(x.first, turn) {
			turn += int32(len(x.p.Lines))
		}
		key[a] = freshKey + float64(turn)*1e9 - float64(m.tail[a])
	}
	return key, nil
}

// TooLate says that a line would be complete after the latest instant asked of
// it.
type TooLate struct {
	Line int32 // index into Problem.Lines
}

func (e *TooLate) Error() string { return fmt.Sprintf("search: line %d would be too late", e.Line) }

// Among lets the new work take its turn as if it had been planned to begin at
// the instant: what the old plan has before then goes first, what it has later
// makes way as far as it must. The old plan's work begins nowhere sooner than it
// did. Latest, where it is not nil, has the latest completion of each line of the
// problem; a *TooLate, early on, names one that cannot be kept.
func (x *Inserter) Among(at Tick, latest []Tick) (*Fit, error) {
	if err := x.prepare(); err != nil {
		return nil, err
	}
	m := x.among.m
	g := x.base.clone()
	for _, a := range x.fresh {
		g.node[a], g.want[a], g.floor[a], g.out[a] = x.own.node[a], -1, 0, 0
		if g.key[a] > settledKey {
			// The head orders the steps of one piece, lines follow each other.
			g.key[a] = float64(at) + float64(m.head[a]-x.p.Now) + float64(x.p.Acts[a].Line)*1e-3
		}
	}
	return x.timed(g, latest)
}

// timed times a genome of old and new work.
func (x *Inserter) timed(g *genome, latest []Tick) (*Fit, error) {
	d := x.among
	d.latest = latest
	if !d.decode(g) {
		if d.tardy >= 0 {
			return nil, &TooLate{d.tardy}
		}
		return nil, d.fail.err(x.p)
	}
	return &Fit{d}, nil
}

func (x *Inserter) prepare() (err error) {
	if x.among == nil {
		d := decoderOf(x.around.m)
		if x.base, err = d.like(x.old); err != nil {
			return err
		}
		x.among = d
	}
	if x.own == nil {
		way := groupings[0]
		if x.loads == Sooner {
			way = soonerWays[0]
		}
		x.own, err = x.genome(x.among.m, way)
	}
	return err
}

// Soonest is when each of some lines could be complete in an empty shop, by
// waits alone.
func (x *Inserter) Soonest(lines []int32) []Tick {
	m := x.around.m
	out := make([]Tick, len(lines))
	for i, line := range lines {
		out[i] = x.p.Lines[line].Done
		for _, a := range x.p.Lines[line].Acts {
			if x.p.Acts[a].Last {
				out[i] = max(out[i], m.head[a]+Tick(m.shortest(a)))
			}
		}
	}
	return out
}

// lastOf is the latest end of some activities.
func (d *decoder) lastOf(acts []int32) Tick {
	var last Tick
	for _, a := range acts {
		last = max(last, d.b.at[a].end)
	}
	return last
}

// Ends is when each line of the problem is complete as far as is known.
func (f *Fit) Ends() []Tick {
	ends := make([]Tick, len(f.d.m.p.Lines))
	for i := range ends {
		ends[i] = f.d.completion(int32(i))
	}
	return ends
}

// Ready is when each of some lines is complete.
func (f *Fit) Ready(lines []int32) []Tick {
	ready := make([]Tick, len(lines))
	for i, line := range lines {
		ready[i] = f.d.completion(line)
	}
	return ready
}

// Plan writes the whole plan.
func (f *Fit) Plan() *scheduler.Plan { return f.d.emit() }

// restorer puts a plan on an empty board exactly as it is.
type restorer struct {
	d        *decoder
	old      *scheduler.Plan
	work     []*scheduler.Work // per act; nil: not in the plan
	fresh    []int32
	station  map[string]int32
	crew     map[string]int32
	mixAt    map[string]int32 // planned mixes, index on the board's list of its resin
	loadOf   map[string][]int32
	inOrder  []int32
	restored []bool
}

func (r *restorer) run() error {
	m, p := r.d.m, r.d.m.p
	r.work, r.restored = make([]*scheduler.Work, len(p.Acts)), make([]bool, len(p.Acts))
	r.station, r.crew = map[string]int32{}, map[string]int32{}
	for i := range p.Stations {
		r.station[p.Stations[i].ID] = int32(i)
	}
	for i := range p.Crews {
		r.crew[p.Crews[i].ID] = int32(i)
	}
	r.loadOf = map[string][]int32{}
	for i, a := range m.names().works(r.old) {
		w := &r.old.Work[i]
		if a < 0 || p.Acts[a].Fixed != nil {
			continue
		}
		r.work[a] = w
		r.inOrder = append(r.inOrder, a) // Work is in order of start
		if w.Load != "" {
			r.loadOf[w.Load] = append(r.loadOf[w.Load], a)
		}
	}
	for a := range p.Acts {
		if r.work[a] == nil && p.Acts[a].Fixed == nil {
			r.fresh = append(r.fresh, int32(a))
		}
	}
	if err := r.mixes(); err != nil {
		return err
	}
	for _, a := range r.inOrder {
		if err := r.put(a); err != nil {
			return err
		}
	}
	return nil
}

// mixes puts the mixes to be made in place; those that are there are on the
// board already.
func (r *restorer) mixes() error {
	p, b := r.d.m.p, r.d.b
	r.mixAt = map[string]int32{}
	resin := map[string]int32{}
	for i := range p.Resins {
		resin[p.Resins[i].ID] = int32(i)
	}
	for k := range b.mixes {
		for i := range b.mixes[k] {
			r.mixAt[p.Mixes[b.mixes[k][i].fact].ID] = int32(i)
		}
	}
	for i := range r.old.Mixes {
		x := &r.old.Mixes[i]
		k, known := resin[x.Resin]
		if _, there := r.mixAt[x.ID]; there || !known || x.Status != scheduler.Planned || x.Start < p.Now {
			continue
		}
		q := &p.Resins[k]
		y := mix{fact: -1, place: int32(max(1, x.Place) - 1), crew: -1, start: x.Start, end: x.End, expiry: x.Expiry, room: q.MaxMass - q.Heel}
		if q.Station >= 0 {
			if int(y.place) >= len(b.places[q.Station]) || !b.places[q.Station][y.place].free(x.Start, x.End) {
				return r.overtaken("mix " + x.ID)
			}
			b.takePlace(q.Station, y.place, slot{from: x.Start, start: x.Start, to: x.End, family: -1})
		}
		if c, ok := r.crew[x.Crew]; ok && x.Crew != "" {
			y.crew = c
			b.takeCrew(c, x.Start, x.End, q.Share)
		}
		r.mixAt[x.ID] = int32(len(b.mixes[k]))
		b.addMix(k, y)
		b.journal = append(b.journal, entry{kind: newMix, a: k})
	}
	return nil
}

// put places an activity with the members of its load.
func (r *restorer) put(a int32) error {
	if r.restored[a] {
		return nil
	}
	p, b, w := r.d.m.p, r.d.b, r.work[a]
	acts := []int32{a}
	if w.Load != "" {
		acts = r.loadOf[w.Load]
	}
	for _, x := range acts {
		r.restored[x] = true
	}
	n := r.d.m.nodeOf(acts)
	if load := p.Acts[a].Load; load >= 0 {
		n = r.d.m.settled[load]
	}
	if n == nil || len(n.acts) != len(acts) {
		return r.overtaken("load " + w.Load)
	}
	station, known := r.station[w.Station]
	option := slices.IndexFunc(n.options, func(o option) bool { return o.station == station })
	if !known || option < 0 {
		return r.overtaken(w.Piece + " at " + w.Operation)
	}
	o := &n.options[option]
	t := placed{
		on: true, node: n, option: int32(option), place: int32(max(1, w.Place) - 1), mix: -1,
		setup: w.Setup, start: w.Start, run: w.Run, runEnd: w.RunEnd, unload: w.Unload, end: w.End,
		crew: r.people(n.acts, o),
	}
	t.ready = b.readyBy(o, &t)
	if n.resin >= 0 && n.grams > 0 {
		at, there := r.mixAt[w.Mix]
		if !there {
			return r.overtaken("mix " + w.Mix)
		}
		t.mix = at
	}
	if int(t.place) >= len(b.places[station]) || t.setup < t.end && !b.places[station][t.place].free(max(t.setup, p.Now), t.end) {
		return r.overtaken(w.Piece + " at " + w.Operation)
	}
	return r.commit(n, o, &t)
}

// people are the crews of the option's needs, found on whichever member lists
// them.
func (r *restorer) people(acts []int32, o *option) []int32 {
	p := r.d.m.p
	crew := nobody(nil, o.people)
	for _, a := range acts {
		for _, u := range r.work[a].People {
			c, known := r.crew[u.Crew]
			if !known {
				continue
			}
			if st := &p.Stations[o.station]; u.Part == resources.PartSetup && st.SetupSkill >= 0 {
				crew[0] = c
				continue
			}
			k := 1
			for part := range o.needs {
				for _, nd := range o.needs[part] {
					if part == int(u.Part) && p.Skills[nd.skill].Name == u.Skill {
						crew[k] = c
					}
					k++
				}
			}
		}
	}
	return crew
}

// commit is board.commit with the tools the plan names.
func (r *restorer) commit(n *node, o *option, t *placed) error {
	b, p := r.d.b, r.d.m.p
	mark := b.mark()
	b.takePlace(o.station, t.place, slot{from: t.setup, start: t.start, to: t.end, family: o.family})
	b.commitPeople(n, o, t)
	for _, a := range n.acts {
		for i, h := range p.Acts[a].Holds {
			unit := int32(-1)
			if tools := r.work[a].Tools; i < len(tools) {
				unit = int32(slices.Index(p.Pools[p.Holds[h].Pool].Units, tools[i]))
			}
			if unit < 0 {
				return r.overtaken("tool of " + r.work[a].Piece)
			}
			// Its end is put right when it is given back, which comes later in
			// the plan.
			b.holdFrom(h, unit, t.setup, t.setup+1)
		}
		for _, d := range p.Acts[a].Draws {
			b.stocks[d.Stock].give(t.start, -d.Quantity)
			b.journal = append(b.journal, entry{kind: drewStock, a: d.Stock, from: t.start, share: d.Quantity})
		}
	}
	if t.mix >= 0 {
		b.mixes[n.resin][t.mix].grams += n.grams
		b.journal = append(b.journal, entry{kind: drewMix, a: n.resin, b: t.mix, share: n.grams})
	}
	b.put(n, t)
	if !b.giveAll(n, t, mark) {
		return r.overtaken("a tool given back by " + p.Acts[n.acts[0]].Piece)
	}
	return nil
}

// ErrOvertaken says that a plan cannot be followed to the second any more.
var ErrOvertaken = errors.New("the plan has been overtaken")

func (r *restorer) overtaken(what string) error {
	return fmt.Errorf("search: %w: %s is not as planned", ErrOvertaken, what)
}
