// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"cmp"
	"fmt"
	"slices"

	"towpath/resources"
)

// Compile lays a state out as flat arrays for a search that begins at now.
// Work that is done becomes releases and deadlines, started work is fixed,
// pieces that are held, scrapped or cancelled are left out together with what
// waits for them. The state is only read.
func Compile(s *State, now Tick) (*Problem, error) {
	c := &compiler{s: s, products: byName(s.Plant), p: &Problem{
		Now:     now,
		Base:    s.Seq,
		Version: 1,
		Goal:    s.Plant.Objective,
	}}
	if s.Plan != nil {
		c.p.Version = s.Plan.Version + 1
	}
	if n := len(s.plants); n > 0 {
		c.p.Declared, _ = s.seen.seq(s.plants[n-1])
	}
	c.out = now + Tick(s.Plant.Horizon)
	if s.Plant.Horizon <= 0 {
		c.out = now + Tick(26*7*resources.Day)
	}
	c.p.End = max(now+Tick(c.horizon()), c.out+Tick(8*7*resources.Day))
	steps := []func() error{
		c.stations, c.running, c.crews, c.pools, c.resins, c.stocks,
		c.routings, c.orders, c.choose, c.activities, c.arcs, c.loads, c.holds, c.history,
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return c.p, nil
}

// compiler holds what Compile looks up while it builds. Names are looked up
// once; what every piece needs goes by position.
type compiler struct {
	s *State
	p *Problem

	out       Tick // what nobody can date is taken to be back then: the end of the plant's horizon
	products  map[string]*resources.Product
	windows   map[string][]resources.Interval // by calendar
	stationIx map[string]int32
	condition []condition // per station
	skillIx   map[string]int32
	poolIx    map[string]int32
	resinIx   map[string]int32
	stockIx   map[string]int32
	supply    *supply
	families  []map[string]int32 // per station: attribute text to family
	familyOf  [][]map[string]string
	keys      map[string]int32
	routes    map[string]*route // by product
	lineIx    map[string]int32
	rows      []row          // open pieces in planning order
	rowOf     map[*Piece]int // in rows
	acts      []int32        // per operation of the rows, by row.at: the activity, or noAct or wanted
	was       []*Work        // likewise: where the published plan has it
	wases     []Was          // memory for Act.Was
	numbers   []int32        // 0, 1, 2, …: memory for lists of what follows each other
}

// condition is what a station's pieces need to know of it.
type condition struct {
	freeze Seconds
	down   bool
}

// row is an open piece.
type row struct {
	piece *Piece
	route *route
	line  int32
	at    int // of its first operation in compiler.acts
}

// opRef is an operation of a piece by position.
type opRef struct {
	piece *Piece
	op    int // position in Piece.Ops
	row   int // of the piece, -1: it is not open
}

// noAct marks an operation that is not to be planned, wanted one that is and
// has no activity yet.
const (
	noAct  = -2
	wanted = -1
)

// act is the activity of an operation, wanted before it has one; false when it
// is not to be planned.
func (c *compiler) act(ref opRef) (int32, bool) {
	if ref.row < 0 {
		return noAct, false
	}
	act := c.acts[c.rows[ref.row].at+ref.op]
	return act, act != noAct
}

// listed is the list of n numbers from first on.
func (c *compiler) listed(first, n int) []int32 {
	for i := len(c.numbers); i < first+n; i++ {
		c.numbers = append(c.numbers, int32(i))
	}
	return c.numbers[first : first+n : first+n]
}

// farthestHorizon is the most a calendar is laid out for.
const farthestHorizon = 15 * 365 * resources.Day

// horizon is how far to lay out calendars: the plant's horizon, or further when
// the latest date or the sheer amount of work asks for it. It bounds the
// layout, not the plan.
func (c *compiler) horizon() Seconds {
	plant := c.s.Plant
	far := plant.Horizon
	load := make([]Seconds, len(plant.Stations))
	shares := map[*resources.Product][]stationShare{}
	for i := range plant.Materials {
		for _, r := range plant.Materials[i].Receipts {
			far = max(far, Seconds(r.At-c.p.Now)+8*7*resources.Day)
		}
	}
	for _, line := range c.s.Lines {
		product := c.products[line.Product]
		if line.Cancelled || product == nil || line.Order == StockOrder {
			continue
		}
		far = max(far, Seconds(line.Due-c.p.Now)+8*7*resources.Day)
		pieces := Seconds(line.Quantity + product.Samples)
		share, known := shares[product]
		if !known {
			share = stationShares(plant, product)
			shares[product] = share
		}
		for _, x := range share {
			load[x.station] += x.each * pieces / x.among
		}
	}
	for i, work := range load {
		st := &plant.Stations[i]
		work /= Seconds(max(1, st.Places))
		if st.Batch != nil {
			work /= 3 // some company in each load at least
		}
		// A station open for a third of the time and rarely idle then.
		far = max(far, 4*work)
	}
	return min(far, farthestHorizon)
}

// stationShare is the time a piece is on a station at one operation, were it
// not for the other stations that do it.
type stationShare struct {
	station     int
	each, among Seconds
}

func stationShares(plant *resources.Plant, product *resources.Product) []stationShare {
	var out []stationShare
	for i := range product.Routing {
		op := &product.Routing[i]
		for _, id := range op.Stations {
			k := slices.IndexFunc(plant.Stations, func(s resources.Station) bool { return s.ID == id })
			if k >= 0 {
				each := op.Load + op.LoadEach + op.Unload + op.UnloadEach + plant.RunTime(op, &plant.Stations[k])
				out = append(out, stationShare{k, each, Seconds(len(op.Stations))})
			}
		}
	}
	return out
}

// byName finds products.
func byName(plant *resources.Plant) map[string]*resources.Product {
	products := make(map[string]*resources.Product, len(plant.Products))
	for i := range plant.Products {
		if p := &plant.Products[i]; products[p.ID] == nil {
			products[p.ID] = p
		}
	}
	return products
}

// open lays a calendar out over the horizon, once.
func (c *compiler) open(calendar string) ([]resources.Interval, error) {
	if known, ok := c.windows[calendar]; ok {
		return known, nil
	}
	open, err := c.s.Plant.Calendar(calendar).Windows(c.s.Plant.Zone, c.p.Now, c.p.End)
	if err != nil {
		return nil, err
	}
	if c.windows == nil {
		c.windows = map[string][]resources.Interval{}
	}
	c.windows[calendar] = open
	return open, nil
}

func (c *compiler) stations() error {
	p, plant := c.p, c.s.Plant
	c.stationIx = make(map[string]int32, len(plant.Stations))
	c.families = make([]map[string]int32, len(plant.Stations))
	c.familyOf = make([][]map[string]string, len(plant.Stations))
	c.condition = make([]condition, len(plant.Stations))
	c.dimensions()
	c.skills()
	for i := range plant.Stations {
		st := &plant.Stations[i]
		c.stationIx[st.ID] = int32(i)
		c.families[i] = map[string]int32{}
		now := c.s.Stations[st.ID]
		c.condition[i] = condition{FreezeOf(plant, st), now != nil && now.Down}
		sp := StationP{
			ID:         st.ID,
			Places:     max(1, st.Places),
			Always:     st.Calendar == "",
			Unattended: st.Unattended,
			SetupSkill: -1,
			SetupShare: st.SetupShare,
			Recipes:    len(st.Recipes) > 0,
		}
		if st.SetupSkill != "" && st.SetupShare > 0 {
			sp.SetupSkill = c.skill(st.SetupSkill)
		}
		if st.Batch != nil {
			sp.Batch, sp.Places = true, 1
			sp.Capacity = make([]int64, len(p.Dims))
			for d, name := range p.Dims {
				sp.Capacity[d] = -1
				if limit, ok := st.Batch.Capacity[name]; ok {
					sp.Capacity[d] = limit
				}
			}
		}
		if !sp.Always {
			open, err := c.open(st.Calendar)
			if err != nil {
				return fmt.Errorf("calendar %s of station %s: %w", st.Calendar, st.ID, err)
			}
			sp.Open = open
		}
		stops, err := c.stops(st)
		if err != nil {
			return err
		}
		sp.Open, sp.Stops = without(sp.Open, stops), stops
		p.Stations = append(p.Stations, sp)
	}
	return nil
}

// openEnd is how long a stop with no known end is planned around: a shift, then
// somebody looks again.
const openEnd = 8 * resources.Hour

// stops are a station's planned stops, and the one it is in now.
func (c *compiler) stops(st *resources.Station) ([]resources.Interval, error) {
	stops, err := st.PlannedStops(c.s.Plant.Zone, c.p.Now, c.p.End)
	if err != nil {
		return nil, err
	}
	if now := c.s.Stations[st.ID]; now != nil && now.Down {
		until := now.Until
		if until <= c.p.Now {
			until = c.p.Now + Tick(openEnd)
		}
		stops = append([]resources.Interval{{Start: c.p.Now, End: until}}, stops...)
	}
	return stops, nil
}

// without cuts intervals, which may overlap, out of sorted ones that do not.
func without(open, cuts []resources.Interval) []resources.Interval {
	if len(open) == 0 || len(cuts) == 0 {
		return open
	}
	cuts = slices.Clone(cuts)
	slices.SortFunc(cuts, func(a, b resources.Interval) int { return cmp.Compare(a.Start, b.Start) })
	rest := make([]resources.Interval, 0, len(open)+len(cuts))
	for _, w := range open {
		for len(cuts) > 0 && cuts[0].End <= w.Start {
			cuts = cuts[1:]
		}
		at := w.Start
		for _, cut := range cuts {
			if cut.Start >= w.End || at >= w.End {
				break
			}
			if cut.End <= at {
				continue
			}
			if cut.Start > at {
				rest = append(rest, resources.Interval{Start: at, End: cut.Start})
			}
			at = cut.End
		}
		if at < w.End {
			rest = append(rest, resources.Interval{Start: at, End: w.End})
		}
	}
	return rest
}

func (c *compiler) dimensions() {
	seen := map[string]bool{}
	for i := range c.s.Plant.Stations {
		if b := c.s.Plant.Stations[i].Batch; b != nil {
			for _, name := range sortedKeys(b.Capacity) {
				if !seen[name] {
					seen[name] = true
					c.p.Dims = append(c.p.Dims, name)
				}
			}
		}
	}
}

// skill is the number of a skill, which nobody may have.
func (c *compiler) skill(name string) int32 {
	ix, ok := c.skillIx[name]
	if !ok {
		ix = int32(len(c.p.Skills))
		c.skillIx[name] = ix
		c.p.Skills = append(c.p.Skills, Skill{Name: name})
	}
	return ix
}

func (c *compiler) skills() {
	c.skillIx = map[string]int32{}
	for i := range c.s.Plant.Crews {
		for _, name := range c.s.Plant.Crews[i].Skills {
			ix := c.skill(name)
			c.p.Skills[ix].Crews = append(c.p.Skills[ix].Crews, int32(i))
		}
	}
}

func (c *compiler) crews() error {
	for i := range c.s.Plant.Crews {
		crew := &c.s.Plant.Crews[i]
		heads, err := c.s.Roster(crew, c.p.Now, c.p.End, func(calendar string) ([]resources.Interval, error) {
			if calendar == "" {
				return []resources.Interval{{Start: c.p.Now, End: c.p.End}}, nil
			}
			open, err := c.open(calendar)
			if err != nil {
				return nil, fmt.Errorf("calendar %s of crew %s: %w", calendar, crew.ID, err)
			}
			return open, nil
		})
		if err != nil {
			return err
		}
		c.p.Crews = append(c.p.Crews, CrewP{ID: crew.ID, Steps: heads})
	}
	return nil
}

// steps adds up changes to a step function that begins at from.
func steps(changes map[Tick]int64, from Tick) []CapStep {
	at := make([]Tick, 0, len(changes)+1)
	for t := range changes {
		at = append(at, t)
	}
	slices.Sort(at)
	out := []CapStep{{At: from}}
	var level int64
	for _, t := range at {
		if changes[t] == 0 {
			continue
		}
		level += changes[t]
		if t <= from {
			out[0].Cap = level
			continue
		}
		out = append(out, CapStep{At: t, Cap: level})
	}
	return out
}

func (c *compiler) pools() error {
	c.poolIx = map[string]int32{}
	for i := range c.s.Plant.Tools {
		tool := &c.s.Plant.Tools[i]
		c.poolIx[tool.ID] = int32(i)
		pool := Pool{ID: tool.ID, Units: tool.Units, Turnaround: tool.Turnaround, FreeAt: make([]Tick, len(tool.Units))}
		for u, mark := range tool.Units {
			pool.FreeAt[u] = c.p.Now
			now := c.s.Tools[mark]
			if now == nil {
				continue
			}
			pool.FreeAt[u] = max(pool.FreeAt[u], now.Free)
			if holder := c.s.Pieces[now.Holder]; holder != nil && c.unwanted(holder) {
				// Nobody plans on with the piece, and it still has the tool.
				pool.FreeAt[u] = c.out
			}
			if now.Out {
				pool.FreeAt[u] = max(pool.FreeAt[u], now.Until)
				if now.Until <= c.p.Now {
					pool.FreeAt[u] = c.out
				}
			}
		}
		c.p.Pools = append(c.p.Pools, pool)
	}
	return nil
}

// unwanted tells whether a piece's line is cancelled or gone.
func (c *compiler) unwanted(piece *Piece) bool {
	line := c.s.Lines[LineKey(piece.Order, piece.Line)]
	return line == nil || line.Cancelled
}

func (c *compiler) resins() error {
	c.resinIx = map[string]int32{}
	for i := range c.s.Plant.Resins {
		r := &c.s.Plant.Resins[i]
		c.resinIx[r.ID] = int32(i)
		rp := ResinP{
			ID: r.ID, Station: -1, Skill: -1, Share: r.Share,
			Mixing: r.Mixing, MaxMass: r.MaxMass, Heel: r.HeelMass,
		}
		if ix, ok := c.stationIx[r.Station]; ok {
			rp.Station = ix
		}
		if r.Skill != "" && r.Share > 0 {
			rp.Skill = c.skill(r.Skill)
		}
		rp.Life = c.lives(r)
		c.p.Resins = append(c.p.Resins, rp)
	}
	for _, id := range sortedKeys(c.s.Mixes) {
		m := c.s.Mixes[id]
		resin := c.s.Plant.Resin(m.Resin)
		if !m.Discarded {
			c.p.Spoilt += max(0, m.Grams-m.Drawn)
		}
		if m.Discarded || resin == nil || m.Expiry <= c.p.Now || c.s.OnHold(batchMix+id) {
			continue
		}
		left := m.Grams - m.Drawn - resin.HeelMass
		if left > 0 {
			c.p.Spoilt -= left + resin.HeelMass
			c.p.Mixes = append(c.p.Mixes, MixP{ID: id, Resin: c.resinIx[m.Resin], Left: left, Made: m.Made, Expiry: m.Expiry})
		}
	}
	c.mixing()
	return nil
}

// mixing adds the mixes that people are making as published.
func (c *compiler) mixing() {
	if c.s.Plan == nil {
		return
	}
	for i := range c.s.Plan.Mixes {
		m := &c.s.Plan.Mixes[i]
		ix, known := c.resinIx[m.Resin]
		room := c.s.Stations[m.Station]
		if !known || m.Status != Planned || m.Start >= c.p.Now || m.End < c.p.Now || c.s.Mixes[m.ID] != nil || room == nil || room.Down {
			continue
		}
		hand := MixP{
			ID: m.ID, Resin: ix, Left: m.Grams - c.p.Resins[ix].Heel, Made: m.End, Expiry: m.Expiry,
			Hand: true, Start: m.Start, Place: int32(max(1, m.Place) - 1), Crew: -1,
		}
		for k := range c.p.Crews {
			if c.p.Crews[k].ID == m.Crew {
				hand.Crew = int32(k)
			}
		}
		c.p.Mixes = append(c.p.Mixes, hand)
	}
}

// lives samples the pot life wherever the room's temperature changes.
func (c *compiler) lives(r *resources.Resin) []LifeStep {
	plant := c.s.Plant
	out := []LifeStep{{At: c.p.Now, Life: plant.MixLife(r, c.p.Now)}}
	for _, w := range plant.Room.Periods {
		for _, at := range []Tick{w.Start, w.End} {
			if at <= c.p.Now {
				continue
			}
			if life := plant.MixLife(r, at); life != out[len(out)-1].Life {
				out = append(out, LifeStep{At: at, Life: life})
			}
		}
	}
	return out
}

func (c *compiler) stocks() error {
	c.stockIx = map[string]int32{}
	c.supply = reckon(c.s, c.products)
	for i := range c.s.Plant.Materials {
		m := &c.s.Plant.Materials[i]
		c.stockIx[m.ID] = int32(i)
		changes := map[Tick]int64{c.p.Now: m.Stock - c.supply.drawn[m.ID]}
		for _, r := range m.Receipts {
			changes[max(r.At, c.p.Now)] += r.Quantity
		}
		c.p.Stocks = append(c.p.Stocks, Stock{ID: m.ID, Steps: steps(changes, c.p.Now)})
	}
	return nil
}

// sortedKeys lists a map's keys in order, so that nothing depends on the
// map's own.
func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
