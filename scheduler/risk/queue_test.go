// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// queue is a shop that is a queue: customers come through a door that takes
// one at a time for the time between arrivals, and are served at a desk. It is
// planned and played as any other plan is.
type queue struct {
	arrivals         resources.Spread  // of the time between them; none: exponential
	between, service resources.Seconds // means
	spread           resources.Spread  // of the service
	servers          int
	bulk             int64 // customers served together; 0: one by one
	breakdowns       *resources.Breakdowns
}

var exponential = resources.Spread{Shape: resources.Gamma, CV: 1}

// seen is what one history of a queue shows, after its first customers.
type seen struct {
	waited   float64 // mean, in hours
	stayed   float64
	service  float64
	scv      float64 // of the service
	had      float64 // share that had to wait
	inside   float64 // mean number there, over time
	arrivals float64 // an hour
}

func (q queue) histories(t *testing.T, customers, histories int) []seen {
	t.Helper()
	const now = Tick(1_000_000_000)
	if q.arrivals.Shape == resources.Unsaid {
		q.arrivals = exponential
	}
	served := resources.Operation{ID: "serve", Stations: []string{"DESK"}, Run: q.service, Spread: q.spread, After: []resources.Link{{Operation: "arrive"}}}
	desk := resources.Station{ID: "DESK", Places: q.servers, Speed: 1, Breakdowns: q.breakdowns}
	if q.bulk > 0 {
		desk.Batch = &resources.Batch{Capacity: map[string]int64{"customers": q.bulk}}
		served.Size = map[string]int64{"customers": 1}
	}
	plant := &resources.Plant{
		ID: "queue", Zone: time.UTC, Floor: resources.Floor{LoadWait: 1 << 40, BeginEarly: 1 << 40},
		Stations: []resources.Station{{ID: "DOOR", Places: 1, Speed: 1}, desk},
		Products: []resources.Product{{ID: "customer", Routing: []resources.Operation{
			{ID: "arrive", Stations: []string{"DOOR"}, Run: q.between, Spread: q.arrivals}, served,
		}}},
	}
	s, err := scheduler.StateOf(plant, []resources.OrderLine{{Order: "1", Line: "1", Product: "customer", Quantity: customers, Due: now + 1}})
	require.NoError(t, err)
	plan := &scheduler.Plan{Made: now}
	for i, serial := range s.Lines["1/1"].Pieces {
		at := now + Tick(i)*Tick(q.between)
		arrive := scheduler.Work{Order: "1", Line: "1", Piece: serial, Operation: "arrive", Station: "DOOR", Place: 1, Setup: at, Start: at, Run: at, RunEnd: at + Tick(q.between)}
		arrive.Unload, arrive.End = arrive.RunEnd, arrive.RunEnd
		serve := scheduler.Work{Order: "1", Line: "1", Piece: serial, Operation: "serve", Station: "DESK", Place: 1 + i%max(1, q.servers), Setup: arrive.End, Start: arrive.End, Run: arrive.End, RunEnd: arrive.End + Tick(q.service)}
		serve.Unload, serve.End = serve.RunEnd, serve.RunEnd
		if q.bulk > 0 {
			serve.Load = fmt.Sprint("L", i/int(q.bulk))
		}
		plan.Work = append(plan.Work, arrive, serve)
	}
	g, err := Compile(s, now, plan)
	require.NoError(t, err)
	y := g.NewPlayer()
	all := make([]seen, histories)
	for r := range all {
		y.play(newLuck(20261126, r, false))
		require.Zero(t, y.left)
		require.Zero(t, y.forced)
		all[r] = look(y, s.Lines["1/1"].Pieces, customers/5)
	}
	return all
}

// look measures a history from one customer on.
func look(y *Player, serials []string, from int) seen {
	at := map[scheduler.Member]int{}
	for a := range y.g.acts {
		at[y.g.acts[a].name] = a
	}
	var x seen
	var lengths []float64
	first, last := int32(never), int32(0)
	for _, serial := range serials[from:] {
		came := y.acts[at[scheduler.Member{Piece: serial, Operation: "arrive"}]].end
		served := y.acts[at[scheduler.Member{Piece: serial, Operation: "serve"}]]
		first, last = min(first, came), max(last, came)
		x.waited += float64(served.start-came) / 3600
		x.stayed += float64(served.end-came) / 3600
		lengths = append(lengths, float64(served.end-served.start)/3600)
		if served.start > came {
			x.had++
		}
	}
	n := float64(len(lengths))
	span := float64(last-first) / 3600
	for _, serial := range serials { // who is inside while we look
		came := y.acts[at[scheduler.Member{Piece: serial, Operation: "arrive"}]].end
		left := y.acts[at[scheduler.Member{Piece: serial, Operation: "serve"}]].end
		x.inside += float64(max(0, min(left, last)-max(came, first))) / 3600 / span
	}
	mean, variance := stat.MeanVariance(lengths, nil)
	x.waited, x.stayed, x.had, x.service, x.scv, x.arrivals = x.waited/n, x.stayed/n, x.had/n, mean, variance/mean/mean, (n-1)/span
	return x
}

