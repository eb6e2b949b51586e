// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/relax"
	"towpath/web/view"
)

// What asks for something and gives no more than what asks for nothing is not
// shown; without anything that saves the order, all that was tried is.
func TestFoundLeavesOutWhatIsWorthNothing(t *testing.T) {
	r := func(kind relax.Kind, saved bool, slack relax.Seconds, hurt ...string) relax.Relaxation {
		return relax.Relaxation{Candidate: relax.Candidate{Key: string(kind), Kind: kind}, Saved: saved, Slack: slack, Hurt: hurt}
	}
	shown := func(list ...relax.Relaxation) []relax.Kind {
		var out []relax.Kind
		for _, x := range (view.SavingJob{Answer: &relax.Answer{Relaxations: list}}).Found() {
			out = append(out, x.Kind)
		}
		return out
	}
	require.Equal(t, []relax.Kind{relax.Search, relax.Tool}, shown(r(relax.Search, true, 5), r(relax.Shift, true, 5), r(relax.Tool, true, 9)))
	require.Equal(t, []relax.Kind{relax.Search, relax.Shift}, shown(r(relax.Search, true, 5, "B"), r(relax.Shift, true, 5)), "it costs B its date")
	require.Equal(t, []relax.Kind{relax.Tool}, shown(r(relax.Tool, true, 1), r(relax.Search, false, -1)))
	require.Equal(t, []relax.Kind{relax.Tool, relax.Search}, shown(r(relax.Tool, false, -1), r(relax.Search, false, -2)))
	require.Empty(t, view.SavingJob{}.Found())
}

func TestSavingInWords(t *testing.T) {
	r := relax.Relaxation{Slack: 3600}
	require.Equal(t, "1 h to spare", view.Effect(&r))
	require.Equal(t, "asks for nothing", view.Asks(&r))
	r = relax.Relaxation{Candidate: relax.Candidate{Things: 2, Hours: 8}, Slack: -7200, Earlier: 1800}
	require.Equal(t, "30 min sooner, still 2 h late", view.Effect(&r))
	require.Equal(t, "2 things to buy or borrow, 8 person-hours", view.Asks(&r))
	r.Earlier = -60
	require.Equal(t, "1 min later than in the plan", view.Effect(&r))
	r.Earlier = 0
	require.Equal(t, "no sooner", view.Effect(&r))
}
