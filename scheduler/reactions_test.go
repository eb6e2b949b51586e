// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources/quality"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/simulate"
)

// TestEveryKindHasAReaction: the table follows the vocabulary, each kind ends
// in a row that always holds, and the rows before that have a condition.
func TestEveryKindHasAReaction(t *testing.T) {
	var kinds []events.Kind
	for _, r := range scheduler.Reactions() {
		require.NotEmpty(t, r.Why, r.Kind)
		if len(kinds) == 0 || kinds[len(kinds)-1] != r.Kind {
			kinds = append(kinds, r.Kind)
		}
	}
	require.Equal(t, events.Kinds(), kinds)
	for _, k := range kinds {
		// A payload that meets no condition falls to the last row of the kind.
		require.Equal(t, last(k), about(scheduler.ReactionTo(events.Event{Kind: k})))
		require.Equal(t, k, scheduler.ReactionTo(events.Event{Kind: k, Data: events.Payload(k)}).Kind)
	}
	require.Equal(t, scheduler.Improve, scheduler.ReactionTo(events.Event{Kind: "unheard.of"}).Then)
}

// about is a row without its condition, which cannot be compared.
func about(r scheduler.Reaction) string { return fmt.Sprint(r.Kind, r.If, r.Then, r.Why) }

func last(k events.Kind) string {
	row := ""
	for _, r := range scheduler.Reactions() {
		if r.Kind == k {
			row = about(r)
		}
	}
	return row
}

func TestReactionToResults(t *testing.T) {
	to := func(d events.ResultData) scheduler.Response {
		return scheduler.ReactionTo(events.Event{Kind: events.ResultRecorded, Data: d}).Then
	}
	require.Equal(t, scheduler.Repair, to(events.ResultData{Pass: true}))
	require.Equal(t, scheduler.Improve, to(events.ResultData{}))
	require.Equal(t, scheduler.Improve, to(events.ResultData{Pass: true, Measured: []quality.Measure{{}}}), "a rule may say otherwise")
	require.Equal(t, scheduler.Improve, to(events.ResultData{Pass: true, Decision: "pass"}), "it may end a hold")
}

// TestReactionsAreDocumented keeps REACTIONS.md equal to the table in the
// code.
func TestReactionsAreDocumented(t *testing.T) {
	var b strings.Builder
	b.WriteString("\n| fact | if | planning | why | alerts that may come or go |\n|---|---|---|---|---|\n")
	for _, r := range scheduler.Reactions() {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s |\n", r.Kind, r.If, r.Then, r.Why, alertList(r.Alerts))
	}
	b.WriteString("\n## Alerts\n\n| alert | comes when | goes when | who should act | by |\n|---|---|---|---|---|\n")
	for _, r := range scheduler.AlertRules() {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s | %s |\n", r.Kind, r.Raised, r.Clears, r.Who, r.By)
	}
	b.WriteString("\n")
	documented(t, "REACTIONS.md", b.String())
}

func alertList(kinds []scheduler.AlertKind) string {
	if len(kinds) == len(scheduler.AlertKinds()) {
		return "any"
	}
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = strings.ReplaceAll(string(k), "-", " ")
	}
	return strings.Join(names, ", ")
}

// TestAlertsOfAFactAreStated: in an unruly shop no alert comes or goes with a
// fact, and the plan made after it, for which its row does not name it.
func TestAlertsOfAFactAreStated(t *testing.T) {
	schedtest.Long(t)
	met := map[scheduler.AlertKind]int{}
	for seed := uint64(1); seed <= 3; seed++ {
		w := newWatched(t, 4)
		w.tell("", events.PlantDeclared, events.PlantData{File: strings.ReplaceAll(kilnFile(t), "pot_life: 60m", "pot_life: 3h")})
		soon := ordered("B", "TUBE", 2)
		soon.ShipBy = mins(500)
		w.tell("", events.OrderAdded, soon)
		w.sim = simulate.New(seed, simulate.Odds{
			Spread: 0.2, Tardy: 90, Stop: 0.9, StopLong: 90 * 60, Fail: true, Second: 0.5, Hold: 0.1, Forgotten: 0.2, Repeated: 0.1,
		})
		for w.now < 1200 {
			w.now += 2
			if w.now%10 == 0 {
				w.plan()
			}
			w.look()
			for _, e := range w.sim.Step(w.s.Clone(), mins(w.now)) {
				was := w.seen
				w.take(e)
				w.plan()
				w.look()
				for _, k := range moved(was, w.seen) {
					met[k]++
					require.Contains(t, scheduler.ReactionTo(e).Alerts, k, "%s at %d", e.Kind, w.now)
				}
			}
		}
	}
	require.GreaterOrEqual(t, len(met), 5, "the shop was unruly enough: %v", met)
}

// moved lists the kinds of alerts that are in one list and not in the other.
func moved(was, is []scheduler.Alert) []scheduler.AlertKind {
	count := map[string]int{}
	kind := map[string]scheduler.AlertKind{}
	for _, list := range [][]scheduler.Alert{was, is} {
		for i := range list {
			count[list[i].Key()]++
			kind[list[i].Key()] = list[i].Kind
		}
	}
	var out []scheduler.AlertKind
	for key, n := range count {
		if n == 1 {
			out = append(out, kind[key])
		}
	}
	return out
}

// documented compares the part of a document between its marks with what the
// code has, or writes it.
func documented(t *testing.T, file, part string) {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	head, rest, ok := strings.Cut(string(text), tablesBegin)
	require.True(t, ok)
	_, tail, ok := strings.Cut(rest, tablesEnd)
	require.True(t, ok)
	want := head + tablesBegin + part + tablesEnd + tail
	if *rewrite {
		require.NoError(t, os.WriteFile(file, []byte(want), 0o644))
		return
	}
	require.Equal(t, want, string(text), "run: go test ./scheduler -run Documented -rewrite")
}
