// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// whole is one unit of a resource in the reckoner's sums: work is counted in
// thousandths of a unit times seconds.
const whole = 1000

// asked is a resource with the work asked of it, told apart by nothing but
// when it may begin and what must follow: any plan does this much on it, in
// pieces or not.
type asked struct {
	name   string
	batch  bool // all of it must run in loads
	cap    *curve
	claims []claim // by head
}

// claim is work for one line.
type claim struct {
	act  int32
	line int32
	head Tick
	work int64
	rest Seconds // from the end of the work to the completion of the line; restless: it does not count for it
}

// resources lists what the plan may be short of.
func (r *reckoner) resources() []asked {
	out := slices.Concat(r.stationGroups(), r.crewGroups(), r.pools())
	for i := range out {
		slices.SortFunc(out[i].claims, byHead)
	}
	return out
}

func byHead(a, b claim) int { return cmp.Or(cmp.Compare(a.head, b.head), cmp.Compare(a.act, b.act)) }

// group is a set of like resources, none of which can be replaced by another
// one outside for the activities in it.
type group struct {
	members []int32
	acts    []int32
}

// groups collects sets of members, each with all activities whose own set lies
// inside it.
func groups(n int, members func(a int32) []int32) []group {
	byKey := map[string]int{}
	var out []group
	own := make([]int, n)
	var key []byte
	for a := range n {
		set := members(int32(a))
		own[a] = -1
		if len(set) == 0 {
			continue
		}
		key = key[:0]
		for _, s := range set {
			key = append(key, byte(s), byte(s>>8), byte(s>>16), byte(s>>24))
		}
		i, ok := byKey[string(key)]
		if !ok {
			i = len(out)
			byKey[string(key)] = i
			out = append(out, group{members: slices.Clone(set)})
		}
		own[a] = i
	}
	within := make([][]int, len(out))
	for i := range out {
		for j := range out {
			if subset(out[i].members, out[j].members) {
				within[i] = append(within[i], j)
			}
		}
	}
	for a := range n {
		if own[a] >= 0 {
			for _, j := range within[own[a]] {
				out[j].acts = append(out[j].acts, int32(a))
			}
		}
	}
	return out
}

// subset tells whether sorted a lies in sorted b.
func subset(a, b []int32) bool {
	j := 0
	for _, x := range a {
		for j < len(b) && b[j] < x {
			j++
		}
		if j == len(b) || b[j] != x {
			return false
		}
	}
	return true
}

// stationGroups are sets of stations, once for each dimension in which batch
// stations among them are limited.
func (r *reckoner) stationGroups() []asked {
	p := r.p
	var set []int32
	sets := groups(len(p.Acts), func(a int32) []int32 {
		set = set[:0]
		act := &p.Acts[a]
		if act.Fixed != nil {
			return set
		}
		for k := act.ModeAt; k < act.ModeTo; k++ {
			set = append(set, p.Modes[k].Station)
		}
		slices.Sort(set)
		set = slices.Compact(set)
		return set
	})
	busy := r.busyPlaces()
	var out []asked
	for _, g := range sets {
		dims := r.dims(g.members)
		x := asked{cap: r.stationCurve(g.members, busy), name: r.stationNames(g.members), batch: true}
		for _, s := range g.members {
			x.batch = x.batch && p.Stations[s].Batch
		}
		for _, d := range dims {
			y := x
			if d >= 0 && len(dims) > 1 {
				y.name += ", " + p.Dims[d]
			}
			y.claims = make([]claim, 0, len(g.acts))
			for _, a := range g.acts {
				if c := r.onStations(a, d); c.work > 0 {
					y.claims = append(y.claims, c)
				}
			}
			out = append(out, y)
		}
	}
	return out
}

func (r *reckoner) stationNames(members []int32) string {
	names := make([]string, len(members))
	for i, s := range members {
		names[i] = r.p.Stations[s].ID
	}
	return strings.Join(names, "+")
}

// dims lists the dimensions that limit batch stations of a group; -1 when it
// has none or they have no limit.
func (r *reckoner) dims(members []int32) []int {
	var out []int
	for d := range r.p.Dims {
		if slices.ContainsFunc(members, func(s int32) bool { st := &r.p.Stations[s]; return st.Batch && st.Capacity[d] > 0 }) {
			out = append(out, d)
		}
	}
	if len(out) == 0 {
		return []int{-1}
	}
	return out
}

