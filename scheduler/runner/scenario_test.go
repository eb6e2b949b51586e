// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/schedtest"
)

var update = flag.Bool("update", false, "write the scenarios' golden files anew")

const scenarios = "../../testdata/scenarios"

// scenario is a file of testdata/scenarios; its README says what is in it.
type scenario struct {
	Title string
	Until string
	Steps []step
}

type step struct {
	At      string
	Tell    string
	ID      string
	Station string
	Subject string // for the reader; the data decide
	Data    map[string]any
	Quiet   []string
	Speak   []string
}

func TestScenarios(t *testing.T) {
	plant, err := os.ReadFile(filepath.Join(scenarios, "shop.yaml"))
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(scenarios, "*.yaml"))
	require.NoError(t, err)
	all, played := &seen{map[string]bool{}, map[string]bool{}, map[string]bool{}}, 1
	for _, file := range files {
		if filepath.Base(file) == "shop.yaml" {
			continue
		}
		name := strings.TrimSuffix(filepath.Base(file), ".yaml")
		t.Run(name, func(t *testing.T) {
			played++
			got := playScenario(t, string(plant), readScenario(t, file), all)
			golden := strings.TrimSuffix(file, ".yaml") + ".txt"
			if *update {
				require.NoError(t, os.WriteFile(golden, []byte(got), 0o644))
			}
			want, err := os.ReadFile(golden)
			require.NoError(t, err, "write it with -update and read it")
			require.Equal(t, string(want), got)
		})
	}
	if played == len(files) {
		all.requireAll(t)
	}
}

func readScenario(t *testing.T, file string) *scenario {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	dec := yaml.NewDecoder(strings.NewReader(string(text)))
	dec.KnownFields(true)
	c := &scenario{}
	require.NoError(t, dec.Decode(c), file)
	require.NotEmpty(t, c.Steps)
	return c
}

// instant reads "2026-01-05 08:00", UTC.
func instant(t *testing.T, text string) resources.Tick {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04", text)
	require.NoError(t, err)
	return resources.Tick(at.Unix())
}

// playScenario runs a scenario through the runner and gives back what could be
// seen of it. Improvements are bounded by iterations, so that the same comes
// out on every machine.
func playScenario(t *testing.T, plant string, c *scenario, x *seen) string {
	t.Helper()
	var out string
	synctest.Test(t, func(t *testing.T) {
		h := &hooked{}
		h.improve = func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
			b.Time, b.Iterations = 0, 300
			return h.Engine.Improve(ctx, p, from, b)
		}
		st := &stage{t: t, shop: newShop(t, withPlanner(h, time.Second)), floor: floor{quiet: map[string]bool{}}, alerts: map[string]scheduler.Alert{}, seen: x}
		defer func() {
			if t.Failed() {
				st.shop.stop()
				t.Log(st.out.String())
			}
		}()
		st.line(start, "", c.Title)
		st.shop.must(events.Event{ID: "plant", Kind: events.PlantDeclared, Plant: "basin", At: start, Data: events.PlantData{File: plant}})
		end, steps := instant(t, c.Until), c.Steps
		for now := start; now <= end; now += 60 {
			for len(steps) > 0 && instant(t, steps[0].At) <= now {
				st.do(&steps[0], now)
				steps = steps[1:]
			}
			st.minute(now)
		}
		require.Empty(t, steps, "a step is after the end, or they are out of order")
		st.shop.agree()
		st.shop.end()
		st.folded()
		out = st.out.String()
	})
	return out
}

// stage is a shop on which a scenario plays, and the record of what is seen.
type stage struct {
	t      *testing.T
	shop   *shop
	floor  floor
	out    strings.Builder
	plan   *scheduler.Plan // last one seen
	said   string          // of it: dates and broken waits
	alerts map[string]scheduler.Alert
	notes  uint64 // sequence of the last note written
	ids    int

	trouble string // why planning stands still
	seen    *seen
}

// seen is what the scenarios have shown: rows of the table of reactions, by
// kind and condition, and kinds of alert that came and that went.
type seen struct{ rows, came, went map[string]bool }

func row(r scheduler.Reaction) string { return strings.TrimSpace(string(r.Kind) + " " + r.If) }

