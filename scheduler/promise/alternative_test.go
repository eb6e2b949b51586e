// SPDX-License-Identifier: Apache-2.0

package promise_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
)

// holds fails when an alternative is not what it says, or breaks a date.
func holds(t require.TestingT, b *promise.Present, a *promise.Answer, x promise.Alternative) {
	fit := x.Fit()
	require.Empty(t, scheduler.Check(fit.State, b.Now, fit.Plan), "%s", x.Words)
	was, will := scheduler.MeasureLines(b.State, b.Plan), scheduler.MeasureLines(fit.State, fit.Plan)
	for key, line := range b.State.Lines {
		require.LessOrEqual(t, will[key].End, max(line.Due, was[key].End), "%s: line %s", x.Words, key)
		require.True(t, will[key].Known || !was[key].Known, "%s: line %s", x.Words, key)
	}
	quantity, byWish := 0, 0
	for i, part := range x.Parts {
		end := will[scheduler.LineKey(a.Ask.Order, string(rune('1'+i)))]
		require.True(t, end.Known)
		require.Equal(t, end.End, part.Ready)
		require.GreaterOrEqual(t, part.Ship, part.Ready)
		quantity += part.Quantity
		if part.Ship <= a.WishDue {
			byWish += part.Quantity
		}
	}
	require.Equal(t, a.Ask.Quantity, quantity, "%s", x.Words)
	require.Equal(t, byWish, x.ByWish)
	require.Equal(t, x.Meets, byWish == quantity)
	if x.Kind != promise.Split {
		require.Less(t, x.Parts[0].Ship, a.Earliest.Ship, "%s: no nearer than the answer", x.Words)
	}
	if x.Kind == promise.Split || x.Kind == promise.Orders || x.Kind == promise.Loads {
		require.Zero(t, x.PersonHours)
	}
}

func TestNoAlternativeBreaksADate(t *testing.T) {
	seen := map[promise.Kind]int{}
	rapid.Check(t, func(t *rapid.T) {
		s := drawShop(t)
		now := schedtest.Monday
		b, err := promise.Begin(s, now)
		require.NoError(t, err)
		ask := promise.Ask{
			Product:  rapid.SampledFrom([]string{"HS", "PX"}).Draw(t, "product"),
			Quantity: rapid.IntRange(1, 8).Draw(t, "quantity"),
			Wish:     now + resources.Tick(rapid.IntRange(24*7, 400).Draw(t, "wish")*3600),
		}
		a, err := b.Answer(ask)
		require.NoError(t, err)
		if rapid.Bool().Draw(t, "tight") {
			// A wish just before what is possible is what alternatives are for.
			ask.Wish = max(now+resources.Tick(20*3600), a.Earliest.Ready-resources.Tick(rapid.IntRange(1, 30).Draw(t, "hours before")*3600))
			if a, err = b.Answer(ask); err != nil {
				t.Skip("no carrier before that")
			}
		}
		o, err := a.Alternatives(promise.Effort{Iterations: 8, Seed: 1})
		require.NoError(t, err)
		if a.Meets {
			require.Nil(t, o.Otherwise)
			return
		}
		for _, x := range o.Otherwise.Alternatives {
			holds(t, b, a, x)
			seen[x.Kind]++
			if !x.Keepable() {
				// Its plan is one of the shop with the changes it stands for.
				q, err := whatif.Ask(b.State, now, &resources.ChangeSet{Name: x.Words, Changes: x.Changes(a, a.Ask.Order)})
				require.NoError(t, err, x.Words)
				require.Empty(t, scheduler.Check(q.After, now, x.Fit().Plan), x.Words)
				continue
			}
			require.Empty(t, x.Changes(a, a.Ask.Order))
			// By the same plan it is the same way once more.
			again, err := a.Again(&x, promise.Effort{Iterations: 8, Seed: 1})
			require.NoError(t, err)
			require.NotNil(t, again, "%s", x.Words)
			holds(t, b, a, *again)
			require.Equal(t, x.Kind, again.Kind)
			require.LessOrEqual(t, again.Parts[0].Ship, x.Promised(a))
			if x.Kind == promise.Orders {
				require.Equal(t, x.MakeWay, again.MakeWay)
			}
		}
	})
	for _, kind := range []promise.Kind{promise.Split, promise.Orders, promise.Shift, promise.Replan} {
		schedtest.Met(t, seen[kind], "%s: %v; each is found in one shop of ten or more", kind, seen)
	}
}