// agrees says that the mean over independent histories is a value, within the
// 99.9 % interval by Student's t, and that the interval says something.
func agrees(t *testing.T, what string, want, width float64, of []float64) {
	t.Helper()
	mean, dev := stat.MeanStdDev(of, nil)
	n := float64(len(of))
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(0.9995) * dev / math.Sqrt(n)
	t.Logf("%-34s known %.4f, played %.4f ± %.4f", what, want, mean, half)
	require.InDelta(t, want, mean, half, what)
	require.Less(t, half, width*want, "%s: too wide to say anything", what)
}

func column(all []seen, of func(*seen) float64) []float64 {
	out := make([]float64, len(all))
	for i := range all {
		out[i] = of(&all[i])
	}
	return out
}

// M/M/1 and M/M/2, 2 an hour, 3 an hour: Hillier and Lieberman, Introduction
// to Operations Research, County Hospital example (from memory): Wq 2/3 h and
// 1/24 h, L 2 and 3/4. P(wait) by Erlang's formula of 1917: 2/3, and 1/6.
func TestCustomersWaitAsInCountyHospital(t *testing.T) {
	for servers, want := range map[int][4]float64{1: {2.0 / 3, 1, 2, 2.0 / 3}, 2: {1.0 / 24, 3.0 / 8, 0.75, 1.0 / 6}} {
		all := queue{between: 1800, service: 1200, spread: exponential, servers: servers}.histories(t, 2500, 60)
		agrees(t, fmt.Sprintf("M/M/%d Wq", servers), want[0], 0.12, column(all, func(x *seen) float64 { return x.waited }))
		agrees(t, fmt.Sprintf("M/M/%d W", servers), want[1], 0.10, column(all, func(x *seen) float64 { return x.stayed }))
		agrees(t, fmt.Sprintf("M/M/%d L", servers), want[2], 0.12, column(all, func(x *seen) float64 { return x.inside }))
		agrees(t, fmt.Sprintf("M/M/%d P(wait)", servers), want[3], 0.05, column(all, func(x *seen) float64 { return x.had }))
	}
}

// A. K. Erlang 1917, the exact fractions of his C formula: with 3 servers and a
// load of 2 customers wait with chance 4/9, with 5 and 4 128/231, with 8 and 6
// 5832/16337.
func TestCustomersWaitAsErlangSays(t *testing.T) {
	for _, c := range []struct {
		servers int
		between resources.Seconds
		want    float64
	}{{3, 600, 4.0 / 9}, {5, 300, 128.0 / 231}, {8, 200, 5832.0 / 16337}} {
		all := queue{between: c.between, service: 1200, spread: exponential, servers: c.servers}.histories(t, 2500, 60)
		agrees(t, fmt.Sprintf("M/M/%d P(wait)", c.servers), c.want, 0.08, column(all, func(x *seen) float64 { return x.had }))
	}
}

// Pollaczek 1930 and Khinchine 1932: Lq = ρ²(1+scv)/2(1−ρ), here 2 an hour and
// a mean of 1/3 h, so Lq 2/3, 5/6 and 10/3, and Wq half of that.
func TestCustomersWaitAsPollaczekAndKhinchineSay(t *testing.T) {
	schedtest.Long(t)
	for _, c := range []struct {
		name   string
		spread resources.Spread
		want   float64
		width  float64
	}{
		{"M/D/1 Wq", resources.Spread{Shape: resources.FixedShape}, 1.0 / 3, 0.10},
		{"M/G/1 Wq, gamma, scv 1/4", resources.Spread{Shape: resources.Gamma, CV: 0.5}, 5.0 / 12, 0.10},
		{"M/G/1 Wq, lognormal, scv 1/4", resources.Spread{Shape: resources.Lognormal, CV: 0.5}, 5.0 / 12, 0.10},
		{"M/G/1 Wq, lognormal, scv 4", resources.Spread{Shape: resources.Lognormal, CV: 2}, 5.0 / 3, 0.35},
	} {
		all := queue{between: 1800, service: 1200, spread: c.spread, servers: 1}.histories(t, 2500, 60)
		agrees(t, c.name, c.want, c.width, column(all, func(x *seen) float64 { return x.waited }))
	}
}