// requireAll asks that every reaction and every alert has been shown.
func (x *seen) requireAll(t *testing.T) {
	t.Helper()
	for _, r := range scheduler.Reactions() {
		require.True(t, x.rows[row(r)], "no scenario shows the reaction to %s", row(r))
	}
	for _, kind := range scheduler.AlertKinds() {
		require.True(t, x.came[string(kind)], "in no scenario comes an alert %s", kind)
		require.True(t, x.went[string(kind)], "in no scenario goes an alert %s", kind)
	}
}

// folded notes the reactions to all that is in the log.
func (st *stage) folded() {
	st.t.Helper()
	for _, text := range st.shop.log.texts {
		e, err := events.Decode(text)
		require.NoError(st.t, err)
		st.seen.rows[row(scheduler.ReactionTo(e))] = true
	}
}

func (st *stage) line(at resources.Tick, what, text string) {
	fmt.Fprintln(&st.out, strings.TrimRight(fmt.Sprintf("%s  %-6s %s", clockText(at), what, text), " "))
}

// do takes one step of the script.
func (st *stage) do(x *step, now resources.Tick) {
	st.t.Helper()
	for _, name := range x.Quiet {
		st.floor.quiet[name] = true
		st.line(now, "quiet", name+": nobody works or reports here")
	}
	for _, name := range x.Speak {
		delete(st.floor.quiet, name)
		st.line(now, "quiet", name+": no longer")
	}
	if x.Tell == "" {
		return
	}
	e, err := st.event(x, now)
	if err != nil {
		st.line(now, "told", x.Station+" "+x.Tell)
		st.line(now, "", "cannot be read: "+oneLine(err))
		return
	}
	_, err = st.shop.report(e)
	st.line(now, "told", told(e))
	if err != nil {
		st.line(now, "", "refused: "+oneLine(err))
		return
	}
	st.line(now, "", "reaction: "+scheduler.ReactionTo(e).Then.String())
	st.second()
}

// event is a step's report, read as any other from the log is.
func (st *stage) event(x *step, now resources.Tick) (events.Event, error) {
	st.t.Helper()
	state := st.shop.runner.Picture().State
	if st.ids++; x.ID == "" {
		x.ID = fmt.Sprintf("told-%02d", st.ids)
	}
	for key, v := range x.Data {
		text, ok := v.(string)
		if !ok || !strings.HasPrefix(text, "$") {
			continue
		}
		if text == "$claims" {
			x.Data[key] = state.Claimed
			continue
		}
		x.Data[key] = st.stands(state, strings.Fields(text[1:]))
	}
	source := "/plant/basin"
	if x.Station != "" {
		source += "/station/" + x.Station
	}
	text, err := json.Marshal(map[string]any{
		"specversion": "1.0", "id": x.ID, "source": source, "type": "towpath." + x.Tell, "subject": x.Subject,
		"time": time.Unix(int64(now), 0).UTC().Format(time.RFC3339), "datacontenttype": "application/json", "by": "Script", "data": x.Data,
	})
	require.NoError(st.t, err)
	return events.Decode(text)
}

func oneLine(err error) string { return strings.ReplaceAll(err.Error(), "\n", "; ") }

// stands is what a word of a script stands for: "load O1", the load that runs
// at O1; "mix A", the newest mix of resin A.
func (st *stage) stands(s *scheduler.State, words []string) string {
	st.t.Helper()
	require.Len(st.t, words, 2)
	found := ""
	switch words[0] {
	case "load":
		for _, id := range slices.Sorted(maps.Keys(s.Loads)) {
			if run := s.Loads[id]; run.Station == words[1] && run.Status == scheduler.Started {
				found = id
			}
		}
	case "mix":
		last := resources.Tick(0)
		for _, id := range slices.Sorted(maps.Keys(s.Mixes)) {
			if run := s.Mixes[id]; run.Resin == words[1] && run.Made >= last {
				found, last = id, run.Made
			}
		}
	}
	require.NotEmpty(st.t, found, "nothing is a %v now", words)
	return found
}

// minute lets people do what is due and the shop answer, and writes down what
// can be seen of it.
func (st *stage) minute(now resources.Tick) {
	st.t.Helper()
	for _, e := range st.floor.due(st.shop.runner.Picture().State, now) {
		st.line(now, "floor", told(e))
		if _, err := st.shop.report(e); err != nil {
			st.line(now, "", "refused: "+oneLine(err))
		}
		st.second()
	}
	for time.Since(st.shop.began) < time.Duration(now+60-start)*time.Second {
		st.second()
	}
}

