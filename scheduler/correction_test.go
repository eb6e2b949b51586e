// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

// careless draws a log of a careless shop: reports, repeats and voids, also of
// voids, kept up one by one; bases are the states on the way.
func careless(t *rapid.T, most int) (j *journal, bases []*scheduler.State) {
	j = &journal{s: scheduler.NewState(nil)}
	require.NoError(t, j.add("plant", events.PlantDeclared, "", 0, events.PlantData{File: kilnText}))
	for _, product := range []string{"TUBE", "PAIR"} {
		require.NoError(t, j.add("first-"+product, events.OrderAdded, "", 0, ordered(product, product, 2)))
	}
	r := &reports{t: t}
	for range rapid.IntRange(1, most).Draw(t, "reports") {
		if rapid.IntRange(0, 3).Draw(t, "void") == 0 {
			_ = j.void(fmt.Sprintf("v%d", len(j.log)), rapid.SampledFrom(j.log).Draw(t, "target").ID)
		} else {
			r.s = j.s
			e := r.next()
			if rapid.IntRange(0, 9).Draw(t, "again") == 0 {
				e = rapid.SampledFrom(j.log).Draw(t, "old")
			}
			_ = j.add(e.ID, e.Kind, e.Station, int(e.At-six)/60, e.Data)
		}
		bases = append(bases, j.s.Clone())
	}
	return j, bases
}

// TestCorrectedIsAsIfItNeverHappened: after a void the shop is what a replay
// without the voided event and its void gives, but for the memory of their IDs
// and of the instants they spoke of.
func TestCorrectedIsAsIfItNeverHappened(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j, _ := careless(t, 40)
		target := rapid.SampledFrom(j.log).Draw(t, "mistake").ID
		before, places := j.s.Clone(), 0
		for _, e := range j.log {
			if e.ID == target {
				places++
			}
		}
		if err := j.void("the-void", target); err != nil {
			require.Equal(t, before.Facts(), j.s.Facts(), "refused and yet changed")
			return
		}
		if places > 1 {
			return // sent twice: the second is what never counted
		}
		kind := j.log[slices.IndexFunc(j.log, func(e events.Event) bool { return e.ID == target })].Kind
		if kind == events.EventVoided {
			return // a void that is voided brings something back: the next test
		}
		without := slices.DeleteFunc(slices.Clone(j.log), func(e events.Event) bool { return e.ID == target || e.ID == "the-void" })
		want, _ := scheduler.Fold(slices.Values(without))
		for name, pair := range map[string][2]any{
			"lines": {want.Lines, j.s.Lines}, "pieces": {want.Pieces, j.s.Pieces}, "loads": {want.Loads, j.s.Loads},
			"mixes": {want.Mixes, j.s.Mixes}, "stations": {want.Stations, j.s.Stations}, "tools": {want.Tools, j.s.Tools},
			"plan": {want.Plan, j.s.Plan}, "plant file": {want.PlantFile, j.s.PlantFile},
		} {
			require.Equal(t, pair[0], pair[1], name)
		}
	})
}

// TestFoldAfterIsFold: from any state on the way, the rest of the log gives
// what the whole log gives, or says that a void reaches too deep.
func TestFoldAfterIsFold(t *testing.T) {
	deep, fine := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		j, bases := careless(t, 40)
		want := j.s.Hash()
		whole, _ := scheduler.Fold(slices.Values(j.log))
		require.Equal(t, whole.Hash(), want)
		for _, base := range bases {
			hash := base.Hash()
			tail := j.log[base.Seq:]
			got, rejected, err := scheduler.FoldAfter(base, slices.Values(tail), nil)
			require.Equal(t, hash, base.Hash(), "the base changed")
			var reached *scheduler.TooDeep
			if errors.As(err, &reached) {
				deep++
				require.ErrorIs(t, err, scheduler.ErrTooDeep)
				require.Greater(t, reached.At, base.Seq, "the void is in the tail")
				require.Equal(t, reached.Void, j.log[reached.At-1].ID)
				require.LessOrEqual(t, reached.Seq, base.Seq, "what it reaches is in the base")
				require.NotZero(t, reached.Seq)
				continue
			}
			require.NoError(t, err)
			fine++
			require.Equal(t, want, got.Hash(), "folded after %d of %d", base.Seq, len(j.log))
			for _, r := range rejected {
				require.Contains(t, j.refused, r.Event.ID)
			}
		}
	})
	schedtest.Met(t, deep)
	schedtest.Met(t, fine)
}

// TestFoldAfterSaysHowDeepItMayNotGo: only voids that count reach deep.
func TestFoldAfterSaysHowDeepItMayNotGo(t *testing.T) {
	j := newJournal(t)
	require.NoError(t, j.add("order", events.OrderAdded, "", 0, ordered("A", "TUBE", 2)))
	require.NoError(t, j.add("start", events.OperationStarted, "W1", 10, pieceOp("A-1-01", "wind")))
	base := j.s.Clone()
	require.NoError(t, j.add("other", events.ToolOut, "", 11, events.ToolData{Unit: "M-3"}))
	require.Error(t, j.void("nothing", "never sent"))
	require.NoError(t, j.void("shallow", "other"))
	after := func() (*scheduler.State, error) {
		s, _, err := scheduler.FoldAfter(base, slices.Values(j.log[base.Seq:]), nil)
		return s, err
	}
	s, err := after()
	require.NoError(t, err)
	require.Equal(t, j.s.Hash(), s.Hash())
	require.NoError(t, j.void("deep", "start"))
	_, err = after()
	var reached *scheduler.TooDeep
	require.ErrorAs(t, err, &reached)
	require.Equal(t, scheduler.TooDeep{Void: "deep", At: j.s.Seq, Target: "start", Seq: base.Seq}, *reached)
	require.ErrorContains(t, err, "deep voids start")
}
