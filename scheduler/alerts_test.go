// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/search"
	"towpath/scheduler/simulate"
)

// watched is a floor on which the plan is followed to the minute, repaired
// after every fact and every five minutes, and watched every minute.
type watched struct {
	*floor
	sim   *simulate.Shop
	watch scheduler.Watch
	now   int                     // minutes
	lose  func(events.Event) bool // reports that do not come through
	seen  []scheduler.Alert
	tale  []string // alerts that came and went
}

func newWatched(t *testing.T, quantity int) *watched {
	w := &watched{floor: newFloor(t), sim: simulate.New(1, simulate.Odds{}), lose: nothing}
	w.order("A", "TUBE", quantity)
	w.plan()
	return w
}

// plan repairs the published plan, or makes the first.
func (w *watched) plan() {
	w.t.Helper()
	problem, err := scheduler.Compile(w.s, mins(w.now))
	require.NoError(w.t, err)
	var plan *scheduler.Plan
	if w.s.Plan == nil {
		plan, err = search.Construct(problem)
	} else {
		plan, err = search.Repair(problem, w.s.Plan)
	}
	require.NoError(w.t, err)
	e, _ := scheduler.Commit(w.s, mins(w.now), plan)
	schedtest.RequireOK(w.t, w.s, mins(w.now), plan)
	w.take(e)
}

func (w *watched) take(e events.Event) {
	w.t.Helper()
	w.n++
	e.Seq = uint64(w.n)
	if e.Kind == events.PlanPublished {
		e.ID = fmt.Sprintf("p%d", w.n)
	}
	if _, err := w.s.Apply(e); err != nil {
		w.s.Skip(e.Seq) // it stands on a report that was lost
	}
	w.sound()
}

// tell reports a fact at the present minute and repairs the plan.
func (w *watched) tell(station string, kind events.Kind, data any) {
	w.t.Helper()
	w.ok(station, kind, w.now, data)
	w.plan()
	w.look()
}

// to lets the shop work up to a minute.
func (w *watched) to(minute int) {
	w.t.Helper()
	for w.now < minute {
		w.now++
		news := w.now%5 == 0
		for _, e := range w.sim.Step(w.s.Clone(), mins(w.now)) {
			if !w.lose(e) {
				w.take(e)
				news = true
			}
		}
		if news {
			w.plan()
		}
		w.look()
	}
}

func (w *watched) look() {
	before := w.s.Hash()
	is := w.watch.Look(w.s, mins(w.now))
	require.Equal(w.t, before, w.s.Hash(), "a look only reads")
	for _, a := range is {
		require.NotEmpty(w.t, a.Who, a.Key())
		require.NotEmpty(w.t, a.Do, a.Key())
		require.NotZero(w.t, a.By, a.Key())
		if w.find(w.seen, a.Key()) == nil {
			w.tale = append(w.tale, fmt.Sprintf("%d +%s", w.now, a.Key()))
			require.Equal(w.t, mins(w.now), a.Since)
		}
	}
	for i := range w.seen {
		if w.find(is, w.seen[i].Key()) == nil {
			w.tale = append(w.tale, fmt.Sprintf("%d -%s", w.now, w.seen[i].Key()))
		}
	}
	w.seen = is
}

func (w *watched) find(list []scheduler.Alert, key string) *scheduler.Alert {
	if i := slices.IndexFunc(list, func(a scheduler.Alert) bool { return a.Key() == key }); i >= 0 {
		return &list[i]
	}
	return nil
}

// one is the alert of a kind that there must be.
func (w *watched) one(kind scheduler.AlertKind) scheduler.Alert {
	w.t.Helper()
	i := slices.IndexFunc(w.seen, func(a scheduler.Alert) bool { return a.Kind == kind })
	require.GreaterOrEqual(w.t, i, 0, "no %s among %v", kind, w.seen)
	return w.seen[i]
}

// of picks what happened to alerts of a kind, as "+" and "-".
func (w *watched) of(kind scheduler.AlertKind) string {
	var out []string
	for _, line := range w.tale {
		if _, key, _ := strings.Cut(line, " "); strings.HasPrefix(key[1:], string(kind)+"/") {
			out = append(out, key[:1])
		}
	}
	return strings.Join(out, "")
}

