// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

func phase(t testing.TB, r resources.Recipe, tau resources.Seconds, kind resources.PhaseKind) resources.CurePhase {
	t.Helper()
	for _, p := range r.Profile(tau) {
		if p.Kind == kind {
			return p
		}
	}
	require.Fail(t, "no such phase", kind)
	return resources.CurePhase{}
}

// Worked out from the lag equation: τ = 20 min, 2 °C/min from 25 to 120 °C. The
// air arrives at 47.5 min, the part at 83.7 °C; it is within 5 °C after 39.6
// min more, within 3 °C after 49.9 min.
func TestSoakWaitsForTheSlowestPart(t *testing.T) {
	for tolerance, minutes := range map[float64]float64{5: 39.6, 3: 49.9} {
		r := resources.Recipe{StartC: 25, Tolerance: tolerance, Steps: []resources.CureStep{{Rate: 2, ToC: 120, Dwell: resources.Hour}}}
		ramp := phase(t, r, 20*resources.Minute, resources.Ramp)
		require.InDelta(t, 47.5*60, ramp.Length, 1e-6)
		require.InDelta(t, 120, ramp.AirC, 1e-9)
		require.InDelta(t, 83.7, ramp.PartC, 0.05)
		lag := phase(t, r, 20*resources.Minute, resources.Lagging)
		require.InDelta(t, minutes, lag.Length/60, 0.05)
		require.InDelta(t, 120-tolerance, lag.PartC, 1e-9)
	}
}

// Mandrels with 3 mm of composite wall (1550 kg/m³, 900 J/(kg·K)) in air with
// h = 20 W/(m²·K), per metre, ends left out. Metal properties from F. P.
// Incropera, D. P. DeWitt, tables A.1 and A.2 (from memory): aluminium 2024-T6
// 2770 kg/m³, 875 J/(kg·K); steel AISI 1010 7832, 434. The results were worked
// out from the lag equation; h within the 10 to 50 W/(m²·K) of forced air is
// common practice, no source.
func TestMandrelsInTheOven(t *testing.T) {
	ring := func(outer, inner float64) float64 { return math.Pi / 4 * (outer*outer - inner*inner) }
	for _, c := range []struct {
		name                string
		outer, inner        float64 // m
		density, heat       float64
		tauMinutes, waitMin float64
	}{
		{"aluminium tube 60 x 6", 0.060, 0.048, 2770, 875, 13.2, 29},
		{"steel tube 60 x 6", 0.060, 0.048, 7832, 434, 17.3, 41},
		{"solid aluminium 40", 0.040, 0, 2770, 875, 20.8, 53},
		{"solid steel 40", 0.040, 0, 7832, 434, 27.9, 76},
	} {
		metal, wall := ring(c.outer, c.inner), ring(c.outer+0.006, c.outer)
		surface := math.Pi * (c.outer + 0.006)
		tau := resources.TimeConstant(c.density, c.heat, metal, 20, surface) +
			resources.TimeConstant(1550, 900, wall, 20, surface)
		require.InDelta(t, c.tauMinutes, tau/60, 0.1, c.name) // the table was made from masses rounded to 0.1 kg/m
		r := resources.Recipe{StartC: 25, Tolerance: 3, Steps: []resources.CureStep{{Rate: 2, ToC: 120, Dwell: resources.Hour}}}
		lag := phase(t, r, resources.Seconds(tau), resources.Lagging)
		require.InDelta(t, c.waitMin, lag.Length/60, 0.6, c.name)
	}
}

// The demo shop's recipes (invented). With no lag they take what the program
// says; with τ = 20 min the air program, two soak delays and the lag of the
// cooling part add up to the times its loads are planned with.
func twoDemoRecipes() (a, b resources.Recipe) {
	a = resources.Recipe{ID: "A", StartC: 25, Tolerance: 3, CoolRate: 1.5, OpenC: 60, Steps: []resources.CureStep{
		{Rate: 1.5, ToC: 80, Dwell: 120 * resources.Minute}, {Rate: 1, ToC: 120, Dwell: 180 * resources.Minute}}}
	b = resources.Recipe{ID: "B", StartC: 25, Tolerance: 3, CoolRate: 1, OpenC: 60, Steps: []resources.CureStep{
		{Rate: 1.5, ToC: 90, Dwell: 120 * resources.Minute}, {Rate: 1, ToC: 140, Dwell: 240 * resources.Minute}}}
	return a, b
}

func TestDemoRecipes(t *testing.T) {
	a, b := twoDemoRecipes()
	minutes := func(s resources.Seconds) float64 { return float64(s) / 60 }
	require.InDelta(t, 417, minutes(a.Duration(0)), 0.5)
	require.InDelta(t, 533, minutes(b.Duration(0)), 0.5)
	require.InDelta(t, 513, minutes(a.Duration(20*resources.Minute)), 0.5)
	require.InDelta(t, 633, minutes(b.Duration(20*resources.Minute)), 0.5)
	for _, r := range []resources.Recipe{a, b} {
		last := r.Profile(20 * resources.Minute)
		end := last[len(last)-1]
		require.Equal(t, resources.CoolDown, end.Kind)
		require.InDelta(t, 60, end.PartC, 1e-6)
		require.InDelta(t, 60-r.CoolRate*20, end.AirC, 3, "the air leads by about rate times τ")
	}
}

