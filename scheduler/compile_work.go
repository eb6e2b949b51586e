// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"
	"slices"
	"strings"

	"towpath/resources"
)

// route is what every piece of a product shares.
type route struct {
	product *resources.Product
	split   bool
	last    []bool        // per operation: nothing follows, and it is there for the customer
	after   [][]int       // per operation and link: the operation it waits for, -1 for none
	until   [][]int       // per operation and tool: the operation that gives it back, -1 for none
	size    [][]int64     // per operation: Act.Size
	draws   [][]StockDraw // per operation: Act.Draws
	modes   [2][][2]int32 // begun or not, per operation: its modes once laid out
}

func (c *compiler) routings() error {
	c.routes = map[string]*route{}
	for i := range c.s.Plant.Products {
		product := &c.s.Plant.Products[i]
		n := len(product.Routing)
		r := &route{product: product, last: make([]bool, n), after: make([][]int, n), until: make([][]int, n)}
		r.modes = [2][][2]int32{make([][2]int32, n), make([][2]int32, n)}
		c.demands(r)
		followed, gives := map[string]bool{}, map[string]bool{}
		for j := range product.Routing {
			op := &product.Routing[j]
			for _, l := range op.After {
				r.after[j] = append(r.after[j], product.OperationIndex(l.Operation))
			}
			r.split = r.split || op.Split > 0
			for _, l := range op.After {
				followed[l.Operation] = true
			}
			for _, t := range op.Takes {
				r.until[j] = append(r.until[j], product.OperationIndex(t.Until))
				if t.Until != op.ID {
					gives[t.Until] = true
				}
			}
		}
		found := false
		for j := range product.Routing {
			id := product.Routing[j].ID
			r.last[j] = !followed[id] && !gives[id]
			found = found || r.last[j]
		}
		for j := range product.Routing {
			// Where all that nothing follows gives tools back, that completes it.
			r.last[j] = r.last[j] || !found && !followed[product.Routing[j].ID]
		}
		c.routes[product.ID] = r
	}
	return nil
}

// demands lays out what an operation's pieces take in size and stock; they
// share it.
func (c *compiler) demands(r *route) {
	for j := range r.product.Routing {
		op := &r.product.Routing[j]
		size := make([]int64, len(c.p.Dims))
		for d, name := range c.p.Dims {
			size[d] = op.Size[name]
		}
		var draws []StockDraw
		for _, d := range op.Draws {
			draws = append(draws, StockDraw{Stock: c.stockIx[d.Material], Quantity: d.Quantity})
		}
		r.size, r.draws = append(r.size, size), append(r.draws, draws)
	}
}

func (c *compiler) orders() error {
	c.lineIx = make(map[string]int32, len(c.s.Lines))
	c.rowOf = make(map[*Piece]int, len(c.s.Pieces))
	orderIx := map[string]int32{}
	operations := 0
	for _, key := range sortedKeys(c.s.Lines) {
		line := c.s.Lines[key]
		if line.Cancelled {
			continue
		}
		o, ok := orderIx[line.Order]
		if !ok {
			o = int32(len(c.p.Orders))
			orderIx[line.Order] = o
			c.p.Orders = append(c.p.Orders, OrderP{ID: line.Order})
		}
		ix := int32(len(c.p.Lines))
		c.lineIx[key] = ix
		c.p.Orders[o].Lines = append(c.p.Orders[o].Lines, ix)
		c.p.Lines = append(c.p.Lines, LineP{
			Order:   o,
			ID:      line.Line,
			Due:     line.Due,
			Weight:  line.Weight,
			Event:   line.Kind == resources.Event,
			Release: max(c.p.Now, line.EarliestStart),
		})
		for _, serial := range line.Pieces {
			piece := c.s.Pieces[serial]
			if piece == nil || piece.Scrapped {
				continue
			}
			r := c.routes[piece.Product]
			if r == nil {
				return fmt.Errorf("piece %s is of product %q, which the plant no longer has", piece.Serial, piece.Product)
			}
			c.rowOf[piece] = len(c.rows)
			c.rows = append(c.rows, row{piece, r, ix, operations})
			operations += len(piece.Ops)
		}
	}
	c.acts = make([]int32, operations)
	return nil
}