// lost drops a station's reports of some kinds; all when none is named.
func lost(station string, kinds ...events.Kind) func(events.Event) bool {
	return func(e events.Event) bool {
		return e.Station == station && (len(kinds) == 0 || slices.Contains(kinds, e.Kind))
	}
}

func nothing(events.Event) bool { return false }

func TestNothingWantsAPersonWhereAllGoesByThePlan(t *testing.T) {
	require.Empty(t, new(scheduler.Watch).Look(scheduler.NewState(nil), six))
	w := newWatched(t, 3)
	w.to(900)
	require.Empty(t, w.tale)
	for _, p := range w.s.Pieces {
		require.Equal(t, scheduler.Done, p.Ops[len(p.Ops)-1].Status, "all is done by then")
	}
}

func TestAlertForALoadThatIsDue(t *testing.T) {
	w := newWatched(t, 2)
	w.lose = lost("O1")
	w.to(90)
	a := w.one(scheduler.LoadDue)
	require.Equal(t, "O1", a.Station)
	require.Equal(t, "A", a.Order)
	require.Equal(t, []string{"A-1-01", "A-1-02"}, a.Pieces)
	require.Equal(t, w.op("A-1-01", "wind").Ended+3*3600, a.By, "the wet hold")
	require.Len(t, w.seen, 1, "and nothing else")
	w.lose = nothing
	w.to(95)
	require.Equal(t, "+-", w.of(scheduler.LoadDue))
	require.Empty(t, w.seen)
}

func TestAlertForAWaitThatEnds(t *testing.T) {
	w := newWatched(t, 2)
	w.lose = lost("O1")
	last := 60 + 10 + 3*60 // mixing, winding, wet hold
	w.to(last - 10)
	a := w.one(scheduler.WaitEnding)
	require.Equal(t, mins(last), a.By)
	require.Equal(t, "cure", a.About)
	require.Equal(t, "+-", w.of(scheduler.LoadDue), "the load is told with it")
	w.to(last + 5)
	a = w.one(scheduler.WaitEnding)
	require.Equal(t, "cure, over", a.About)
	require.Contains(t, a.Text, "had to start by")
	require.Len(t, w.seen, 1)
	w.lose = nothing
	w.to(last + 10)
	require.Empty(t, w.seen)
}

// An oven fails while wound tubes wait for it: told at once, hours before the
// wait ends, as long as the plan has no way out.
func TestAlertForAWaitThatThePlanCannotKeep(t *testing.T) {
	w := newWatched(t, 2)
	w.lose = lost("O1", events.StationUp) // the simulated shop would repair it at once
	w.to(65)
	w.tell("O1", events.StationDown, events.StationData{Until: mins(600)})
	w.to(75)
	a := w.one(scheduler.WaitEnding)
	require.Equal(t, mins(250), a.By)
	require.Contains(t, a.Text, "it can start only at Mon 2 Mar 17:00")
	w.tell("O1", events.StationDown, events.StationData{Until: mins(200)})
	require.Empty(t, w.seen, "it is back in time")
	w.tell("O1", events.StationUp, events.StationData{})
	w.to(600)
	require.Equal(t, "+-", w.of(scheduler.WaitEnding))
}

func TestAlertForAMixThatExpires(t *testing.T) {
	w := newWatched(t, 1)
	w.lose = lost("MIX", events.MixDiscarded)
	w.to(100)
	a := w.one(scheduler.MixExpiring)
	require.Equal(t, "MIX", a.Station)
	require.Equal(t, "all", a.Who, "who has the skill of the mix room")
	require.Contains(t, a.Text, "with 100 g left")
	require.Equal(t, "81", w.tale[0][:2], "ten minutes after its end, which is an hour after ten past")
	w.lose = nothing
	w.to(105)
	require.Equal(t, "+-", w.of(scheduler.MixExpiring))

	late := newWatched(t, 1)
	late.tell("MIX", events.MixMade, events.MixData{Mix: "x", Resin: "A", Grams: 900})
	late.now = 45
	late.tell("W1", events.OperationStarted, events.OperationData{Piece: "A-1-01", Operation: "wind", Mix: "x"})
	require.Contains(t, late.one(scheduler.MixExpiring).Text, "wind of A-1-01 will not be through when mix x expires at Mon 2 Mar 08:00")
	late.tell("MIX", events.MixDiscarded, events.MixData{Mix: "x"})
	require.Empty(t, late.seen)
}

