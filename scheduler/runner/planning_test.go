// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

// hooked is the engine with hooks before its searches.
type hooked struct {
	runner.Engine
	repair  func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error)
	whole   func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) // nil: as repair
	improve func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error)
}

func (h *hooked) Repair(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
	if h.repair != nil {
		return h.repair(p, from)
	}
	return h.Engine.Repair(p, from)
}

func (h *hooked) RepairWhole(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
	if h.whole != nil {
		return h.whole(p, from)
	}
	return h.Repair(p, from)
}

func (h *hooked) Improve(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
	if h.improve != nil {
		return h.improve(ctx, p, from, b)
	}
	return h.Engine.Improve(ctx, p, from, b)
}

func withPlanner(h *hooked, budget time.Duration) func(*runner.Options) {
	return func(o *runner.Options) { o.Planner, o.Budget, o.Seed = h, budget, 77 }
}

func TestPanicInPlanningKeepsReads(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log strings.Builder
		var broken atomic.Bool
		h := &hooked{}
		h.improve = func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
			if broken.Load() {
				panic("an invariant")
			}
			return from, nil
		}
		broken.Store(true)
		s := newShop(t, withPlanner(h, time.Second), func(o *runner.Options) { o.Logger = slog.New(slog.NewTextHandler(&log, nil)) })
		s.open(1)
		s.settle()
		p := s.runner.Picture()
		require.Len(t, p.Alerts, 1)
		require.Equal(t, "plan", p.Alerts[0].Key)
		require.Contains(t, p.Alerts[0].Text, "an invariant")
		require.NotNil(t, p.Plan(), "the last plan stands")
		s.must(op("a", events.OperationStarted, "SAW", "A-1-01", "saw", 1))

		broken.Store(false)
		s.must(events.Event{ID: "hold", Kind: events.PieceHeld, Data: events.PieceData{Piece: "A-1-01"}})
		time.Sleep(20 * time.Second)
		require.Empty(t, s.runner.Picture().Alerts, "planning is tried again after a rest")
		s.agree()
		s.end()
		require.Contains(t, log.String(), "seed=78")
		require.Contains(t, log.String(), "rev=")
		require.Contains(t, log.String(), "stack=")
	})
}

func TestPlanThatFailsVerificationIsNeverPublished(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &hooked{}
		h.repair = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			plan, err := runner.Engine{}.Repair(p, from)
			if err == nil && len(plan.Work) > 0 {
				plan.Work = plan.Work[1:]
			}
			return plan, err
		}
		s := newShop(t, withPlanner(h, -1))
		defer s.end()
		s.open(2)
		p := s.runner.Picture()
		require.Nil(t, p.Plan())
		require.Len(t, p.Alerts, 1)
		require.Contains(t, p.Alerts[0].Text, "fails verification")
	})
}

// A repair that leaves out what it should have looked at is found out, and
// everything is repaired instead.
func TestRepairThatFailsVerificationIsDoneWhole(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var asked atomic.Int32
		h := &hooked{}
		h.repair = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			plan, err := runner.Engine{}.Repair(p, from)
			if err == nil && len(plan.Work) > 0 {
				plan.Work = plan.Work[1:]
			}
			return plan, err
		}
		h.whole = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			asked.Add(1)
			return runner.Engine{}.RepairWhole(p, from)
		}
		s := newShop(t, withPlanner(h, -1))
		defer s.end()
		s.open(2)
		p := s.runner.Picture()
		require.NotNil(t, p.Plan())
		require.Empty(t, p.Alerts)
		require.NotZero(t, asked.Load())
		s.agree()
	})
}

func TestNoPlanPossibleIsShown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &hooked{}
		h.repair = func(*scheduler.Problem, *scheduler.Plan) (*scheduler.Plan, error) {
			return nil, errors.New("no feasible plan: nowhere to put it")
		}
		s := newShop(t, withPlanner(h, -1))
		defer s.end()
		s.open(2)
		require.Contains(t, s.runner.Picture().Alerts[0].Text, "nowhere to put it")
	})
}