func (c *compiler) activities() error {
	c.keys = map[string]int32{}
	c.published()
	count := 0
	for _, act := range c.acts {
		if act == wanted {
			count++
		}
	}
	c.p.Acts = make([]Act, 0, count)
	c.p.Arcs = make([]Arc, 0, 2*count)
	c.wases = make([]Was, 0, count)
	c.listed(0, count)
	for i := range c.rows {
		r := &c.rows[i]
		first := len(c.p.Acts)
		for k := range r.piece.Ops {
			c.lastDone(r, k)
			if c.acts[r.at+k] == noAct {
				continue
			}
			c.acts[r.at+k] = int32(len(c.p.Acts))
			if err := c.activity(r, k); err != nil {
				return err
			}
		}
		if n := len(c.p.Acts); n > first {
			c.p.Pieces++
			c.p.FlowFrom = append(c.p.FlowFrom, firstStart(r.piece))
			// A line's pieces follow each other, and so do their activities.
			line := &c.p.Lines[r.line]
			line.Acts = c.listed(n-len(line.Acts)-(n-first), len(line.Acts)+n-first)
		}
	}
	c.classes()
	for i := range c.p.Stations {
		sp := &c.p.Stations[i]
		sp.Families = int32(len(c.familyOf[i]))
		c.changeovers(i, sp)
	}
	return nil
}

// published notes where the published plan has the operations of open pieces.
func (c *compiler) published() {
	c.was = make([]*Work, len(c.acts))
	if c.s.Plan == nil {
		return
	}
	byName := make(map[string]int, len(c.rows))
	for i := range c.rows {
		byName[c.rows[i].piece.Serial] = i
	}
	next := make([]int, len(c.rows)) // per row: behind the operation found last, as a plan speaks of them in turn
	for i := range c.s.Plan.Work {
		w := &c.s.Plan.Work[i]
		ix, ok := byName[w.Piece]
		if !ok {
			continue
		}
		r := &c.rows[ix]
		k := next[ix]
		if k == len(r.piece.Ops) || r.piece.Ops[k].Operation != w.Operation {
			k = opNamed(r.piece, w.Operation)
		}
		if k >= 0 {
			c.was[r.at+k], next[ix] = w, k+1
		}
	}
}

// classes gives one key to all activities that can meet in loads: those with
// an equal key on some station, and whoever meets those.
func (c *compiler) classes() {
	up := make([]int32, len(c.keys))
	for i := range up {
		up[i] = int32(i)
	}
	root := func(k int32) int32 {
		for up[k] != k {
			up[k] = up[up[k]]
			k = up[k]
		}
		return k
	}
	// What one activity says of its modes, all say that share them.
	said, of := make([]bool, len(c.p.Modes)), make([]int32, len(c.p.Modes))
	for a := range c.p.Acts {
		act := &c.p.Acts[a]
		if said[act.ModeAt] {
			continue
		}
		said[act.ModeAt], of[act.ModeAt] = true, -1
		for m := act.ModeAt; m < act.ModeTo; m++ {
			k := c.p.Modes[m].Key
			switch first := of[act.ModeAt]; {
			case k < 0:
			case first < 0:
				of[act.ModeAt] = k
			default:
				up[root(k)] = root(first)
			}
		}
	}
	for a := range c.p.Acts {
		if act := &c.p.Acts[a]; of[act.ModeAt] >= 0 {
			act.Key = root(of[act.ModeAt])
		}
	}
}

