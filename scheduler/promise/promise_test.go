// SPDX-License-Identifier: Apache-2.0

package promise_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
)

// seasons is the demo plant with so many pieces: its season again and again, a
// season's length apart, planned and published.
func seasons(t testing.TB, pieces int) *scheduler.State {
	t.Helper()
	read := func(name string) []byte {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", name))
		require.NoError(t, err)
		return text
	}
	plant, findings := resources.ReadPlant("plant.yaml", read("plant.yaml"))
	require.NotNil(t, plant, "%v", findings)
	orders, findings := resources.ReadOrders("orders.csv", read("orders.csv"), plant)
	require.NotEmpty(t, orders, "%v", findings)
	more := *plant
	more.Materials = slices.Clone(plant.Materials)
	var lines []resources.OrderLine
	s, err := scheduler.StateOf(&more, nil)
	require.NoError(t, err)
	for n := 0; len(s.Pieces) < pieces; n++ {
		by := resources.Tick(n) * resources.Tick(7*7*resources.Day)
		for _, line := range orders {
			if n > 0 {
				line.Order = fmt.Sprintf("%s-%d", line.Order, n)
			}
			line.Due, line.ShipBy = line.Due+by, line.ShipBy+by
			lines = append(lines, line)
		}
		for i := range more.Materials {
			more.Materials[i].Stock += 10 * plant.Materials[i].Stock
		}
		s, err = scheduler.StateOf(&more, lines)
		require.NoError(t, err)
	}
	p, err := scheduler.Compile(s, plant.StartsAt)
	require.NoError(t, err)
	s.Plan, err = search.Construct(p)
	require.NoError(t, err)
	return s
}

// keeps fails when a line of before that was in time is not, or one that was
// late is later.
func keeps(t require.TestingT, before *scheduler.State, plan *scheduler.Plan, after *scheduler.State) {
	was, will := scheduler.MeasureLines(before, plan), scheduler.MeasureLines(after, after.Plan)
	for key, line := range before.Lines {
		require.LessOrEqual(t, will[key].End, max(line.Due, was[key].End), "line %s", key)
	}
}

func TestDemoAnswers(t *testing.T) {
	schedtest.Long(t)
	s := seasons(t, 1)
	now := s.Plant.StartsAt
	b, err := promise.Begin(s, now)
	require.NoError(t, err)
	require.Same(t, s.Plan, b.Plan, "a plan that can be followed is taken as it is")
	for _, product := range []string{"HS-S", "PS-L", "PX-R"} {
		a, err := b.Answer(promise.Ask{Product: product, Quantity: 3, Wish: now + resources.Tick(28*resources.Day)})
		require.NoError(t, err)
		require.GreaterOrEqual(t, a.Earliest.Ship, a.Earliest.Ready)
		require.Greater(t, a.Earliest.Ready, now)
		require.Equal(t, a.Earliest.Ship, s.Plant.Due(a.Earliest.Ship), "goods leave then")
		after, err := b.Ordered(a)
		require.NoError(t, err)
		schedtest.RequireOK(t, after, now, after.Plan)
		keeps(t, s, b.Plan, after)
		require.Equal(t, a.Earliest.Ready, scheduler.MeasureLines(after, after.Plan)["asked/1"].End)
		require.Empty(t, s.Lines["asked/1"], "the state asked is as it was")
	}
}

// A question in the middle of a season, with work under way.
func TestAnswerOnTheWay(t *testing.T) {
	schedtest.Long(t)
	s := seasons(t, 1)
	now := s.Plant.StartsAt + resources.Tick(214*resources.Hour) + 77
	schedtest.Advance(s, s.Plan, now)
	b, err := promise.Begin(s, now)
	require.NoError(t, err)
	a, err := b.Answer(promise.Ask{Product: "HS-M", Quantity: 4, Wish: now + resources.Tick(14*resources.Day)})
	require.NoError(t, err)
	after, err := b.Ordered(a)
	require.NoError(t, err)
	schedtest.RequireOK(t, after, now, after.Plan)
	keeps(t, s, b.Plan, after)
}

// Nothing was reported for days: the published plan cannot be followed, and a
// question begins with one that can.
func TestAnswerAfterThePlanWasOvertaken(t *testing.T) {
	schedtest.Long(t)
	s := seasons(t, 1)
	now := s.Plant.StartsAt + resources.Tick(3*resources.Day)
	require.NotEmpty(t, scheduler.Check(s, now, s.Plan))
	ask := promise.Ask{Product: "HS-M", Quantity: 2, Wish: now + resources.Tick(30*resources.Day)}
	b, err := promise.Begin(s, now)
	require.NoError(t, err)
	want, err := b.Answer(ask)
	require.NoError(t, err)
	got, err := promise.To(s, now, ask)
	require.NoError(t, err)
	require.Equal(t, want.Earliest, got.Earliest)
	after, err := b.Ordered(got)
	require.NoError(t, err)
	schedtest.RequireOK(t, after, now, after.Plan)
}

