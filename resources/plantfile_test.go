// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func readEveryKey(t testing.TB) string {
	text, err := os.ReadFile("../testdata/plants/every-key.yaml")
	require.NoError(t, err)
	return string(text)
}

func TestReadPlantReadsEveryKey(t *testing.T) {
	p, findings := resources.ReadPlant("every-key.yaml", []byte(readEveryKey(t)))
	require.Empty(t, findings)
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	local := func(month time.Month, day, hour int) resources.Tick {
		return resources.Tick(time.Date(2026, month, day, hour, 0, 0, 0, berlin).Unix())
	}
	require.Equal(t, "every-key", p.ID)
	require.Equal(t, local(3, 2, 6), p.StartsAt)
	require.Equal(t, 56*resources.Day, p.Horizon)
	require.Equal(t, resources.Room{Celsius: 21.5, Periods: []resources.Warmth{{
		Interval: resources.Interval{Start: local(3, 10, 12), End: local(3, 10, 18)}, Celsius: 30,
	}}}, p.Room)
	require.Equal(t, resources.Shipping{
		Days:   []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Saturday},
		CutOff: 15*resources.Hour + 30*resources.Minute, Closed: []string{"2026-04-03"},
	}, p.Shipping)
	require.Equal(t, resources.Term{Level: 3, Weight: 7}, p.Objective.SetupCost)
	require.Equal(t, resources.Shift{
		Days:  []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday},
		Start: 6 * resources.Hour, End: 14 * resources.Hour,
		Breaks: []resources.ShiftBreak{{Start: 9 * resources.Hour, End: 9*resources.Hour + 900}},
	}, p.Calendars[0].Shifts[0])
	require.Equal(t, []resources.Exception{
		{Start: local(4, 3, 0), Long: resources.Day, Why: "holiday"},
		{Start: local(3, 4, 8), Long: resources.Hour, Rule: "FREQ=WEEKLY;BYDAY=WE", Why: "shop meeting"},
		{Open: true, Apart: true, Start: local(3, 8, 6), Long: 4 * resources.Hour, Why: "exception"},
	}, p.Calendars[0].Exceptions)
	night := p.Calendar("night").Shifts[0]
	require.Equal(t, 30*resources.Hour, night.End)
	require.Equal(t, []resources.ShiftBreak{{Start: 26 * resources.Hour, End: 26*resources.Hour + 1800}}, night.Breaks)
	w := p.Station("W1")
	require.Equal(t, map[string]int64{"length_mm": 2000}, w.Limits)
	require.Equal(t, int64(500), w.SetupShare)
	require.Equal(t, []resources.SetupRule{
		{Attribute: "resin", From: "A", To: "*", Time: 1800, Cost: 4}, {Attribute: "resin", From: "*", To: "*", Time: 600},
	}, w.Setups)
	require.Equal(t, map[string]int64{"places": 6, "mass_g": 80_000}, p.Station("O1").Batch.Capacity)
	require.Equal(t, []string{"M-40-1", "M-40-2", "M-40-3", "M-40-4"}, p.Tool("M-40").Units)
	require.Equal(t, 2.0, p.Recipe("C1").Steps[0].Rate)
	require.Equal(t, "C2", p.Recipe("C2").Group)
	require.Equal(t, int64(500_500), p.Material("tow").Receipts[0].Quantity)
}

func TestReadPlantReadsARouting(t *testing.T) {
	p, _ := resources.ReadPlant("every-key.yaml", []byte(readEveryKey(t)))
	tube := p.Product("T")
	wind := tube.Operation("wind")
	require.Equal(t, []resources.Need{
		{Part: resources.PartLoad, Skill: "winding", Share: 500}, {Part: resources.PartRun, Skill: "winding", Share: 500},
	}, wind.Needs)
	require.Empty(t, wind.After)
	require.Equal(t, 0.985, wind.Yield)
	require.Equal(t, &resources.MixDraw{Resin: "A", Grams: 400}, wind.Mix)
	require.Equal(t, []resources.Draw{{Material: "tow", Quantity: 25_500}}, wind.Draws)
	require.Equal(t, []resources.Link{{Operation: "wind", Max: 7200, HasMax: true}}, tube.Operation("cure").After)
	require.Equal(t, []resources.Link{{Operation: "cure"}}, tube.Operation("pull").After, "the operation above")
	require.Equal(t, 2, tube.Operation("cut").Split)
	require.Equal(t, resources.PerSample, tube.Operation("break").Per)
	require.Equal(t, []resources.Link{{Operation: "break"}, {Operation: "cut", FromStart: true, Min: -3600}}, tube.Operation("pack").After)
	require.Equal(t, []string{"BENCH"}, tube.Operation("pack").Stations, "merged in")
	require.Empty(t, p.Product("K").Operation("hot").After, "an empty list")
}

