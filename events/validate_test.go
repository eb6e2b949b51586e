// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
)

func TestValidateKnowsTheRulesOfEachKind(t *testing.T) {
	find := func(k events.Kind) events.Event {
		for _, e := range samples() {
			if e.Kind == k {
				return e
			}
		}
		t.Fatalf("no sample of %s", k)
		return events.Event{}
	}
	for name, c := range map[string]struct {
		kind   events.Kind
		change func(*events.Event)
		field  string
	}{
		"empty plant file":   {events.PlantDeclared, data(func(d *events.PlantData) { d.File = " \n" }), "data.file"},
		"plant by a station": {events.PlantDeclared, func(e *events.Event) { e.Station = "W1" }, "source"},
		"no quantity":        {events.OrderAdded, data(func(d *events.OrderData) { d.Quantity = 0 }), "data.quantity"},
		"slip of the finger": {events.OrderAdded, data(func(d *events.OrderData) { d.Quantity = 10001 }), "data.quantity"},
		"order kind":         {events.OrderAdded, data(func(d *events.OrderData) { d.Kind = "rush" }), "data.kind"},
		"weight":             {events.OrderChanged, data(func(d *events.OrderData) { d.Weight = -1 }), "data.weight"},
		"an order that was changed cannot be asked for": {events.OrderChanged, data(func(d *events.OrderData) { d.Asked = &events.AskedData{} }), "data.asked"},
		"chance":                   {events.OrderAdded, data(func(d *events.OrderData) { d.Asked = &events.AskedData{PerMille: 1000} }), "data.asked.confidence"},
		"plan":                     {events.OrderAdded, data(func(d *events.OrderData) { d.Asked = &events.AskedData{Plan: -1} }), "data.asked.plan"},
		"no line":                  {events.OrderChanged, data(func(d *events.OrderData) { d.Line = "" }), "data.line"},
		"no order":                 {events.OrderCancelled, data(func(d *events.CancelData) { d.Order = "" }), "data.order"},
		"finish before start":      {events.OperationFinished, data(func(d *events.OperationData) { d.Started = at + 1 }), "data.started"},
		"empty tool":               {events.OperationStarted, data(func(d *events.OperationData) { d.Tools = []string{"a", ""} }), "data.tools[1]"},
		"empty load":               {events.LoadClosed, data(func(d *events.LoadData) { d.Pieces = nil }), "data.pieces"},
		"piece twice":              {events.LoadClosed, data(func(d *events.LoadData) { d.Pieces = append(d.Pieces, d.Pieces[0]) }), "data.pieces[2].piece"},
		"member without op":        {events.LoadStarted, data(func(d *events.LoadData) { d.Pieces = []events.LoadItem{{Piece: "a"}} }), "data.pieces[0].operation"},
		"no grams":                 {events.MixMade, data(func(d *events.MixData) { d.Grams = 0 }), "data.grams"},
		"negative weighing":        {events.MixMade, data(func(d *events.MixData) { d.Ingredients = map[string]float64{"base": -1} }), "data.ingredients_g.base"},
		"stop ends before":         {events.StationDown, data(func(d *events.StationData) { d.Until = at }), "data.until"},
		"no unit":                  {events.ToolOut, data(func(d *events.ToolData) { d.Unit = "" }), "data.unit"},
		"nobody is away":           {events.CrewAbsent, data(func(d *events.AbsentData) { d.People = 0 }), "data.people"},
		"no crew":                  {events.CrewPresent, data(func(d *events.PresentData) { d.Crew = "" }), "data.crew"},
		"back before they go":      {events.CrewAbsent, data(func(d *events.AbsentData) { d.Until = d.From }), "data.until"},
		"no event's id":            {events.CrewAbsent, data(func(d *events.AbsentData) { d.Absence = "a b" }), "data.absence"},
		"space at end":             {events.PieceHeld, data(func(d *events.PieceData) { d.Piece = "a " }), "data.piece"},
		"long note":                {events.PieceHeld, data(func(d *events.PieceData) { d.Why = strings.Repeat("x", events.MaxNote+1) }), "data.why"},
		"long name":                {events.PieceHeld, data(func(d *events.PieceData) { d.Piece = strings.Repeat("x", events.MaxName+1) }), "data.piece"},
		"no gate":                  {events.ResultRecorded, data(func(d *events.ResultData) { d.Gate = "" }), "data.gate"},
		"not a number":             {events.ResultRecorded, data(func(d *events.ResultData) { d.Values = map[string]float64{"a": math.NaN()} }), "data.values.a"},
		"no plan":                  {events.PlanPublished, data(func(d *events.PlanData) { d.Gzip = nil }), "data.gzip"},
		"plan bound":               {events.PlanPublished, data(func(d *events.PlanData) { d.Parts[0].Bound = d.Parts[0].Value + 1 }), "data.parts[0].bound"},
		"plan part":                {events.PlanPublished, data(func(d *events.PlanData) { d.Parts[0].Part = "" }), "data.parts[0].part"},
		"moved of fewer":           {events.PlanPublished, data(func(d *events.PlanData) { d.Churn = &events.PlanChurn{Compared: 2, Moved: 3} }), "data.churn.moved"},
		"asked by nothing":         {events.PlanPublished, data(func(d *events.PlanData) { d.Asked = &events.PlanAsked{Since: 3} }), "data.asked.why"},
		"changeover of a pause":    {events.OperationPaused, data(func(d *events.OperationData) { d.Setup = 1772440000 }), "data.setup"},
		"changeover after a start": {events.OperationStarted, data(func(d *events.OperationData) { d.Setup = 4000000000 }), "data.setup"},
		"changeover of an end":     {events.LoadFinished, data(func(d *events.LoadData) { d.Setup = 1772440000 }), "data.setup"},
		"slipped of fewer":         {events.PlanPublished, data(func(d *events.PlanData) { d.Churn = &events.PlanChurn{Compared: 2, Slipped: 1} }), "data.churn.slipped"},
		"plan version":             {events.PlanPublished, data(func(d *events.PlanData) { d.Version = 0 }), "data.version"},
		"voids itself":             {events.EventVoided, data(func(d *events.VoidData) { d.Event = "sample-23" }), "data.event"},
		"voids nothing":            {events.EventVoided, data(func(d *events.VoidData) { d.Event = "" }), "data.event"},
	} {
		t.Run(name, func(t *testing.T) {
			e := find(c.kind)
			require.NoError(t, events.Validate(e))
			c.change(&e)
			faults := events.Faults(events.Validate(e))
			require.Len(t, faults, 1)
			require.Equal(t, c.field, faults[0].Field)
			require.NotEmpty(t, faults[0].Allowed)
		})
	}
}

