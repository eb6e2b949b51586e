// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"towpath/resources"
	"towpath/resources/quality"
	"towpath/scheduler"
)

// ErrPlan says that a plan does not fit the state it should be played from.
var ErrPlan = errors.New("the plan cannot be played")

// Compile lays a plan out for playing from now on. The plan must be one that
// scheduler.Check finds nothing against at that instant. The state is only
// read.
func Compile(s *scheduler.State, now Tick, plan *scheduler.Plan) (*Program, error) {
	p, err := scheduler.Compile(s, now)
	if err != nil {
		return nil, err
	}
	c := &compiler{
		s: s, plant: s.Plant, chance: s.Plant.Chance.Or(resources.DefaultChance()),
		acts: make(map[scheduler.Member]int32, len(p.Acts)), stations: map[string]int32{}, crews: map[string]int32{},
		g:    &Program{p: p, plan: plan, floor: s.Plant.Floor, modes: slices.Clone(p.Modes), needs: slices.Clone(p.Needs)},
		arcs: slices.Clone(p.Arcs),
	}
	if c.g.floor == (resources.Floor{}) {
		c.g.floor = resources.DefaultFloor()
	}
	c.layStations()
	c.layCrews()
	c.layActs()
	c.layPieces()
	mixes := c.layMixes()
	if err := c.layNodes(mixes); err != nil {
		return nil, err
	}
	c.layLines()
	c.g.tables = c.spreads.tables
	c.g.fromNow()
	c.g.byTime(c.arcs)
	c.g.layKinds()
	c.g.layWays()
	c.g.layCommon()
	c.g.layNeeds()
	c.g.layTurns()
	c.g.layDuties()
	c.g.layBegins()
	c.g.layPools()
	if len(c.g.nodes) > most {
		return nil, fmt.Errorf("%w: it has more than %d works", ErrPlan, most/2)
	}
	return c.g, nil
}

// Orders are the orders of the program in its order.
func (g *Program) Orders() []string {
	ids := make([]string, len(g.p.Orders))
	for i := range ids {
		ids[i] = g.p.Orders[i].ID
	}
	return ids
}

type compiler struct {
	s        *scheduler.State
	plant    *resources.Plant
	chance   resources.Chance
	g        *Program
	spreads  spreads
	acts     map[scheduler.Member]int32
	stations map[string]int32
	crews    map[string]int32
	arcs     []scheduler.Arc // of the problem, and those from mixes to be made
}

func (c *compiler) layStations() {
	for i := range c.g.p.Stations {
		sp, st := &c.g.p.Stations[i], &c.plant.Stations[i]
		c.stations[sp.ID] = int32(i)
		x := station{place: c.g.places, key: keyOf("station", sp.ID), mend: -1, spread: c.spreads.number(st.SetupSpread.Or(c.chance.Setup))}
		c.g.places += int32(sp.Places)
		x.always, x.unattended, x.places, x.families = sp.Always, sp.Unattended, int32(sp.Places), sp.Families
		x.open, x.stops = c.spans(sp.Open), c.spans(sp.Stops)
		for _, t := range sp.SetupTime {
			x.changeover = append(x.changeover, short32(Tick(t)))
		}
		if b := st.Breakdowns; b != nil && b.Every > 0 {
			x.every, x.repair = float64(b.Every), float64(b.Repair)
			if b.Spread.Shape != resources.Unsaid {
				x.mend = c.spreads.number(b.Spread)
			}
		}
		for _, w := range sp.Open {
			x.longest = max(x.longest, Seconds(w.End-w.Start))
		}
		c.g.stations = append(c.g.stations, x)
	}
}

// spans are intervals in the time of histories.
func (c *compiler) spans(list []resources.Interval) []span {
	out := make([]span, len(list))
	for i, w := range list {
		out[i] = span{w.Start - c.g.p.Now, w.End - c.g.p.Now}
	}
	return out
}

func (c *compiler) layCrews() {
	zone := c.plant.Zone
	if zone == nil {
		zone = time.UTC
	}
	for i := range c.g.p.Crews {
		cp := &c.g.p.Crews[i]
		c.crews[cp.ID] = int32(i)
		x := crew{key: keyOf("crew", cp.ID), absence: c.plant.Crews[i].Absence}
		for _, step := range cp.Steps {
			day := int32(0)
			if x.absence > 0 {
				at := time.Unix(int64(step.At), 0).In(zone)
				day = int32(at.Year()*366 + at.YearDay())
			}
			x.day = append(x.day, day)
			x.steps = append(x.steps, scheduler.CapStep{At: step.At - c.g.p.Now, Cap: step.Cap})
		}
		c.g.crews = append(c.g.crews, x)
	}
}

