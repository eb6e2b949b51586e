// SPDX-License-Identifier: Apache-2.0

package helping

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"log/slog"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
	"towpath/testdata/demo"
)

var quiet = slog.New(slog.DiscardHandler)

// shop is a small part of the demo's, with a plan.
func shop(t testing.TB) (*scheduler.State, resources.Tick, *scheduler.Problem, *scheduler.Plan) {
	t.Helper()
	plant, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", found)
	lines, _ := resources.ReadOrders("orders.csv", demo.Orders, plant)
	s, err := scheduler.StateOf(plant, lines[:8])
	require.NoError(t, err)
	s.PlantFile = string(demo.Plant)
	p, err := scheduler.Compile(s, plant.StartsAt)
	require.NoError(t, err)
	plan, err := search.Construct(p)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, plant.StartsAt, plan)
	s.Plan = plan
	p, err = scheduler.Compile(s, plant.StartsAt) // with what the plan has frozen
	require.NoError(t, err)
	return s, plant.StartsAt, p, plan
}

// alone is the shop's plan laid out, and what one core says of so many histories.
func alone(t *testing.T, o risk.Options) (*scheduler.State, resources.Tick, *risk.Program, *risk.Report) {
	t.Helper()
	s, now, _, plan := shop(t)
	g, err := risk.Compile(s, now, plan)
	require.NoError(t, err)
	want, _, err := risk.Play(g, o)
	require.NoError(t, err)
	return s, now, g, want
}

// helper helps in a room until the test, or stop, ends it.
func helper(t *testing.T, bus Bus, program string, cores int) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := NewHelper(bus, program, "bench hand", cores, quiet).Run(ctx); err != nil {
			t.Error(err)
		}
	}()
	stop = func() { cancel(); <-done }
	t.Cleanup(stop)
	return stop
}

// Histories that helpers play are those that one core plays.
func TestHelpersPlayTheSameHistories(t *testing.T) {
	const n, seed = 80, 3
	s, now, g, want := alone(t, risk.Options{Replications: n, Seed: seed})

	bus := newRoom()
	helper(t, bus, "this", 2)
	helper(t, bus, "this", 1)
	sample := g.NewSample(n, seed)
	ctx, cancel := context.WithCancel(t.Context())
	var mu sync.Mutex
	next, come := 0, 0
	// Nobody plays here: all there is comes from them.
	NewDesk(bus, "this", quiet).Play(s, now, seed)(ctx, func(k int) (from, to int) {
		mu.Lock()
		defer mu.Unlock()
		from = next
		next = min(n, next+k)
		return from, next
	}, func(p risk.Part) error {
		mu.Lock()
		defer mu.Unlock()
		require.NoError(t, sample.Fits(&p))
		for r := p.From; r < p.From+p.Histories(); r++ {
			sample.Put(&p, r)
			come++
		}
		if come == n {
			cancel()
		}
		return nil
	})
	require.Equal(t, n, come)
	require.Equal(t, want, sample.Report(n, want.Confidence))
}

// Whatever becomes of those who help, the answer is that of one core.
func TestRiskIsTheSameWhoeverHelps(t *testing.T) {
	const n, seed = 150, 5
	s, now, g, want := alone(t, risk.Options{Replications: n, Seed: seed})
	for name, come := range map[string]func(t *testing.T, bus *room){
		"nobody":        func(*testing.T, *room) {},
		"two":           func(t *testing.T, bus *room) { helper(t, bus, "this", 1); helper(t, bus, "this", 2) },
		"another":       func(t *testing.T, bus *room) { helper(t, bus, "that", 1) },
		"one that goes": func(t *testing.T, bus *room) { helper(t, vanishing{bus, 3}, "this", 1) },
		"one that lies": func(t *testing.T, bus *room) { stranger(t, bus, lies) },
		"one that babbles": func(t *testing.T, bus *room) {
			stranger(t, bus, func(int) *ask { return nil })
		},
		"one that fails": func(t *testing.T, bus *room) {
			stranger(t, bus, func(int) *ask { return &ask{Failed: "out of breath"} })
		},
		"one that takes for ever": func(t *testing.T, bus *room) { stranger(t, bus, func(int) *ask { return &ask{} }) },
		"a bus for short words":   func(t *testing.T, bus *room) { bus.most = 64; helper(t, bus, "this", 1) },
	} {
		t.Run(name, func(t *testing.T) {
			bus := newRoom()
			come(t, bus)
			desk := NewDesk(bus, "this", quiet)
			got, _, err := runner.Risk(t.Context(), g, risk.Options{Replications: n, Seed: seed}, runner.Hands{Cores: 1, Away: desk.Play(s, now, seed)}, nil)
			require.NoError(t, err)
			require.Equal(t, want, got)
		})
	}
}

