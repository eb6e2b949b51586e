// SPDX-License-Identifier: Apache-2.0

package learn_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
	"towpath/scheduler"
	"towpath/scheduler/learn"
)

const six resources.Tick = 1772431200 // 2026-03-02 06:00 UTC

const plantFile = `id: lathe
name: Lathe
zone: UTC
calendars:
  - id: day
    shifts:
      - days: Mon-Sun
        hours: 06:00-22:00
crews:
  - id: all
    skills: turning
    shifts:
      - {calendar: day, heads: 2}
stations:
  - id: L1
    kind: lathe
    breakdowns: {every: 100h, repair: 1h} # a guess
  - id: L2
    kind: lathe
products:
  - id: T
    routing:
      - id: turn
        stations: [L1, L2]
        run: 30m # as quoted
        spread: {shape: lognormal, cv: 0.2}
      - id: test
        stations: L2
        load: 10m
        run: 20m
        after: [turn]
        gate: proof
        yield: 95 %
`

func shop(t require.TestingT) *scheduler.State {
	plant, findings := resources.ReadPlant("plant.yaml", []byte(plantFile))
	require.NotNil(t, plant, "%v", findings)
	s := scheduler.NewState(plant)
	s.PlantFile, s.At = plantFile, six+1000*3600
	return s
}

// turned adds a piece that was turned in so long, starting at an hour of its
// own.
func turned(s *scheduler.State, n int, took float64) *scheduler.Piece {
	start := six + resources.Tick(n*3600*8)
	p := &scheduler.Piece{Serial: fmt.Sprintf("P%05d", n), Product: "T", Ops: []scheduler.OpState{
		{Operation: "turn", Status: scheduler.Done, Station: "L1", Started: start, Ended: start + resources.Tick(took)},
	}}
	s.Pieces[p.Serial] = p
	return p
}

func of(r *learn.Report, about, operation, station string) *learn.Proposal {
	for i := range r.Proposals {
		if p := &r.Proposals[i]; p.About == about && p.Operation == operation && p.Station == station {
			return p
		}
	}
	return nil
}

// Times drawn from a law are found again, within 4.5 standard errors of a
// median (1.25 sigma over the root of n) and what the plant still weighs.
func TestTimesAreFoundAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factor := rapid.Float64Range(0.5, 2).Draw(t, "factor")
		cv := rapid.Float64Range(0.05, 0.5).Draw(t, "cv")
		n := rapid.IntRange(200, 600).Draw(t, "n")
		wild := rapid.Float64Range(0, 0.05).Draw(t, "wild")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		s, sigma := shop(t), math.Sqrt(math.Log1p(cv*cv))
		for i := range n {
			took := 1800 * factor * math.Exp(sigma*rng.NormFloat64()-sigma*sigma/2)
			if float64(i) < wild*float64(n) {
				took *= 20 // the end was reported hours late
			}
			turned(s, i, math.Max(1, took))
		}
		x := of(learn.Learn(s, learn.Options{}), learn.Time, "turn", "")
		require.NotNil(t, x)
		require.Equal(t, n, x.N)
		// 5 % above move the median to the 52.6th percentile: 0.066 sigma. The
		// plant weighs ten of n values, and its median may be up to log 2 away.
		off := 0.066*sigma + 4.5*1.25*sigma/math.Sqrt(float64(n)) + 10/float64(n+10)*0.75
		got := math.Log(x.Seen / (1800 * factor * math.Exp(-sigma*sigma/2)))
		require.LessOrEqual(t, math.Abs(got), off)
		require.InDelta(t, 0, math.Log(x.Estimate/(1800*factor)), off+0.04+0.3*sigma*sigma)
		// A scaled median absolute deviation has a relative standard error of
		// 1.17 over the root of n; 5 % wild values widen it by at most 7.5 %.
		require.InDelta(t, cv, x.SeenCV, cv*(0.11+4.5*1.17/math.Sqrt(float64(n)))*1.2)
	})
}

func TestNothingDoneLeavesThePlant(t *testing.T) {
	s := shop(t)
	r := learn.Learn(s, learn.Options{Since: six})
	require.Empty(t, r.Proposals)
	require.Empty(t, r.Revisions())
	b := learn.Belief{Mu: 0.3, Sigma: 0.2}
	require.Equal(t, b, b.Shrink(0, math.NaN(), math.NaN(), 10))
}

// A short history is believed less: the estimate goes from the plant's to what
// was seen as pieces are made.
func TestShortHistoryStaysNearThePlant(t *testing.T) {
	before := 0.0
	for _, n := range []int{1, 3, 10, 100, 2000} {
		s := shop(t)
		for i := range n {
			turned(s, i, 3600)
		}
		x := of(learn.Learn(s, learn.Options{}), learn.Time, "turn", "")
		require.Greater(t, x.Estimate, before)
		require.Less(t, x.Estimate, 3610.0)
		before = x.Estimate
		require.Equal(t, n >= 10, len(x.Revisions) > 0, "%d pieces: %s", n, x.Why)
	}
	require.InDelta(t, 3600, before, 20)
}