// busyPlaces is until when begun work keeps each place, by station and place.
func (r *reckoner) busyPlaces() map[[2]int32]Tick {
	busy := map[[2]int32]Tick{}
	for a := range r.p.Acts {
		if f := r.p.Acts[a].Fixed; f != nil {
			key := [2]int32{r.p.Modes[f.Mode].Station, f.Place}
			busy[key] = max(busy[key], f.End)
		}
	}
	return busy
}

func (r *reckoner) stationCurve(members []int32, busy map[[2]int32]Tick) *curve {
	p := r.p
	var changes []scheduler.CapStep
	for _, s := range members {
		st := &p.Stations[s]
		open := outside(p.Now, st.Stops)
		if !st.Always && !st.Unattended {
			open = spans(st.Open)
		}
		for k := range st.Places {
			mine := open
			if until := busy[[2]int32{s, int32(k)}]; until > p.Now {
				mine = open.from(until)
			}
			changes = append(changes, mine.over(whole, p.End)...)
		}
	}
	return newCurve(p.Now, changes)
}

// from is what is left of the spans from an instant on.
func (s spans) from(t Tick) spans {
	var out spans
	for _, w := range s {
		if w.End > t {
			out = append(out, resources.Interval{Start: max(w.Start, t), End: w.End})
		}
	}
	return out
}

// onStations is what an activity asks of its stations at least. In a load it
// needs its share of the room for its own time, and its own handling whole.
func (r *reckoner) onStations(a int32, dim int) claim {
	p := r.p
	act := &p.Acts[a]
	c := claim{act: a, line: act.Line, head: r.head[a], work: int64(never), rest: r.rest[a]}
	change := Seconds(never)
	for k := act.ModeAt; k < act.ModeTo; k++ {
		md := &p.Modes[k]
		st := &p.Stations[md.Station]
		set := r.changeover(md, act)
		if !st.Batch {
			c.work = min(c.work, whole*int64(set+md.Load+md.LoadEach+md.Run+md.Unload+md.UnloadEach))
			change = min(change, set)
			continue
		}
		change = 0
		c.work = min(c.work, r.shareOf(act, st, dim, int64(md.Load+md.Run+md.Unload))+whole*int64(md.LoadEach+md.UnloadEach))
	}
	c.head = max(p.Now, c.head-Tick(change))
	return c
}

// shareOf is the part of a load's work that counts for one member, by its part
// of the room.
func (r *reckoner) shareOf(act *scheduler.Act, st *scheduler.StationP, dim int, work int64) int64 {
	if dim < 0 || st.Capacity[dim] <= 0 {
		return 0
	}
	return int64(float64(whole) * float64(work) * float64(min(act.Size[dim], st.Capacity[dim])) / float64(st.Capacity[dim]))
}

// changeover is the least time any changeover to an activity takes, with
// whatever may have been there before it.
func (r *reckoner) changeover(md *scheduler.Mode, act *scheduler.Act) Seconds {
	st := &r.p.Stations[md.Station]
	if st.Families == 0 || act.Frozen || st.Batch {
		return 0
	}
	in := r.families()[md.Station]
	least := st.SetupTime[st.Families*st.Families+md.Family]
	for from := range st.Families {
		if in[from] > 1 || in[from] == 1 && from != md.Family {
			least = min(least, st.SetupTime[from*st.Families+md.Family])
		}
	}
	return least
}

// families counts, per station and family, the activities that may come there.
func (r *reckoner) families() [][]int {
	if r.visits == nil {
		r.visits = make([][]int, len(r.p.Stations))
		for s := range r.p.Stations {
			r.visits[s] = make([]int, r.p.Stations[s].Families)
		}
		for a := range r.p.Acts {
			for k := r.p.Acts[a].ModeAt; k < r.p.Acts[a].ModeTo; k++ {
				if md := &r.p.Modes[k]; r.p.Stations[md.Station].Families > 0 {
					r.visits[md.Station][md.Family]++
				}
			}
		}
	}
	return r.visits
}