// spreadsOf says how an operation's times vary. A run that takes less than a
// whole person is minded, not done by hand: the machine sets its time.
func (c *compiler) spreadsOf(op *resources.Operation) (hands, run int32) {
	attended := slices.ContainsFunc(op.Needs, func(n resources.Need) bool { return n.Part == resources.PartRun && n.Share >= 1000 })
	usual := c.chance.Machine
	switch {
	case op.Recipe != "":
		usual = c.chance.Cure
	case attended:
		usual = c.chance.Hands
	}
	return c.spreads.number(op.Spread.Or(c.chance.Hands)), c.spreads.number(op.Spread.Or(usual))
}

func (c *compiler) layActs() {
	g := c.g
	type kind struct {
		hands, run int32
		op         *resources.Operation
	}
	kinds := map[*resources.Operation]kind{}
	for i := range g.p.Acts {
		a := &g.p.Acts[i]
		name := scheduler.Member{Piece: a.Piece, Operation: a.Operation}
		c.acts[name] = int32(i)
		x := act{
			key: keyOf(a.Piece, a.Operation), line: a.Line, piece: a.PieceIx,
			kindOf: kindOf{last: a.Last, pausable: a.MayPause, pass: 1, again: 1, takes: int32(len(a.Holds)), gives: int32(len(a.Gives))},
			more: &more{
				modeAt: a.ModeAt, modeTo: a.ModeTo, release: a.Release, deadline: a.Deadline,
				begins: a.Holds, ends: a.Gives, size: a.Size, mix: -1, planned: -1, back: -1, name: name,
			},
		}
		if product := c.plant.Product(c.s.Pieces[a.Piece].Product); product != nil {
			op := &product.Routing[a.Index]
			k, known := kinds[op]
			if !known {
				k = kind{op: op}
				k.hands, k.run = c.spreadsOf(op)
				kinds[op] = k
			}
			x.load, x.run, x.unload = k.hands, k.run, k.hands
			c.gate(&x, op)
		}
		if f := a.Fixed; f != nil {
			x.plannedStart, x.plannedEnd = f.Start, f.End
		}
		g.acts = append(g.acts, x)
	}
}

// gate says what becomes of a piece that fails: what the plant says, else once
// more where it was looked at, else from the beginning.
func (c *compiler) gate(x *act, op *resources.Operation) {
	if op.Yield <= 0 || op.Yield >= 1 {
		return
	}
	x.pass, x.again, x.redo = op.Yield, op.Yield, redoAll
	if op.SecondPass > 0 {
		x.again, x.redo, x.times = op.SecondPass, redoHere, 1
	}
	switch r := op.Rule; {
	case r != nil && r.Fail == quality.Rework && r.To != "":
		x.redo, x.times = redoBack, int32(max(1, r.Times))
		x.back = c.actOf(x.name.Piece, r.To)
		if x.back < 0 {
			x.redo = redoHere
		}
	case r != nil && r.Fail == quality.Remake && op.SecondPass == 0:
		x.redo = redoAll
	case op.Gate != "" && op.SecondPass == 0:
		x.redo, x.times = redoHere, 1
	}
}

func (c *compiler) actOf(piece, operation string) int32 {
	if a, ok := c.acts[scheduler.Member{Piece: piece, Operation: operation}]; ok {
		return a
	}
	return -1
}

func (c *compiler) layPieces() {
	g := c.g
	g.pieces = make([]piece, g.p.Pieces)
	at := map[string]int32{}
	for i := range g.pieces {
		g.pieces[i].parent = -1
	}
	for i := range g.acts {
		x := &g.acts[i]
		g.pieces[x.piece].acts = append(g.pieces[x.piece].acts, int32(i))
		at[x.name.Piece] = x.piece
		if x.last {
			g.pieces[x.piece].lasts++
		}
	}
	for i := range g.pieces {
		serial := g.acts[g.pieces[i].acts[0]].name.Piece
		done := c.donePast(serial)
		if p := c.s.Pieces[serial]; p.Parent != "" {
			done += c.donePast(p.Parent)
			if parent, ok := at[p.Parent]; ok {
				g.pieces[i].parent = parent
			}
		}
		for _, a := range g.pieces[i].acts {
			g.acts[a].past = done
		}
	}
}

// donePast is the work on a piece that is over.
func (c *compiler) donePast(serial string) Seconds {
	var sum Seconds
	p := c.s.Pieces[serial]
	if p == nil {
		return 0
	}
	for i := range p.Ops {
		if o := &p.Ops[i]; o.Status == scheduler.Done && o.Ended > o.Started {
			sum += Seconds(o.Ended - o.Started)
		}
	}
	return sum
}

