// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/testdata/demo"
)

func changeFile(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile("../testdata/changes/" + name)
	require.NoError(t, err)
	return text
}

func TestEveryKindOfChange(t *testing.T) {
	p, lines := readDemo(t)
	before := fmt.Sprintf("%+v", *p)
	set, findings := resources.ReadChanges("every-kind.yaml", changeFile(t, "every-kind.yaml"), p, lines, p.StartsAt)
	require.Empty(t, texts(findings))
	require.Equal(t, "Every kind of change", set.Name)
	seen := map[string]bool{}
	for i := range set.Changes {
		seen[set.Changes[i].Kind()] = true
		require.NotEqual(t, "nothing", set.Changes[i].Words(p.Zone))
		require.Equal(t, i+5, set.Changes[i].Line)
	}
	for _, kind := range resources.ChangeKinds() {
		require.True(t, seen[kind], kind)
	}
	require.Equal(t, &resources.Asked{Wish: resources.LocalTick(p.Zone, 2026, 3, 27, 16*resources.Hour), Plan: 12, PerMille: 930}, set.Changes[0].AddOrder.Asked)
	q, findings := set.ApplyPlant(p, p.StartsAt)
	require.Empty(t, texts(findings))
	require.Equal(t, before, fmt.Sprintf("%+v", *p), "the plant given stays as it is")
	require.NotNil(t, q.Station("O1-2"))
	require.Contains(t, q.Product("HS-S").Operation("cure").Stations, "O1-2")
	require.Nil(t, q.Station("BC1"))
	require.Equal(t, 2, q.Station("PULL").Places)
	require.Len(t, q.Tool("M-36").Units, 8)
	require.Len(t, q.Station("W2").Stops, len(p.Station("W2").Stops)+1)
	require.Len(t, q.Station("W1").Stops, len(p.Station("W1").Stops), "from now on: a fact, not a plan")
	require.Equal(t, p.Crew("winders"), q.Crew("winders"), "who is away is reported, and no change of the plant")
	require.Equal(t, 7*resources.Hour, q.Recipe("B").Duration(0))
	was, is := p.Product("HS-S").Operation("wind"), q.Product("HS-S").Operation("wind")
	require.InDelta(t, 0.9*float64(p.RunTime(was, p.Station("W1"))), float64(q.RunTime(is, q.Station("W1"))), 1)
	require.InDelta(t, 0.97, q.Product("HS-M").Operation("ring").Yield/or1(p.Product("HS-M").Operation("ring").Yield), 1e-9)
	saturday := resources.LocalTick(p.Zone, 2026, 3, 7, 7*resources.Hour)
	for id, open := range map[string]bool{"SAW": true, "BALANCE": false, "TORSION": true} {
		windows, err := q.Calendar(q.Station(id).Calendar).Windows(p.Zone, saturday, saturday+1)
		require.NoError(t, err)
		require.Equal(t, open, len(windows) == 1, id)
	}
}

// People who come on top of a shift that is worked anyway are said to.
func TestAnExtraShiftSaysWhoWorksThenAlready(t *testing.T) {
	p, lines := readDemo(t)
	crew := p.Crew("bonders")
	heads := 0
	monday := resources.LocalTick(p.Zone, 2026, 3, 9, 0)
	for _, s := range crew.Shifts {
		open, err := p.Calendar(s.Calendar).Windows(p.Zone, monday+resources.Tick(8*resources.Hour), monday+resources.Tick(10*resources.Hour))
		require.NoError(t, err)
		if len(open) > 0 {
			heads += s.Heads
		}
	}
	require.NotZero(t, heads)
	words := func(date string) string {
		set, findings := resources.ReadChanges("c.yaml", []byte("name: x\nchanges: [{shift: {date: "+date+", hours: \"08:00-10:00\", crews: [bonders], heads: 2}}]\n"), p, lines, p.StartsAt)
		require.Empty(t, texts(findings))
		q, findings := set.ApplyPlant(p, p.StartsAt)
		require.Empty(t, texts(findings))
		require.Len(t, q.Crew("bonders").Shifts, len(crew.Shifts)+1, "it is kept")
		return set.Changes[0].Words(p.Zone)
	}
	require.Equal(t, fmt.Sprintf("extra shift Mon 9 Mar 2026 08:00 to Mon 9 Mar 2026 10:00: bonders (beside %d of them who work all or some of it already)", heads), words("2026-03-09"))
	require.Equal(t, "extra shift Sun 8 Mar 2026 08:00 to Sun 8 Mar 2026 10:00: bonders", words("2026-03-08"))
}

