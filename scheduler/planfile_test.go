// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/scheduler"
	"towpath/scheduler/schedtest"
)

func TestPlanFileKeepsAPlan(t *testing.T) {
	s, p := schedtest.WorkshopPlan()
	p.Seed, p.Iterations, p.Base = math.MaxUint64, 7, 9
	require.True(t, p.Judge([]scheduler.Gap{{Part: "tardiness", Unit: "s", Level: 1, Weight: 2, Value: 9, Bound: 4, By: "waits"}, {Part: "lost", Unit: "weight"}}, true))
	p.Breaches = []scheduler.Breach{{From: scheduler.Member{Piece: "a", Operation: "b"}, To: scheduler.Member{Piece: "c", Operation: "d"}, By: 60}}
	text, err := scheduler.EncodePlan(p)
	require.NoError(t, err)
	q, err := scheduler.DecodePlan(text)
	require.NoError(t, err)
	again, err := scheduler.EncodePlan(q)
	require.NoError(t, err)
	require.Equal(t, string(text), string(again))
	p.Breaches, q.Breaches = nil, nil
	require.Equal(t, p, q)
	schedtest.RequireOK(t, s, schedtest.Monday, q)
}

func TestPlanFileDoesNotDependOnTheOrderInMemory(t *testing.T) {
	_, p := schedtest.WorkshopPlan()
	text, err := scheduler.EncodePlan(p)
	require.NoError(t, err)
	before := schedtest.Clone(p)
	slices.Reverse(p.Work)
	slices.Reverse(p.Loads)
	slices.Reverse(p.Mixes)
	shuffled := schedtest.Clone(p)
	again, err := scheduler.EncodePlan(p)
	require.NoError(t, err)
	require.Equal(t, string(text), string(again))
	require.Equal(t, shuffled, p, "encoding changes nothing")
	require.NotEqual(t, before, p)
}

func TestPlanFileIsReadable(t *testing.T) {
	_, p := schedtest.WorkshopPlan()
	text, err := scheduler.EncodePlan(p)
	require.NoError(t, err)
	require.True(t, json.Valid(text))
	for _, want := range []string{`"format": 1`, `"made": "2026-03-02T06:00:00Z"`, `"status":"planned"`, `"part":"setup"`, `"station":"W1"`} {
		require.Contains(t, string(text), want)
	}
	require.Equal(t, len(p.Work)+len(p.Loads)+len(p.Mixes)+14, bytes.Count(text, []byte("\n")), "one thing a line")
}

func TestPlanFileRefusesWhatTimeCannotSay(t *testing.T) {
	_, p := schedtest.WorkshopPlan()
	p.Work[0].End = math.MaxInt64
	_, err := scheduler.EncodePlan(p)
	require.ErrorContains(t, err, "work[0]")
}