// layMixes adds an activity for each mix to be made, and says who draws from
// it. It returns the mix of each such activity.
func (c *compiler) layMixes() []*scheduler.Mix {
	g := c.g
	var made []*scheduler.Mix
	resins := map[string]int32{}
	for i := range g.p.Resins {
		resins[g.p.Resins[i].ID] = int32(i)
	}
	spread := c.spreads.number(c.chance.Setup)
	for i := range g.plan.Mixes {
		m := &g.plan.Mixes[i]
		r, known := resins[m.Resin]
		if !known {
			continue
		}
		resin := &g.p.Resins[r]
		maker := int32(-1)
		if station, ok := c.stations[m.Station]; ok && m.Status == scheduler.Planned && c.s.Mixes[m.ID] == nil {
			maker = int32(len(g.acts))
			mode := scheduler.Mode{Station: station, Run: resin.Mixing, Key: -1, NeedAt: int32(len(g.needs))}
			if resin.Skill >= 0 {
				g.needs = append(g.needs, scheduler.ActNeed{Part: resources.PartRun, Skill: resin.Skill, Share: resin.Share})
			}
			mode.NeedTo = int32(len(g.needs))
			g.modes = append(g.modes, mode)
			g.acts = append(g.acts, act{
				key: keyOf("mix", m.Users[0].Piece, m.Users[0].Operation), line: -1, piece: -1,
				kindOf: kindOf{pass: 1, again: 1, load: spread, run: spread, unload: spread},
				more: &more{
					modeAt: int32(len(g.modes) - 1), modeTo: int32(len(g.modes)), release: g.p.Now,
					mix: -1, planned: -1, back: -1, name: scheduler.Member{Piece: m.ID},
				},
			})
			made = append(made, m)
		}
		for _, u := range m.Users {
			a := c.actOf(u.Piece, u.Operation)
			if a < 0 || g.p.Acts[a].Fixed != nil {
				continue
			}
			x := &g.acts[a]
			x.resin, x.mix, x.remix, x.mixing, x.draws = r, maker, resin.Mixing, spread, resin.Mixing > 0
			if maker >= 0 {
				c.arcs = append(c.arcs, scheduler.Arc{From: maker, To: a})
			} else {
				x.expiry = m.Expiry
			}
		}
	}
	return made
}

func (c *compiler) layLines() {
	g := c.g
	g.lines = make([]line, len(g.p.Lines))
	open := make([]int32, len(g.p.Lines))
	for i := range g.pieces {
		if x := &g.acts[g.pieces[i].acts[0]]; g.pieces[i].lasts > 0 {
			open[x.line]++
		}
	}
	for _, o := range g.p.Orders {
		g.orders = append(g.orders, order{lines: o.Lines, stock: o.ID == scheduler.StockOrder})
	}
	for i := range g.lines {
		lp := &g.p.Lines[i]
		x := &g.lines[i]
		x.done = lp.Done
		l := c.s.Lines[scheduler.LineKey(g.p.Orders[lp.Order].ID, lp.ID)]
		x.need = int32(l.Quantity - c.good(l))
		x.need = max(x.need, 0)
		x.spare = open[i] - x.need
		x.planned = lp.Done
		for _, a := range lp.Acts {
			if g.acts[a].last {
				x.planned = max(x.planned, g.acts[a].plannedEnd)
			}
		}
		if x.spare < 0 {
			x.need = -1
			g.orders[lp.Order].waiting = true
		}
	}
}

// good counts the pieces of a line that are complete.
func (c *compiler) good(l *scheduler.Line) int {
	tubes, shafts := 0, 0
	anyShaft := false
	for _, serial := range l.Pieces {
		p := c.s.Pieces[serial]
		if p == nil || p.Scrapped || p.Sample {
			continue
		}
		anyShaft = anyShaft || p.Shaft
		complete := true
		for i := range p.Ops {
			complete = complete && p.Ops[i].Status == scheduler.Done
		}
		// A piece is complete when no activity of it ends the line.
		if !complete {
			complete = true
			for i := range p.Ops {
				if a := c.actOf(serial, p.Ops[i].Operation); a >= 0 && c.g.acts[a].last {
					complete = false
				} else if a < 0 && p.Ops[i].Status != scheduler.Done {
					complete = false
				}
			}
		}
		if !complete {
			continue
		}
		if p.Shaft {
			shafts++
		} else {
			tubes++
		}
	}
	if anyShaft {
		return shafts
	}
	return tubes
}

