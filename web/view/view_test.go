// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/testdata/demo"
	"towpath/web/view"
	"towpath/web/webtest"
)

func TestClockWritesInThePlantsZone(t *testing.T) {
	paris, err := time.LoadLocation("Europe/Paris")
	require.NoError(t, err)
	now := resources.Tick(time.Date(2024, 3, 12, 15, 0, 0, 0, time.UTC).Unix())
	c := view.Clock{Zone: paris, Now: now}
	hour := resources.Tick(3600)
	require.Equal(t, "Tue 12 Mar 16:00", c.When(now))
	require.Equal(t, "16:00", c.Time(now))
	require.Equal(t, "Thu 16:00", c.Time(now+48*hour))
	require.Equal(t, "Mon 16:00", c.Time(now+6*24*hour))
	require.Equal(t, "Wed 16:00", c.Time(now-6*24*hour))
	require.Equal(t, "Tue 5 Mar 16:00", c.Time(now-7*24*hour), "nor that of a week ago")
	require.Equal(t, "Tue 19 Mar 16:00", c.Time(now+7*24*hour), "the same weekday a week on must not be mistaken for today")
	require.Equal(t, "Tue 12 Mar 2030 16:00", c.When(resources.Tick(time.Date(2030, 3, 12, 15, 0, 0, 0, time.UTC).Unix())))
	require.Equal(t, "–", c.When(0))
	// The clocks go forward on 31 March 2024: that day has 23 hours.
	day := c.Midnight(now + 19*24*hour)
	require.Equal(t, "Sun 31 Mar 00:00", c.When(day))
	require.Equal(t, 23*hour, c.NextMidnight(day)-day)
}

// Nothing is sure that has happened, or has not, at least once.
func TestLikelyIsNeverSureOfWhatIsNot(t *testing.T) {
	for x, want := range map[float64]string{
		0: "0 %", 0.001: "under 1 %", 0.0049: "under 1 %", 0.006: "1 %", 0.5: "50 %", 0.994: "99 %", 0.995: "over 99 %", 0.999: "over 99 %", 1: "100 %",
	} {
		require.Equal(t, want, view.Likely(x), "%v", x)
	}
}

func TestRelativeAndSpan(t *testing.T) {
	c := view.Clock{Now: 1_000_000}
	for want, d := range map[string]resources.Seconds{
		"now": 0, "in 12 min": 12 * 60, "2 h 05 min ago": -(2*3600 + 5*60), "in 3 d 4 h": 76 * 3600, "in 1 h": 3600, "in 2 d": 48 * 3600,
	} {
		require.Equal(t, want, c.Relative(c.Now+resources.Tick(d)))
	}
	require.Equal(t, "under 1 min", view.Span(20))
	require.Equal(t, "1 min", view.Span(40))
	require.Equal(t, "1 h", view.Span(3599), "rounding carries over")
	require.Equal(t, "1 d", view.Span(86399))
}

// An order that was completed late stays late, but nothing of it is open, and
// nothing would save it.
func TestAnOrderCompletedLateIsNotOpen(t *testing.T) {
	p := small()
	listed := func(show string) (ids []string) {
		for _, o := range view.New(p).Dates(view.DatesQuery{Show: show}).Orders {
			ids = append(ids, o.ID)
		}
		return ids
	}
	savable := func() bool { return view.OrderPage{OrderSheet: *view.New(p).OrderSheet("B2")}.Savable() }
	require.True(t, savable())
	require.Equal(t, []string{"B2", "A1"}, listed("open"))
	piece := p.State.Pieces["B2-1-01"]
	for i := range piece.Ops {
		piece.Ops[i].Status, piece.Ops[i].Started, piece.Ops[i].Ended = scheduler.Done, at(700+i), at(701+i)
	}
	o := view.New(p).OrderSheet("B2").Order
	require.True(t, o.Done)
	require.Equal(t, view.Lost, o.Standing)
	require.Equal(t, at(703), o.Predicted)
	require.False(t, savable())
	require.Equal(t, []string{"A1"}, listed("open"))
	require.Equal(t, []string{"B2"}, listed("complete"))
	require.Empty(t, listed("trouble"), "nobody can do anything about it")
	require.Empty(t, listed("lost"))
	require.Equal(t, []string{"B2"}, listed("complete-late"))
}

