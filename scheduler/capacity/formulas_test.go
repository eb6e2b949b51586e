// SPDX-License-Identifier: Apache-2.0

package capacity_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/capacity"
)

// A. K. Erlang (1917); values recomputed as exact fractions.
func TestErlangC(t *testing.T) {
	for _, c := range []struct {
		servers int
		load    float64
		want    float64
	}{
		{1, 0.5, 0.5}, {2, 1, 1.0 / 3}, {2, 1.5, 9.0 / 14}, {3, 2, 4.0 / 9}, {3, 2.5, 125.0 / 178}, {4, 3, 27.0 / 53},
		{5, 4, 128.0 / 231}, {8, 6, 5832.0 / 16337}, {10, 8, 4194304.0 / 10250507},
		{20, 18, 0.550769004816}, {50, 45, 0.363864467207}, {100, 90, 0.216940480906},
	} {
		require.InDelta(t, c.want, capacity.ErlangC(c.servers, c.load), 1e-11, "%d servers, %g erlangs", c.servers, c.load)
	}
	require.Equal(t, 1.0, capacity.ErlangC(3, 3))
}

// F. S. Hillier and G. J. Lieberman, Introduction to Operations Research, the
// County Hospital example: arrivals 2 an hour, service 3 an hour. Data from
// memory, results recomputed.
func TestWaitAtTheCountyHospital(t *testing.T) {
	p := capacity.Process{Mean: 1.0 / 3, SCV: 1}
	require.InDelta(t, 2.0/3, capacity.Wait(1, p, 1, 2.0/3), 1e-12)
	require.InDelta(t, 1.0/24, capacity.Wait(1, p, 2, 1.0/3), 1e-12)
}

// Pollaczek and Khinchine for M/G/1: mean 1, arrivals 0.9, squared
// coefficients of variation 1, 0, 1/4 and 4; and mean 1/3, arrivals 2.
func TestWaitIsExactForRandomArrivalsAtOneServer(t *testing.T) {
	for scv, want := range map[float64]float64{1: 9, 0: 4.5, 0.25: 5.625, 4: 22.5} {
		require.InDelta(t, want, capacity.Wait(1, capacity.Process{Mean: 1, SCV: scv}, 1, 0.9), 1e-9)
	}
	for scv, want := range map[float64]float64{1: 2.0 / 3, 0: 1.0 / 3, 0.25: 1.25 / 3, 4: 5.0 / 3} {
		require.InDelta(t, want, capacity.Wait(1, capacity.Process{Mean: 1.0 / 3, SCV: scv}, 1, 2.0/3), 1e-9)
	}
	require.Equal(t, capacity.Endless, capacity.Wait(1, capacity.Process{Mean: 1}, 1, 1))
}

// W. J. Hopp and M. L. Spearman, Factory Physics, 3rd ed., sections 8.4 and
// 8.6: two machines with a natural process of 15 min, up 75 % of the time, with
// long and short repairs; 2.875 jobs an hour. The book gives the waits before
// each, before the second when the first feeds it, and before three of the
// second side by side (2.467 h by the approximation of H. Sakasegawa, 1977;
// 2.4595 h exactly).
func TestWaitOfFactoryPhysics(t *testing.T) {
	const u = 2.875 * 20 / 60
	natural := capacity.Process{Mean: 15, SCV: 0.05}
	hare, tortoise := natural.WithOutages(744, 248, 1), natural.WithOutages(114, 38, 1)
	for name, p := range map[string][2]capacity.Process{"hare": {{Mean: 20, SCV: 6.25}, hare}, "tortoise": {{Mean: 20, SCV: 1}, tortoise}} {
		require.InDelta(t, p[0].Mean, p[1].Mean, 1e-9, name)
		require.InDelta(t, p[0].SCV, p[1].SCV, 1e-9, name)
	}
	require.InDelta(t, 1667.5, capacity.Wait(1, hare, 1, u), 1e-6)
	require.InDelta(t, 460, capacity.Wait(1, tortoise, 1, u), 1e-6)
	departures := u*u*hare.SCV + (1-u*u)*1
	require.InDelta(t, 5.8216, departures, 1e-4)
	require.InDelta(t, 26.15*60, capacity.Wait(departures, tortoise, 1, u), 1)
	pooled := capacity.Wait(1, tortoise, 3, u) / 60
	require.InDelta(t, 2.459470, pooled, 1e-5)
	sakasegawa := math.Pow(u, math.Sqrt(2*4)-1) / (3 * (1 - u)) * 20 / 60
	require.InDelta(t, 2.467, sakasegawa, 5e-4)
	require.InEpsilon(t, sakasegawa, pooled, 0.01)
}

