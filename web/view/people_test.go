// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/web/view"
)

// weekdays is a shift from Monday to Friday.
func weekdays(start, end resources.Seconds, breaks ...resources.ShiftBreak) []resources.Shift {
	return []resources.Shift{{Days: []time.Weekday{1, 2, 3, 4, 5}, Start: start, End: end, Breaks: breaks}}
}

// peopled is a picture, Monday 2 March 2026 at so many minutes after ten, of a
// plant with one crew: two by day with a break at eleven, one at night.
func peopled(t *testing.T, minutes int, told ...events.AbsentData) *view.View {
	t.Helper()
	p := smallPlant()
	p.Calendars = []resources.Calendar{
		{ID: "day", Shifts: weekdays(6*resources.Hour, 14*resources.Hour, resources.ShiftBreak{Start: 11 * resources.Hour, End: 12 * resources.Hour})},
		{ID: "night", Shifts: weekdays(22*resources.Hour, 30*resources.Hour)},
	}
	p.Crews = []resources.Crew{{ID: "early", Name: "Winders", Skills: []string{"winding", "tow_change"}, Shifts: []resources.CrewShift{{Calendar: "day", Heads: 2}, {Calendar: "night", Heads: 1}}}}
	state := scheduler.NewState(p)
	for i, d := range told {
		_, err := state.Apply(events.Event{ID: fmt.Sprint("told-", i), Seq: uint64(i + 1), Kind: events.CrewAbsent, Plant: "small", At: ten, By: "KM", Data: d})
		require.NoError(t, err)
	}
	return view.New(&view.Picture{Version: 1, Now: at(minutes), State: state})
}

func day(d resources.Seconds) resources.Tick { return ten + resources.Tick(d) - 10*3600 }

// A crew's hours are its shifts less those who are away, breaks not taken out.
func TestCrewIsCountedByItsShifts(t *testing.T) {
	const h = resources.Hour
	for _, c := range []struct {
		name           string
		minutes        int
		told           []events.AbsentData
		there, of      int
		until, next    resources.Tick
		today, morning string // hours of today and of tomorrow
	}{
		{"nobody away", 0, nil, 2, 2, day(14 * h), 0, "now–14 2/2 22–24 1/1", "00–06 1/1 06–14 2/2 22–24 1/1"},
		{"in a break", 75, nil, 2, 2, day(14 * h), 0, "now–14 2/2 22–24 1/1", "00–06 1/1 06–14 2/2 22–24 1/1"},
		{"between shifts", 300, nil, 0, 0, day(22 * h), day(22 * h), "22–24 1/1", "00–06 1/1 06–14 2/2 22–24 1/1"},
		{"one away, known until when", 0, []events.AbsentData{{Crew: "early", People: 1, Calendar: "day", Until: day(30 * h)}}, 1, 2, day(14 * h), 0, "now–14 1/2 22–24 1/1", "00–06 1/1 06–14 2/2 22–24 1/1"},
		{"back at a break", 0, []events.AbsentData{{Crew: "early", People: 1, Calendar: "day", Until: day(11*h + 1800)}}, 1, 2, day(11*h + 1800), 0, "now–11:30 1/2 11:30–14 2/2 22–24 1/1", "00–06 1/1 06–14 2/2 22–24 1/1"},
		{"nobody knows: for a shift from now", 0, []events.AbsentData{{Crew: "early", People: 1, Calendar: "day"}}, 1, 2, day(14 * h), 0, "now–14 1/2 22–24 1/1", "00–06 1/1 06–14 2/2 22–24 1/1"},
		{"of whichever is on", 0, []events.AbsentData{{Crew: "early", People: 1, Until: day(48 * h)}}, 1, 2, day(14 * h), 0, "now–14 1/2 22–24 0/1", "00–06 0/1 06–14 1/2 22–24 0/1"},
		{"all, later", 0, []events.AbsentData{{Crew: "early", People: 2, Calendar: "day", From: day(30 * h), Until: day(48 * h)}}, 2, 2, day(14 * h), 0, "now–14 2/2 22–24 1/1", "00–06 1/1 06–14 0/2 22–24 1/1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := peopled(t, c.minutes, c.told...)
			p := v.People()
			crew := p.Crews[0]
			require.Equal(t, []string{"winding", "tow change"}, crew.Skills)
			require.Equal(t, [2]int{c.there, c.of}, [2]int{crew.There, crew.Of})
			require.Equal(t, [2]int{c.there, c.of}, [2]int{p.There, p.Of})
			require.Equal(t, c.until, crew.Until)
			require.Equal(t, c.next, crew.Next)
			require.Equal(t, c.today, said(v, crew.Days[0]))
			require.Equal(t, c.morning, said(v, crew.Days[1]))
			require.Equal(t, "00–06 1/1", said(v, crew.Days[5]), "a night shift ends on a Saturday")
			require.Empty(t, crew.Days[6].Hours)
		})
	}
}