// A number at the top of a page is how many orders its link lists, whatever has
// become of them, and no order is in two of them.
func TestCountsAreThoseOfTheListsTheyLinkTo(t *testing.T) {
	late := small()
	piece := late.State.Pieces["B2-1-01"]
	for i := range piece.Ops {
		piece.Ops[i].Status, piece.Ops[i].Started, piece.Ops[i].Ended = scheduler.Done, at(700+i), at(701+i)
	}
	held := small()
	held.State.Pieces["A1-1-02"].Held = true
	shop, err := webtest.Demo()
	require.NoError(t, err)
	for name, p := range map[string]*view.Picture{"as planned": small(), "completed late": late, "on hold": held, "demo": shop.Picture()} {
		v := view.New(p)
		listed := func(show string) int { return len(v.Dates(view.DatesQuery{Show: show}).Orders) }
		h := v.Head()
		for show, count := range map[string]int{
			"on-time": h.OnTime, "tight": h.Tight, "late": h.Late, "lost": h.Lost, "held": h.Held, "no-date": h.NoDate, "complete": h.Complete,
			"complete-late": h.DoneLate, "open": h.Open(),
		} {
			require.Equal(t, listed(show), count, "%s: %s", name, show)
		}
		require.Equal(t, listed("all"), h.Open()+h.Complete, name)
		require.Equal(t, name == "completed late", h.DoneLate == 1, name)
		require.Equal(t, name == "on hold", h.Held == 1, name)
	}
}

// What is cancelled of an order says nothing of the date of the rest, whichever
// line it is, and its page and the log tell that it was cancelled.
func TestACancelledLineDoesNotSpeakForTheOrder(t *testing.T) {
	before := view.New(small()).OrderSheet("A1").Order
	for _, line := range []string{"0", "2"} {
		extra := resources.OrderLine{Order: "A1", Line: line, Customer: "Pellbrook", Product: "TT", Quantity: 1, ShipBy: at(3000), Due: at(3000), Weight: 9, Kind: resources.Event}
		v := view.New(small(
			events.Event{Kind: events.OrderAdded, At: at(0), Data: events.OrderDataOf(&extra)},
			events.Event{Kind: events.OrderCancelled, At: at(0), Data: events.CancelData{Order: "A1", Line: line, Why: "not needed"}},
		))
		sheet := v.OrderSheet("A1")
		require.Len(t, sheet.Order.Lines, 2)
		sheet.Order.Lines = before.Lines
		require.Equal(t, before, sheet.Order, line)
		require.NotEmpty(t, sheet.Notes)
		require.Contains(t, sheet.Notes[0].Text, "cancelled: not needed")
		rows := v.Log(view.LogQuery{Show: "notes", Text: "not needed"}).Rows
		require.Len(t, rows, 1)
		require.Equal(t, "A1", rows[0].Order)
	}
}

// An order that is cancelled as a whole keeps its date and what it was.
func TestACancelledOrderKeepsWhatItWas(t *testing.T) {
	o := view.New(small(events.Event{Kind: events.OrderCancelled, At: at(0), Data: events.CancelData{Order: "B2", Line: "1"}})).OrderSheet("B2").Order
	require.Equal(t, view.Cancelled, o.Standing)
	require.Equal(t, at(600), o.Due)
	require.True(t, o.Event)
	require.EqualValues(t, 5, o.Weight)
}

func TestStandingFollowsTheKindOfOrder(t *testing.T) {
	p := small()
	v := view.New(p)
	standing := func(v *view.View, id string) view.Standing { return v.OrderSheet(id).Order.Standing }
	require.Equal(t, view.Tight, standing(v, "A1"), "3 h 30 min to spare")
	require.Equal(t, view.Lost, standing(v, "B2"), "an event order after its date")
	p.State.Lines["B2/1"].Kind = resources.Firm
	require.Equal(t, view.Late, standing(view.New(p), "B2"))
	p.State.Lines["B2/1"].Due = at(10 * 24 * 60)
	require.Equal(t, view.OnTime, standing(view.New(p), "B2"))
	p.Plan = nil
	require.Equal(t, view.NoDate, standing(view.New(p), "B2"))
}