// crewGroups are the sets of crews that have a skill.
func (r *reckoner) crewGroups() []asked {
	p := r.p
	sets := groups(len(p.Skills), func(k int32) []int32 {
		set := slices.Clone(p.Skills[k].Crews)
		slices.Sort(set)
		return set
	})
	var out []asked
	for _, g := range sets {
		skills := make([]bool, len(p.Skills))
		for _, k := range g.acts {
			skills[k] = true
		}
		x := asked{}
		var changes []scheduler.CapStep
		var names []string
		for _, c := range g.members {
			names = append(names, p.Crews[c].ID)
			level := int64(0)
			for _, s := range p.Crews[c].Steps {
				changes = append(changes, scheduler.CapStep{At: s.At, Cap: s.Cap - level})
				level = s.Cap
			}
			if most := r.mostHeads(c); most > level {
				changes = append(changes, scheduler.CapStep{At: p.End, Cap: most - level})
			}
		}
		x.name, x.cap = strings.Join(names, "+"), newCurve(p.Now, changes)
		perMode := r.attended(skills)
		for a := range p.Acts {
			act := &p.Acts[a]
			if act.Fixed != nil {
				continue
			}
			least := int64(never)
			for k := act.ModeAt; k < act.ModeTo && least > 0; k++ {
				least = min(least, perMode[k])
			}
			if least > 0 {
				x.claims = append(x.claims, claim{act: int32(a), line: act.Line, head: r.head[a], work: least, rest: r.rest[a]})
			}
		}
		out = append(out, x)
	}
	return out
}

func (r *reckoner) mostHeads(crew int32) int64 {
	var most int64
	for _, s := range r.p.Crews[crew].Steps {
		most = max(most, s.Cap)
	}
	return most
}

// attended is what each mode asks of the people with some of these skills. In a
// load people serve all members at once; only the handling of each counts.
func (r *reckoner) attended(skills []bool) []int64 {
	p := r.p
	out := make([]int64, len(p.Modes))
	for k := range p.Modes {
		md := &p.Modes[k]
		batch := p.Stations[md.Station].Batch
		for _, nd := range p.Needs[md.NeedAt:md.NeedTo] {
			if !skills[nd.Skill] {
				continue
			}
			var length Seconds
			switch nd.Part {
			case resources.PartLoad:
				if length = md.LoadEach; !batch {
					length += md.Load
				}
			case resources.PartRun:
				if !batch {
					length = md.Run
				}
			case resources.PartUnload:
				if length = md.UnloadEach; !batch {
					length += md.Unload
				}
			}
			out[k] += nd.Share * int64(length)
		}
	}
	return out
}

// pools are the tools: a unit is away from the start of the work that takes it
// for as long as the way to giving it back is at least.
func (r *reckoner) pools() []asked {
	p := r.p
	away := make([][]Tick, len(p.Pools))
	for i := range p.Pools {
		away[i] = slices.Clone(p.Pools[i].FreeAt)
	}
	out := make([]asked, len(p.Pools))
	for h := range p.Holds {
		hold := &p.Holds[h]
		turn := p.Pools[hold.Pool].Turnaround
		if hold.Take < 0 {
			if hold.Unit >= 0 {
				u := &away[hold.Pool][hold.Unit]
				*u = max(*u, r.end[hold.Give]+Tick(turn))
			}
			continue
		}
		if p.Acts[hold.Take].Fixed != nil {
			continue
		}
		stay := r.m.stay[h]
		c := claim{act: hold.Take, line: p.Acts[hold.Take].Line, head: r.head[hold.Take], work: whole * int64(stay), rest: restless}
		if rest := r.rest[hold.Take]; rest > restless {
			c.rest = max(c.rest, r.m.shortest(hold.Take)+rest-stay)
		}
		if rest := r.rest[hold.Give]; rest > restless {
			c.rest = max(c.rest, rest-turn)
		}
		out[hold.Pool].claims = append(out[hold.Pool].claims, c)
	}
	for i := range out {
		out[i].name = p.Pools[i].ID
		var changes []scheduler.CapStep
		for _, t := range away[i] {
			changes = append(changes, scheduler.CapStep{At: max(t, p.Now), Cap: whole})
		}
		out[i].cap = newCurve(p.Now, changes)
	}
	return out
}