// A name stands in lists and heads of tables: it is one line. What was adopted under
// another name stands.
func TestTheNameOfASetIsOneLine(t *testing.T) {
	p, lines := readDemo(t)
	for _, name := range []string{`"two\nlines"`, `"a\ttab"`, `"a\u2028line"`, "|\n  two\n  lines\n", strings.Repeat("x", 81)} {
		text := "name: " + name + "\nchanges: [{tool: {id: M-36, count: 8}}]\n"
		set, findings := resources.ReadChanges("c.yaml", []byte(text), p, lines, p.StartsAt)
		require.Nil(t, set, name)
		require.Contains(t, fmt.Sprint(texts(findings)), "c.yaml:1: error: name: cannot be read", name)
		require.Contains(t, fmt.Sprint(texts(findings)), "1 to 80 characters on one line, no control characters", name)
		q, findings := resources.ReadPlantWith("plant.yaml", demo.Plant, []resources.Adopted{{At: p.StartsAt, Text: text}})
		require.Empty(t, texts(findings), name)
		require.Len(t, q.Tool("M-36").Units, 8)
	}
}

// What a change says of itself is enough to tell it from another.
func TestChangesInWords(t *testing.T) {
	p, lines := readDemo(t)
	for change, say := range map[string]string{
		`add_order: {order: N, product: HS-M, quantity: 1, ship_by: 2027-03-12}`:          "add order N/1: 1 of HS-M, ship by Fri 12 Mar 2027 16:00",
		`station: {id: O1, count: 2}`:                                                     "station O1: 2 of them",
		`down: {station: W1, for: 30m}`:                                                   "station W1 down from now for 30 min",
		`down: {station: W1, for: 90m}`:                                                   "station W1 down from now for 1 h 30 min",
		`down: {station: W1, for: 3d}`:                                                    "station W1 down from now for 72 h",
		`down: {station: W1, for: 20s}`:                                                   "station W1 down from now for 20 s",
		`down: {station: W1, from: 2027-03-10 06:00, to: 2027-03-10 08:00}`:               "station W1 down from Wed 10 Mar 2027 06:00 to Wed 10 Mar 2027 08:00",
		`absent: {crew: winders, for: 2d}`:                                                "1 of winders away from now for 48 h",
		`absent: {crew: winders, people: 2, for: 8h, why: ill}`:                           "2 of winders away from now for 8 h",
		`absent: {crew: winders, calendar: late, from: 2026-03-05 14:00, for: 8h}`:        "1 of winders, calendar late, away from Thu 5 Mar 2026 14:00 for 8 h",
		`absent: {crew: winders, from: 2026-03-05 06:00, to: 2026-03-07 06:00}`:           "1 of winders away from Thu 5 Mar 2026 06:00 until Sat 7 Mar 2026 06:00",
		`shift: {date: 2026-03-07, hours: "06:00-14:00", crews: [bonders]}`:               "extra shift Sat 7 Mar 2026 06:00 to Sat 7 Mar 2026 14:00: bonders",
		`recipe: {id: A, fixed: 6h}`:                                                      "recipe A: fixed 6h",
		`recipe: {id: A, tolerance: 2 C, steps: [{rate: 2 C/min, to: 120 C, dwell: 3h}]}`: "recipe A: tolerance 2 C, steps rate 2 C/min to 120 C dwell 3h",
		`calendar: {id: tester, holidays: [2026-03-09, 2026-03-10]}`:                      "calendar tester: holidays 2026-03-09; 2026-03-10",
		`calendar: {id: tester, exceptions: [{open: 2026-03-07 06:00, for: 6h}]}`:         "calendar tester: exceptions open 2026-03-07 06:00 for 6h",
	} {
		set, findings := resources.ReadChanges("c.yaml", []byte("name: x\nchanges:\n  - "+change+"\n"), p, lines, p.StartsAt)
		require.Empty(t, texts(findings), change)
		require.Equal(t, say, set.Changes[0].Words(p.Zone))
	}
	require.Equal(t, "another recipe A", (&resources.Change{Recipe: &resources.Recipe{ID: "A"}}).Words(nil), "made in code")
	long := "name: x\nchanges:\n  - calendar: {id: tester, holidays: [" + strings.Repeat("2026-03-09, ", 99) + "2026-03-10]}\n"
	set, findings := resources.ReadChanges("c.yaml", []byte(long), p, lines, p.StartsAt)
	require.Empty(t, texts(findings))
	require.Less(t, len(set.Changes[0].Words(p.Zone)), 250)
}