// TestStaleImprovementIsFittedAndPublished holds an improvement back until a
// fact has come, so that it speaks of a state that is gone.
func TestStaleImprovementIsFittedAndPublished(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		gate := make(chan struct{})
		var first atomic.Bool
		h := &hooked{}
		h.repair = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			if from == nil {
				return worst(p)
			}
			return search.Repair(p, from)
		}
		h.improve = func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
			if first.Swap(true) {
				return from, nil
			}
			<-gate
			found, err := runner.Plan(ctx, p, nil, runner.Budget{Iterations: 200, Seed: 1, Workers: 1})
			return found.Plan, err
		}
		s := newShop(t, withPlanner(h, time.Second))
		defer s.end()
		late := added("A", 1)
		soon := added("B", 1)
		data := soon.Data.(events.OrderData)
		data.ShipBy, data.Due, data.Weight = start+15000, start+15000, 50
		soon.Data = data
		s.must(declared(), late, soon)
		s.settle()
		was := s.runner.Picture()
		require.Equal(t, 1, was.Score.Late, "the first plan is bad, so that there is something to gain")
		s.must(events.Event{ID: "d", Kind: events.StationDown, Station: "GLUE", Data: events.StationData{Until: start + 600}})
		close(gate)
		time.Sleep(10 * time.Second)
		synctest.Wait()
		is := s.runner.Picture()
		require.Greater(t, is.Plan().Version, was.Plan().Version)
		require.Zero(t, is.Score.Late)
		require.Empty(t, scheduler.Check(is.State, is.Plan().Made, is.Plan()))
		require.Subset(t, whys(is), []string{"", "plant.declared"}, "repairs are asked for by nobody; the search began for the first facts, not for the stop")
		s.agree()
	})
}

// whys are what the published plans were asked for by, oldest first; empty: a
// repair.
func whys(p *runner.Picture) []string {
	var out []string
	for _, r := range p.Recent {
		data, ok := r.Event.Data.(events.PlanData)
		switch {
		case !ok:
		case data.Asked == nil:
			out = append(out, "")
		default:
			out = append(out, data.Asked.Why)
		}
	}
	return out
}

// worst plans the order that is due last first.
func worst(p *scheduler.Problem) (*scheduler.Plan, error) {
	q := *p
	q.Lines = append([]scheduler.LineP(nil), p.Lines...)
	for i := range q.Lines {
		q.Lines[i].Due = 2*p.Now - q.Lines[i].Due
	}
	return search.ByRule(&q, search.DueDate)
}

func TestStartedWorkStaysWhereItIs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &hooked{}
		h.improve = func(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (*scheduler.Plan, error) {
			// By iterations: the test's clock stands still while it searches.
			found, err := runner.Plan(ctx, p, from, runner.Budget{Iterations: 100, Seed: b.Seed, Workers: 2})
			return found.Plan, err
		}
		s := newShop(t, withPlanner(h, time.Second))
		defer s.end()
		s.open(3)
		first := s.runner.Picture().Plan().Work[0]
		s.must(op("a", events.OperationStarted, first.Station, first.Piece, first.Operation, 3))
		s.must(added("B", 1))
		s.settle()
		p := s.runner.Picture()
		for _, w := range p.Plan().Work {
			if w.Piece == first.Piece && w.Operation == first.Operation {
				require.Equal(t, scheduler.Started, w.Status)
				require.Equal(t, start+3, w.Start)
			}
		}
		require.Empty(t, scheduler.Check(p.State, p.Plan().Made, p.Plan()))
	})
}

// TestOverdueWorkIsPlannedAgain lets time pass without a report.
func TestOverdueWorkIsPlannedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(2)
		was := s.runner.Picture().Plan()
		time.Sleep(20 * time.Minute)
		is := s.runner.Picture().Plan()
		require.Greater(t, is.Version, was.Version)
		require.Greater(t, is.Work[0].Start, was.Work[0].Start)
		require.Less(t, is.Version-was.Version, int64(8), "but not all the time")
	})
}

func smallProblem(t *testing.T, n int) *scheduler.Problem {
	t.Helper()
	plant, found := resources.ReadPlant("plant.yaml", []byte(plantFile))
	require.NotNil(t, plant, "%v", found)
	var lines []resources.OrderLine
	for i := range n {
		lines = append(lines, resources.OrderLine{
			Order: string(rune('A' + i)), Line: "1", Product: "BOX", Quantity: 2,
			ShipBy: start + resources.Tick(i%3)*10000, Due: start + resources.Tick(i%3)*10000, Weight: int64(1 + i%4),
		})
	}
	state, err := scheduler.StateOf(plant, lines)
	require.NoError(t, err)
	problem, err := scheduler.Compile(state, start)
	require.NoError(t, err)
	return problem
}

func TestPlanIsTheSameForSeedAndIterations(t *testing.T) {
	problem := smallProblem(t, 6)
	b := runner.Budget{Iterations: 150, Seed: 9, Workers: 3}
	one, err := runner.Plan(t.Context(), problem, nil, b)
	require.NoError(t, err)
	first, err := scheduler.EncodePlan(one.Plan)
	require.NoError(t, err)
	for range 3 {
		two, err := runner.Plan(t.Context(), problem, nil, b)
		require.NoError(t, err)
		again, err := scheduler.EncodePlan(two.Plan)
		require.NoError(t, err)
		require.Equal(t, string(first), string(again))
	}
}