func TestAlertForAStopWithoutAnEnd(t *testing.T) {
	w := newWatched(t, 1)
	w.lose = lost("T1", events.StationUp)
	w.tell("T1", events.StationDown, events.StationData{Why: "cell"})
	w.to(14)
	require.Empty(t, w.seen)
	w.to(15)
	require.Equal(t, "T1 is down since Mon 2 Mar 07:00: cell; nobody has said until when, the plan counts on 8 h more", w.one(scheduler.StopOpen).Text)
	w.tell("T1", events.StationDown, events.StationData{Why: "cell", Until: mins(40)})
	require.Empty(t, w.seen)
	w.tell("", events.ToolOut, events.ToolData{Unit: "M-3", Until: mins(30)})
	w.to(40)
	require.Len(t, w.seen, 2, "neither is back")
	w.tell("T1", events.StationUp, events.StationData{})
	w.tell("", events.ToolIn, events.ToolData{Unit: "M-3"})
	require.Empty(t, w.seen)
}

func TestAlertForAFinishThatIsMissing(t *testing.T) {
	w := newWatched(t, 2)
	w.lose = lost("O1", events.LoadFinished)
	w.to(400)
	a := w.one(scheduler.FinishMissing)
	require.Equal(t, "O1", a.Station)
	require.Equal(t, mins(70+260+30), a.By, "planned end and half an hour, however often the plan was made anew")
	require.Contains(t, a.Text, "should have ended at Mon 2 Mar 12:30")
	require.Equal(t, mins(361), a.Since)
	w.lose = nothing
	w.to(405)
	require.Equal(t, "+-", w.of(scheduler.FinishMissing))

	other := new(scheduler.Watch)
	require.Empty(t, other.Look(w.s, mins(w.now)))
}

func TestAlertForASilentStation(t *testing.T) {
	w := newWatched(t, 2)
	w.lose = lost("W2")
	w.to(45)
	a := w.one(scheduler.StationSilent)
	require.Equal(t, "W2", a.Station)
	require.Equal(t, mins(40), a.By)
	w.tell("W2", events.StationDown, events.StationData{Until: mins(60)})
	require.Empty(t, w.seen, "now it is known")
	w.tell("W2", events.StationUp, events.StationData{})
	w.lose = nothing
	w.to(70)
	require.Empty(t, w.seen)
}

func TestAlertForAHold(t *testing.T) {
	w := newWatched(t, 2)
	w.tell("", events.PieceHeld, events.PieceData{Piece: "A-1-02", Why: "label"})
	a := w.one(scheduler.HoldUndecided)
	require.Equal(t, "A-1-02 is on hold: label", a.Text)
	// Two weeks less winding, cure with its loading, cooling, pulling, proof.
	require.Equal(t, mins(14*24*60-(60+10+240+10+30+20+30)), a.By)
	w.tell("", events.PieceHeld, events.PieceData{Piece: "A-1-01", Why: "label"})
	require.Len(t, w.seen, 1, "one for the order")
	require.Len(t, w.seen[0].Pieces, 2)
	require.Equal(t, mins(0), w.seen[0].Since)
	w.tell("", events.PieceReleased, events.PieceData{Piece: "A-1-01"})
	w.tell("", events.PieceScrapped, events.PieceData{Piece: "A-1-02"})
	require.Empty(t, w.seen)
}