func or1(y float64) float64 {
	if y == 0 {
		return 1
	}
	return y
}

func TestChangesTellEveryMistakeAtOnce(t *testing.T) {
	p, lines := readDemo(t)
	set, findings := resources.ReadChanges("mistakes.yaml", changeFile(t, "mistakes.yaml"), p, lines, p.StartsAt)
	require.Nil(t, set)
	got := strings.Join(texts(findings), "\n")
	for line, say := range map[int]string{
		2:  `chnages: is not a key of this set`,
		4:  `changes[0].add_order.product: the plant makes no such product; found "HS-X"`,
		5:  `names no open order; found "9999"`,
		6:  `changes[2].change_order.line: is missing: the order has several lines; allowed: 1, 2`,
		7:  `is so already: the change changes nothing; found "1002/1"`,
		8:  `names no open line of order 1003; found "7"`,
		10: `says nothing that changes`,
		11: `changes[7].tool.count: is missing`,
		12: `names no station of the plant; found "O7"`,
		13: `must say how long, in one way`,
		14: `cannot be read; found "06:00"`,
		15: `says neither who works nor what is open`,
		16: `a number from 0.01 to 100`,
		17: `says nothing that changes; allowed: fixed:`,
		18: `must be one change; it has 2 keys`,
		20: `oven: is not a key of this change`,
		21: `must have keys of its own; found "17"`,
		22: `changes[17].absent.crew: names no crew of the plant; found "winder"; allowed: planner, quality-lead, winders, mixer, oven-hand, late-hand, finishers, imaging, bonders, tester, balancer, late-test, …; did you mean winders?`,
		23: `changes[18].absent: must say how long, in one way; allowed: either for: 3d or to: 2026-03-12 06:00`,
		24: `changes[19].absent: is over before it begins, or before now, `,
		25: `changes[20].absent: is over before it begins, or before now, `,
		26: `changes[21].absent: is very long; allowed: at most 52w; change how many of them there are with crew:`,
		27: `changes[22].absent.for: cannot be read; found "0h"; allowed: a length of time above 0`,
	} {
		require.Regexp(t, fmt.Sprintf(`(?m)^mistakes.yaml:%d: error: .*\Q%s\E`, line, say), got)
	}
	require.Contains(t, got, `quantity: is out of range; found "0"`)
	require.Contains(t, got, "ship_by: is in the past")
	require.Contains(t, got, "order 1001 already has a line 1")
	require.Contains(t, got, `mistakes.yaml:22: error: changes[17].absent.people: cannot be read; found "0"; allowed: a whole number from 1 to 1000`)
	require.Contains(t, got, `mistakes.yaml:26: error: changes[21].absent.crew: is missing`)
	require.Contains(t, got, `mistakes.yaml:26: error: changes[21].absent.why: holds the character U+0007, which is no text`)
	require.Contains(t, got, `mistakes.yaml:27: error: changes[22].absent.until: is not a key of this absence; allowed: crew, people, calendar, from, to, for, why`)
}

