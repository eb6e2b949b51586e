// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// slip is one change to a good plant and the one finding it must bring. The
// finding's line is that of the change unless at names another text.
type slip struct {
	name, old, new string
	want           string // part of the finding
	at             string
}

func requireSlips(t *testing.T, file, good string, severity resources.Severity, slips []slip) {
	t.Helper()
	p, findings := resources.ReadPlant(file, []byte(good))
	require.NotNil(t, p, "%v", findings)
	for _, s := range slips {
		t.Run(s.name, func(t *testing.T) {
			require.Equal(t, 1, strings.Count(good, s.old), "the text to change must be there once")
			bad := strings.Replace(good, s.old, s.new, 1)
			p, findings := resources.ReadPlant(file, []byte(bad))
			require.Equal(t, severity == resources.Error, p == nil, "%v", findings)
			require.Len(t, findings, 1, "%v", findings)
			require.Equal(t, severity, findings[0].Severity)
			require.Contains(t, findings[0].String(), s.want)
			at, text := s.old, good
			if s.at != "" {
				at, text = s.at, bad
			}
			require.Contains(t, text, at)
			line := 1 + strings.Count(text[:strings.Index(text, at)], "\n")
			require.Equal(t, line, findings[0].Line, "%v", findings[0])
		})
	}
}

func TestReferences(t *testing.T) {
	requireSlips(t, "p.yaml", readEveryKey(t), resources.Error, []slip{
		{"calendar of a station", "- id: MIX\n    calendar: day", "- id: MIX\n    calendar: dya", "did you mean day?", "calendar: dya"},
		{"calendar of a crew", "{calendar: night, heads: 1}", "{calendar: nite, heads: 1}", "no calendar of this name", ""},
		{"recipe of a station", "recipes: [C1, C2]", "recipes: [C1, C2, C3]", "no recipe of this name", ""},
		{"setup skill", "setup_skill: winding", "setup_skill: widing", "did you mean winding?", ""},
		{"skill of a need", "- {parts: [load, unload], skill: bench}", "- {parts: [load, unload], skill: bnech}", "nobody has this skill", "needs:\n          - {parts: [load, unload]"},
		{"station of a resin", "station: MIX", "station: MIXER", "no station of this name", ""},
		{"skill of a resin", "skill: mixing\n", "skill: mxing\n", "did you mean mixing?", ""},
		{"station of an operation", "stations: [O1]", "stations: [O1, O9]", "did you mean O1?", ""},
		{"recipe of an operation", "recipe: C1", "recipe: CC1", "did you mean C1?", ""},
		{"tool", "tool: M-40, until", "tool: M40, until", "did you mean M-40?", ""},
		{"until", "tool: M-40, until: pull", "tool: M-40, until: pul", "did you mean pull?", ""},
		{"material", "{material: tow, quantity: 25.5 m}", "{material: tows, quantity: 25.5 m}", "did you mean tow?", ""},
		{"resin", "mix: {resin: A, mass", "mix: {resin: AB, mass", "no resin of this name", ""},
		{"after", "- {operation: wind, max: 2h}", "- {operation: winds, max: 2h}", "did you mean wind?", ""},
		{"run_at", "run_at: {BENCH: 12m}", "run_at: {BENHC: 12m}", "not done at this station", ""},
	})
}

