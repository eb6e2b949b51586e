// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"towpath/resources"
)

// class is one operation of a product, asked so often in a week.
type class struct {
	r  *routing
	op int
	n  float64
}

func (c *class) operation() *resources.Operation { return &c.r.product.Routing[c.op] }

// group is classes that the same stations can do; on batch stations, classes
// that may share loads there.
type group struct {
	portion
	classes []class
	loads   []float64 // on each station when it does all of it; 0: no batch station
}

// stationWork is what a station is asked in a week.
type stationWork struct {
	hours  float64 // without changeovers
	setup  float64
	turns  float64 // changeovers
	loads  float64
	pieces float64
	jobs   float64 // loads, or pieces one at a time
	sum    float64 // of the hours of a job, over jobs
	square float64
	lots   float64 // over pieces: the size of the lot they come in
}

type memberKey struct {
	product string
	op      int
}

// average adds up a mean.
type average struct{ sum, n float64 }

func (a *average) of() float64 { return over(a.sum, a.n) }

// work shares the weeks' work out over the stations.
func (m *model) work() {
	weeks, stations := len(m.g.weeks), len(m.plant.Stations)
	m.works = make([][]stationWork, stations)
	for s := range m.works {
		m.works[s] = make([]stationWork, weeks)
	}
	m.members = map[memberKey]*average{}
	m.recipes = map[string][]Cell{}
	for i := range m.plant.Recipes {
		m.recipes[m.plant.Recipes[i].ID] = make([]Cell, weeks)
	}
	byWeek := m.groups()
	m.layStations(byWeek)
	there := make([]float64, stations)
	for w := range weeks {
		portions := make([]*portion, len(byWeek[w]))
		for i, g := range byWeek[w] {
			m.size(g)
			portions[i] = &g.portion
		}
		for s := range there {
			there[s] = m.there[s][w]
		}
		shareOut(portions, there)
		for _, g := range byWeek[w] {
			m.count(g, w)
		}
		m.changeovers(byWeek[w], w)
		m.mixes(byWeek[w], w)
	}
	m.lots(byWeek)
}

// groups sorts what is asked into groups, by week.
func (m *model) groups() [][]*group {
	keys := make([]askKey, 0, len(m.asked.n))
	for k := range m.asked.n {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b askKey) int {
		return cmp.Or(cmp.Compare(a.week, b.week), cmp.Compare(a.product, b.product), cmp.Compare(a.op, b.op))
	})
	stationIx := map[string]int{}
	for i := range m.plant.Stations {
		stationIx[m.plant.Stations[i].ID] = i
	}
	out := make([][]*group, len(m.g.weeks))
	found := map[string]*group{}
	for _, k := range keys {
		c := class{r: m.clock.routings[k.product], op: k.op, n: m.asked.n[k]}
		op := c.operation()
		key := fmt.Sprint(k.week, " ", m.groupKey(k, op))
		g := found[key]
		if g == nil {
			g = &group{}
			for _, id := range op.Stations {
				if s, ok := stationIx[id]; ok {
					g.on = append(g.on, s)
				}
			}
			if len(g.on) == 0 {
				continue
			}
			found[key] = g
			out[k.week] = append(out[k.week], g)
		}
		g.classes = append(g.classes, c)
	}
	return out
}

// groupKey is the same for classes that can share loads.
func (m *model) groupKey(k askKey, op *resources.Operation) string {
	var b strings.Builder
	batch := false
	for _, id := range op.Stations {
		b.WriteString(id + " ")
		st := m.plant.Station(id)
		if st == nil || st.Batch == nil {
			continue
		}
		batch = true
		has := op.SetupAttributes()
		for _, name := range st.Batch.Same {
			value := has[name]
			if recipe := m.plant.Recipe(op.Recipe); name == resources.RecipeAttribute && recipe != nil {
				value = recipe.Group
			}
			b.WriteString(name + "=" + value + " ")
		}
	}
	if !batch {
		fmt.Fprint(&b, k.product, " ", k.op)
	}
	return b.String()
}