// Full loads only: 8 an hour fill loads of 10 that take an hour, E10/M/1. By
// σ = (λ/(λ+μ(1−σ)))^10 an item stays 3.484769 h, of which it waits 0.5625 h
// for its load to fill (Gross and Harris, Fundamentals of Queueing Theory, from
// memory; the numbers recomputed).
func TestLoadsWaitAsBulkServiceDoes(t *testing.T) {
	all := queue{between: 450, service: 3600, spread: exponential, servers: 1, bulk: 10}.histories(t, 5000, 60)
	agrees(t, "E10/M/1 W", 3.484769, 0.10, column(all, func(x *seen) float64 { return x.stayed }))
}

// J. D. C. Little 1961: what is inside is what comes in times how long it
// stays. It holds in each history but for those inside at its ends.
func TestLittle(t *testing.T) {
	for _, x := range (queue{between: 1800, service: 1200, spread: exponential, servers: 1}).histories(t, 2500, 20) {
		require.InEpsilon(t, x.arrivals*x.stayed, x.inside, 0.02)
	}
}

// Outages: Hopp and Spearman, Factory Physics, 3rd edition, section 8.4: 15 min,
// scv 0.05; down 38 min after 114, or 248 after 744: 20 min both, scv 1.0 and
// 6.25. Section 8.6: at 2.875 an hour customers wait 460 min and 1667.5 min by
// Kingman's formula of 1961, which is exact for arrivals at random; at 2 an hour
// it says 40 min and 145 min.
func TestBreakdownsStretchWorkAsInFactoryPhysics(t *testing.T) {
	schedtest.Long(t)
	for _, c := range []struct {
		name               string
		every, repair      resources.Seconds
		scv, width         float64
		waits, waitedWidth float64 // in hours, at 2 an hour
	}{{"Tortoise", 114, 38, 1.0, 0.05, 40.0 / 60, 0.1}, {"Hare", 744, 248, 6.25, 0.1, 145.0 / 60, 0.2}} {
		all := queue{
			between: 1800, service: 900, spread: resources.Spread{Shape: resources.Gamma, CV: math.Sqrt(0.05)}, servers: 1,
			breakdowns: &resources.Breakdowns{Every: 60 * c.every, Repair: 60 * c.repair},
		}.histories(t, 4000, 80)
		agrees(t, c.name+" effective time", 1.0/3, 0.05, column(all, func(x *seen) float64 { return x.service }))
		agrees(t, c.name+" scv", c.scv, c.width, column(all, func(x *seen) float64 { return x.scv }))
		agrees(t, c.name+" Wq, 2 an hour", c.waits, c.waitedWidth, column(all, func(x *seen) float64 { return x.waited }))
	}
}

// The book's own load, at which the queue takes long to forget its beginning.
func TestTortoiseWaitsAsInFactoryPhysics(t *testing.T) {
	schedtest.Long(t)
	all := queue{
		between: 1252, service: 900, spread: resources.Spread{Shape: resources.Gamma, CV: math.Sqrt(0.05)}, servers: 1,
		breakdowns: &resources.Breakdowns{Every: 60 * 114, Repair: 60 * 38},
	}.histories(t, 10000, 100)
	agrees(t, "Tortoise Wq, 2.875 an hour", 460.0/60, 0.2, column(all, func(x *seen) float64 { return x.waited }))
}

// J. F. C. Kingman 1961, The single server queue in heavy traffic (Proceedings
// of the Cambridge Philosophical Society 57), and 1962: where arrivals are more
// regular than at random, ρ/(1−ρ)·(ca²+cs²)/2 of a service is an approximation
// from above.
func TestKingmanBoundsTheWait(t *testing.T) {
	const load = 0.9
	all := queue{
		between: 1200, service: 1080, spread: resources.Spread{Shape: resources.Gamma, CV: math.Sqrt(0.5)}, servers: 1,
		arrivals: resources.Spread{Shape: resources.Gamma, CV: 0.5},
	}.histories(t, 4000, 60)
	mean := stat.Mean(column(all, func(x *seen) float64 { return x.waited }), nil)
	kingman := load / (1 - load) * (0.25 + 0.5) / 2 * 1080 / 3600
	t.Logf("Kingman %.4f h, played %.4f h", kingman, mean)
	require.Less(t, mean, kingman)
	require.InEpsilon(t, kingman, mean, 0.15)
}
