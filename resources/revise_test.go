// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/testdata/demo"
)

// Only the lines revised change, in a file with merges, shared operations and
// comments.
func TestRevisionsLeaveTheRestOfTheFile(t *testing.T) {
	text, err := resources.Revise(demo.Plant, []resources.Revision{
		{Product: "HS-S", Operation: "wind", Key: "run", Text: "55m"},                           // its own line
		{Product: "HS-S", Operation: "mandrel", Key: "spread", Text: "{shape: gamma, cv: 0.3}"}, // shared as a whole
		{Product: "HS-S", Operation: "bond-2", Key: "run_at", Text: "{BC3: 28h}"},               // merged in
		{Product: "HS-S", Operation: "balance", Key: "yield", Text: "70 %"},                     // after the first key
		{Product: "HS-S", Operation: "balance", Key: "yield", Text: "71 %"},                     // and again
		{Station: "W1", Key: "breakdowns", Text: "{every: 90h, repair: 45m}"},                   // not there yet
		{Station: "W1", Key: "initial", Text: "{resin: B}"},                                     // on one line
		{Station: "O1", Key: "batch", Text: "{capacity: {places: 10, mandrel_mass: 100 kg}}"},   // over several lines
		{Product: "HS-S", Operation: "proof", Key: "rule", Text: "{kind: torsion, limits: [{of: spring_rate, min: 60 N·m/deg}]}"},
	})
	require.NoError(t, err)
	plant, findings := resources.ReadPlant("plant.yaml", text)
	require.NotNil(t, plant, "%v", findings)
	was, _ := resources.ReadPlant("plant.yaml", demo.Plant)
	op := func(p *resources.Plant, product, id string) *resources.Operation {
		return p.Product(product).Operation(id)
	}
	require.Equal(t, 55*resources.Minute, op(plant, "HS-S", "wind").Run)
	require.Equal(t, 0.3, op(plant, "HS-S", "mandrel").Spread.CV)
	require.Equal(t, 28*resources.Hour, op(plant, "HS-S", "bond-2").RunAt["BC3"])
	require.Equal(t, 0.71, op(plant, "HS-S", "balance").Yield)
	require.Equal(t, 90*resources.Hour, plant.Station("W1").Breakdowns.Every)
	require.Equal(t, int64(10), plant.Station("O1").Batch.Capacity["places"])
	require.Equal(t, op(was, "HS-M", "mandrel"), op(plant, "HS-M", "mandrel"), "what another product shares stays")
	require.Equal(t, op(was, "HS-M", "balance"), op(plant, "HS-M", "balance"))
	kept := map[string]bool{}
	for _, line := range strings.Split(string(text), "\n") {
		kept[line] = true
	}
	lost := 0
	for _, line := range strings.Split(string(demo.Plant), "\n") {
		if !kept[line] {
			lost++
		}
	}
	require.Less(t, lost, 12)
}

func TestRevisionThatCannotBeMadeSaysSo(t *testing.T) {
	for _, x := range []struct {
		file, says string
		v          resources.Revision
	}{
		{"stations: [{id: A}]", "line 1 is not a list of keys", resources.Revision{Station: "A", Key: "speed", Text: "2"}},
		{"stations:\n  - id: A\n", "station B, speed: it is not in the file; make this change by hand", resources.Revision{Station: "B", Key: "speed", Text: "2"}},
		{"stations:\n  - &a\n    id: A\n  - <<: *a\n    id: B\n", "shared under the name a", resources.Revision{Station: "A", Key: "speed", Text: "2"}},
		{"stations: &s\n  - id: A\nx: *s\n: [", "yaml", resources.Revision{Station: "A", Key: "speed", Text: "2"}},
		{"stations:\n  - id: A\n    name: |\n      long\n", "not changed here", resources.Revision{Station: "A", Key: "name", Text: "x"}},
	} {
		text, err := resources.Revise([]byte(x.file), []resources.Revision{x.v})
		require.ErrorContains(t, err, x.says)
		require.Nil(t, text)
	}
}

// Revise takes any file and never fails otherwise than by an error.
func FuzzRevise(f *testing.F) {
	f.Add("stations:\n  - id: A\n    speed: 1 # slow\nproducts:\n  - id: P\n    routing:\n      - *x\n", "speed")
	f.Add("a: &a {id: A}\nstations:\n  - *a\n  - <<: [*a]\n    id: A\n", "name")
	f.Add("stations:\n- id: \"A\"\n\n  \"speed\": 3\n", "speed")
	f.Fuzz(func(t *testing.T, file, key string) {
		if strings.ContainsAny(key, "\n\r") {
			t.Skip("a key stands on one line")
		}
		for _, v := range []resources.Revision{{Station: "A", Key: key, Text: "2"}, {Product: "P", Operation: "x", Key: key, Text: "2"}} {
			text, err := resources.Revise([]byte(file), []resources.Revision{v})
			require.Equal(t, err != nil, text == nil)
		}
	})
}