func TestSense(t *testing.T) {
	requireSlips(t, "p.yaml", readEveryKey(t), resources.Error, []slip{
		{"period reversed", "to: 2026-03-10 18:00", "to: 2026-03-10 11:00", "ends before it begins", "- from: 2026-03-10 12:00"},
		{"periods overlap", "      temperature: 30 C\n", "      temperature: 30 C\n    - {from: 2026-03-10 13:00, to: 2026-03-11 00:00, temperature: 25 C}\n", "before the one above has ended", "- {from: 2026-03-10 13:00"},
		{"ship days without cut-off", "  cut_off: \"15:30\"\n", "", "no cut-off time", "shipping:"},
		{"rule", "repeat: FREQ=WEEKLY;BYDAY=WE", "repeat: FREQ=WEEKLY;BYDAY=WED", "RFC 5545", ""},
		{"rule of a stop", "repeat: FREQ=MONTHLY;BYDAY=2WE", "repeat: FREQ=FORTNIGHTLY", "RFC 5545", ""},
		{"mark twice", "units: [G-left, G-right]", "units: [G-left, G-left]", "used twice", ""},
		{"mark of two tools", "units: [G-left, G-right]", "units: [G-left, M-40-1]", "first by tool M-40", ""},
		{"mark with a dot", "units: [G-left, G-right]", "units: [G.left, G-right]", "is not a mark", ""},
		{"heel of a whole mix", "heel: 200 g", "heel: 3 kg", "leaves nothing to use", "max_mass: 2.5 kg"},
		{"same change twice", "- {attribute: resin, time: 10m}", "- {attribute: resin, time: 10m}\n      - {attribute: resin, from: any, time: 9m}", "line 2 of the table", "- {attribute: resin, from: any, time: 9m}"},
		{"loads and places", "unattended: true\n", "unattended: true\n    places: 2\n", "has one place", "places: 2\n    recipes"},
		{"nothing fits in", "capacity: {places: 6, mass: 80 kg}", "capacity: {}", "is empty", ""},
		{"opens below the start", "open_at: 50 C", "open_at: 20 C", "never reached", ""},
		{"no tolerance", "tolerance: 3 C", "tolerance: 0 C", "tolerance", ""},
		{"mix for a batch station", "station: MIX", "station: O1", "runs loads", ""},
		{"max below min", "{operation: wind, max: 2h}", "{operation: wind, min: 3h, max: 2h}", "at least as long as min", ""},
	})
}

func TestRoutingSense(t *testing.T) {
	requireSlips(t, "p.yaml", readEveryKey(t), resources.Error, []slip{
		{"shaft before the cut", "- {operation: cut, from: start, min: -1h}", "- {operation: cut, from: start, min: -1h}\n      - id: lonely\n        <<: *bench\n        per: shaft\n        after: [pull]", "no shafts before cut", "after: [pull]"},
		{"two cuts", "split: 2", "split: 2\n      - id: cut-again\n        <<: *bench\n        split: 2", "cut already by cut", "split: 2\n        gate"},
		{"cut of a shaft", "split: 2", "split: 2\n        per: shaft", "only a tube", ""},
		{"until precedes", "takes: [{tool: G, until: k}]\n      - id: hot\n        after: []", "takes: [{tool: G, until: k}]\n      - id: hot\n        takes: [{tool: M-40, until: k}]", "would never come back", "takes: [{tool: M-40, until: k}]"},
		{"until on another piece", "tool: M-40, until: pull", "tool: M-40, until: pack", "not done on every piece", ""},
		{"itself", "- {operation: wind, max: 2h}", "- {operation: cure, max: 2h}", "cannot wait for itself", ""},
		{"sample skips itself", "gate: lot", "gate: lot\n        skip_sample: true", "cannot skip them", "skip_sample: true\n        may_pause"},
		{"circle", "takes: [{tool: G, until: k}]\n      - id: hot\n        after: []", "after: hot\n      - id: hot\n        after: k", "k, hot contradict each other", "after: hot"},
		{"longest wait shorter than the work between", "- {operation: cut, from: start, min: -1h}", "- {operation: cut, from: start, max: 15m}", "cut, break, pack contradict each other by 5m", "after:\n          - break"},
		{"size missing", "size: {places: 1, mass: 9 kg}", "size: {places: 1}", "fills its loads by mass_g", ""},
		{"size unknown", "size: {places: 1, mass: 9 kg}", "size: {places: 1, mass: 9 kg, ports: 1}", "does not count this", ""},
		{"size without its unit", "size: {places: 1, mass: 9 kg}", "size: {places: 1, mass: 9}", `size.mass: has no unit; found "9"; allowed: a mass with its unit`, ""},
		{"size too large", "size: {places: 1, mass: 9 kg}", "size: {places: 7, mass: 9 kg}", "more than a load of O1 holds", ""},
		{"attribute missing", "attributes: {resin: A}\n        takes", "attributes: {rasin: A}\n        takes", "did you mean rasin?", ""},
	})
}