// second lets the shop answer. It passes after each report: whether two are
// answered together would otherwise be chance.
func (st *stage) second() {
	st.t.Helper()
	time.Sleep(time.Second)
	synctest.Wait()
	p := st.shop.runner.Picture()
	st.notice(p.Now, p)
}

func (st *stage) notice(now resources.Tick, p *runner.Picture) {
	st.t.Helper()
	for _, n := range p.Notes {
		if n.Seq > st.notes && n.About != "plan" {
			st.line(now, "note", n.About+": "+n.Text)
		}
	}
	if k := len(p.Notes); k > 0 {
		st.notes = max(st.notes, p.Notes[k-1].Seq)
	}
	trouble := ""
	for _, a := range p.Alerts {
		trouble += a.Text
	}
	if trouble != st.trouble {
		st.trouble = trouble
		if trouble == "" {
			trouble = "goes on"
		}
		st.line(now, "plan", trouble)
	}
	if plan := p.Plan(); plan != nil && (st.plan == nil || plan.Version != st.plan.Version) {
		schedtest.RequireOK(st.t, p.State, max(plan.Made, p.State.At), plan)
		st.planned(now, p, plan)
		st.plan = plan
	}
	st.alerted(now, p.Floor)
}

// planned writes down what a new plan changes.
func (st *stage) planned(now resources.Tick, p *runner.Picture, plan *scheduler.Plan) {
	ends := scheduler.MeasureLines(p.State, plan)
	var dates, broken []string
	for _, key := range slices.Sorted(maps.Keys(ends)) {
		line := p.State.Lines[key]
		if line == nil || line.Cancelled {
			continue
		}
		text := key + " nobody can say when"
		if e := ends[key]; e.Known {
			text = key + " complete " + clockText(e.End)
			if e.End > line.Due {
				text += ", late by " + resources.Spell(scheduler.Seconds(e.End-line.Due))
			}
		}
		dates = append(dates, text)
	}
	was := map[scheduler.Member]*scheduler.Work{}
	if st.plan != nil {
		for i := range st.plan.Work {
			was[scheduler.Member{Piece: st.plan.Work[i].Piece, Operation: st.plan.Work[i].Operation}] = &st.plan.Work[i]
		}
	}
	moves := newMoves()
	for i := range plan.Work {
		if w := &plan.Work[i]; w.Status == scheduler.Planned {
			moves.add(was[scheduler.Member{Piece: w.Piece, Operation: w.Operation}], w)
		}
	}
	for _, b := range plan.Breaches {
		broken = append(broken, fmt.Sprintf("longest wait over: %s %s to %s, by %s", b.From.Piece, b.From.Operation, b.To.Operation, resources.Spell(b.By)))
	}
	head, lines := strings.Join(dates, "; "), moves.lines()
	if is := head + strings.Join(broken, ""); len(lines) == 0 && is == st.said {
		return // it only knows what people have done
	} else if st.said != is {
		lines = append(lines, broken...)
		st.said = is
	}
	st.line(now, "plan", head)
	for _, text := range lines {
		st.line(now, "", text)
	}
}

// alerted writes down which alerts come, change what they say, and go.
func (st *stage) alerted(now resources.Tick, floor []scheduler.Alert) {
	seen := map[string]bool{}
	for _, a := range floor {
		key := a.Key()
		seen[key] = true
		if before, ok := st.alerts[key]; !ok || before.Text != a.Text || before.By != a.By || before.Who != a.Who {
			st.line(now, "alert", key)
			st.seen.came[string(a.Kind)] = true
			st.line(now, "", a.Text)
			st.line(now, "", fmt.Sprintf("%s, by %s: %s", a.Who, clockText(a.By), a.Do))
		}
		st.alerts[key] = a
	}
	for _, key := range slices.Sorted(maps.Keys(st.alerts)) {
		if !seen[key] {
			st.line(now, "alert", key+" is over")
			st.seen.went[string(st.alerts[key].Kind)] = true
			delete(st.alerts, key)
		}
	}
}