// Slips that only show when the changes are made.
func TestChangesThatCannotBeMade(t *testing.T) {
	p, lines := readDemo(t)
	for change, say := range map[string]string{
		`station: {id: o1, count: 2}`:                                      `changes[0].station.id: names no station of the plant; found "o1"; allowed: MIX, W1, W2, TAPE, O1, O2, CHART, PULL, MANDREL, SAW, MOUNT, POLISH, …; did you mean O1?`,
		`station: {id: O1, count: 1}`:                                      `is so already`,
		`station: {id: O1, places: 4}`:                                     `does not go with a station that runs loads`,
		`station: {id: BALANCE, count: 0}`:                                 `in the changed plant: `,
		`crew: {id: bonders, calendar: night, heads: 2}`:                   `names no calendar of the plant; found "night"`,
		`crew: {id: bonder, heads: 2}`:                                     `did you mean bonders?`,
		`tool: {id: M-37, count: 2}`:                                       `names no tool of the plant`,
		`shift: {date: 2026-03-07, hours: "06:00-14:00", crews: [nobody]}`: `crews[0]: names no crew of the plant`,
		`duration: {operation: cure, factor: 2}`:                           `a cure's length is changed with recipe:`,
		`duration: {operation: flying, factor: 2}`:                         `names no operation of the plant; found "flying"`,
		`duration: {operation: wind, station: PACK, factor: 2}`:            `the station does not do the operation`,
		`yield: {operation: ring, factor: 2}`:                              `more than 100 %`,
		`yield: {product: HS, factor: 0.5}`:                                `names no product of the plant; found "HS"`,
		`recipe: {id: C, fixed: 2h}`:                                       `names no recipe of the plant`,
		`add_order: {order: Q-1, product: HS-M, quantity: 1, ship_by: 2026-04-02, asked: {confidence: 93}}`:             `changes[0].add_order.asked.confidence: cannot be read; found "93"; allowed: a number from 0 to 0.999`,
		`add_order: {order: Q-1, product: HS-M, quantity: 1, ship_by: 2026-04-02, asked: {wish: soon}}`:                 `changes[0].add_order.asked.wish`,
		`change_order: {order: 1002, quantity: 4, asked: {plan: 3}}`:                                                    `asked: is not a key`,
		`calendar: {id: none, holidays: 2026-03-09}`:                                                                    `names no calendar of the plant`,
		`recipe: {id: A, tolerance: 3 C}`:                                                                               `is so already: the change changes nothing; found "A"`,
		`recipe: {id: A, fixed: 2h}` + "\n  - recipe: {id: A, fixed: 3h}":                                               `changes[1].recipe: recipe A is changed twice, first by change 1`,
		`drop_order: {order: 1012}` + "\n  - drop_order: {order: 1012}":                                                 `changes[1].drop_order: order 1012 is changed twice, first by change 1; put both in one change`,
		`calendar: {id: tester, holidays: 2026-04-03}`:                                                                  `is so already`,
		`calendar: {id: late, shifts: [{days: Mon-Fri, hours: "14:00-22:00", breaks: ["17:00-17:15", "20:00-20:15"]}]}`: `is so already`,
		`recipe: {id: A, steps: [{rate: 2 C/min, to: 0 C, dwell: 1h}], fixed: 0h}`:                                      `a length of time above 0`,
		`down: {station: W1, for: 0h}`:                                                                                  `changes[0].down.for: cannot be read; found "0h"; allowed: a length of time above 0`,
		`absent: {crew: winder, for: 2d}`:                                                                               `changes[0].absent.crew: names no crew of the plant; found "winder"`,
		`absent: {crew: winders, people: 4, for: 2d}`:                                                                   `changes[0].absent.people: are more than the crew has; found "4"; allowed: a whole number from 1 to 3`,
		`absent: {crew: winders, people: 2, calendar: late, for: 2d}`:                                                   `changes[0].absent.people: are more than work by that calendar; found "2"; allowed: a whole number from 1 to 1`,
		`absent: {crew: finishers, calendar: late, for: 2d}`:                                                            `changes[0].absent.calendar: is none that people of the crew work by; found "late"; allowed: early`,
		`absent: {crew: winders, calendar: nigth, for: 2d}`:                                                             `changes[0].absent.calendar: is none that people of the crew work by; found "nigth"; allowed: early, early-relief, late`,
		`crew: {id: mixer, heads: 0}` + "\n  - absent: {crew: mixer, for: 2d}":                                          `changes[1].absent.crew: has nobody who could be away; found "mixer"`,
		`absent: {crew: finishers, people: 3, for: 2d}` + "\n  - crew: {id: finishers, heads: 1}":                       `changes[0].absent.people: are more than the crew has; found "3"; allowed: a whole number from 1 to 1`,
		`absent: {crew: finishers, for: 53w}`:                                                                           `changes[0].absent: is very long; allowed: at most 52w; change how many of them there are with crew: {id: …, heads: …}`,
		`absent: {crew: finishers, for: soon}`:                                                                          `changes[0].absent.for: cannot be read; found "soon"`,
		`absent: {crew: finishers, from: soon, for: 2d}`:                                                                `changes[0].absent.from: cannot be read; found "soon"; allowed: a local date and time`,
	} {
		set, findings := resources.ReadChanges("c.yaml", []byte("name: x\nchanges:\n  - "+change+"\n"), p, lines, p.StartsAt)
		require.Nil(t, set, change)
		require.Contains(t, strings.Join(texts(findings), "\n"), say, change)
	}
	text := "name: x\nchanges:\n  - absent: {crew: finishers, people: 3, for: 2d}\n  - crew: {id: finishers, heads: 3}\n  - absent: {crew: winders, people: 3, for: 2d}\n"
	set, findings := resources.ReadChanges("c.yaml", []byte(text), p, lines, p.StartsAt)
	require.Empty(t, texts(findings), "the crew as it will be; as many as there are")
	require.NotNil(t, set)
	set, findings = resources.ReadChanges("c.yaml", []byte("name: nothing\nchanges: []\n"), p, lines, p.StartsAt)
	require.Empty(t, findings)
	require.Empty(t, set.Changes)
	set, findings = resources.ReadChanges("c.json", []byte(`{"name":"as JSON","changes":[{"tool":{"id":"M-36","count":8}}]}`), p, lines, p.StartsAt)
	require.Empty(t, findings)
	require.Equal(t, 8, set.Changes[0].Tool.Count)
	for _, text := range []string{"", "name: x", "changes: {}", "- a", "name: x\nchanges: [~]"} {
		set, findings := resources.ReadChanges("c.yaml", []byte(text), p, lines, p.StartsAt)
		require.Nil(t, set, text)
		require.True(t, resources.HasErrors(findings), text)
	}
}

