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
	b.WriteString("\n| fact | if | planning | why |\n|---|---|---|---|\n")
	for _, r := range scheduler.Reactions() {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", r.Kind, r.If, r.Then, r.Why)
	}
	b.WriteString("\n")
	documented(t, "REACTIONS.md", b.String())
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