// vanishing is a bus on which a helper is heard so many times.
type vanishing struct {
	*room
	times int
}

func (v vanishing) Ask(ctx context.Context, subject string, data []byte) ([]byte, error) {
	if v.room.of() >= v.times {
		return nil, errors.New("the cable is out")
	}
	return v.room.Ask(ctx, subject, data)
}

// stranger says to the desk of each job what it likes, again and again; nil: no
// message at all.
func stranger(t *testing.T, bus *room, says func(n int) *ask) {
	t.Helper()
	stop, err := bus.Hear(subjectOffer, func(data []byte) []byte {
		var o offer
		if err := json.Unmarshal(data, &o); err != nil {
			t.Error(err)
			return nil
		}
		for n := range 5 {
			text := []byte("no message")
			if a := says(n); a != nil {
				var err error
				if text, err = pack(a); err != nil {
					t.Error(err)
					return nil
				}
			}
			if _, err := bus.Ask(t.Context(), subjectJob+o.Job, text); err != nil {
				return nil
			}
		}
		return nil
	})
	require.NoError(t, err)
	t.Cleanup(stop)
}

// lies are histories that cannot be.
func lies(n int) *ask {
	p := []risk.Part{
		{},
		{From: -1, Breaches: []int64{0}, Forced: []int64{0}},
		{From: 1 << 60, Breaches: []int64{0}, Forced: []int64{0}},
		{From: 0, Breaches: []int64{1}, Forced: []int64{1}, Ends: []resources.Tick{1}, Made: []bool{true}, Spoiled: []bool{false}, Causes: []int32{0}},
		{From: 0, Breaches: []int64{1}, Forced: []int64{1}, Ends: make([]resources.Tick, 8), Made: make([]bool, 8), Spoiled: make([]bool, 8), Causes: []int32{1 << 30, 0, 0, 0, 0, 0, 0, 0}},
	}[n]
	return &ask{Played: &p}
}

// Helpers search with seeds of their own, and what they find is a plan.
func TestHelpersSearchAlong(t *testing.T) {
	s, now, p, plan := shop(t)
	bus := newRoom()
	helper(t, bus, "this", 2)
	budget := runner.Budget{Seed: 9, Workers: 1, Along: NewDesk(bus, "this", quiet).Search}
	var found []search.Result
	// A busy machine needs longer before a helper has begun.
	begun := func() bool {
		return len(found) == 2 && found[0].Iterations > 0 && found[1].Iterations > 0
	}
	for budget.Time = 500 * time.Millisecond; !begun() && budget.Time < time.Minute; budget.Time *= 2 {
		away := budget.Along(t.Context(), p, plan, budget)
		time.Sleep(budget.Time) // the search here
		found = away(true)
	}
	require.True(t, begun(), "one by each core: %v", found)
	for i := range found {
		schedtest.RequireOK(t, s, now, found[i].Plan)
		require.Contains(t, []uint64{budget.SeedOf(1), budget.SeedOf(2)}, found[i].Plan.Seed)
	}
	require.NotEqual(t, found[0].Plan.Seed, found[1].Plan.Seed)

	budget.Time = time.Second
	whole, err := runner.Plan(t.Context(), p, plan, budget)
	require.NoError(t, err)
	schedtest.RequireOK(t, s, now, whole.Plan)
}

// A search is as long as its budget and a little more, whatever helpers do.
func TestASearchDoesNotWaitForHelpers(t *testing.T) {
	_, _, p, plan := shop(t)
	bus := newRoom()
	stranger(t, bus, func(int) *ask { return &ask{} })
	budget := runner.Budget{Time: 300 * time.Millisecond, Seed: 9, Workers: 1}
	found := NewDesk(bus, "this", quiet).Search(t.Context(), p, plan, budget)
	require.Empty(t, found(true))

	budget.Time = time.Hour
	ctx, cancel := context.WithCancel(t.Context())
	found = NewDesk(bus, "this", quiet).Search(ctx, p, plan, budget)
	require.Empty(t, found(false))
	found = NewDesk(bus, "this", quiet).Search(ctx, p, plan, budget)
	require.Eventually(t, func() bool { return bus.of() > 0 }, time.Minute, time.Millisecond)
	cancel()
	require.Empty(t, found(true))
}