// Of two changes of one thing the last would win in silence.
func TestASetChangesEachThingOnce(t *testing.T) {
	p, lines := readDemo(t)
	read := func(changes ...string) string {
		set, findings := resources.ReadChanges("c.yaml", []byte("name: x\nchanges:\n  - "+strings.Join(changes, "\n  - ")+"\n"), p, lines, p.StartsAt)
		require.Equal(t, len(findings) > 0, set == nil, changes)
		return strings.Join(texts(findings), "\n")
	}
	for _, c := range []struct{ first, second, say string }{
		{`down: {station: W1, for: 5d}`, `down: {station: W1, for: 1h}`, "down: station W1 at that time"},
		{`down: {station: W1, from: 2026-03-04 06:00, for: 5d}`, `down: {station: W1, from: 2026-03-05 06:00, for: 1h}`, "down: station W1 at that time"},
		{`station: {id: W1, count: 2}`, `station: {id: W1, count: 3}`, "station: station W1"},
		{`crew: {id: finishers, heads: 4}`, `crew: {id: finishers, heads: 1}`, "crew: crew finishers, calendar early,"},
		{`crew: {id: finishers, heads: 4}`, `crew: {id: finishers, calendar: early, heads: 1}`, "crew: crew finishers, calendar early,"},
		{`tool: {id: M-36, count: 8}`, `tool: {id: M-36, count: 9}`, "tool: tool M-36"},
		{
			`shift: {date: 2026-03-07, hours: "06:00-14:00", crews: [bonders]}`, `shift: {date: 2026-03-07, hours: "06:00-14:00", crews: [mixer, bonders]}`,
			"shift: the extra shift of crew bonders from 2026-03-07 06:00 to 2026-03-07 14:00",
		},
		{
			`shift: {date: 2026-03-07, hours: "06:00-14:00", stations: [PACK]}`, `shift: {date: 2026-03-07, hours: "06:00-14:00", stations: [PACK]}`,
			"shift: the extra opening of station PACK from 2026-03-07 06:00 to 2026-03-07 14:00",
		},
		{`duration: {operation: wind, factor: 2}`, `duration: {operation: wind, factor: 3}`, "duration: duration of operation wind"},
		{`duration: {factor: 2}`, `duration: {factor: 3}`, "duration: duration of all"},
		{`yield: {operation: wind, factor: 0.9}`, `yield: {operation: wind, factor: 0.8}`, "yield: yield of operation wind"},
		{`change_order: {order: 1012, weight: 9}`, `drop_order: {order: 1012}`, "drop_order: order 1012"},
		{`drop_order: {order: 1012}`, `change_order: {order: 1012, weight: 9}`, "change_order: order 1012/1"},
		{`drop_order: {order: 1012, line: 1}`, `drop_order: {order: 1012}`, "drop_order: order 1012"},
		{`drop_order: {order: 1012}`, `drop_order: {order: 1012, line: 1}`, "drop_order: order 1012/1"},
		{`add_order: {order: 1012, line: 2, product: HS-M, quantity: 1, ship_by: 2026-04-02}`, `drop_order: {order: 1012}`, "drop_order: order 1012"},
	} {
		require.Equal(t, "c.yaml:4: error: changes[1]."+c.say+" is changed twice, first by change 1; put both in one change", read(c.first, c.second), c)
	}
	for _, both := range [][]string{
		{`down: {station: W1, for: 5d}`, `down: {station: W2, for: 1h}`},
		{`down: {station: W1, for: 5h}`, `down: {station: W1, from: 2026-03-05 06:00, for: 1h}`},
		{`crew: {id: winders, calendar: early, heads: 4}`, `crew: {id: winders, calendar: late, heads: 4}`},
		{`absent: {crew: winders, people: 1, for: 5h}`, `absent: {crew: winders, people: 1, for: 2d}`},
		{`shift: {date: 2026-03-07, hours: "06:00-14:00", crews: [bonders]}`, `shift: {date: 2026-03-07, hours: "14:00-22:00", crews: [bonders]}`},
		{`duration: {operation: wind, factor: 0.9}`, `duration: {factor: 0.9}`, `duration: {operation: wind, product: HS-M, factor: 0.9}`},
		{`drop_order: {order: 1012}`, `add_order: {order: 1012, line: 2, product: HS-M, quantity: 1, ship_by: 2026-04-02}`},
	} {
		require.Empty(t, read(both...), both)
	}
}