// layNodes groups activities as the plan has them and lines them up at their
// stations.
func (c *compiler) layNodes(mixes []*scheduler.Mix) error {
	g := c.g
	work := make([]*scheduler.Work, len(g.p.Acts))
	for i := range g.plan.Work {
		w := &g.plan.Work[i]
		if a := c.actOf(w.Piece, w.Operation); a >= 0 {
			work[a] = w
		}
	}
	loads := map[string][]int32{}
	for a, w := range work {
		if w == nil {
			return fmt.Errorf("%w: it does not have %s of piece %s", ErrPlan, g.p.Acts[a].Operation, g.p.Acts[a].Piece)
		}
		if w.Load != "" && g.p.Acts[a].Fixed == nil {
			loads[w.Load] = append(loads[w.Load], int32(a))
		}
	}
	running := map[int32]bool{}
	for a, w := range work {
		switch f := g.p.Acts[a].Fixed; {
		case f != nil && g.p.Acts[a].Load >= 0:
			if l := g.p.Acts[a].Load; !running[l] {
				running[l] = true
				c.node(g.p.Loads[l].Members, w, f)
			}
		case f != nil:
			c.node([]int32{int32(a)}, w, f)
		case w.Load == "":
			c.node([]int32{int32(a)}, w, nil)
		case loads[w.Load][0] == int32(a):
			c.node(loads[w.Load], w, nil)
		}
	}
	for i, m := range mixes {
		c.node([]int32{int32(len(g.p.Acts) + i)}, &scheduler.Work{
			Station: m.Station, Place: m.Place, Setup: m.Start, Start: m.Start, Run: m.Start, RunEnd: m.End, Unload: m.End, End: m.End,
			People: []scheduler.PeopleUse{{Part: resources.PartRun, Crew: m.Crew}},
		}, nil)
	}
	g.planned = int32(len(g.nodes))
	for n := range g.nodes {
		if g.nodes[n].fixed == nil {
			s := g.nodes[n].station
			g.stations[s].queue = append(g.stations[s].queue, int32(n))
		}
	}
	for s := range g.stations {
		slices.SortStableFunc(g.stations[s].queue, func(a, b int32) int {
			return cmp.Or(cmp.Compare(g.nodes[a].start, g.nodes[b].start), cmp.Compare(a, b))
		})
	}
	for a := range g.acts {
		x := &g.acts[a]
		x.spare = int32(len(g.nodes))
		at := g.nodes[x.planned]
		g.nodes = append(g.nodes, node{station: at.station, place: -1, prefer: -1, setupCrew: -1})
	}
	return nil
}

func (c *compiler) node(members []int32, w *scheduler.Work, f *scheduler.Fixed) {
	g := c.g
	n := node{
		station: c.stations[w.Station], place: int32(max(1, w.Place) - 1), setup: w.Setup, start: w.Start, end: w.End, unload: w.Unload,
		at: int32(len(g.members)), prefer: int32(len(g.prefer)), setupCrew: -1, fixed: f,
	}
	if f != nil {
		n.station, n.place, n.start, n.end, n.unload = g.modes[f.Mode].Station, f.Place, f.Start, f.End, f.Unload
	}
	g.members = append(g.members, members...)
	n.to = int32(len(g.members))

	mode := g.modeOn(members[0], n.station)
	used := 0
	for k := g.modes[mode].NeedAt; k < g.modes[mode].NeedTo; k++ {
		named := int32(-1)
		for i, u := range w.People[min(used, len(w.People)):] {
			if u.Part == g.needs[k].Part && (u.Skill == "" || u.Skill == g.p.Skills[g.needs[k].Skill].Name) {
				named, used = c.crewOf(u.Crew), used+i+1
				break
			}
		}
		g.prefer = append(g.prefer, named)
	}
	for _, u := range w.People {
		if u.Part == resources.PartSetup {
			n.setupCrew = c.crewOf(u.Crew)
		}
	}
	for _, a := range members {
		g.acts[a].planned = int32(len(g.nodes))
		g.acts[a].plannedStart, g.acts[a].plannedEnd = n.start, n.end
	}

	g.nodes = append(g.nodes, n)
}

func (c *compiler) crewOf(id string) int32 {
	if k, ok := c.crews[id]; ok {
		return k
	}
	return -1
}

// modeOn is how an activity is done on a station; -1 when it cannot be.
func (g *Program) modeOn(a, station int32) int32 {
	x := &g.acts[a]
	for m := x.modeAt; m < x.modeTo; m++ {
		if g.modes[m].Station == station {
			return m
		}
	}
	return -1
}