// layStations works out the hours there: an unattended station's depend on how
// long its runs are.
func (m *model) layStations(byWeek [][]*group) {
	runs := make([]average, len(m.plant.Stations))
	for _, groups := range byWeek {
		for _, g := range groups {
			for i := range g.classes {
				c := &g.classes[i]
				for _, s := range g.on {
					runs[s].sum += c.n * float64(m.clock.runOf(c.operation(), &m.plant.Stations[s]))
					runs[s].n += c.n
				}
			}
		}
	}
	m.there = make([][]float64, len(m.plant.Stations))
	m.roundsOf = make([]float64, len(m.plant.Stations))
	for s := range m.plant.Stations {
		st := &m.plant.Stations[s]
		m.there[s] = m.hours[s].there(&m.g, placesOf(st), Seconds(runs[s].of()))
		if b := st.Breakdowns; b != nil {
			for w := range m.there[s] {
				m.there[s][w] *= float64(b.Every) / float64(b.Every+b.Repair)
			}
		}
		m.roundsOf[s] = max(1, m.show.rounds[st.ID])
	}
}

// size is how many hours, and loads, the group takes on each of its stations.
func (m *model) size(g *group) {
	g.hours, g.loads = make([]float64, len(g.on)), make([]float64, len(g.on))
	for k, s := range g.on {
		st := &m.plant.Stations[s]
		each, cycle := 0.0, m.cycle(g, st)
		for i := range g.classes {
			c := &g.classes[i]
			op := c.operation()
			if st.Batch != nil {
				each += c.n * float64(op.LoadEach+op.UnloadEach) / 3600
				continue
			}
			g.hours[k] += c.n * float64(m.clock.jobOf(op, st).total()) / 3600
		}
		if st.Batch != nil {
			g.loads[k] = m.loadsOf(g, st)
			g.hours[k] = g.loads[k]*cycle + each
		}
	}
}

// cycle is how long one load keeps a batch station, its members' own handling
// aside: the slowest member sets it.
func (m *model) cycle(g *group, st *resources.Station) float64 {
	var load, run, unload Seconds
	for i := range g.classes {
		op := g.classes[i].operation()
		load, unload = max(load, op.Load), max(unload, op.Unload)
		run = max(run, m.clock.runOf(op, st))
	}
	return float64(load+run+unload) / 3600
}

// loadsOf is how many loads the group needs on a batch station, as full as the
// finite plan shows that they get; one at least.
func (m *model) loadsOf(g *group, st *resources.Station) float64 {
	volume := 0.0
	for dim, room := range st.Batch.Capacity {
		sum := 0.0
		for i := range g.classes {
			sum += g.classes[i].n * float64(g.classes[i].operation().Size[dim])
		}
		if room > 0 {
			volume = max(volume, sum/float64(room))
		}
	}
	fill := m.show.fill[st.ID]
	if fill <= 0 {
		fill = 1
	}
	return max(min(1, m.pieces(g)), volume/fill)
}

func (m *model) pieces(g *group) float64 {
	sum := 0.0
	for i := range g.classes {
		sum += g.classes[i].n
	}
	return sum
}