func TestGateRules(t *testing.T) {
	requireSlips(t, "p.yaml", readEveryKey(t), resources.Error, []slip{
		{"quantity of another kind", "of: void_content, max: 2 %", "of: spring_rate, max: 2 %", "this kind of gate does not give it", ""},
		{"unit of another sort", "of: void_content, max: 2 %", "of: void_content, max: 2 mm", "mm is no share", ""},
		{"min and max of different sorts", "min: 55 %, max: 65 %", "min: 55 %, max: 65 mm", "a number in % or another unit of its sort", ""},
		{"no unit", "fibre_density: 1.79 g/cm3", "fibre_density: 1.79", "a number with its unit", ""},
		{"no speed", "          speed: 8000 r/min\n", "", "the permissible unbalance needs all three", "grade: 16"},
		{"rule without a gate", "        gate: ring\n", "", "though there is a rule", "- id: cut"},
		{"rework of a sample", "          fit_up_to: 60 %\n", "          on_fail: rework\n          rework_to: break\n", "a sample that was destroyed", "on_fail: rework\n          rework_to: break"},
		{"rework forward", "rework_to: turn", "rework_to: trun", "did you mean turn?", ""},
		{"rework of a cut", "          on_fail: remake\n", "          on_fail: rework\n          rework_to: cut\n", "cannot be done again on one piece", "rework_to: cut"},
		{"rework after a longest wait", "      - id: turn\n        <<: *bench\n", "      - id: turn\n        <<: *bench\n        after: [{operation: prepare, max: 1h}]\n", "at most 1h after prepare, which is not done again", "rework_to: turn"},
		{"certain", "confidence: 90 %", "confidence: 100 %", "no number of pieces is certain", ""},
		{"rework never used", "          on_fail: rework\n", "", "is never used", "rework_to: turn"},
	})
}

func TestNeverPossible(t *testing.T) {
	requireSlips(t, "p.yaml", readEveryKey(t), resources.Error, []slip{
		{"too long", "length: 1200 mm, mass", "length: 2400 mm, mass", "can never be done: W1 takes length_mm up to 2000, the product has 2400", "stations: W1"},
		{"limit without dimension", "dimensions: {length: 1200 mm, mass: 4 kg, class: 2}", "dimensions: {mass: 4 kg}", "a value for length_mm", ""},
		{"no station runs the recipe", "recipes: [C1, C2]", "recipes: [C2]", "O1 does not run recipe C1", "stations: [O1]"},
		{"longer than any opening", "run: 50m", "run: 9h 30m", "the station is open for at most", "- id: wind"},
		{"more people than there are", "skill: winding, people: 0.5}", "skill: winding, people: 3}", "no crew can give 3 of winding", "- id: wind"},
		{"mix too large", "mix: {resin: A, mass: 0.4 kg}", "mix: {resin: A, mass: 2.4 kg}", "at most 2300 g", ""},
		{"wind outlives the mix", "pot_life: 4h", "pot_life: 1h", "it needs the mix for 50m", "- id: wind"},
		{"mixed never", "mixing: 15m", "mixing: 9h", "can never be mixed", "- id: A"},
		{"run longer than allowed", "max_run: 6h", "max_run: 1h", "longer than its max_run of 1h", "- id: cure"},
		{"more than there will ever be", "quantity: 25.5 m}", "quantity: 1600 m}", "at most 1500.5 m", ""},
	})
}