// Pauses and stops are no work, and a start or end nobody reported says
// nothing.
func TestPausesAndStopsAreTakenOut(t *testing.T) {
	s := shop(t)
	for i := range 12 {
		p := turned(s, i, 1800+600+900)
		p.Ops[0].PausedFor = 600
	}
	turned(s, 12, 99999).Ops[0].EndGuessed = true
	turned(s, 13, 99999).Ops[0].StartGuessed = true
	var log []events.Event
	for i := range 12 {
		at := six + resources.Tick(i*3600*8+60)
		log = append(log, report(fmt.Sprint("down", i), events.StationDown, at), report(fmt.Sprint("up", i), events.StationUp, at+900))
	}
	x := of(learn.Learn(s, learn.Options{Stops: learn.Stops(log), Since: six}), learn.Time, "turn", "")
	require.Equal(t, 12, x.N)
	require.InDelta(t, 1800, x.Seen, 1e-6)
}

func report(id string, kind events.Kind, at resources.Tick) events.Event {
	return events.Event{ID: id, Kind: kind, Station: "L1", At: at, Data: events.StationData{}}
}

func TestStopsArePaired(t *testing.T) {
	got := learn.Stops([]events.Event{
		report("a", events.StationUp, six),
		report("c", events.StationUp, six+200), // told before its start was
		report("b", events.StationDown, six+100),
		report("b", events.StationDown, six+100),
		report("d", events.StationDown, six+300), // voided
		report("e", events.StationUp, six+400),
		report("f", events.StationDown, six+500), // not over
		{ID: "v", Kind: events.EventVoided, At: six + 310, Data: events.VoidData{Event: "d"}},
	})
	require.Equal(t, []learn.Stop{{Station: "L1", Interval: resources.Interval{Start: six + 100, End: six + 200}}}, got)
}

// A station told to be down twice is down since the first time; one that came up in
// the second in which it went down did not stand.
func TestAStopBeginsWithTheFirstReport(t *testing.T) {
	got := learn.Stops([]events.Event{
		report("a", events.StationDown, six), report("b", events.StationDown, six+60), report("c", events.StationUp, six+100),
		report("d", events.StationDown, six+200), report("e", events.StationUp, six+200),
	})
	require.Equal(t, []learn.Stop{{Station: "L1", Interval: resources.Interval{Start: six, End: six + 100}}}, got)
}

// Stops from before the time looked at do not count, nor does the running then.
func TestStopsOfOldDoNotCount(t *testing.T) {
	s := shop(t)
	var log []events.Event
	for i := range 40 {
		turned(s, i, 1800)
		at := six + resources.Tick(i*3600*8+7200)
		log = append(log, report(fmt.Sprint("down", i), events.StationDown, at), report(fmt.Sprint("up", i), events.StationUp, at+7200))
	}
	r := learn.Learn(s, learn.Options{Stops: learn.Stops(log), Since: six + 30*8*3600})
	x := of(r, learn.Breakdowns, "", "L1")
	require.Equal(t, 10, x.N)
	require.InDelta(t, 1800, x.Seen, 1e-6)
}

// Where the plant file has no breakdowns, three stops are enough to propose some.
func TestThreeStopsAreEnough(t *testing.T) {
	for n := 2; n <= 3; n++ {
		s := shop(t)
		s.Plant.Station("L1").Breakdowns = nil
		var log []events.Event
		for i := range 40 {
			turned(s, i, 1800)
			if at := six + resources.Tick(i*3600*8+7200); i < n {
				log = append(log, report(fmt.Sprint("down", i), events.StationDown, at), report(fmt.Sprint("up", i), events.StationUp, at+7200))
			}
		}
		x := of(learn.Learn(s, learn.Options{Stops: learn.Stops(log), Since: six}), learn.Breakdowns, "", "L1")
		require.Equal(t, n, x.N)
		require.Equal(t, n == 3, len(x.Revisions) > 0, "%d: %s", n, x.Why)
		require.Equal(t, n < 3, strings.Contains(x.Why, "too few"), "%d: %s", n, x.Why)
	}
}

