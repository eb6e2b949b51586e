// SPDX-License-Identifier: Apache-2.0

package search

import (
	"cmp"
	"slices"
)

// Loading is how loads are formed of new work.
type Loading uint8

// The ways.
const (
	AsOne  Loading = iota // as many as fit, of what comes within two days; Around also tries the next way
	Sooner                // a load is closed as soon as what shared one before is in it
)

// Load forms loads that way from now on. First are lines whose new work goes
// before that of others.
func (x *Inserter) Load(how Loading, first ...int32) {
	x.loads, x.first, x.own = how, first, nil
}

// soonerWays close loads without waiting for them to be full.
var soonerWays = []grouping{{clusters: 1, spread: 3 * 3600}}

// Shared fits the new work into what the old plan leaves free, as Around does,
// but for loads: where that is sooner, a piece rides in one that the old plan has
// and that has room. As a load takes longer with more in it, everything is timed
// anew after that, in the order it is in; the old plan's work begins nowhere
// sooner than it did. No new work begins before at. Latest is as for Among.
func (x *Inserter) Shared(at Tick, latest []Tick) (*Fit, error) {
	if err := x.prepare(); err != nil {
		return nil, err
	}
	d := x.around
	key, err := x.keys(d.m)
	if err != nil {
		return nil, err
	}
	d.rides = newRides(d, x.fresh)
	defer func() { d.rides = nil }()
	own := newGenome(d.m.plain(), key)
	for _, a := range x.fresh {
		own.floor[a] = at
	}
	if !x.place(own) {
		return nil, d.fail.err(x.p)
	}
	g := x.base.clone()
	for _, a := range x.fresh {
		t := &d.b.at[a]
		if g.key[a] > settledKey {
			g.key[a] = float64(t.start)
		}
		g.node[a], g.want[a], g.floor[a], g.out[a] = d.m.singles[a], t.node.options[t.option].station, t.start, 0
	}
	for _, a := range x.fresh {
		if host := d.rides.of[a]; host != nil {
			d.m.regroup(g, append(slices.Clone(g.node[host.acts[0]].acts), a))
		}
	}
	return x.timed(g, latest)
}

// rides are loads of the old plan on a decoder's board that new activities may
// be put into.
type rides struct {
	d     *decoder
	fresh []bool
	hosts map[int32][]*node // by key, in order of start; made when first asked for
	of    []*node           // per act: the load it rides in; to be believed while it is on the board
}

func newRides(d *decoder, fresh []int32) *rides {
	r := &rides{d: d, fresh: make([]bool, len(d.m.p.Acts)), hosts: map[int32][]*node{}, of: make([]*node, len(d.m.p.Acts))}
	for _, a := range fresh {
		r.fresh[a] = true
	}
	return r
}

// place puts a lone new activity into the next load with room for it, when that
// ends sooner than the activity would by itself; else by itself.
func (r *rides) place(n *node, t Tick, want int32, soft bool) bool {
	b, a := r.d.b, n.acts[0]
	r.of[a] = nil
	mark := b.mark()
	own := b.place(n, t, want, soft)
	act := &r.d.m.p.Acts[a]
	if !r.fresh[a] || len(n.acts) > 1 || act.Key < 0 || act.Load >= 0 || act.Frozen || len(act.Gives) > 0 {
		return own
	}
	for _, host := range r.list(act.Key) {
		first := &b.at[host.acts[0]]
		if first.start < t {
			continue
		}
		if own && first.end >= b.at[a].end {
			break
		}
		whole := r.d.m.make(r.with(host, a))
		if whole == nil {
			continue
		}
		station := host.options[first.option].station
		k := slices.IndexFunc(n.options, func(o option) bool { return o.station == station })
		if k < 0 || !slices.ContainsFunc(whole.options, func(o option) bool { return o.station == station }) {
			continue
		}
		ride := *first
		ride.node, ride.option, ride.crew = n, int32(k), nil
		b.undo(mark)
		if r.takes(n, host, &ride) {
			r.of[a] = host
			return true
		}
		own = b.place(n, t, want, soft)
	}
	return own
}

// takes puts a riding node on the board with the tools, the material and the
// resin it needs; false when they are not there.
func (r *rides) takes(n, host *node, ride *placed) bool {
	b := r.d.b
	act := &r.d.m.p.Acts[n.acts[0]]
	try := *ride
	if b.tools(n, &try) != try.start {
		return false
	}
	for _, d := range act.Draws {
		if b.stocks[d.Stock].fit(ride.start, d.Quantity) != ride.start {
			return false
		}
	}
	if ride.mix >= 0 {
		x := &b.mixes[host.resin][ride.mix]
		if n.resin != host.resin || x.grams+n.grams > x.room {
			return false
		}
		x.grams += n.grams
		b.journal = append(b.journal, entry{kind: drewMix, a: n.resin, b: ride.mix, share: n.grams})
	}
	for _, h := range act.Holds {
		b.takeUnit(h, ride.setup, "")
	}
	for _, d := range act.Draws {
		b.stocks[d.Stock].give(ride.start, -d.Quantity)
		b.journal = append(b.journal, entry{kind: drewStock, a: d.Stock, from: ride.start, share: d.Quantity})
	}
	b.put(n, ride)
	return true
}

// with is a load's members, those that ride in it already, and one more.
func (r *rides) with(host *node, a int32) []int32 {
	acts := slices.Clone(host.acts)
	for x, h := range r.of {
		if h == host && r.d.b.at[x].on && int32(x) != a {
			acts = append(acts, int32(x))
		}
	}
	acts = append(acts, a)
	slices.Sort(acts)
	return acts
}

// list has the free loads of a key that are on the board, in order of start.
func (r *rides) list(key int32) []*node {
	if list, ok := r.hosts[key]; ok {
		return list
	}
	list := []*node{}
	b := r.d.b
	for a := range r.d.m.p.Acts {
		act := &r.d.m.p.Acts[a]
		if act.Key != key || act.Load >= 0 || act.Fixed != nil || act.Frozen || r.fresh[a] || !b.at[a].on || b.at[a].node.acts[0] != int32(a) {
			continue
		}
		if n := b.at[a].node; n.options[b.at[a].option].batch {
			list = append(list, n)
		}
	}
	slices.SortStableFunc(list, func(x, y *node) int { return cmp.Compare(b.at[x.acts[0]].start, b.at[y.acts[0]].start) })
	r.hosts[key] = list
	return list
}