// What a change keeps of how it was written is that change again.
func TestAChangeIsReadAgainFromItsSource(t *testing.T) {
	p, lines := readDemo(t)
	set, findings := resources.ReadChanges("every-kind.yaml", changeFile(t, "every-kind.yaml"), p, lines, p.StartsAt)
	require.Empty(t, texts(findings))
	text := "name: again\nchanges:\n"
	for _, c := range set.Changes {
		text += "  - " + strings.ReplaceAll(strings.TrimSpace(c.Source), "\n", "\n    ") + "\n"
	}
	again, findings := resources.ReadChanges("again.yaml", []byte(text), p, lines, p.StartsAt)
	require.Empty(t, texts(findings), text)
	require.Len(t, again.Changes, len(set.Changes))
	for i := range set.Changes {
		was, is := set.Changes[i], again.Changes[i]
		was.Line, is.Line = 0, 0
		require.Equal(t, was, is)
	}
}

func TestWhoIsAwayWhen(t *testing.T) {
	p, lines := readDemo(t)
	const hour = resources.Tick(resources.Hour)
	for change, want := range map[string]resources.Interval{
		`{crew: winders, for: 2d}`:                                         {Start: p.StartsAt, End: p.StartsAt + 48*hour},
		`{crew: winders, to: 2026-03-02 14:00}`:                            {Start: p.StartsAt, End: p.StartsAt + 8*hour},
		`{crew: winders, from: 2026-03-03 06:00, for: 8h}`:                 {Start: p.StartsAt + 24*hour, End: p.StartsAt + 32*hour},
		`{crew: winders, from: 2026-03-01 06:00, to: 2026-03-03 06:00}`:    {Start: p.StartsAt - 24*hour, End: p.StartsAt + 24*hour},
		`{"crew": "winders", "from": "2026-03-03T06:00:00", "for": "8 h"}`: {Start: p.StartsAt + 24*hour, End: p.StartsAt + 32*hour},
	} {
		set, findings := resources.ReadChanges("c.yaml", []byte("name: x\nchanges:\n  - absent: "+change+"\n"), p, lines, p.StartsAt)
		require.Empty(t, texts(findings), change)
		c := set.Changes[0]
		require.Equal(t, want, c.Absent.Span(p.StartsAt), change)
		require.Equal(t, 1, c.Absent.People)
		require.Equal(t, "absent", c.Kind())
		require.False(t, c.OfOrders())
		require.False(t, c.OfPlant(p.StartsAt), change)
		require.False(t, c.OfPlant(0), "also when it is yet to come")
	}
}

