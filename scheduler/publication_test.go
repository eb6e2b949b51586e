// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// somePlan has something in every field that a plan carries.
func somePlan() *scheduler.Plan {
	m := scheduler.Member{Piece: "A-1-01", Operation: "cure <1>"}
	return &scheduler.Plan{
		Version: 7, Made: six, Base: 12, Seed: 1 << 63, Iterations: 4, Optimal: true,
		Work: []scheduler.Work{{
			Order: "A", Line: "1", Piece: m.Piece, Operation: m.Operation, Station: "Öfen & co", Place: 2, Setup: six, Start: six + 1,
			Run: six + 2, RunEnd: six + 3, Unload: six + 4, End: six + 5, Load: "L", Mix: "X", Tools: []string{"M-1"}, Status: scheduler.Paused,
			People: []scheduler.PeopleUse{{Part: resources.PartLoad, Skill: "s", Crew: "c", Share: 250}},
		}},
		Loads:    []scheduler.Load{{ID: "L", Station: "OVEN", Recipe: "R", Members: []scheduler.Member{m}, Start: six, Status: scheduler.Done}},
		Mixes:    []scheduler.Mix{{ID: "X", Resin: "A", Station: "MIX", Place: 1, Start: six, End: six + 9, Grams: 40, Users: []scheduler.Member{m}}},
		Breaches: []scheduler.Breach{{From: m, To: m, By: 3}},
		Gaps:     []scheduler.Gap{{Part: "lost", Value: 3}},
		Churn:    &scheduler.Churn{Against: 6, Next: []scheduler.NextJob{{Station: "OVEN", Was: m}}},
	}
}

// A published plan is plain gzip and plain JSON: what the standard library
// reads and writes, so that anybody can look into the log.
func TestPublishedPlansAreGzipAndJSON(t *testing.T) {
	plan := somePlan()
	want, err := json.Marshal(plan)
	require.NoError(t, err)
	text, err := scheduler.PackPlan(plan)
	require.NoError(t, err)
	z, err := gzip.NewReader(bytes.NewReader(text))
	require.NoError(t, err)
	got, err := io.ReadAll(z)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))

	again, err := scheduler.UnpackPlan(packed(t, want))
	require.NoError(t, err)
	require.Equal(t, plan, again)
}

func packed(t testing.TB, text []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := z.Write(text)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return b.Bytes()
}

// Whatever stands inside a packed plan, reading it gives a plan or an error.
func FuzzUnpackPlan(f *testing.F) {
	text, err := json.Marshal(somePlan())
	require.NoError(f, err)
	for _, s := range []string{string(text), "", "null", "{}", "[]", `{"work":[{"status":"none"}]}`, `{"work":[{"start":1e99}]}`, `{"work":{"a":`, "{\"made\":\"\xff\"}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		plan, err := scheduler.UnpackPlan(packed(t, text))
		if err != nil {
			require.Nil(t, plan)
			return
		}
		first, err := scheduler.PackPlan(plan)
		require.NoError(t, err)
		again, err := scheduler.UnpackPlan(first)
		require.NoError(t, err)
		second, err := scheduler.PackPlan(again)
		require.NoError(t, err)
		require.Equal(t, first, second)
	})
}