// count books a group's shares on its stations and asks for its people.
func (m *model) count(g *group, week int) {
	all := m.pieces(g)
	for k, s := range g.on {
		share, st := g.share[k], &m.plant.Stations[s]
		if share == 0 {
			continue
		}
		x := &m.works[s][week]
		x.hours += share * g.hours[k]
		x.pieces += share * all
		loads := share * g.loads[k]
		x.loads += loads
		if st.Batch != nil {
			per := over(g.hours[k], g.loads[k])
			x.jobs += loads
			x.sum += loads * per
			x.square += loads * per * per * (1 + m.varies(g.classes[0].operation()))
		}
		for i := range g.classes {
			c := &g.classes[i]
			m.ask(c, st, share*c.n, loads*over(c.n, all), week)
			if st.Batch == nil {
				per := float64(m.clock.jobOf(c.operation(), st).total()) / 3600
				x.jobs += share * c.n
				x.sum += share * c.n * per
				x.square += share * c.n * per * per * (1 + m.varies(c.operation()))
				continue
			}
			key := memberKey{c.r.product.ID, c.op}
			if m.members[key] == nil {
				m.members[key] = &average{}
			}
			m.members[key].sum += share * c.n * over(all, g.loads[k])
			m.members[key].n += share * c.n
			if cells := m.recipes[c.operation().Recipe]; cells != nil {
				cells[week].Asked += share * g.hours[k] * over(c.n, all)
				cells[week].Loads += loads * over(c.n, all)
				cells[week].Pieces += share * c.n
			}
		}
	}
}

// ask adds the people's hours of n operations, in so many loads.
func (m *model) ask(c *class, st *resources.Station, n, loads float64, week int) {
	op := c.operation()
	for _, need := range op.Needs {
		var each, whole Seconds
		switch need.Part {
		case resources.PartLoad:
			each, whole = op.LoadEach, op.Load
		case resources.PartRun:
			whole = m.clock.runOf(op, st)
		case resources.PartUnload:
			each, whole = op.UnloadEach, op.Unload
		default:
			continue // changeovers are counted with the stations
		}
		times := n
		if st.Batch != nil {
			times = loads
		}
		m.skill(need.Skill, need.Share, (times*float64(whole)+n*float64(each))/3600, times, week)
	}
}

// skill asks for people so many times, hours in all.
func (m *model) skill(name string, share int64, hours, times float64, week int) {
	i, ok := m.skillIx[name]
	if !ok || times <= 0 {
		return
	}
	hours *= float64(share) / 1000
	m.people[i][week] += hours
	x := &m.calls[i][week]
	x.jobs += times
	x.sum += hours
	x.square += hours * hours / times
}

// mixes adds the mixed resin of a week: the mix room, and who mixes.
func (m *model) mixes(groups []*group, week int) {
	grams := map[string]float64{}
	for _, g := range groups {
		for i := range g.classes {
			if mix := g.classes[i].operation().Mix; mix != nil {
				grams[mix.Resin] += g.classes[i].n * float64(mix.Grams)
			}
		}
	}
	for i := range m.plant.Resins {
		resin := &m.plant.Resins[i]
		per := m.show.grams[resin.ID]
		if per <= 0 {
			per = float64(resin.MaxMass - resin.HeelMass)
		}
		if per <= 0 || grams[resin.ID] <= 0 {
			continue
		}
		mixes, hours := max(1, grams[resin.ID]/per), float64(resin.Mixing)/3600
		for s := range m.plant.Stations {
			if m.plant.Stations[s].ID == resin.Station {
				x := &m.works[s][week]
				x.hours += mixes * hours
				x.pieces += mixes
				x.jobs += mixes
				x.sum += mixes * hours
				x.square += mixes * hours * hours
			}
		}
		m.skill(resin.Skill, resin.Share, mixes*hours, mixes, week)
	}
}

// crews shares the hours of each skill out over those who have it.
func (m *model) crews() {
	m.crewAsk = make([][]float64, len(m.plant.Crews))
	for i := range m.crewAsk {
		m.crewAsk[i] = make([]float64, len(m.g.weeks))
	}
	there := make([]float64, len(m.plant.Crews))
	for w := range m.g.weeks {
		var portions []*portion
		for i, skill := range m.skills {
			p := &portion{on: m.crewIx[skill]}
			for range p.on {
				p.hours = append(p.hours, m.people[i][w])
			}
			portions = append(portions, p)
		}
		for i := range there {
			there[i] = m.heads[i][w]
		}
		shareOut(portions, there)
		for _, p := range portions {
			for k, crew := range p.on {
				m.crewAsk[crew][w] += p.share[k] * p.hours[k]
			}
		}
	}
}