func TestChangesReadmeIsTrue(t *testing.T) {
	raw, err := os.ReadFile("README.md")
	require.NoError(t, err)
	_, section, found := strings.Cut(string(raw), "\n## Changes\n")
	require.True(t, found)
	p, lines := readDemo(t)
	set, findings := resources.ReadChanges("README.md", []byte(block(t, section, "changes")), p, lines, p.StartsAt)
	require.Empty(t, texts(findings))
	require.Len(t, set.Changes, 2)
	for name := range resources.ChangesFileKeys() {
		kind, key, _ := strings.Cut(name, ".")
		if strings.HasSuffix(kind, "_order") && kind != "drop_order" {
			continue // its page is that of orders
		}
		require.Contains(t, string(raw), "`"+key+"`", name)
	}
}

// FuzzReadChanges holds the reader to its contract on any bytes: a set and no
// error, or no set and at least one; and what is a set can be made.
func FuzzReadChanges(f *testing.F) {
	for _, name := range []string{"every-kind.yaml", "mistakes.yaml", "oven-down.yaml", "rush-with-saturday.yaml"} {
		f.Add(changeFile(f, name))
	}
	for _, text := range []string{"", "a", "name: x\nchanges:\n- station: {id: O1, count: 9}\n- station: {id: O1, count: 0}", bomb(), "\xff\xfe",
		"name: x\nchanges:\n- absent: {crew: winders, people: 2, from: 2026-03-05 06:00, for: 2d}\n- crew: {id: winders, calendar: late, heads: 0}",
		"name: x\nchanges:\n- tool: {id: M-36, count: 1}\n- duration: {factor: 1e-9}", "name: x\nchanges: &a [*a]"} {
		f.Add([]byte(text))
	}
	p, lines := readDemo(f)
	f.Fuzz(func(t *testing.T, text []byte) {
		set, findings := resources.ReadChanges("f.yaml", text, p, lines, p.StartsAt)
		require.Equal(t, set == nil, resources.HasErrors(findings))
		if set == nil {
			return
		}
		q, findings := set.ApplyPlant(p, p.StartsAt)
		require.Empty(t, findings)
		require.False(t, resources.HasErrors(resources.ValidatePlant(q)))
		a, err := set.Adopt(p.StartsAt)
		if errors.Is(err, resources.ErrTooLong) || slices.ContainsFunc(set.Changes, func(c resources.Change) bool { return c.Source == "" }) {
			return // what is too long to stand on top of a plant file
		}
		require.NoError(t, err)
		again, findings := resources.ReadChanges("adopted.yaml", []byte(a.Text), p, nil, a.At)
		require.NotNil(t, again, "%v\n%s", findings, a.Text)
		plant, findings := again.ApplyPlant(p, a.At)
		require.Empty(t, findings)
		require.Equal(t, q, plant)
	})
}

// The words that say what a name may be tell the limit there is.
func TestAllowedSetNameTellsTheLimit(t *testing.T) {
	require.Contains(t, resources.AllowedSetName, fmt.Sprintf("1 to %d characters", resources.MaxSetName))
}
