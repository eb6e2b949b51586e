// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

const everyKey = "../testdata/plants/every-key.yaml"

func TestReadPlantReadsChance(t *testing.T) {
	text, err := os.ReadFile(everyKey)
	require.NoError(t, err)
	p, findings := resources.ReadPlant(everyKey, text)
	require.NotNil(t, p, "%v", findings)
	require.Equal(t, resources.Spread{Shape: resources.Gamma, CV: 0.25, Mean: 1.05}, p.Chance.Hands)
	require.Equal(t, resources.FixedShape, p.Chance.Machine.Shape)
	require.Equal(t, resources.Spread{Shape: resources.Triangular, Mean: 1, Low: 0.95, Likely: 1, High: 1.2}, p.Chance.Cure)
	require.Equal(t, []float64{0.8, 1, 1.4}, p.Chance.Setup.Values)
	require.Equal(t, resources.Floor{LoadWait: 20 * resources.Minute, TurnWait: 10 * resources.Minute, BeginEarly: 5 * resources.Minute}, p.Floor)
	w := p.Station("W1")
	require.Equal(t, resources.Pert, w.SetupSpread.Shape)
	require.Equal(t, 80*resources.Hour, w.Breakdowns.Every)
	require.Equal(t, 2*resources.Hour, w.Breakdowns.Repair)
	require.Equal(t, resources.Spread{Shape: resources.Lognormal, Mean: 1, CV: 1}, w.Breakdowns.Spread)
	require.InDelta(t, 0.025, p.Crews[0].Absence, 1e-12)
	wind := p.Product("T").Operation("wind")
	require.InDelta(t, 0.4, wind.SecondPass, 1e-12)
	require.InDelta(t, 0.1, wind.Spread.CV, 1e-12)
}

func TestReadPlantLeavesChanceUnsaid(t *testing.T) {
	plant, _ := resources.ReadPlant("bench.yaml", goodPlants(t)["../testdata/plants/bench.yaml"])
	require.NotNil(t, plant)
	require.Equal(t, resources.Chance{}, plant.Chance)
	require.Equal(t, resources.DefaultFloor(), plant.Floor)
	require.Equal(t, resources.DefaultChance(), plant.Chance.Or(resources.DefaultChance()))
}

func TestReadPlantRefusesImpossibleChance(t *testing.T) {
	text, err := os.ReadFile(everyKey)
	require.NoError(t, err)
	requireSlips(t, "every-key.yaml", string(text), resources.Error, []slip{
		{name: "order", old: "low: 0.95, likely: 1, high: 1.2", new: "low: 0.95, likely: 1, high: 0.9", want: "low ≤ likely ≤ high"},
		{name: "missing", old: "{shape: gamma, cv: 0.25, mean: 1.05}", new: "{shape: gamma, mean: 1.05}", want: "cv: is missing"},
		{name: "foreign", old: "machine: {shape: fixed}", new: "machine: {shape: fixed, cv: 0.1}", want: "does not go with this shape"},
		{name: "shape", old: "machine: {shape: fixed}", new: "machine: {shape: fixd}", want: "did you mean fixed?"},
		{name: "values", old: "values: [0.8, 1, 1.4]", new: "values: [0.8, 0, 1.4]", want: "a number above 0"},
		{name: "every", old: "every: 80h", new: "every: 10s", want: "at least 1m"},
		{name: "absence", old: "absence: 2.5 %", new: "absence: 120 %", want: "absence"},
	})
}