func TestHeldPieceTakesTheDate(t *testing.T) {
	p := small(events.Event{Kind: events.PieceHeld, Station: "W1", At: ten, Data: events.PieceData{Piece: "A1-1-02", Why: "dropped"}})
	v := view.New(p)
	o := v.OrderSheet("A1").Order
	require.Equal(t, view.Held, o.Standing)
	require.Zero(t, o.Predicted)
	rows := v.Dates(view.DatesQuery{Show: "trouble"}).Orders
	require.Len(t, rows, 2)
	require.Equal(t, "A1-1-02 is on hold: dropped", rows[1].Why)
}

func TestOrdersStandAsTheEngineMeasuresThem(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	p := shop.Picture()
	v := view.New(p)
	for _, o := range scheduler.MeasureOrders(p.State, p.Plan) {
		mine := v.OrderSheet(o.Order).Order
		require.Equal(t, o.Slack, mine.Slack, o.Order)
		require.Equal(t, o.Due, mine.Due, o.Order)
		want := map[scheduler.OrderStatus][]view.Standing{
			scheduler.OrderOnTime: {view.OnTime, view.Tight, view.Complete}, scheduler.OrderLate: {view.Late},
			scheduler.OrderLost: {view.Lost}, scheduler.OrderWaiting: {view.Held, view.NoDate},
		}[o.Status]
		require.Contains(t, want, mine.Standing, o.Order)
	}
	h := v.Head()
	require.Equal(t, p.Score.OnTime, h.OnTime+h.Complete-h.DoneLate)
	require.Equal(t, p.Score.Late, h.Late)
	require.Equal(t, p.Score.Lost, h.Lost)
}

func TestStationConditionNamesWhatNeedsSomebody(t *testing.T) {
	condition := func(p *view.Picture, now resources.Tick, id string) view.FloorStation {
		for _, s := range view.New(p).At(now).Floor().Stations {
			if s.ID == id {
				return s
			}
		}
		panic(id)
	}
	require.Equal(t, view.StationRunning, condition(small(), ten, "W1").Status)
	over := condition(small(), at(50), "W1")
	require.Equal(t, view.StationOver, over.Status)
	require.Equal(t, 18*resources.Minute, over.Behind, "it began two minutes late and takes an hour")
	done := small(finished("W1", "A1-1-01", "wind", 0))
	require.Equal(t, view.StationFree, condition(done, at(0), "W1").Status)
	require.Equal(t, view.StationWaiting, condition(done, at(40), "W1").Status, "the next wind was due ten minutes ago")
	require.Equal(t, view.StationFree, condition(small(), ten, "O1").Status)
	night := condition(done, at(9*60), "T1")
	require.Equal(t, view.StationClosed, night.Status)
	require.Equal(t, at(20*60), night.Until, "opens at six")
	paused := small(events.Event{Kind: events.OperationPaused, Station: "W1", At: ten, Data: events.OperationData{Piece: "A1-1-01", Operation: "wind"}})
	require.Equal(t, view.StationPaused, condition(paused, ten, "W1").Status)
}

func TestWetTubeHasItsTimeToTheOven(t *testing.T) {
	v := view.New(small())
	then := v.StationSheet("W1").Now[0].Then
	require.NotNil(t, then)
	require.True(t, then.Cure)
	require.False(t, then.Real, "the wind has not ended")
	require.Equal(t, at(32+120), then.By, "two hours after the expected end")
	done := view.New(small(finished("W1", "A1-1-01", "wind", 25)))
	card := done.Loads(view.LoadsQuery{Cure: true}).Stations[0].Loads[0]
	require.Equal(t, at(25+120), card.By.By)
	require.True(t, card.By.Real)
	require.Equal(t, 1, card.Ready)
	require.Equal(t, []string{"15 of 20 kg mass", "3 of 4 places"}, []string{card.Fill[0].Words(), card.Fill[1].Words()})
}

func TestActionsReportWhatTheyAsk(t *testing.T) {
	v := view.New(small())
	now := v.StationSheet("W1").Now[0].Actions
	require.Len(t, now, 1)
	require.Equal(t, events.OperationFinished, now[0].Reports[0].Kind)
	load := v.StationSheet("O1").Next[0].Actions[0]
	require.Equal(t, events.LoadStarted, load.Reports[0].Kind)
	require.Len(t, load.Reports[0].Data.(events.LoadData).Pieces, 3)
	mix := v.StationSheet("MIX").Next[0].Actions[0]
	require.Equal(t, events.MixData{Mix: "X2", Resin: "R", Grams: 500}, mix.Reports[0].Data)
}