// Factory Physics, 3rd ed., section 8.4: a machine with long runs between
// changeovers, one with short ones, and one that needs none, all with an
// effective time of 1.2 h. The book rounds to 0.31 and 0.16.
func TestSetupsMakeWorkVary(t *testing.T) {
	natural := capacity.Process{Mean: 1, SCV: 0.0625}
	long := natural.WithSetups(capacity.Process{Mean: 2, SCV: 0.0625}, 10)
	require.InDelta(t, 1.2, long.Mean, 1e-12)
	require.InDelta(t, 0.310763889, long.SCV, 1e-9)
	short := natural.WithSetups(capacity.Process{Mean: 1, SCV: 0.0625}, 5)
	require.InDelta(t, 1.2, short.Mean, 1e-12)
	require.InDelta(t, 0.163194444, short.SCV, 1e-9)
	require.Equal(t, natural, natural.WithSetups(capacity.Process{}, 10))
}

// Loads run only when they are full, exponential running times: E_b/M/1, whose
// queue follows exactly from the root of s = (lambda / (lambda + mu (1 - s)))^b.
// The approximation may be 3 % off, its worst here.
func TestLoadWaitAgainstFullLoads(t *testing.T) {
	for _, c := range []struct{ rate, size, fill, queue float64 }{
		{8, 10, 0.5625, 1.92226918}, {9, 10, 0.5, 4.66027639}, {4, 5, 0.5, 2.15225673}, {0.9, 1, 0, 9},
	} {
		sigma := 0.5
		for range 2000 {
			sigma = math.Pow(c.rate/(c.rate+1-sigma), c.size)
		}
		require.InDelta(t, c.queue, sigma/(1-sigma), 1e-6, "the exact value")
		fill, queue := capacity.LoadWait(c.rate, c.size, capacity.Process{Mean: 1, SCV: 1}, 1, c.rate/c.size)
		require.InDelta(t, c.fill, fill, 1e-12)
		require.InEpsilon(t, c.queue, queue, 0.03)
	}
}

// N. T. J. Bailey (1954): loaded every cycle with whatever waits. Expected
// values from the Markov chain of what is left; for one place the closed form
// rho^2 / (2 (1 - rho)).
func TestCycleWaitAgainstBailey(t *testing.T) {
	for _, c := range []struct {
		per  float64
		size int
		want float64
	}{
		{0.9, 1, 5.0}, {1.6, 2, 1.403283879}, {4, 5, 0.789060007}, {8, 10, 0.60982779}, {9, 10, 0.84458205},
	} {
		require.InDelta(t, c.want, capacity.CycleWait(c.per, c.size), 1e-6, "%g per cycle, %d places", c.per, c.size)
	}
	require.Equal(t, capacity.Endless, capacity.CycleWait(10, 10))
	require.InDelta(t, 0.5, capacity.CycleWait(0.001, 10), 1e-6, "a lone piece waits half a cycle")
}

// ISO 22400-2:2014, definitions as quoted in OPC UA for Machine Tools, annex
// C.2.4 (availability, effectiveness, quality, OEE) and two other public
// sources; own worked example.
func TestFiguresOfISO22400(t *testing.T) {
	f := capacity.Times{PBT: 450, AUBT: 420, AUPT: 390, AUST: 30, APT: 360, ADET: 30, AOET: 540, PRI: 0.5, PQ: 600, GQ: 570, SQ: 30, IP: 600, GP: 540}.Figures()
	for _, c := range []struct {
		name      string
		want, got float64
	}{
		{"availability", 0.8, f.Availability}, {"effectiveness", 0.8333333333, f.Effectiveness}, {"quality ratio", 0.95, f.QualityRatio},
		{"OEE", 0.6333333333, f.OEE}, {"NEE", 0.6861111111, f.NEE}, {"allocation", 0.9333333333, f.AllocationEfficiency},
		{"utilization", 0.8571428571, f.UtilizationEfficiency}, {"setup ratio", 0.0769230769, f.SetupRatio},
		{"technical efficiency", 0.9230769231, f.TechnicalEfficiency}, {"throughput", 1.1111111111, f.ThroughputRate},
		{"scrap ratio", 0.05, f.ScrapRatio}, {"first pass yield", 0.9, f.FirstPassYield},
	} {
		require.InDelta(t, c.want, c.got, 1e-9, c.name)
	}
	// The widely taught example of a shift: 480 min less 60 of breaks, 47 of
	// stops, a second a piece, 19271 made and 423 refused. From memory.
	g := capacity.Times{PBT: 420, APT: 373, AUPT: 373, PRI: 1.0 / 60, PQ: 19271, GQ: 19271 - 423}.Figures()
	require.InDelta(t, 0.888095, g.Availability, 1e-6)
	require.InDelta(t, 0.861081, g.Effectiveness, 1e-6)
	require.InDelta(t, 0.978050, g.QualityRatio, 1e-6)
	require.InDelta(t, 0.747937, g.OEE, 1e-6)
	require.Zero(t, capacity.Times{}.Figures())
}