// simulate steps through a cure in fifths of a second, the slow way.
func simulate(r *resources.Recipe, tau float64) float64 {
	const step = 0.2
	air, part, now := r.StartC, r.StartC, 0.0
	tick := func(rate float64) {
		part += step * (air - part) / tau
		air += rate * step
		now += step
	}
	for _, s := range r.Steps {
		rate := math.Copysign(s.Rate/60, s.ToC-air)
		for (s.ToC-air)*rate > 0 {
			tick(rate)
		}
		air = s.ToC
		for math.Abs(air-part) > r.Tolerance {
			tick(0)
		}
		for left := float64(s.Dwell); left > 0; left -= step {
			tick(0)
		}
	}
	for part > max(r.OpenC, r.StartC+r.Tolerance) {
		if air > r.StartC {
			tick(-r.CoolRate / 60)
			air = max(air, r.StartC)
		} else {
			tick(0)
		}
	}
	return now
}

func TestDurationAgreesWithSmallSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(low, high int, label string) float64 { return float64(rapid.IntRange(low, high).Draw(t, label)) }
		r := resources.Recipe{StartC: number(15, 30, "start"), Tolerance: number(1, 8, "tolerance"),
			CoolRate: number(1, 8, "cool rate") / 2, OpenC: number(20, 70, "open")}
		for range rapid.IntRange(1, 3).Draw(t, "steps") {
			r.Steps = append(r.Steps, resources.CureStep{Rate: number(1, 8, "rate") / 2, ToC: number(40, 180, "to"),
				Dwell: resources.Seconds(number(0, 60, "dwell")) * resources.Minute})
		}
		tau := number(60, 2400, "tau")
		if opensOnAKnifeEdge(r, tau) {
			t.Skip("the steps' rounding would settle whether the load cools at all")
		}
		got := float64(r.Duration(resources.Seconds(tau)))
		want := simulate(&r, tau)
		require.InDelta(t, want, got, 5+want/1000)
	})
}

// opensOnAKnifeEdge: a part that ends its last soak at the opening temperature
// may be met at once, or, a hair warmer, follows the hot air up and down again.
func opensOnAKnifeEdge(r resources.Recipe, tau float64) bool {
	open := max(r.OpenC, r.StartC+r.Tolerance)
	r.OpenC = 0 // no cool down
	phases := r.Profile(resources.Seconds(tau))
	return len(phases) > 0 && math.Abs(phases[len(phases)-1].PartC-open) < 0.1
}

// A slower part never shortens a cure that only heats. (One that also steps
// down may gain: a part that lags needs no wait to cool.)
func TestSlowerPartsCureNoSooner(t *testing.T) {
	a, b := twoDemoRecipes()
	for _, r := range []resources.Recipe{a, b} {
		before := resources.Seconds(0)
		for tau := resources.Seconds(0); tau < 2*resources.Hour; tau += 37 {
			now := r.Duration(tau)
			require.GreaterOrEqual(t, now, before)
			before = now
		}
	}
}

func TestMeasuredTimeReplacesTheModel(t *testing.T) {
	a, _ := twoDemoRecipes()
	a.Fixed = 9 * resources.Hour
	require.Equal(t, 9*resources.Hour, a.Duration(0))
	require.Equal(t, 9*resources.Hour, a.Duration(resources.Hour))
}

func TestRecipesAtTheEdges(t *testing.T) {
	step := []resources.CureStep{{Rate: 1, ToC: 85, Dwell: resources.Hour}}
	for name, c := range map[string]struct {
		recipe resources.Recipe
		tau    resources.Seconds
		want   resources.Seconds
	}{
		"nothing":                         {resources.Recipe{}, 600, 0},
		"no cool down":                    {resources.Recipe{StartC: 25, Steps: step}, 0, 2 * resources.Hour},
		"opened at the set point":         {resources.Recipe{StartC: 25, OpenC: 90, CoolRate: 1, Steps: step}, 0, 2 * resources.Hour},
		"jump of the air, no lag":         {resources.Recipe{StartC: 25, Steps: []resources.CureStep{{ToC: 85, Dwell: resources.Hour}}}, 0, resources.Hour},
		"jump of the air":                 {resources.Recipe{StartC: 25, Tolerance: 60 / math.E, Steps: []resources.CureStep{{ToC: 85, Dwell: resources.Hour}}}, 600, resources.Hour + 600},
		"door open at once":               {resources.Recipe{StartC: 25, Tolerance: 60 / math.E, OpenC: 25 + 60/math.E, Steps: []resources.CureStep{{ToC: 85, Dwell: 10 * resources.Day}}}, 600, 10*resources.Day + 1200},
		"never as cold as the room":       {resources.Recipe{StartC: 25, Tolerance: 60 / math.E, OpenC: 10, Steps: []resources.CureStep{{ToC: 85, Dwell: 10 * resources.Day}}}, 600, 10*resources.Day + 1200},
		"step down, air only":             {resources.Recipe{StartC: 25, Steps: []resources.CureStep{{Rate: 1, ToC: 85}, {Rate: 2, ToC: 65}}}, 0, 70 * resources.Minute},
		"parts of a second rounded up":    {resources.Recipe{StartC: 25, Steps: []resources.CureStep{{Rate: 7, ToC: 26}}}, 0, 9},
		"whole seconds not rounded up":    {resources.Recipe{StartC: 25, Steps: []resources.CureStep{{Rate: 0.1, ToC: 25.3}}}, 0, 180},
		"a rate that would take for ever": {resources.Recipe{StartC: 25, Steps: []resources.CureStep{{Rate: 1e-300, ToC: 90}}}, 600, 1 << 40},
	} {
		require.Equal(t, c.want, c.recipe.Duration(c.tau), name)
	}
}