// What a page offers must be a report the engine takes: every action of every
// station of the demo is tried on a copy of its state.
func TestOfferedActionsAreBelieved(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	tried := map[string]int{}
	for range 5 {
		require.NoError(t, shop.Advance(shop.Picture().Now+resources.Tick(90*resources.Minute), 90*resources.Minute))
		tryActions(t, shop.Picture(), tried)
	}
	for _, key := range []string{"finish", "down", "hold", "scrap"} {
		require.Positive(t, tried[key], key)
	}
}

// The small shop's day, pressed through button by button.
func TestAWholeDayOfButtonsIsBelieved(t *testing.T) {
	p := small()
	seq := uint64(100)
	press := func(station, key string, minutes int) {
		t.Helper()
		p.Now = at(minutes)
		sheet := view.New(p).StationSheet(station)
		var all []view.Action
		for _, j := range append(append([]view.JobSheet{}, sheet.Now...), sheet.Next...) {
			all = append(all, j.Actions...)
		}
		for _, a := range all {
			if a.Key != key {
				continue
			}
			for _, r := range a.Reports {
				seq++
				_, err := p.State.Apply(events.Event{ID: fmt.Sprint("press-", seq), Kind: r.Kind, Plant: "small", Station: r.Station, At: p.Now, Data: r.Data, Seq: seq})
				require.NoError(t, err, "%s at %s", a.Ask, station)
			}
			return
		}
		t.Fatalf("no button %s at %s", key, station)
	}
	press("W1", "finish", 30)
	press("W1", "start", 31)
	press("MIX", "finish", 80)
	press("W1", "finish", 91)
	press("W1", "start", 92)
	press("W1", "finish", 150)
	press("O1", "start", 155)
	press("O1", "finish", 640)
	press("T1", "start", 1200)
	press("T1", "passed", 1230)
	press("T1", "start", 1231)
	press("T1", "failed", 1260)
	require.True(t, p.State.Pieces["A1-1-02"].Held, "a failed piece waits for somebody's decision")
	require.Equal(t, view.Held, view.New(p).OrderSheet("A1").Order.Standing)
}

func tryActions(t *testing.T, p *view.Picture, tried map[string]int) {
	v := view.New(p)
	try := func(a view.Action) {
		state := p.State.Clone()
		for i, r := range a.Reports {
			e := events.Event{ID: "try-" + string(rune('a'+i)), Kind: r.Kind, Plant: "tallowmere", Station: r.Station, At: p.Now, Data: r.Data, Seq: state.Seq + 1}
			require.NoError(t, events.Validate(e), a.Ask)
			_, err := state.Apply(e)
			require.NoError(t, err, "%s: %v", a.Ask, r)
		}
		tried[a.Key]++
	}
	for _, st := range v.Stations() {
		sheet := v.StationSheet(st.ID)
		for _, j := range sheet.Now {
			for _, a := range j.Actions {
				try(a)
			}
		}
		if sheet.Can && len(sheet.Next) > 0 && ready(v, p.State, sheet.Next[0]) {
			for _, a := range sheet.Next[0].Actions {
				try(a)
			}
		}
		for _, a := range sheet.Trouble {
			if a.Key != "hold" && a.Key != "scrap" || len(sheet.Now) > 0 {
				try(a)
			}
		}
	}
}

// ready says whether a job's work before is done, that on the tube a piece is cut from
// too, and its tools are free, so that a start can be believed.
func ready(v *view.View, state *scheduler.State, j view.JobSheet) bool {
	for _, n := range j.Needs {
		if strings.Contains(n.Value, "still with") || strings.Contains(n.Value, "to be made") {
			return false
		}
	}
	for _, p := range j.Job.Pieces {
		if !doneBefore(v, p.Order, p.Piece, p.Operation) {
			return false
		}
		if tube := state.Pieces[p.Piece].Parent; tube != "" && !doneBefore(v, p.Order, tube, "") {
			return false
		}
	}
	return true
}

// doneBefore says whether all is done that a piece's sheet lists before an operation.
func doneBefore(v *view.View, order, piece, operation string) bool {
	for _, sheet := range v.OrderSheet(order).Pieces {
		if sheet.Piece != piece {
			continue
		}
		for _, s := range sheet.Steps {
			if s.Operation == operation {
				break
			}
			if s.Status != view.JobDone {
				return false
			}
		}
	}
	return true
}