// Every instant of every payload is looked at: a clock that is wrong is caught
// wherever its time stands.
func TestEveryInstantIsLookedAt(t *testing.T) {
	seen := 0
	for _, e := range samples() {
		payload := reflect.TypeOf(e.Data)
		for i := range payload.NumField() {
			field := payload.Field(i)
			if field.Type != reflect.TypeFor[resources.Tick]() {
				continue
			}
			seen++
			name, _, _ := strings.Cut(field.Tag.Get("json"), ",")
			for _, at := range []resources.Tick{events.FirstInstant - 1, events.LastInstant + 1} {
				d := reflect.New(payload).Elem()
				d.Set(reflect.ValueOf(e.Data))
				d.Field(i).SetInt(int64(at))
				wrong := e
				wrong.Data = d.Interface()
				_, err := events.Encode(wrong)
				faults := events.Faults(err)
				require.True(t, slices.ContainsFunc(faults, func(f *events.Fault) bool {
					return f.Field == "data."+name
				}), "%s of %s: %v", name, e.Kind, faults)
			}
		}
	}
	require.Greater(t, seen, 12)
}

func TestWhatCanBeAnIDOrAName(t *testing.T) {
	long := strings.Repeat("x", events.MaxID)
	for _, id := range []string{"!", "~", long} {
		require.True(t, events.ValidID(id), "%q", id)
	}
	for _, id := range []string{"", " ", "a b", "\x7f", "é", long + "x"} {
		require.False(t, events.ValidID(id), "%q", id)
	}
	for _, name := range []string{"é", "mix room", "\ufdcf", "\ufdf0", "\U0001fffd", strings.Repeat("x", events.MaxName)} {
		require.True(t, events.ValidName(name), "%q", name)
	}
	for _, name := range []string{"", " a", "a\n", "\ufdd0", "\ufdef", "\ufffe", "\uffff", "\U0001ffff", "\U0010fffe", "\ufffd"} {
		require.False(t, events.ValidName(name), "%q", name)
	}
}

// data changes a payload in place.
func data[D any](change func(*D)) func(*events.Event) {
	return func(e *events.Event) {
		d := e.Data.(D)
		change(&d)
		e.Data = d
	}
}

func TestPureFold(t *testing.T) {
	// A simulated clock may start at zero; only the wire cares.
	e := samples()[4]
	e.At = 0
	require.NoError(t, events.Validate(e))
}