// A problem that came over the bus is searched as it is here.
func TestAProblemSurvivesTheWay(t *testing.T) {
	_, _, p, plan := shop(t)
	text, err := pack(answer{Job: &job{Search: &searching{Problem: *p, From: plan}}})
	require.NoError(t, err)
	var got answer
	require.NoError(t, unpack(text, &got))
	o := search.Options{Seed: 4, Iterations: 60, Start: plan}
	here, err := search.Improve(p, o)
	require.NoError(t, err)
	o.Start = got.Job.Search.From
	there, err := search.Improve(&got.Job.Search.Problem, o)
	require.NoError(t, err)
	require.Equal(t, here, there)
}

// Who asks when a job has just ended is told so, and given nothing more of it.
func TestAJobThatHasEndedIsOver(t *testing.T) {
	s, now, _, _ := shop(t)
	bus := &deaf{room: newRoom()}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	NewDesk(bus, "this", quiet).Play(s, now, 1)(ctx, func(int) (from, to int) {
		t.Error("a share is given out")
		return 0, 1
	}, func(risk.Part) error { return nil })
	for _, says := range []ask{{Join: true}, {}} {
		text, err := pack(&says)
		require.NoError(t, err)
		reply, err := bus.Ask(t.Context(), bus.subject, text)
		require.NoError(t, err)
		var got answer
		require.NoError(t, unpack(reply, &got))
		require.Equal(t, answer{Over: true}, got)
	}
}

// A helper does one job after another, until it goes.
func TestAHelperComesAgain(t *testing.T) {
	s, now, _, _ := shop(t)
	bus := newRoom()
	stop := helper(t, bus, "this", 1)
	desk := NewDesk(bus, "this", quiet)
	for range 3 {
		ctx, cancel := context.WithCancel(t.Context())
		come := 0
		desk.Play(s, now, 1)(ctx, func(int) (from, to int) { return 0, 1 }, func(p risk.Part) error {
			if come += p.Histories(); come == 4 {
				cancel()
			}
			return nil
		})
		require.GreaterOrEqual(t, come, 4)
	}
	stop()
	asked := bus.of()
	ctx, cancel := context.WithTimeout(t.Context(), 3*offerEvery)
	defer cancel()
	desk.Play(s, now, 1)(ctx, func(int) (from, to int) { return 0, 1 }, func(risk.Part) error { return nil })
	require.Equal(t, asked, bus.of(), "nobody is left")
}

// zipped is a message of any content.
func zipped(t testing.TB, text []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, err := z.Write(text)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return b.Bytes()
}

// Whatever is said, nobody falls over.
func FuzzWords(f *testing.F) {
	_, _, p, plan := shop(f)
	few := &scheduler.Plan{Version: 1, Made: plan.Made, Work: plan.Work[:1], Loads: plan.Loads[:1], Mixes: plan.Mixes[:1]}
	small := &playing{Things: map[string][]byte{"head": []byte("{}")}}
	for _, v := range []any{
		ask{Join: true}, ask{Failed: "no"}, *lies(3), ask{Found: &solved{Plan: *few}},
		answer{Over: true}, answer{Share: share{From: 1, To: 2}}, answer{Job: &job{Play: small}}, answer{Job: &job{Search: &searching{From: few}}},
	} {
		var b bytes.Buffer
		require.NoError(f, gob.NewEncoder(&b).Encode(v))
		f.Add(b.Bytes())
	}

	bus := newRoom()
	name := make(chan string, 1)
	_, err := bus.Hear(subjectOffer, func(data []byte) []byte {
		var o offer
		if json.Unmarshal(data, &o) == nil {
			select {
			case name <- o.Job:
			default:
			}
		}
		return nil
	})
	require.NoError(f, err)
	search := NewDesk(bus, "this", quiet).Search(f.Context(), p, plan, runner.Budget{Time: time.Hour, Workers: 1})
	f.Cleanup(func() { search(false) })
	subject := subjectJob + <-name
	f.Fuzz(func(t *testing.T, text []byte) {
		text = zipped(t, text)
		reply, err := bus.Ask(t.Context(), subject, text)
		require.NoError(t, err, "the desk is still there")
		var a answer
		require.NoError(t, unpack(reply, &a))
		if unpack(text, &a) == nil && a.Job != nil {
			// What a helper would do with it.
			_ = runner.Guarded(func() error { _, err := a.Job.open(); return err })
		}
	})
}
