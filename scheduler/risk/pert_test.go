// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"towpath/resources"
	"towpath/scheduler"
)

// task is an activity of a project, in weeks.
type task struct {
	name              string
	low, likely, high float64
	after             string // names of one letter
}

// reliable is the Reliable Construction project of Hillier and Lieberman,
// Introduction to Operations Research (from memory): by the formulas of PERT it
// takes 44 weeks with a variance of 9, on A-B-C-E-F-J-L-N.
var reliable = []task{
	{"A", 1, 2, 3, ""}, {"B", 2, 3.5, 8, "A"}, {"C", 6, 9, 18, "B"}, {"D", 4, 5.5, 10, "C"}, {"E", 1, 4.5, 5, "C"},
	{"F", 4, 4, 10, "E"}, {"G", 5, 6.5, 11, "D"}, {"H", 5, 8, 17, "EG"}, {"I", 3, 7.5, 9, "C"}, {"J", 3, 9, 9, "FI"},
	{"K", 4, 4, 4, "J"}, {"L", 1, 5.5, 7, "J"}, {"M", 1, 2, 3, "H"}, {"N", 5, 5.5, 9, "KL"},
}

const week = 7 * 24 * 3600

// project plays a project as the one piece of an order, each activity at a
// station of its own, and returns how many weeks each history took.
func project(t *testing.T, tasks []task, histories int) []float64 {
	t.Helper()
	const now = Tick(1_000_000_000)
	plant := &resources.Plant{ID: "project", Zone: time.UTC, Floor: resources.Floor{BeginEarly: 1 << 40}}
	house := resources.Product{ID: "house"}
	for _, x := range tasks {
		plant.Stations = append(plant.Stations, resources.Station{ID: "AT-" + x.name, Places: 1, Speed: 1})
		op := resources.Operation{
			ID: x.name, Stations: []string{"AT-" + x.name}, Run: week,
			Spread: resources.Spread{Shape: resources.Pert, Low: x.low, Likely: x.likely, High: x.high},
		}
		if x.low == x.high {
			op.Run, op.Spread = resources.Seconds(x.low*week), resources.Spread{Shape: resources.FixedShape}
		}
		for _, before := range x.after {
			op.After = append(op.After, resources.Link{Operation: string(before)})
		}
		house.Routing = append(house.Routing, op)
	}
	plant.Products = []resources.Product{house}
	s, err := scheduler.StateOf(plant, []resources.OrderLine{{Order: "1", Line: "1", Product: "house", Quantity: 1, Due: now + 1}})
	require.NoError(t, err)
	plan := &scheduler.Plan{Made: now}
	ends := map[string]Tick{}
	for i, x := range tasks {
		start := now
		for _, before := range x.after {
			start = max(start, ends[string(before)])
		}
		end := start + Tick(house.Routing[i].Run)
		ends[x.name] = end
		plan.Work = append(plan.Work, scheduler.Work{
			Order: "1", Line: "1", Piece: s.Lines["1/1"].Pieces[0], Operation: x.name, Station: "AT-" + x.name, Place: 1,
			Setup: start, Start: start, Run: start, RunEnd: end, Unload: end, End: end,
		})
	}
	g, err := Compile(s, now, plan)
	require.NoError(t, err)
	y, took := g.NewPlayer(), make([]float64, histories)
	for r := range took {
		y.play(newLuck(1959, r, false))
		require.Zero(t, y.forced)
		took[r] = float64(y.doneAt[0]-now) / week
	}
	return took
}

// D. G. Malcolm, J. H. Roseboom, C. E. Clark and W. Fazar 1959, Application of a
// technique for research and development program evaluation, Operations
// Research 7:646-669: of (1, 2, 9) the mean is (a+4m+b)/6 = 3. Their variance
// ((b−a)/6)² = 16/9 is a rule of thumb; that of the beta law with this mean is
// (mean−a)(b−mean)/7 = 12/7.
func TestPertIsTheLawOf1959(t *testing.T) {
	took := project(t, []task{{"A", 1, 2, 9, ""}}, 40000)
	agrees(t, "PERT (1, 2, 9), mean", 3, 0.01, took)
	mean := 3.0
	squares := make([]float64, len(took))
	for i, x := range took {
		squares[i] = (x - mean) * (x - mean)
	}
	agrees(t, "PERT (1, 2, 9), variance", (mean-1)*(9-mean)/7, 0.05, squares)
	require.InEpsilon(t, 16.0/9, stat.Mean(squares, nil), 0.08)
}

// The critical path alone takes 44 weeks on average. The whole project takes
// longer, as paths that merge are later than the longest of them: 44.3265 weeks,
// deviation 2.9341, done in 44 weeks with chance 0.47365 and in 47 with 0.81645,
// where the normal law with variance 9 says 0.841345. Those are of 4 million
// histories by another program, error of the chances 0.00025.
func TestProjectTakesLongerThanItsCriticalPath(t *testing.T) {
	var path []task
	before := ""
	for _, x := range reliable {
		switch x.name {
		case "A", "B", "C", "E", "F", "J", "L", "N":
			x.after, before = before, x.name
			path = append(path, x)
		}
	}
	agrees(t, "critical path alone", 44, 0.01, project(t, path, 20000))

	took := project(t, reliable, 40000)
	agrees(t, "Reliable Construction, mean", 44.3265, 0.01, took)
	require.InDelta(t, 2.9341, stat.StdDev(took, nil), 0.06) // ± 5 standard errors
	for by, want := range map[float64]float64{44: 0.47365, 47: 0.81645} {
		in := 0
		for _, x := range took {
			if x <= by {
				in++
			}
		}
		low, high := ClopperPearson(in, len(took), 0.999)
		t.Logf("done in %v weeks: known %v, played %.4f to %.4f", by, want, low, high)
		require.LessOrEqual(t, low, want)
		require.GreaterOrEqual(t, high, want)
		require.Less(t, high-low, 0.02)
	}
	require.Greater(t, math.Abs(0.841345-0.81645), 0.02, "so that the interval tells one from the other")
}