func TestBadQuestions(t *testing.T) {
	s := seasons(t, 1)
	now := s.Plant.StartsAt
	b, err := promise.Begin(s, now)
	require.NoError(t, err)
	good := promise.Ask{Product: "HS-S", Quantity: 1, Wish: now + resources.Tick(20*resources.Day), Confidence: 0.8}
	for text, change := range map[string]func(*promise.Ask){
		"product: the plant makes no such product": func(a *promise.Ask) { a.Product = "bicycle" },
		"quantity: out of range; found \"0\"":      func(a *promise.Ask) { a.Quantity = 0 },
		"found \"1000000\"; allowed: 1 to 1000":    func(a *promise.Ask) { a.Quantity = 1_000_000 },
		"wish: is in the past":                     func(a *promise.Ask) { a.Wish = now - 1 },
		"the last carrier before it has left":      func(a *promise.Ask) { a.Wish = now + 60 },
		"more than ten years ahead":                func(a *promise.Ask) { a.Wish = now + resources.Tick(5000*resources.Day) },
		"confidence: out of range; found \"1\"":    func(a *promise.Ask) { a.Confidence = 1 },
		"confidence: out of range; found \"-0.2\"": func(a *promise.Ask) { a.Confidence = -0.2 },
		"order: there is an order of that number":  func(a *promise.Ask) { a.Order = "1001" },
		"kind: cannot be read":                     func(a *promise.Ask) { a.Kind = "urgent" },
	} {
		ask := good
		change(&ask)
		_, err := b.Answer(ask)
		var fault *promise.Fault
		require.ErrorAs(t, err, &fault, text)
		require.Len(t, fault.Findings, 1, text)
		require.Contains(t, err.Error(), text)
	}
	_, err = b.Answer(promise.Ask{Confidence: 2, Quantity: -1})
	var fault *promise.Fault
	require.ErrorAs(t, err, &fault)
	require.Len(t, fault.Findings, 4, "all at once: %v", err)
}

// drawShop is a workshop with a few orders, planned in one of several ways.
func drawShop(t *rapid.T) *scheduler.State {
	var lines []resources.OrderLine
	for i := range rapid.IntRange(0, 5).Draw(t, "orders") {
		lines = append(lines, resources.OrderLine{
			Order: string(rune('A' + i)), Line: "1",
			Product:  rapid.SampledFrom([]string{"HS", "PX"}).Draw(t, "product"),
			Quantity: rapid.IntRange(1, 4).Draw(t, "quantity"),
			Due:      schedtest.Monday + resources.Tick(rapid.IntRange(10, 300).Draw(t, "due hours")*3600),
			Weight:   int64(rapid.IntRange(1, 9).Draw(t, "weight")),
			Kind:     rapid.SampledFrom([]resources.OrderKind{resources.Firm, resources.Event}).Draw(t, "kind"),
		})
	}
	plant := schedtest.Workshop()
	plant.Materials[0].Receipts[0].Quantity = 100000
	if rapid.Bool().Draw(t, "carrier") {
		plant.Shipping = resources.Shipping{Days: []time.Weekday{time.Tuesday, time.Friday}, CutOff: 16 * resources.Hour}
	}
	s := schedtest.State(plant, lines...)
	if len(lines) == 0 || rapid.IntRange(0, 4).Draw(t, "planned") == 0 {
		return s
	}
	p, err := scheduler.Compile(s, schedtest.Monday)
	require.NoError(t, err)
	r, err := search.Improve(p, search.Options{Seed: uint64(rapid.IntRange(0, 99).Draw(t, "seed")), Iterations: int64(rapid.IntRange(0, 30).Draw(t, "iterations"))})
	require.NoError(t, err)
	s.Plan = r.Plan
	return s
}

// One promise after the other, each confirmed, time going on between them now
// and then as planned: none makes an order later that had a date before it.
func TestNoPromiseBreaksAnEarlierOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, now := drawShop(t), schedtest.Monday
		promised := map[string]resources.Tick{}
		for i := range rapid.IntRange(1, 5).Draw(t, "promises") {
			b, err := promise.Begin(s, now)
			require.NoError(t, err)
			require.Empty(t, scheduler.Check(s, now, b.Plan))
			ask := promise.Ask{
				Product:  rapid.SampledFrom([]string{"HS", "PX"}).Draw(t, "product"),
				Quantity: rapid.IntRange(1, 5).Draw(t, "quantity"),
				Wish:     now + resources.Tick(rapid.IntRange(24*7, 400).Draw(t, "wish")*3600),
				Order:    fmt.Sprintf("P%d", i),
			}
			answer := b.Answer
			if rapid.Bool().Draw(t, "on trust") {
				answer = func(ask promise.Ask) (*promise.Answer, error) { return promise.To(s, now, ask) }
			}
			a, err := answer(ask)
			require.NoError(t, err)
			after, err := b.Ordered(a)
			require.NoError(t, err)
			require.Empty(t, scheduler.Check(after, now, after.Plan))
			keeps(t, s, b.Plan, after)
			promised[a.Ask.Order+"/1"] = a.Earliest.Ship
			ends := scheduler.MeasureLines(after, after.Plan)
			for key, by := range promised {
				require.LessOrEqual(t, ends[key].End, by, "promise %s", key)
			}
			s = after
			if rapid.Bool().Draw(t, "time passes") {
				now += resources.Tick(rapid.IntRange(1, 600).Draw(t, "minutes") * 60)
				s.Plan = schedtest.Advance(s, s.Plan, now)
			}
		}
	})
}