func TestReadPlantDefaults(t *testing.T) {
	text, err := os.ReadFile("../testdata/plants/bench.yaml")
	require.NoError(t, err)
	p, findings := resources.ReadPlant("bench.yaml", text)
	require.Empty(t, findings)
	require.Equal(t, "bench", p.Name)
	require.Equal(t, 26*7*resources.Day, p.Horizon)
	require.Equal(t, resources.DefaultObjective(), p.Objective)
	require.Equal(t, 20.0, p.Room.Celsius)
	require.Equal(t, 1, p.Stations[0].Places)
	require.Equal(t, 1.0, p.Stations[0].Speed)
	require.Equal(t, int64(1000), p.Products[0].Routing[0].Needs[0].Share)
}

// A holiday on the day the clocks change is as long as that day.
func TestHolidayHasTheDaysLength(t *testing.T) {
	text := strings.Replace(readEveryKey(t), "holidays: [2026-04-03]", "holidays: [2026-03-29, 2026-10-25]", 1)
	p, findings := resources.ReadPlant("x.yaml", []byte(text))
	require.NotNil(t, p, findings)
	require.Equal(t, 23*resources.Hour, p.Calendars[0].Exceptions[0].Long)
	require.Equal(t, 25*resources.Hour, p.Calendars[0].Exceptions[1].Long)
}

// Stations that cannot take a product are gone from its routing.
func TestReadPlantKeepsOnlyFittingStations(t *testing.T) {
	text, err := os.ReadFile(demoPlant)
	require.NoError(t, err)
	p, findings := resources.ReadPlant("plant.yaml", text)
	require.NotNil(t, p, findings)
	require.Equal(t, []string{"O2"}, p.Product("PS-L").Operation("cure").Stations)
	require.Equal(t, []string{"O1", "O2"}, p.Product("PS-D").Operation("cure").Stations)
}

func TestReadPlantRefusesWhatIsNoPlantFile(t *testing.T) {
	good := readEveryKey(t)
	tests := []struct {
		name, text string
		line       int
		want       string
	}{
		{"empty", "", 0, "the file is empty"},
		{"comment only", "# nothing\n", 0, "the file is empty"},
		{"word", "plant", 1, "the file is not a plant"},
		{"list", "- a\n- b\n", 1, "the file is not a plant"},
		{"two documents", good + "\n---\nid: x\n", 0, "more than one YAML document"},
		{"tab", "id: x\nstations:\n\t- id: y\n", 3, "cannot be read as YAML"},
		{"open quote", "id: \"x\n", 2, "cannot be read as YAML"},
		{"open list", "id: x\nb:\n  c: [1, 2\nzone: UTC\n", 3, "cannot be read as YAML"},
		{"indented less", "id: x\nname: y\nb:\n  c: 1\n  d:\n    e: 1\n\n   f: 2\n", 8, "did not find expected key"},
		{"item indented less", "id: x\nb:\n  - c: 1\n    d: 2\n   e: 3\n", 5, "cannot be read as YAML"},
		{"indented more", "id: x\nb:\n  - c: 1\n      d: 2\n", 4, "cannot be read as YAML"},
		{"UTF-16", "\xff\xfei\x00d\x00", 1, "UTF-16"},
		{"Latin-1", "id: x\nname: caf\xe9\n", 2, "not in UTF-8"},
		{"NUL", "id: x\nname: a\x00b\n", 2, "NUL"},
		{"binary", "\x7fELF\x02\x01\x01\x00", 1, "NUL"},
		{"unknown anchor", "id: &xyz y # *xy\nb: [*xyz]\nc: [1, *xy]\n", 3, "unknown anchor 'xy' referenced"},
		{"anchor in itself", "id: x\nanchors: &a [*a]\n", 2, "refers to itself"},
		{"merge of itself", "id: x\nanchors: &a\n  <<: *a\n", 2, "refers to itself"},
		{"bomb", bomb(), 0, "unfolds to too many values"},
		{"huge", strings.Repeat("#", resources.MaxPlantBytes+1), 0, "too large"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			p, findings := resources.ReadPlant("f.yaml", []byte(test.text))
			require.Nil(t, p)
			require.Len(t, findings, 1)
			require.Equal(t, "f.yaml", findings[0].File)
			require.Contains(t, findings[0].Text, test.want)
			if test.line > 0 {
				require.Equal(t, test.line, findings[0].Line)
			}
		})
	}
}

// bomb is nine lists of nine aliases each, which unfold to 9^9 words.
func bomb() string {
	var b strings.Builder
	b.WriteString("anchors:\n  a0: &a0 [x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 9; i++ {
		a := fmt.Sprintf("*a%d", i-1)
		fmt.Fprintf(&b, "  a%d: &a%d [%s]\n", i, i, strings.Join([]string{a, a, a, a, a, a, a, a, a}, ", "))
	}
	return b.String()
}