func TestGateAsksForItsVerdict(t *testing.T) {
	p := small(
		finished("W1", "A1-1-01", "wind", -20),
		events.Event{Kind: events.LoadFinished, Station: "O1", At: at(-10), Data: events.LoadData{Load: "L0", Pieces: []events.LoadItem{{Piece: "A1-1-01", Operation: "cure"}}}},
		started("T1", "A1-1-01", "proof", -5),
	)
	require.Empty(t, p.Rejects)
	actions := view.New(p).StationSheet("T1").Now[0].Actions
	require.Len(t, actions, 2)
	require.Equal(t, "passed", actions[0].Key)
	require.Equal(t, "failed", actions[1].Key)
	require.False(t, actions[1].Reports[1].Data.(events.ResultData).Pass)
	require.NotEmpty(t, actions[1].Reasons)
}

// The demo's gates ask for what their rules are judged by, with units and
// limits; a gate without a rule does not.
func TestGateWithARuleAsksForMeasurements(t *testing.T) {
	plant, findings := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, plant, "%v", findings)
	p := plant.Product("HS-S")
	fields := view.Fields(p.Operation("proof").Rule)
	require.Len(t, fields, 2)
	require.Equal(t, "torque at each point, three or more", fields[0].Label)
	require.Equal(t, []string{"N·m", "kN·m", "N·mm", "lbf·ft"}, fields[0].Units)
	fields = view.Fields(p.Operation("finish").Rule)
	require.Equal(t, "399.5 to 400.5 mm", fields[0].Limit)
	require.Equal(t, "readings of the dial over one turn", fields[1].Label)
	require.Contains(t, view.Fields(p.Operation("ring").Rule)[0].Units, "px")
	require.Len(t, view.Fields(p.Operation("balance").Rule), 3)
}

// A mandrel is where its piece is; then it is cleaned and coated, then free.
func TestToolsSayWhereTheyAre(t *testing.T) {
	find := func(p *view.Picture) (held, rest []view.ToolUnit) {
		for _, pool := range view.New(p).Tools() {
			for _, u := range pool.Units {
				if u.State == "held" {
					held = append(held, u)
				} else {
					rest = append(rest, u)
				}
			}
		}
		return held, rest
	}
	held, rest := find(small(started("W1", "A1-1-01", "wind", -5)))
	require.Len(t, held, 1)
	require.Equal(t, "A1-1-01", held[0].Piece)
	require.Equal(t, "W1", held[0].Station)
	require.True(t, held[0].Running)
	require.NotZero(t, held[0].Since)
	out := events.Event{Kind: events.ToolOut, At: at(-1), Data: events.ToolData{Unit: rest[0].Mark, Why: "scratched"}}
	_, rest = find(small(started("W1", "A1-1-01", "wind", -5), out))
	require.Equal(t, "out", rest[0].State)
	require.Equal(t, "scratched", rest[0].Why)
}

func TestDatesSearchAndSort(t *testing.T) {
	v := view.New(small())
	ids := func(q view.DatesQuery) (out []string) {
		for _, o := range v.Dates(q).Orders {
			out = append(out, o.ID)
		}
		return out
	}
	require.Equal(t, []string{"B2", "A1"}, ids(view.DatesQuery{}))
	require.Equal(t, []string{"A1", "B2"}, ids(view.DatesQuery{Down: true}))
	require.Equal(t, []string{"A1", "B2"}, ids(view.DatesQuery{Sort: "order"}))
	require.Equal(t, []string{"A1"}, ids(view.DatesQuery{Text: "PELL blue"}))
	require.Equal(t, []string{"B2"}, ids(view.DatesQuery{Text: "b2-1-01"}), "a serial finds its order")
	require.Empty(t, ids(view.DatesQuery{Show: "complete"}))
	require.Equal(t, []string{"B2"}, ids(view.DatesQuery{Show: "trouble"}))
}