// Six stops of two hours in sixty hours of running, where the plant has one of
// one hour in a hundred.
func TestBreakdownsAreProposed(t *testing.T) {
	s := shop(t)
	var log []events.Event
	for i := range 120 {
		turned(s, i, 1800)
		if at := six + resources.Tick(i*3600*8+7200); i%20 == 0 {
			log = append(log, report(fmt.Sprint("down", i), events.StationDown, at), report(fmt.Sprint("up", i), events.StationUp, at+7200))
		}
	}
	r := learn.Learn(s, learn.Options{Stops: learn.Stops(log), Since: six})
	x := of(r, learn.Breakdowns, "", "L1")
	require.Equal(t, 6, x.N)
	require.InDelta(t, 36000, x.Seen, 1)
	require.InDelta(t, (10*360000+216000)/16.0, x.Estimate, 1)
	require.Len(t, x.Revisions, 1)
	require.Nil(t, of(r, learn.Breakdowns, "", "L2"), "nothing ran there")
	y := of(r, learn.Repair, "", "L1")
	require.InDelta(t, 7200, y.Seen, 1e-6)
	require.Less(t, y.Estimate, 7200/math.Ln2)
	require.Greater(t, y.Estimate, 3600.0)
}

// The first result of a piece counts, not what a second look says.
func TestYieldIsThatOfTheFirstPass(t *testing.T) {
	s := shop(t)
	for i := range 100 {
		p := turned(s, i, 1800)
		first := quality.Pass
		if i%4 == 0 {
			first = quality.Rework
		}
		p.Results = []scheduler.Result{{Operation: "test", Decision: first, At: six + resources.Tick(i)}, {Operation: "test", Decision: quality.Pass, At: six + 9999}}
	}
	x := of(learn.Learn(s, learn.Options{}), learn.Yield, "test", "")
	require.Equal(t, 100, x.N)
	require.InDelta(t, 0.75, x.Seen, 1e-12)
	require.InDelta(t, (9.5+75)/110, x.Estimate, 1e-12)
	require.Equal(t, []resources.Revision{{Product: "T", Operation: "test", Key: "yield", Text: "76.8 %"}}, x.Revisions)
}

// What is proposed can be made in the file, keeps its comments, and once made
// nothing more of the kind is proposed from the same history but what the
// plant's own weight held back.
func TestProposalsCanBeMade(t *testing.T) {
	s := shop(t)
	rng := rand.New(rand.NewPCG(7, 7))
	for i := range 400 {
		turned(s, i, 2700*math.Exp(0.5*rng.NormFloat64()))
	}
	revisions := learn.Learn(s, learn.Options{}).Revisions()
	require.Len(t, revisions, 2, "%v", revisions)
	text, err := resources.Revise([]byte(s.PlantFile), revisions)
	require.NoError(t, err)
	require.Contains(t, string(text), " # as quoted")
	plant, findings := resources.ReadPlant("plant.yaml", text)
	require.NotNil(t, plant, "%v", findings)
	op := plant.Product("T").Operation("turn")
	require.InDelta(t, 2700*math.Exp(0.125), float64(op.Run), 300)
	require.InDelta(t, math.Sqrt(math.Expm1(0.25)), op.Spread.CV, 0.08)
	s.Plant = plant
	require.Empty(t, learn.Learn(s, learn.Options{}).Revisions())
}

// Whatever was reported, the estimates are numbers and what is proposed can be
// read.
func FuzzLearn(f *testing.F) {
	f.Add(uint64(1), 40, 1800.0, 0.3, 3)
	f.Add(uint64(2), 12, 1.0, 3.0, 0)
	f.Fuzz(func(t *testing.T, seed uint64, n int, took, sigma float64, fail int) {
		if n < 0 || n > 300 || !(took > 0 && took < 1e7) || !(sigma >= 0 && sigma < 4) {
			t.Skip("no such record: too many pieces, or times that are none")
		}
		rng := rand.New(rand.NewPCG(seed, 1))
		s := shop(t)
		var log []events.Event
		for i := range n {
			p := turned(s, i, math.Min(1e8, took*math.Exp(sigma*rng.NormFloat64())))
			d := quality.Pass
			if fail > 0 && i%fail == 0 {
				d = quality.Remake
			}
			p.Results = []scheduler.Result{{Operation: "test", Decision: d, At: six}}
			log = append(log, report(fmt.Sprint("d", i), events.StationDown, six+resources.Tick(rng.IntN(1e7))), report(fmt.Sprint("u", i), events.StationUp, six+resources.Tick(rng.IntN(1e7))))
		}
		r := learn.Learn(s, learn.Options{Stops: learn.Stops(log), Since: six})
		for _, x := range r.Proposals {
			for _, v := range []float64{x.Seen, x.Low, x.High, x.Estimate, x.SeenCV, x.EstimateCV} {
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%+v", x)
			}
		}
		text, err := resources.Revise([]byte(s.PlantFile), r.Revisions())
		require.NoError(t, err)
		plant, findings := resources.ReadPlant("plant.yaml", text)
		require.NotNil(t, plant, "%v\n%s", findings, text)
	})
}