func TestReadPlantDropsAByteOrderMark(t *testing.T) {
	p, findings := resources.ReadPlant("f.yaml", []byte("\uFEFF"+readEveryKey(t)))
	require.NotNil(t, p)
	require.Len(t, findings, 1)
	require.Equal(t, resources.Warning, findings[0].Severity)
}

func TestReadPlantShowsAtMostSoManyFindings(t *testing.T) {
	var b strings.Builder
	for i := range 2000 {
		fmt.Fprintf(&b, "key%d: 1\n", i)
	}
	p, findings := resources.ReadPlant("f.yaml", []byte(b.String()))
	require.Nil(t, p)
	require.Len(t, findings, 501)
	require.Contains(t, findings[500].Text, "more findings")
}

// TestReadPlantReportsEverythingAtOnce reads a file full of slips of every
// kind; the findings stand beside it.
func TestReadPlantReportsEverythingAtOnce(t *testing.T) {
	text, err := os.ReadFile("../testdata/plants/bad/slips.yaml")
	require.NoError(t, err)
	p, findings := resources.ReadPlant("slips.yaml", text)
	require.Nil(t, p)
	var got strings.Builder
	for _, f := range findings {
		got.WriteString(f.String() + "\n")
	}
	const golden = "../testdata/plants/bad/slips.findings"
	if os.Getenv("TOWPATH_REWRITE") != "" {
		require.NoError(t, os.WriteFile(golden, []byte(got.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), got.String())
}

// In quotation marks a number is text to YAML; the file looks right to who wrote it.
func TestANumberInQuotationMarksIsToldSo(t *testing.T) {
	for change, say := range map[string]string{
		`tool: {id: M-36, count: "8"}`:                       `count: stands in quotation marks, so it is text; found "8"; allowed: a whole number from 1 to`,
		`duration: {station: W1, factor: '0.5'}`:             `factor: stands in quotation marks, so it is text; found "0.5"`,
		`crew: {id: bonders, calendar: early, heads: "two"}`: `heads: cannot be read; found "two"`,
		`station: {id: W1, count: 2.5}`:                      `count: cannot be read; found "2.5"`,
	} {
		p, lines := readDemo(t)
		_, findings := resources.ReadChanges("c.yaml", []byte("name: x\nchanges: [{"+change+"}]\n"), p, lines, p.StartsAt)
		said := strings.Join(texts(findings), "\n")
		require.Contains(t, said, say)
		require.Equal(t, strings.Contains(say, "quotation marks"), strings.Contains(said, "write it without them"))
	}
	file := strings.Replace(readEveryKey(t), "setup_people: 0.5", `setup_people: "0.5"`, 1)
	require.NotEqual(t, readEveryKey(t), file)
	_, findings := resources.ReadPlant("p.yaml", []byte(file))
	require.Len(t, findings, 1, texts(findings))
	require.Contains(t, findings[0].String(), `stands in quotation marks, so it is text; found "0.5"; allowed: heads from 0.001 to 1000, like 1 or 0.25; write it without them: 0.5`)
}

// What an anchor gives to many places is mended at one; slips of the same words at
// places of their own are told each.
func TestASlipUnderAnAnchorIsToldOnce(t *testing.T) {
	for was, slip := range map[string]string{
		"bench: &bench\n    stations: BENCH\n    run: 10m":                     "bench: &bench\n    stations: BENCH\n    run: 10 minutes",
		"run: 10m\n    needs:\n      - {parts: run, skill: bench}":             "run: 10m\n    needs:\n      - {parts: run, skill: bnech}",
		"run: 10m\n    needs:\n      - {parts: run, skill: bench}\n\nproducts": "run: 10m\n    needs:\n      - {parts: run, skill: bench, peple: 2}\n\nproducts",
		"    needs:\n      - {parts: run, skill: bench}\n\nproducts":           "    needs:\n      - {parts: run, skill: bench}\n    runn: 5m\n\nproducts",
	} {
		file := strings.Replace(readEveryKey(t), was, slip, 1)
		require.NotEqual(t, readEveryKey(t), file, was)
		_, findings := resources.ReadPlant("p.yaml", []byte(file))
		require.Len(t, findings, 1, texts(findings))
		require.Regexp(t, `mended here, it is mended in \d more places that take it over$`, findings[0].String())
	}
	file := strings.Replace(readEveryKey(t), "- {calendar: day, heads: 2}\n      - {calendar: night, heads: 1}", "[{calendar: day, heads: x}, {calendar: night, heads: x}]", 1)
	_, findings := resources.ReadPlant("p.yaml", []byte(file))
	require.Len(t, findings, 2, texts(findings))
	require.NotContains(t, findings[0].String(), "mended here")
}