// lastDone notes on the line what is already complete or cannot be.
func (c *compiler) lastDone(r *row, k int) {
	if r.piece.Sample || !r.route.last[r.piece.Ops[k].Index] {
		return
	}
	lp := &c.p.Lines[r.line]
	if r.piece.Ops[k].Status == Done {
		lp.Done = max(lp.Done, r.piece.Ops[k].Ended)
	} else if c.acts[r.at+k] == noAct {
		lp.Blocked = true
	}
}

func firstStart(piece *Piece) Tick {
	var first Tick
	for i := range piece.Ops {
		if t := piece.Ops[i].Started; piece.Ops[i].Status != Planned && (first == 0 || t < first) {
			first = t
		}
	}
	return first
}

func (c *compiler) activity(r *row, k int) error {
	piece, state := r.piece, &r.piece.Ops[k]
	op := &r.route.product.Routing[state.Index]
	modeAt, modeTo := c.modes(r.route, state)
	if modeTo == modeAt {
		return c.nowhere(piece, r.route.product, op)
	}
	c.p.Acts = append(c.p.Acts, Act{
		Piece: piece.Serial, Operation: op.ID, Index: state.Index, Recipe: op.Recipe,
		Line: r.line, PieceIx: c.p.Pieces,
		ModeAt: modeAt, ModeTo: modeTo,
		Release:  c.p.Lines[r.line].Release,
		MayPause: op.MayPause,
		Last:     !piece.Sample && r.route.last[state.Index],
		Resin:    -1, Key: -1, Load: -1,
		Size: r.route.size[state.Index],
	})
	act := &c.p.Acts[len(c.p.Acts)-1]
	was := c.was[r.at+k]
	if op.Mix != nil {
		act.Resin, act.Grams = c.resinIx[op.Mix.Resin], op.Mix.Grams
	}
	if state.Status != Planned {
		act.Fixed = c.fixed(act, state, was)
		act.Resin = -1
		return nil
	}
	act.Draws = r.route.draws[state.Index]
	if was != nil {
		c.keep(act, was)
	}
	return nil
}

// nowhere says why none of an operation's stations can do it.
func (c *compiler) nowhere(piece *Piece, product *resources.Product, op *resources.Operation) *Infeasible {
	x := &Infeasible{Piece: piece.Serial, Operation: op.ID, Stations: op.Stations, Reason: "no station of the plant can do it", Proven: true}
	for _, id := range op.Stations {
		ix, ok := c.stationIx[id]
		if !ok {
			x.add(LimitStation, id, fmt.Sprintf("%s is not in the plant", id))
			continue
		}
		st := &c.s.Plant.Stations[ix]
		for _, dimension := range sortedKeys(st.Limits) {
			if has := product.Dimensions[dimension]; has > st.Limits[dimension] {
				x.add(LimitSize, id, fmt.Sprintf("%s takes %s up to %d and it has %d", id, dimension, st.Limits[dimension], has))
			}
		}
		if op.Recipe != "" && !slices.Contains(st.Recipes, op.Recipe) {
			x.add(LimitStation, id, fmt.Sprintf("%s does not run recipe %s", id, op.Recipe))
		}
	}
	if len(op.Stations) == 0 {
		x.add(LimitStation, "", "its routing names no station")
	}
	return x
}

// takes tells whether a station is big enough for the product and runs the
// operation's recipe.
func takes(st *resources.Station, product *resources.Product, op *resources.Operation) bool {
	for dimension, limit := range st.Limits {
		if product.Dimensions[dimension] > limit {
			return false
		}
	}
	return op.Recipe == "" || slices.Contains(st.Recipes, op.Recipe)
}

func intern(table map[string]int32, text string) int32 {
	ix, ok := table[text]
	if !ok {
		ix = int32(len(table))
		table[text] = ix
	}
	return ix
}