func TestPlanFileProblems(t *testing.T) {
	const ok = `"made": 0, "work": []`
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "line 1: the text ends in the middle"},
		{"not JSON", "version: 1", "line 1: invalid character 'v'"},
		{"a list", "[]", "a plan file is one JSON object"},
		{"cut off", "{\n" + ok + ",\n\"loads\": [", "line 3: the text ends in the middle"},
		{"text after the end", "{" + ok + "}\n{}", "line 2: there is text after the end"},
		{"an unknown field", "{" + ok + ",\n\"wrok\": 1}", `line 2: unknown field "wrok"; allowed are format, version, made`},
		{"an unknown field of work", "{\"made\": 0, \"work\": [\n{},\n{\"peice\": \"A\"}]}", `line 3: work[1]: unknown field "peice"; allowed are order, line, piece`},
		{"a field twice", "{" + ok + ",\n\"work\": []}", `line 2: "work" is there twice`},
		{"no work", "{\"made\": 0}", `"work" is missing`},
		{"null", "null", "one JSON object in braces; found null"},
		{"work that is no list", "{\"made\": 0, \"work\": {}}", "work is a list in brackets; found {"},
		{"text for a number", "{" + ok + ",\n\"version\": \"one\"}", "line 2: version: it cannot be string, want int64"},
		{"half a place", "{\"made\": 0, \"work\": [{\"place\": 1.5}]}", "work[0]: place cannot be number 1.5, want int"},
		{"a time that is none", "{\"made\": 0, \"work\": [{\"start\": \"noon\"}]}", "work[0]: "},
		{"an unknown status", "{\"made\": 0, \"work\": [{\"status\": \"ready\"}]}", `status "ready": want planned, started, paused or done`},
		{"an unknown part", "{\"made\": 0, \"work\": [{\"people\": [{\"part\": \"lunch\"}]}]}", `part "lunch": want setup, load, run or unload`},
		{"an unknown field of churn", "{" + ok + ",\n\"churn\": {\"moves\": 1}}", `line 2: churn: unknown field "moves"; allowed are against, compared, moved`},
		{"a null among work", "{\"made\": 0, \"work\": [null]}", "work[0]: null is no value"},
		{"another format", "{" + ok + ", \"format\": 2}", "format 2; this program reads format 1"},
		{"not UTF-8", "{" + ok + ", \"\xff\": 1}", "not UTF-8"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := scheduler.DecodePlan([]byte(c.text))
			require.Nil(t, p)
			require.ErrorIs(t, err, scheduler.ErrPlanFile)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func TestPlanFileTellsAllProblemsAtOnce(t *testing.T) {
	text := `{"made": 0, "work": [` + strings.Repeat("{\"x\": 1},\n", 30) + `{}], "lodas": []}`
	_, err := scheduler.DecodePlan([]byte(text))
	require.ErrorContains(t, err, "work[0]")
	require.ErrorContains(t, err, "work[19]")
	require.ErrorContains(t, err, "and more")
	require.NotContains(t, err.Error(), "work[20]")
}

// The lists of allowed fields that messages give are those of the types.
func TestPlanFileNamesEveryField(t *testing.T) {
	member := []scheduler.Member{{Piece: "p", Operation: "o"}}
	full := scheduler.Plan{
		Work: []scheduler.Work{{
			Load: "l", Mix: "m", Tools: []string{"t"}, People: []scheduler.PeopleUse{{Skill: "s"}},
		}},
		Loads:    []scheduler.Load{{Recipe: "r", Members: member}},
		Mixes:    []scheduler.Mix{{Crew: "c", Users: member}},
		Breaches: []scheduler.Breach{{}},
		Gaps:     []scheduler.Gap{{By: "b"}},
		Churn:    &scheduler.Churn{},
	}
	var top map[string]json.RawMessage
	text, err := scheduler.EncodePlan(&full)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &top))
	document := read(t, "PLANFILE.md")
	for list, name := range map[string]string{"": "{", "work": "[{", "loads": "[{", "mixes": "[{", "breaches": "[{", "gaps": "[{", "churn": "{"} {
		fields, message := top, `{"made": 0, "work": [], "?": 1}`
		if list != "" {
			elements := make([]map[string]json.RawMessage, 1)
			message = `{"made": 0, "` + list + `": ` + name + `"?": 1}]}`
			if name == "{" {
				message = strings.TrimSuffix(message, "]}") + "}"
				require.NoError(t, json.Unmarshal(top[list], &elements[0]))
			} else {
				require.NoError(t, json.Unmarshal(top[list], &elements))
			}
			fields = elements[0]
		}
		_, err := scheduler.DecodePlan([]byte(message))
		require.Error(t, err)
		_, allowed, found := strings.Cut(strings.SplitN(err.Error(), "\n", 2)[0], "allowed are ")
		require.True(t, found, "%v", err)
		var named []string
		for part := range strings.SplitSeq(allowed, ", ") {
			if word := strings.Fields(part); len(word) > 0 && word[0] != "operation)" && !strings.HasSuffix(part, "crew") || part == "crew" {
				named = append(named, word[0])
			}
		}
		for field := range fields {
			require.Contains(t, named, field, "message about %s", list)
			require.Contains(t, document, "`"+field+"`", "PLANFILE.md")
		}
	}
}

// Every kind of violation and what it asks is in the document.
func TestPlanFileDocumentsEveryViolation(t *testing.T) {
	document := read(t, "PLANFILE.md")
	for _, k := range scheduler.ViolationKinds() {
		require.Contains(t, document, "| `"+string(k.Kind)+"` | "+k.Rule+" |")
	}
	require.Equal(t, len(scheduler.ViolationKinds()), strings.Count(document, "\n| `")-countFields(document))
}

// countFields counts the rows of the tables of fields, which have three columns.
func countFields(document string) int {
	n := 0
	for line := range strings.SplitSeq(document, "\n") {
		if strings.HasPrefix(line, "| `") && strings.Count(line, " | ") == 2 {
			n++
		}
	}
	return n
}

func read(t *testing.T, file string) string {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	return string(text)
}

func TestPlanFileRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, p := schedtest.WorkshopPlan()
		for range rapid.IntRange(0, 8).Draw(t, "damages") {
			scramble(t, p)
		}
		text, err := scheduler.EncodePlan(p)
		if err != nil {
			return // an instant or a word that no file can say
		}
		q, err := scheduler.DecodePlan(text)
		require.NoError(t, err)
		again, err := scheduler.EncodePlan(q)
		require.NoError(t, err)
		require.Equal(t, string(text), string(again))
	})
}

// Whatever text is given as a plan file, it is read or refused, and checked
// without harm.
func FuzzDecodePlan(f *testing.F) {
	_, p := schedtest.WorkshopPlan()
	p.Work, p.Loads, p.Mixes = p.Work[:3], p.Loads[:1], p.Mixes[:1] // short, or minimizing takes all the time
	text, err := scheduler.EncodePlan(p)
	require.NoError(f, err)
	f.Add(text)
	f.Add([]byte(`{"format": 1, "made": "2026-03-02T06:00:00Z", "work": [], "loads": null}`))
	f.Add([]byte(`{"made": 0, "work": [{"piece": "A-1-01", "operation": "wind", "start": -5}]}`))
	f.Add([]byte(`[`))
	s, _ := schedtest.WorkshopPlan()
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := scheduler.DecodePlan(text)
		if err != nil {
			require.Nil(t, p)
			return
		}
		require.Equal(t, scheduler.Check(s, schedtest.Monday, p), scheduler.Check(s, schedtest.Monday, p))
		if again, err := scheduler.EncodePlan(p); err == nil {
			q, err := scheduler.DecodePlan(again)
			require.NoError(t, err)
			require.Equal(t, len(p.Work), len(q.Work))
		}
	})
}