func TestWarnings(t *testing.T) {
	requireSlips(t, "p.yaml", readEveryKey(t), resources.Warning, []slip{
		{"unused calendar", "calendars:\n", "calendars:\n  - id: spare\n    shifts: [{days: Mon, hours: 06:00-07:00}]\n", "uses this calendar", "- id: spare"},
		{"unused station", "stations:\n  - id: MIX", "stations:\n  - id: SPARE\n  - id: MIX", "uses this station", "- id: SPARE"},
		{"unused tool", "tools:\n", "tools:\n  - {id: T, count: 1}\n", "uses this tool", "- {id: T, count: 1}"},
		{"unused recipe", "recipes:\n  - id: C1", "recipes:\n  - {id: C0, fixed: 1h}\n  - id: C1", "no operation runs this recipe", "- {id: C0"},
		{"unused material", "materials:\n", "materials:\n  - {id: paint, unit: l, stock: 3 l}\n", "uses this material", "- {id: paint"},
		{"unused skill", "skills: [winding, mixing, bench]", "skills: [winding, mixing, bench, singing]", "nothing needs the skill singing", ""},
		{"changeover value", "from: A, to: any", "from: AA, to: any", "no operation has resin AA", ""},
		{"no samples", "samples: 1\n", "samples: 0\n", "never done", "- id: break"},
		{"size without loads", "- id: cut\n", "- id: cut\n        size: {tubes: 1}\n", "means nothing", "size: {tubes: 1}"},
		{"nobody", "{calendar: night, heads: 1}\n", "{calendar: night, heads: 1}\n  - {id: ghosts, skills: [bench], shifts: [{calendar: day, heads: 0}]}\n", "has nobody", "- {id: ghosts"},
	})
}

func TestVoidLinkIsAWarning(t *testing.T) {
	bad := strings.Replace(readEveryKey(t), "        per: sample\n", "        per: sample\n        after: [pack, cut]\n", 1)
	bad = strings.Replace(bad, "          - break\n          - {operation: cut, from", "          - {operation: cut, from", 1)
	p, findings := resources.ReadPlant("p.yaml", []byte(bad))
	require.NotNil(t, p, "%v", findings)
	require.Len(t, findings, 1)
	require.Contains(t, findings[0].Text, "never counts")
}

// A plant that makes nothing, and one that makes it of nothing.
func TestEmptyParts(t *testing.T) {
	for change, want := range map[string]string{
		"products: []":                     "the plant makes nothing",
		"products: [{id: X, routing: []}]": "at least one operation",
	} {
		good := readEveryKey(t)
		bad := good[:strings.Index(good, "products:")] + change + "\n"
		p, findings := resources.ReadPlant("p.yaml", []byte(bad))
		require.Nil(t, p)
		require.Contains(t, findings[len(findings)-1].String()+findings[0].String(), want)
	}
}

// ValidatePlant finds in a plant made in code what ReadPlant finds in a file.
func TestValidatePlant(t *testing.T) {
	p, _ := resources.ReadPlant("p.yaml", []byte(readEveryKey(t)))
	require.Empty(t, resources.ValidatePlant(p))
	p.Product("T").Operation("cure").Recipe = "C9"
	findings := resources.ValidatePlant(p)
	require.True(t, resources.HasErrors(findings))
	require.Equal(t, "products[T].routing[cure].recipe", findings[0].Field)
	require.Zero(t, findings[0].Line)
}

func TestFindingSaysEverything(t *testing.T) {
	f := resources.Finding{
		File: "plant.yaml", Line: 7, Field: "stations[W1].calendar", Found: "earyl", Allowed: "early, late",
		Hint: "did you mean early?", Text: "there is no calendar of this name",
	}
	require.Equal(t, `plant.yaml:7: error: stations[W1].calendar: there is no calendar of this name; found "earyl"; allowed: early, late; did you mean early?`, f.String())
	require.Equal(t, "warning: odd", resources.Finding{Severity: resources.Warning, Text: "odd"}.String())
}