func TestPlanNeverWorseWithMoreWorkers(t *testing.T) {
	problem := smallProblem(t, 6)
	alone, err := runner.Plan(t.Context(), problem, nil, runner.Budget{Iterations: 100, Seed: 4, Workers: 1})
	require.NoError(t, err)
	many, err := runner.Plan(t.Context(), problem, nil, runner.Budget{Iterations: 100, Seed: 4, Workers: 4})
	require.NoError(t, err)
	require.False(t, alone.Cost.Less(many.Cost))
}

func TestPlanWithoutBudgetAndWithoutTime(t *testing.T) {
	problem := smallProblem(t, 4)
	none, err := runner.Plan(t.Context(), problem, nil, runner.Budget{})
	require.NoError(t, err)
	require.Zero(t, none.Iterations)
	require.NotNil(t, none.Plan)

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	stopped, err := runner.Plan(ctx, problem, nil, runner.Budget{Time: time.Hour, Workers: 2})
	require.NoError(t, err)
	require.Equal(t, none.Cost, stopped.Cost)
}

// TestRunnerFollowsTheReactions: a started operation moves times only, a
// station down also asks for another order of things.
func TestRunnerFollowsTheReactions(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var repairs, improvements atomic.Int64
		h := &hooked{}
		h.repair = func(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error) {
			repairs.Add(1)
			return runner.Engine{}.Repair(p, from)
		}
		h.improve = func(_ context.Context, _ *scheduler.Problem, from *scheduler.Plan, _ runner.Budget) (*scheduler.Plan, error) {
			improvements.Add(1)
			return from, nil
		}
		s := newShop(t, withPlanner(h, time.Second))
		defer s.end()
		s.open(3)
		for _, e := range []events.Event{
			op("a", events.OperationStarted, "SAW", "A-1-01", "saw", 1),
			{ID: "d", Kind: events.StationDown, Station: "GLUE", Data: events.StationData{Until: start + 600}},
		} {
			before, better := repairs.Load(), improvements.Load()
			s.must(e)
			s.settle()
			require.Greater(t, repairs.Load(), before, e.Kind)
			wanted := scheduler.ReactionTo(e).Then == scheduler.Improve
			require.Equal(t, e.Kind == events.StationDown, wanted)
			require.Equal(t, wanted, improvements.Load() > better, e.Kind)
		}
	})
}

// TestAlertsComeAndGoWithTimeAlone: nobody reports anything, and the picture
// says so after a while; one report ends it.
func TestAlertsComeAndGoWithTimeAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		s.open(1)
		require.Empty(t, s.runner.Picture().Floor)
		news, cancel := s.runner.Subscribe()
		defer cancel()
		time.Sleep(32 * time.Minute)
		synctest.Wait()
		p := s.runner.Picture()
		require.Len(t, p.Floor, 1)
		require.Equal(t, scheduler.StationSilent, p.Floor[0].Kind)
		require.Equal(t, "SAW", p.Floor[0].Station)
		require.NotEmpty(t, news, "pages are told")
		s.must(op("a", events.OperationStarted, "SAW", "A-1-01", "saw", 32*60))
		s.settle()
		require.Empty(t, s.runner.Picture().Floor)
	})
}

// An order for which there is not material enough leaves the shop its plan: what
// can be made is planned, the rest waits, somebody is told, and a receipt mends it.
func TestShortOfMaterialTheRestIsPlanned(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t)
		defer s.end()
		plant := func(id, receipts string) events.Event {
			e := declared()
			text := strings.Replace(plantFile, "        run: 30m\n", "        run: 30m\n        draws: [{material: board, quantity: 2 kg}]\n", 1)
			e.ID, e.Data = id, events.PlantData{File: text + "materials:\n  - {id: board, unit: kg, stock: 7 kg" + receipts + "}\n"}
			return e
		}
		s.must(plant("plant-1", ""), added("A", 2))
		s.settle()
		require.Len(t, s.runner.Picture().Plan().Work, 6)
		s.must(added("B", 4))
		s.settle()
		pic := s.runner.Picture()
		require.Len(t, pic.Plan().Work, 9, "one of four")
		require.Empty(t, scheduler.Check(pic.State, pic.Plan().Made, pic.Plan()))
		require.Equal(t, []scheduler.Shortage{{Material: "board", Lack: 5000, Pieces: []string{"B-1-02", "B-1-03", "B-1-04"}, Orders: []string{"B"}}}, scheduler.Shortages(pic.State))
		require.True(t, slices.ContainsFunc(pic.Floor, func(a scheduler.Alert) bool { return a.Kind == scheduler.MaterialShort }))
		e := plant("plant-2", ", receipts: [{at: 2026-01-06 08:00, quantity: 5 kg}]")
		e.At = start + 60
		s.must(e)
		s.settle()
		pic = s.runner.Picture()
		require.Len(t, pic.Plan().Work, 18)
		require.Empty(t, scheduler.Shortages(pic.State))
	})
}