// loadKey is the text in which members of a load must agree.
func (c *compiler) loadKey(b *resources.Batch, op *resources.Operation) string {
	var sb strings.Builder
	for _, attribute := range b.Same {
		value := op.Attributes[attribute]
		if attribute == "recipe" && op.Recipe != "" {
			value = op.Recipe
			if r := c.s.Plant.Recipe(op.Recipe); r != nil && r.Group != "" {
				value = r.Group
			}
		}
		fmt.Fprintf(&sb, "%s=%s;", attribute, value)
	}
	return sb.String()
}

// modes are the ways to do an operation, the same for all pieces of a product.
// What has begun may be on a station that would not take it now.
func (c *compiler) modes(r *route, state *OpState) (at, to int32) {
	op := &r.product.Routing[state.Index]
	begun := state.Status != Planned
	known := &r.modes[0][state.Index]
	if begun {
		known = &r.modes[1][state.Index]
	}
	if known[1] > known[0] {
		return known[0], known[1]
	}
	at = int32(len(c.p.Modes))
	for _, id := range op.Stations {
		ix, ok := c.stationIx[id]
		if ok && (begun || takes(&c.s.Plant.Stations[ix], r.product, op)) {
			c.mode(op, ix)
		}
	}
	to = int32(len(c.p.Modes))
	*known = [2]int32{at, to}
	return at, to
}

func (c *compiler) mode(op *resources.Operation, station int32) {
	st := &c.s.Plant.Stations[station]
	m := Mode{
		Station: station,
		Load:    op.Load, LoadEach: op.LoadEach,
		Run: c.s.Plant.RunTime(op, st), MaxRun: op.MaxRun,
		Unload: op.Unload, UnloadEach: op.UnloadEach,
		WaitInside: op.WaitInside,
		Family:     c.family(station, op),
		Key:        -1,
		NeedAt:     int32(len(c.p.Needs)),
	}
	if st.Batch != nil {
		m.Key = intern(c.keys, st.ID+"|"+c.loadKey(st.Batch, op))
	}
	for _, n := range op.Needs {
		if n.Share > 0 {
			c.p.Needs = append(c.p.Needs, ActNeed{Part: n.Part, Skill: c.skill(n.Skill), Share: n.Share})
		}
	}
	m.NeedTo = int32(len(c.p.Needs))
	c.p.Modes = append(c.p.Modes, m)
}

// family numbers the attribute sets a station tells apart.
func (c *compiler) family(station int32, op *resources.Operation) int32 {
	st := &c.s.Plant.Stations[station]
	attributes := op.SetupAttributes()
	var sb strings.Builder
	seen := map[string]bool{}
	for i := range st.Setups {
		if name := st.Setups[i].Attribute; !seen[name] {
			seen[name] = true
			fmt.Fprintf(&sb, "%s=%s;", name, attributes[name])
		}
	}
	before := len(c.families[station])
	ix := intern(c.families[station], sb.String())
	if int(ix) == before {
		c.familyOf[station] = append(c.familyOf[station], attributes)
	}
	return ix
}

func (c *compiler) changeovers(i int, sp *StationP) {
	st := &c.s.Plant.Stations[i]
	if len(st.Setups) == 0 {
		sp.Families = 0
		return
	}
	n := int(sp.Families)
	sp.SetupTime = make([]Seconds, (n+1)*n)
	sp.SetupCost = make([]int64, (n+1)*n)
	initial := st.Initial
	if now := c.s.Stations[st.ID]; now != nil && now.Setup != nil {
		initial = now.Setup
	}
	for from := 0; from <= n; from++ {
		attributes := initial
		if from < n {
			attributes = c.familyOf[i][from]
		}
		for to := range n {
			sp.SetupTime[from*n+to], sp.SetupCost[from*n+to] = st.Changeover(attributes, c.familyOf[i][to])
		}
	}
}

