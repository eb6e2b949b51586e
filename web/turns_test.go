// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"log/slog"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/whatif"
	"towpath/web/view"
)

// Of several who keep the capacity of one question at once, one may; when that
// comes to nothing, another may try.
func TestOneKeepsTheCapacityOfAQuestion(t *testing.T) {
	q := newQuestions()
	id := q.add(view.Question{}, func() {})
	_, mine := q.claim(id)
	require.True(t, mine)
	kept, mine := q.claim(id)
	require.False(t, mine, "somebody is about to")
	require.Empty(t, kept)
	q.kept(id, "")
	_, mine = q.claim(id)
	require.True(t, mine, "it came to nothing")
	q.kept(id, "P-1")
	kept, mine = q.claim(id)
	require.False(t, mine)
	require.Equal(t, "P-1", kept)
}

// The oldest question is given up and forgotten beyond the most.
func TestOldQuestionsAreForgotten(t *testing.T) {
	q, gone := newQuestions(), 0
	first := q.add(view.Question{}, func() { gone++ })
	second := q.add(view.Question{}, func() { gone++ })
	for range mostQuestions - 2 {
		q.add(view.Question{}, func() {})
	}
	known := func(id string) (found bool) {
		q.edit(id, func(*asked) { found = true })
		return found
	}
	require.True(t, known(first))
	q.add(view.Question{}, func() {})
	require.False(t, known(first))
	require.True(t, known(second))
	require.Equal(t, 1, gone)
}

// Who waits for a second look is told how many are taken before it: the one under
// way and those asked earlier, not those that are done or given up.
func TestAQuestionKnowsHowManyAreBeforeIt(t *testing.T) {
	q, p := newQuestions(), &Picture{}
	ask := func() string {
		return q.add(view.Question{State: "waiting", Answer: &promise.Answer{}}, func() {})
	}
	before := func(id string) int { return q.find(id, p).Before }
	first, second, third := ask(), ask(), ask()
	require.Equal(t, []int{0, 1, 2}, []int{before(first), before(second), before(third)})
	require.True(t, q.enter(t.Context(), first))
	require.Equal(t, []int{0, 1, 2}, []int{before(first), before(second), before(third)})
	q.stopped(second)
	require.Equal(t, 1, before(third))
	q.ended(t.Context(), first, nil, nil)
	require.Zero(t, before(third))
}

// So is who waits for a set of changes.
func TestASetKnowsHowManyAreBeforeIt(t *testing.T) {
	w, p := newWhatIfs(nil, slog.New(slog.DiscardHandler)), &Picture{}
	add := func() string {
		return w.add(&tried{cancel: func() {}, q: &whatif.Question{}, WhatIf: view.WhatIf{WhatIfBrief: view.WhatIfBrief{State: "waiting"}}})
	}
	before := func(id string) int { return w.find(id, p).Before }
	first, second, third := add(), add(), add()
	require.Equal(t, []int{0, 1, 2}, []int{before(first), before(second), before(third)})
	require.True(t, w.enter(t.Context(), second), "turns may be taken by others first")
	require.Equal(t, []int{1, 0, 2}, []int{before(first), before(second), before(third)})
	w.drop(first)
	require.Equal(t, 1, before(third))
	w.ended(t.Context(), second, &Trial{Comparison: &whatif.Comparison{}}, nil)
	require.Zero(t, before(third))
}

// Of two who adopt one set at once, one does; what failed may be tried again, and
// what was adopted may not.
func TestOneAdoptsASet(t *testing.T) {
	w := newWhatIfs(nil, slog.New(slog.DiscardHandler))
	id := w.add(&tried{cancel: func() {}})
	require.True(t, w.beginAdopting(id))
	require.False(t, w.beginAdopting(id), "somebody is about to")
	w.endAdopting(id, 0, "", 0)
	require.True(t, w.beginAdopting(id), "it was refused")
	w.endAdopting(id, 7, "Ann", 100)
	require.False(t, w.beginAdopting(id))
	require.Equal(t, &view.Adoption{By: "Ann", At: 100, Seq: 7}, w.find(id, &Picture{}).Adopted)
	require.False(t, w.beginAdopting("nobody's"))
}

// A set that gets another name while it is planned has it when it is done.
func TestRenamedWhileItIsPlanned(t *testing.T) {
	w := newWhatIfs(nil, slog.New(slog.DiscardHandler))
	id := w.add(&tried{cancel: func() {}, q: &whatif.Question{}})
	require.True(t, w.enter(t.Context(), id))
	w.rename(id, "new")
	w.ended(t.Context(), id, &Trial{Comparison: &whatif.Comparison{Name: "old"}}, nil)
	x := w.find(id, &Picture{})
	require.Equal(t, "done", x.State)
	require.Equal(t, "new", x.Name)
	require.Equal(t, "new", x.Comparison.Name)
	require.Equal(t, "old", x.trial.Comparison.Name, "others may hold it")
}

// slow is a shop whose pages show a fact some time after it is recorded.
type slow struct{ picture atomic.Pointer[Picture] }

func (s *slow) Picture() *Picture { return s.picture.Load() }

func newSlow() *slow {
	s := &slow{}
	s.picture.Store(&Picture{})
	return s
}

func (s *slow) Now() (resources.Tick, float64) { return 0, 1 }

func (s *slow) Report(context.Context, ...events.Event) (Outcome, error) { return Outcome{}, nil }

func (s *slow) Subscribe(ctx context.Context) <-chan struct{} {
	news := make(chan struct{})
	go func() {
		for seq := uint64(1); seq <= 9; seq++ {
			select {
			case <-time.After(100 * time.Millisecond):
			case <-ctx.Done():
				return
			}
			s.picture.Store(&Picture{State: &scheduler.State{Seq: seq}})
			select {
			case news <- struct{}{}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return news
}

// An answer waits until the pages show what it tells of, and no longer than a
// second.
func TestAnAnswerWaitsForThePages(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &Server{shop: newSlow()}
		began := time.Now()
		s.seen(t.Context(), 3)
		require.Equal(t, 300*time.Millisecond, time.Since(began))
		require.EqualValues(t, 3, s.shop.Picture().State.Seq)
	})
	synctest.Test(t, func(t *testing.T) {
		s := &Server{shop: newSlow()}
		began := time.Now()
		s.seen(t.Context(), 1000)
		require.Equal(t, seenWithin, time.Since(began))
	})
}