func TestLogShowsWhatWasNotBelieved(t *testing.T) {
	v := view.New(small(finished("W1", "NO-SUCH", "wind", 1)))
	rows := v.Log(view.LogQuery{Show: "rejects"}).Rows
	require.Len(t, rows, 1)
	require.Contains(t, rows[0].Detail, "there is no such piece")
	require.Len(t, v.Log(view.LogQuery{Show: "work", Text: "a1-1-01"}).Rows, 1)
	require.Equal(t, "A1", v.Log(view.LogQuery{Text: "a1-1-01"}).Rows[0].Order)
}

func TestLogSaysWhatAPlanWasLookedForBy(t *testing.T) {
	p := small()
	for i, asked := range []*events.PlanAsked{nil, {Why: "station.down", Since: 3}, {Why: "dates are at risk", Since: 3}} {
		p.Recent = append(p.Recent, view.Recent{Believed: true, Event: events.Event{
			Seq: uint64(900 + i), ID: fmt.Sprint("plan-", i), Kind: events.PlanPublished, Data: events.PlanData{Version: int64(i + 2), Asked: asked},
		}})
	}
	var details []string
	for _, row := range view.New(p).Log(view.LogQuery{Show: "plans"}).Rows {
		details = append(details, row.Detail)
	}
	require.Contains(t, strings.Join(details, "\n"), "version 4, improved (dates are at risk)")
	require.Contains(t, strings.Join(details, "\n"), "version 3, improved (station down)")
	require.Contains(t, strings.Join(details, "\n"), "version 2, times put right")
}

func TestCautionsOfAStation(t *testing.T) {
	sheet := view.New(small()).StationSheet("W1")
	text := strings.Join(sheet.Cautions, "\n")
	require.Contains(t, text, "Keep the bath covered.", "the plant file's own come first")
	require.Contains(t, text, "Mixed resin heats itself")
	require.Contains(t, text, "turning mandrels")
	require.Contains(t, strings.Join(view.New(small()).StationSheet("T1").Cautions, "\n"), "close the guard")
}

func TestEmptyShopSaysSo(t *testing.T) {
	require.Contains(t, view.New(&view.Picture{Starting: true}).Empty(), "reading its log")
	v := view.New(&view.Picture{State: scheduler.NewState(nil)})
	require.Contains(t, v.Empty(), "No plant")
	require.Empty(t, v.Floor().Stations)
	require.Empty(t, v.Dates(view.DatesQuery{}).Orders)
	require.Nil(t, v.StationSheet("W1"))
	require.Nil(t, v.OrderSheet("A1"))
	require.Empty(t, v.Lineup(view.LineupQuery{}).Rows)
	require.Empty(t, v.Log(view.LogQuery{}).Rows)
}

// Blocks of a line-up lie on the axis, whatever stretch is asked for.
func TestLineupStaysOnItsAxis(t *testing.T) {
	v := view.New(small())
	rapid.Check(t, func(t *rapid.T) {
		q := view.LineupQuery{
			From: at(rapid.IntRange(-20000, 20000).Draw(t, "from")), Zoom: rapid.SampledFrom([]string{"", "3days", "week"}).Draw(t, "zoom"),
		}
		l := v.Lineup(q)
		if l.From != q.From {
			t.Fatalf("from %d, asked %d", l.From, q.From)
		}
		for _, r := range l.Rows {
			for _, b := range r.Blocks {
				for _, x := range [][2]float64{{b.X, b.W}, {b.SetupX, b.SetupW}} {
					if x[0] < 0 || x[1] < 0 || x[0]+x[1] > 100.001 {
						t.Fatalf("%s lies at %v", b.Job.ID, x)
					}
				}
				if b.Lane < 0 || b.Lane >= r.Lanes {
					t.Fatalf("%s in lane %d of %d", b.Job.ID, b.Lane, r.Lanes)
				}
			}
			last := 0.0
			for _, c := range r.Closed {
				if c.X < last-0.001 || c.X+c.W > 100.001 {
					t.Fatalf("closed %v after %v", c, last)
				}
				last = c.X + c.W
			}
		}
	})
}

func TestOverdueRunningWorkReachesNow(t *testing.T) {
	v := view.New(small()).At(at(90))
	l := v.Lineup(view.LineupQuery{From: at(-60)})
	for _, b := range l.Rows[1].Blocks {
		if b.Job.Status == view.JobRunning {
			require.InDelta(t, l.Now, b.X+b.W, 0.01)
			return
		}
	}
	t.Fatal("no running block")
}
