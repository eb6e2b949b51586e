// SPDX-License-Identifier: Apache-2.0

package learn_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/learn"
)

const setupFile = `id: lathe
name: Lathe
zone: UTC
calendars:
  - id: day
    shifts:
      - {days: Mon-Sun, hours: 00:00-24:00}
crews:
  - id: all
    skills: turning
    shifts:
      - {calendar: day, heads: 1}
stations:
  - id: L1
    kind: lathe
    setups:
      - {attribute: size, time: 20m}
products:
  - id: S
    routing:
      - {id: turn, stations: L1, run: 30m, attributes: {size: small}}
  - id: B
    routing:
      - {id: turn, stations: L1, run: 30m, attributes: {size: big}}
`

// changed is a shop whose lathe did small and big pieces in turn, each after a
// changeover of so many seconds; 0: nobody told when it began.
func changed(t require.TestingT, took []float64) *scheduler.State {
	plant, findings := resources.ReadPlant("plant.yaml", []byte(setupFile))
	require.NotNil(t, plant, "%v", findings)
	s := scheduler.NewState(plant)
	s.PlantFile, s.At = setupFile, six+resources.Tick(len(took)+2)*8*3600
	for i, x := range append([]float64{0}, took...) {
		start := six + resources.Tick(i*3600*8)
		o := scheduler.OpState{Operation: "turn", Status: scheduler.Done, Station: "L1", Place: 1, Started: start, Ended: start + 1800}
		if x > 0 {
			o.SetupFrom = start - resources.Tick(max(1, x))
		}
		serial := fmt.Sprintf("P%05d", i)
		s.Pieces[serial] = &scheduler.Piece{Serial: serial, Product: string("SB"[i%2]), Ops: []scheduler.OpState{o}}
	}
	return s
}

// Changeovers drawn from a law are found again, as times of operations are.
func TestChangeoversAreFoundAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		factor := rapid.Float64Range(0.5, 2).Draw(t, "factor")
		cv := rapid.Float64Range(0.05, 0.5).Draw(t, "cv")
		n := rapid.IntRange(200, 400).Draw(t, "n")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		sigma := math.Sqrt(math.Log1p(cv * cv))
		took := make([]float64, n)
		for i := range took {
			took[i] = 1200 * factor * math.Exp(sigma*rng.NormFloat64()-sigma*sigma/2)
		}
		x := of(learn.Learn(changed(t, took), learn.Options{}), learn.Changeover, "", "L1")
		require.NotNil(t, x)
		require.Equal(t, n, x.N)
		got := math.Log(x.Seen / (1200 * factor * math.Exp(-sigma*sigma/2)))
		require.LessOrEqual(t, math.Abs(got), 4.5*1.25*sigma/math.Sqrt(float64(n))+0.01)
	})
}

func TestChangeoversAreProposedForTheStation(t *testing.T) {
	took := make([]float64, 40)
	for i := range took {
		took[i] = 1800 + float64(i%5)*60
	}
	s := changed(t, took)
	r := learn.Learn(s, learn.Options{})
	x := of(r, learn.Changeover, "", "L1")
	require.Equal(t, "the plant's median lies outside the interval", x.Why)
	require.InDelta(t, 1200, x.Plant, 1)
	require.InDelta(t, 1920, x.Seen, 60)
	require.Greater(t, x.Estimate, x.Plant)
	text, err := learn.Revised([]byte(setupFile), r.Revisions())
	require.NoError(t, err)
	plant, findings := resources.ReadPlant("plant.yaml", text)
	require.NotNil(t, plant, "%v", findings)
	require.InDelta(t, x.Estimate/1200, plant.Stations[0].SetupSpread.Mean, 0.01)

	told := changed(t, append(make([]float64, 30), took[:9]...))
	x = of(learn.Learn(told, learn.Options{}), learn.Changeover, "", "L1")
	require.Equal(t, 9, x.N, "only those that somebody told of count")
	require.Equal(t, "too few: 9 of 10", x.Why)
	require.Empty(t, x.Revisions)
	require.Nil(t, of(learn.Learn(changed(t, make([]float64, 30)), learn.Options{}), learn.Changeover, "", "L1"))
}