// fixed pins started work: it stays where it is, and its end is what the old
// plan or its plain durations say, put off by its pauses, but not before now.
func (c *compiler) fixed(act *Act, state *OpState, was *Work) *Fixed {
	if was != nil && was.Status == Done {
		was = nil // it speaks of the first time; this is being done again
	}
	mode := act.ModeAt
	for m := act.ModeAt; m < act.ModeTo; m++ {
		if c.s.Plant.Stations[c.p.Modes[m].Station].ID == state.Station {
			mode = m
		}
	}
	md := &c.p.Modes[mode]
	f := &Fixed{
		Mode: mode, Place: int32(max(1, state.Place) - 1),
		Setup: state.Started, Start: state.Started,
		Paused: state.Status == Paused, Mix: state.Mix, Tools: state.Tools,
	}
	f.Run = f.Start + Tick(md.Load+md.LoadEach)
	f.RunEnd = f.Run + Tick(md.Run)
	f.Unload = f.RunEnd
	f.End = f.Unload + Tick(md.Unload+md.UnloadEach)
	plain := f.End
	if was != nil && was.Station == state.Station {
		by := state.Started - was.Start
		f.Run, f.RunEnd, f.Unload, f.End = was.Run+by, was.RunEnd+by, was.Unload+by, was.End+by
	}
	end := c.expected(state, was, f.End, plain+Tick(state.PausedFor))
	f.RunEnd, f.Unload, f.End = f.RunEnd+end-f.End, f.Unload+end-f.End, end
	f.Run, f.RunEnd, f.Unload = min(f.Run, f.End), min(max(f.RunEnd, f.Run), f.End), min(max(f.Unload, f.Run), f.End)
	return f
}

// expected is when started work should end: said is what its plan says, plain
// what its durations and the pauses that are over come to. A plan made before
// the start knows of no pause; one made during a pause counted what was left
// from its own now on.
func (c *compiler) expected(state *OpState, was *Work, said, plain Tick) Tick {
	end := said
	switch {
	case was == nil || was.Station != state.Station:
		end = plain
	case was.Status == Planned:
		end = said + Tick(state.PausedFor)
	case was.Status == Paused && state.Status == Paused:
		return c.p.Now + max(0, said-c.s.Plan.Made)
	case was.Status == Paused:
		end = plain
	case state.PausedFor > 0:
		end = max(said, plain)
	}
	if state.Status == Paused {
		end = c.p.Now + max(0, end-state.PausedAt)
	}
	// Overdue work may be reported finished any moment.
	return max(end, c.p.Now)
}

// keep remembers where the published plan has a free activity, and pins it
// inside the frozen window.
func (c *compiler) keep(act *Act, was *Work) {
	for m := act.ModeAt; m < act.ModeTo; m++ {
		station := c.p.Modes[m].Station
		st := &c.s.Plant.Stations[station]
		if st.ID != was.Station {
			continue
		}
		now := c.condition[station]
		c.wases = append(c.wases, Was{
			Mode: m, Place: int32(max(1, was.Place) - 1), Setup: was.Setup, Start: was.Start, End: was.End,
			Tools: was.Tools,
			Near:  was.Setup < c.p.Now+Tick(NearWindow(now.freeze)),
		})
		act.Was = &c.wases[len(c.wases)-1]
		// People are told to begin with the changeover, so that is what the
		// window looks at.
		switch {
		case now.down:
		case was.Setup < c.p.Now+Tick(now.freeze):
			act.Frozen = true
			act.Was.Told = was.Start
			act.Release = max(act.Release, was.Start)
		default:
			act.Was.Told = c.p.Now + Tick(now.freeze)
		}
	}
}

// FreezeOf is the frozen window of a station, its own or the plant's: what was
// published to begin, with its changeover, inside it stays.
func FreezeOf(p *resources.Plant, st *resources.Station) Seconds {
	if st.Freeze > 0 {
		return st.Freeze
	}
	return p.Freeze
}

// NearWindow is how far ahead a change to the published plan counts as churn:
// the frozen window and half a shift beyond it.
func NearWindow(freeze Seconds) Seconds { return freeze + 4*resources.Hour }