func said(v *view.View, d view.CrewDay) string {
	text := ""
	for _, h := range d.Hours {
		text += fmt.Sprintf(" %s %d/%d", v.Clock().Hours(h), h.There, h.Of)
	}
	return text[min(1, len(text)):]
}

// Who is expected back is not listed any more, without a report.
func TestAbsenceIsListedUntilItIsOver(t *testing.T) {
	told := []events.AbsentData{
		{Crew: "early", People: 1, Calendar: "day", Until: at(60), Why: "Training"},
		{Crew: "early", People: 1, Calendar: "night", From: at(12 * 60)},
	}
	p := peopled(t, 59, told...).People()
	require.Equal(t, [2]int{1, 1}, [2]int{p.Away, p.Later})
	first, second := p.Crews[0].Absences[0], p.Crews[0].Absences[1]
	require.True(t, first.Away)
	require.Equal(t, []any{"Training", "KM", at(60)}, []any{first.Why, first.By, first.Counted})
	require.False(t, second.Away)
	require.Zero(t, second.Until)
	require.Equal(t, at(20*60), second.Counted, "a shift from when they go")
	p = peopled(t, 60, told...).People()
	require.Equal(t, [2]int{0, 1}, [2]int{p.Away, p.Later})
	require.Len(t, p.Crews[0].Absences, 1)
}

// What is asked is what the crew leaves open.
func TestAwayAsksOnlyWhatIsOpen(t *testing.T) {
	fields := func(a view.Action) (out []string) {
		for _, b := range a.Blanks {
			out = append(out, b.Field)
		}
		return out
	}
	crew := peopled(t, 0).People().Crews[0]
	require.Equal(t, []string{"people", "calendar", "from", "until"}, fields(crew.Report))
	require.Equal(t, events.AbsentData{Crew: "early", People: 1, Calendar: "day"}, crew.Report.Reports[0].Data, "of the shift that is on")
	require.Equal(t, events.AbsentData{Crew: "early", People: 1, Calendar: "night"}, peopled(t, 300).People().Crews[0].Report.Reports[0].Data, "or comes next")
	p := small()
	p.State.Plant.Crews[0].Shifts[0].Heads = 1
	require.Equal(t, []string{"from", "until"}, fields(view.New(p).People().Crews[0].Report))
}

// Usual instants to be back are when the next two days begin, and the next week.
func TestUsualInstantsToBeBack(t *testing.T) {
	words := func(minutes int) (out []string) {
		v := view.New(small())
		blanks := v.At(at(minutes)).People().Crews[0].Report.Blanks
		for _, c := range blanks[len(blanks)-1].Usual {
			out = append(out, c.Word)
		}
		return out
	}
	require.Equal(t, []string{"Tue 06:00", "Wed 06:00", "Mon 9 Mar 06:00"}, words(0))
	require.Equal(t, []string{"Fri 06:00", "Mon 06:00"}, words(3*24*60))
	require.Equal(t, []string{"Mon 06:00", "Tue 06:00"}, words(4*24*60))
	require.Equal(t, []string{"Mon 06:00", "Tue 06:00"}, words(5*24*60))
}

// Every button of the page is a report the engine takes.
func TestOfferedReportsOfPeopleAreBelieved(t *testing.T) {
	v := peopled(t, 0, events.AbsentData{Crew: "early", People: 1, Calendar: "day"}, events.AbsentData{Crew: "early", People: 1, Calendar: "night", From: at(720), Until: at(900)})
	crew := v.People().Crews[0]
	all := []view.Action{}
	for _, a := range crew.Absences {
		all = append(all, a.Actions...)
	}
	require.Len(t, all, 4)
	data := crew.Report.Reports[0].Data.(events.AbsentData)
	data.Why = "another"
	crew.Report.Reports[0].Data = data
	for i, a := range append(all, crew.Report) {
		if change, ok := a.Reports[0].Data.(events.AbsentData); ok && change.Absence != "" {
			change.Until = at(2000) // as it stands it says nothing new
			a.Reports[0].Data = change
		}
		state := v.Picture.State.Clone()
		_, err := state.Apply(events.Event{ID: fmt.Sprint("press-", i), Seq: 9, Kind: a.Reports[0].Kind, Plant: "small", At: ten, Data: a.Reports[0].Data})
		require.NoError(t, err, a.Ask)
	}
}

// A station says who is away of crews that work there, while they are.
func TestStationSaysWhoIsAway(t *testing.T) {
	told := []events.AbsentData{{Crew: "early", People: 1, Calendar: "day", Until: at(60)}, {Crew: "early", People: 1, Calendar: "night", From: at(30)}}
	require.Equal(t, []string{"Winders 1 of 3, until 11:00"}, peopled(t, 0, told...).StationSheet("W1").Away)
	require.Equal(t, []string{"Winders 1 of 3, nobody knows until when"}, peopled(t, 60, told...).StationSheet("W1").Away)
	require.Empty(t, peopled(t, 0, told...).StationSheet("O1").Away, "nobody winds there")
}