// By when somebody must decide leaves time for what is to come: a sample passes no
// shipping; the shipping of the others waits for its destruction.
func TestAHoldLeavesTimeForTheWorkLeft(t *testing.T) {
	for piece, left := range map[string]int{"A-1-01": 10 + 10 + 5, "A-1-02": 10 + 10} {
		f := newFloor(t)
		f.order("A", "LOT", 1)
		require.Equal(t, piece == "A-1-02", f.s.Pieces[piece].Sample)
		f.ok("", events.PieceHeld, 1, events.PieceData{Piece: piece, Why: "label"})
		var watch scheduler.Watch
		list := watch.Look(f.s, mins(1))
		i := slices.IndexFunc(list, func(a scheduler.Alert) bool { return a.Kind == scheduler.HoldUndecided })
		require.GreaterOrEqual(t, i, 0)
		require.Equal(t, mins(14*24*60-left), list[i].By, piece)
	}
}

func TestAlertForAPromise(t *testing.T) {
	w := newWatched(t, 1)
	var end scheduler.Tick
	for _, work := range w.s.Plan.Work {
		end = max(end, work.End)
	}
	due := func(slack scheduler.Seconds) {
		d := ordered("A", "TUBE", 1)
		d.ShipBy = end + scheduler.Tick(slack)
		w.tell("", events.OrderChanged, d)
		for range 3 { // an improvement might have helped
			w.now++
			w.look()
		}
	}
	due(5 * 3600)
	require.Empty(t, w.seen)
	due(3 * 3600)
	require.Contains(t, w.one(scheduler.PromiseAtRisk).Text, "Order A has only 3 h to spare before")
	due(5 * 3600)
	require.Len(t, w.seen, 1, "it does not flicker")
	due(-1800)
	require.Regexp(t, "^Order A is late for .*, by 30 min as planned$", w.one(scheduler.PromiseAtRisk).Text)
	due(9 * 3600)
	require.Empty(t, w.seen)
}

// One beyond those that are named is named too: an alert for "others" speaks of
// several.
func TestFourPromisesAtRiskAreNamed(t *testing.T) {
	w := newWatched(t, 1)
	for i := range 4 {
		d := ordered(fmt.Sprintf("L%d", i), "TUBE", 1)
		d.ShipBy, d.Kind = mins(30+i), "event"
		w.tell("", events.OrderAdded, d)
	}
	w.now += 2
	w.look()
	var about []string
	for _, a := range w.seen {
		about = append(about, a.About)
	}
	require.ElementsMatch(t, []string{"L0", "L1", "L2", "L3"}, about)
}

func TestManyPromisesAtRiskAreToldTogether(t *testing.T) {
	w := newWatched(t, 1)
	for i := range 6 {
		d := ordered(fmt.Sprintf("L%d", i), "TUBE", 1)
		d.ShipBy, d.Kind = mins(30+i), "event"
		w.tell("", events.OrderAdded, d)
	}
	w.now += 2
	w.look()
	require.Len(t, w.seen, 4)
	i := slices.IndexFunc(w.seen, func(a scheduler.Alert) bool { return a.About == "other orders" })
	require.Contains(t, w.seen[i].Text, "3 more orders would miss their dates or have little to spare, the first is L3, due Mon 2 Mar 07:33; 3 of them would be lost")
}

func TestAlertForAMaterial(t *testing.T) {
	w := newWatched(t, 2)
	plant := kilnFile(t)
	declare := func(tow string) {
		w.tell("", events.PlantDeclared, events.PlantData{File: strings.Replace(plant, "stock: 100 kg", tow, 1)})
	}
	declare("stock: 1 kg, receipts: [{at: 2026-03-02 09:00, quantity: 5 kg}]")
	a := w.one(scheduler.MaterialShort)
	require.Contains(t, a.Text, "tow runs out at Mon 2 Mar 09:", "the plan waits for the receipt")
	require.Contains(t, a.Text, "the 5 kg expected at Mon 2 Mar 09:00")
	declare("stock: 10 kg")
	require.Empty(t, w.seen)

	d := ordered("B", "TUBE", 20)
	w.ok("", events.OrderAdded, 0, d)
	w.look()
	a = w.one(scheduler.MaterialShort)
	require.Equal(t, "12 kg short of tow: open work needs 22 kg, 10 kg are there and expected", a.Text)
	require.Equal(t, "B", a.Order)
	w.ok("", events.OrderCancelled, 0, events.CancelData{Order: "B"})
	w.look()
	require.Empty(t, w.seen)
}
