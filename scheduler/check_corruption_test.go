// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

func TestCheckCatchesEveryCorruption(t *testing.T) {
	for _, at := range []resources.Tick{0, 100 * minute, 8*hour + 15*minute, 12 * hour} {
		s, p := schedtest.WorkshopPlan()
		now := schedtest.Monday + at
		if at > 0 {
			p = schedtest.Advance(s, p, now)
		}
		all := schedtest.Corruptions(s, now, p, rand.New(rand.NewPCG(1, 1)), 1000)
		require.NotEmpty(t, all)
		for _, c := range all {
			if found := scheduler.Check(s, now, c.Plan); !contains(found, c.Kind) {
				t.Errorf("at %d, %s: want %s, found\n%s", at, c.Name, c.Kind, schedtest.Text(found))
			}
		}
	}
}

func contains(found []scheduler.Violation, kind scheduler.ViolationKind) bool {
	for _, x := range found {
		if x.Kind == kind {
			return true
		}
	}
	return false
}

// The verifier must survive whatever somebody hands it as a plan, and say the
// same about it twice.
func TestCheckSurvivesGarbage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := schedtest.WorkshopPlan()
		now := schedtest.Monday + resources.Tick(rapid.Int64Range(0, int64(30*hour)).Draw(t, "now"))
		if rapid.Bool().Draw(t, "advanced") {
			p = schedtest.Advance(s, p, now)
		}
		for range rapid.IntRange(0, 12).Draw(t, "damages") {
			scramble(t, p)
		}
		found := scheduler.Check(s, now, p)
		require.Equal(t, found, scheduler.Check(s, now, p))
		scheduler.Measure(s, p)
	})
}

var (
	anyTick = rapid.OneOf(
		rapid.Map(rapid.Int64Range(0, int64(40*hour)), func(d int64) resources.Tick { return schedtest.Monday + resources.Tick(d) }),
		rapid.SampledFrom([]resources.Tick{0, -1, math.MinInt64, math.MaxInt64, math.MaxInt64 / 2, schedtest.Monday}),
	)
	anyName = rapid.SampledFrom([]string{
		"", "A-1-01", "A-1-02.2", "B-1-01", "wind", "cure", "cut", "ultimate", "pack", "W1", "O1", "bench", "mixroom",
		"OL-1", "WL-1", "MX-1", "M-1", "F-2", "hands", "lab", "nobody",
	})
	anyMember = rapid.Custom(func(t *rapid.T) scheduler.Member {
		return scheduler.Member{Piece: anyName.Draw(t, "piece"), Operation: anyName.Draw(t, "operation")}
	})
	anyCount = rapid.OneOf(rapid.Int64Range(-2, 10), rapid.SampledFrom([]int64{math.MinInt64, math.MaxInt64}))
)

// scramble sets one field of a plan to something else, or adds or drops
// something.
func scramble(t *rapid.T, p *scheduler.Plan) {
	pick := func(n int) int { return rapid.IntRange(0, max(0, n-1)).Draw(t, "which") }
	switch what := rapid.IntRange(0, 9).Draw(t, "what"); {
	case what < 5 && len(p.Work) > 0:
		scrambleWork(t, &p.Work[pick(len(p.Work))])
	case what == 5 && len(p.Work) > 0:
		i := pick(len(p.Work))
		p.Work = append(p.Work[:i], p.Work[i+1:]...)
	case what == 6 && len(p.Loads) > 0:
		l := &p.Loads[pick(len(p.Loads))]
		l.ID, l.Station, l.Recipe = anyName.Draw(t, "load"), anyName.Draw(t, "station"), anyName.Draw(t, "recipe")
		l.Members = rapid.SliceOfN(anyMember, 0, 3).Draw(t, "members")
		l.Start, l.End = anyTick.Draw(t, "start"), anyTick.Draw(t, "end")
		l.Status = scheduler.Status(rapid.IntRange(0, 5).Draw(t, "status"))
	case what == 7 && len(p.Mixes) > 0:
		m := &p.Mixes[pick(len(p.Mixes))]
		m.ID, m.Resin, m.Station, m.Crew = anyName.Draw(t, "mix"), anyName.Draw(t, "resin"), anyName.Draw(t, "station"), anyName.Draw(t, "crew")
		m.Start, m.End, m.Expiry = anyTick.Draw(t, "start"), anyTick.Draw(t, "end"), anyTick.Draw(t, "expiry")
		m.Grams = anyCount.Draw(t, "grams")
		m.Users = rapid.SliceOfN(anyMember, 0, 3).Draw(t, "users")
	case what == 8:
		p.Breaches = append(p.Breaches, scheduler.Breach{From: anyMember.Draw(t, "from"), To: anyMember.Draw(t, "to"), By: resources.Seconds(anyCount.Draw(t, "by"))})
	default:
		p.Made = anyTick.Draw(t, "made")
	}
}

func scrambleWork(t *rapid.T, w *scheduler.Work) {
	times := []*resources.Tick{&w.Setup, &w.Start, &w.Run, &w.RunEnd, &w.Unload, &w.End}
	names := []*string{&w.Order, &w.Line, &w.Piece, &w.Operation, &w.Station, &w.Load, &w.Mix}
	switch rapid.IntRange(0, 5).Draw(t, "field") {
	case 0:
		*rapid.SampledFrom(times).Draw(t, "time") = anyTick.Draw(t, "at")
	case 1:
		*rapid.SampledFrom(names).Draw(t, "name") = anyName.Draw(t, "is")
	case 2:
		w.Place = int(anyCount.Draw(t, "place"))
	case 3:
		w.Status = scheduler.Status(rapid.IntRange(0, 255).Draw(t, "status"))
	case 4:
		w.Tools = rapid.SliceOfN(anyName, 0, 3).Draw(t, "tools")
	case 5:
		w.People = append(w.People, scheduler.PeopleUse{
			Part: resources.Part(rapid.IntRange(0, 255).Draw(t, "part")), Skill: anyName.Draw(t, "skill"),
			Crew: anyName.Draw(t, "crew"), Share: anyCount.Draw(t, "share"),
		})
	}
}
