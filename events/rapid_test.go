// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"cmp"
	"math"
	"strings"

	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/resources/quality"
)

// anyEvent draws a valid event of any kind, with every field free within what
// the package allows.
func anyEvent(t *rapid.T) events.Event {
	k := rapid.SampledFrom(events.Kinds()).Draw(t, "kind")
	e := events.Event{
		ID:    rapid.StringMatching(`[!-~]{1,40}`).Draw(t, "id"),
		Kind:  k,
		Plant: name().Draw(t, "plant"),
		At:    resources.Tick(rapid.Int64Range(int64(events.FirstInstant)+10, int64(events.LastInstant)-10).Draw(t, "at")),
		By:    maybe(name()).Draw(t, "by"),
	}
	noun, _, _ := strings.Cut(string(k), ".")
	switch noun {
	case "operation", "load", "mix", "station":
		e.Station = name().Draw(t, "station")
	case "tool", "piece", "result", "event", "batch":
		e.Station = maybe(name()).Draw(t, "station")
	}
	e.Data = anyData(t, e)
	return e
}

func anyData(t *rapid.T, e events.Event) any {
	n := func(label string) string { return name().Draw(t, label) }
	m := func(label string) string { return maybe(name()).Draw(t, label) }
	why := maybe(note()).Draw(t, "why")
	until := resources.Tick(0)
	if rapid.Bool().Draw(t, "has until") {
		until = resources.Tick(rapid.Int64Range(int64(e.At)+1, int64(events.LastInstant)).Draw(t, "until"))
	}
	switch events.Payload(e.Kind).(type) {
	case events.PlantData:
		d := events.PlantData{File: "name: " + n("file")}
		for range rapid.IntRange(0, 2).Draw(t, "adopted") {
			d.Adopted = append(d.Adopted, resources.Adopted{At: tick(t, "adopted at"), Text: "name: " + n("set")})
		}
		return d
	case events.OrderData:
		d := events.OrderData{
			Order: n("order"), Line: n("line"), Customer: m("customer"), Product: n("product"),
			Quantity: rapid.IntRange(1, events.MaxQuantity).Draw(t, "quantity"), ShipBy: tick(t, "ship by"), Due: maybeTick(t, "due"),
			Weight: rapid.Int64Range(0, events.MaxWeight).Draw(t, "weight"), Kind: rapid.SampledFrom([]string{"firm", "event"}).Draw(t, "order kind"),
			EarliestStart: maybeTick(t, "earliest"), Note: why,
		}
		if e.Kind == events.OrderAdded && rapid.Bool().Draw(t, "asked") {
			d.Asked = &events.AskedData{Wish: maybeTick(t, "wish"), Plan: rapid.Int64Range(0, math.MaxInt64).Draw(t, "plan"), PerMille: rapid.Int64Range(0, 999).Draw(t, "confidence")}
		}
		return d
	case events.CancelData:
		return events.CancelData{Order: n("order"), Line: m("line"), Why: why}
	case events.ReserveData:
		return events.ReserveData{
			Promise: n("promise"), Customer: m("customer"), Product: n("product"), Quantity: rapid.IntRange(1, events.MaxQuantity).Draw(t, "quantity"),
			Wish: maybeTick(t, "wish"), ShipBy: tick(t, "ship by"), Due: maybeTick(t, "due"), Weight: rapid.Int64Range(0, events.MaxWeight).Draw(t, "weight"),
			Kind:    rapid.SampledFrom([]string{"firm", "event"}).Draw(t, "order kind"),
			Expires: resources.Tick(rapid.Int64Range(int64(e.At)+1, int64(events.LastInstant)).Draw(t, "expires")),
			Base:    rapid.Uint64().Draw(t, "base"), Plan: rapid.Int64Range(0, math.MaxInt64).Draw(t, "plan"), PerMille: rapid.Int64Range(0, 999).Draw(t, "confidence"),
		}
	case events.PromiseData:
		return events.PromiseData{Promise: n("promise"), Customer: m("customer"), Why: why}
	case events.OperationData:
		d := events.OperationData{
			Piece: n("piece"), Operation: n("operation"), Place: rapid.IntRange(0, events.MaxPlace).Draw(t, "place"),
			Mix: m("mix"), Tools: names(t, "tools"), Lots: lots(t), Why: why,
		}
		if e.Kind == events.OperationFinished && rapid.Bool().Draw(t, "has start") {
			d.Started = resources.Tick(rapid.Int64Range(int64(events.FirstInstant), int64(e.At)).Draw(t, "started"))
		}
		if e.Kind == events.OperationStarted || d.Started != 0 {
			d.Setup = setup(t, cmp.Or(d.Started, e.At))
		}
		return d
	case events.LoadData:
		d := anyLoad(t, e.Kind, n("load"), m("mix"), why)
		if e.Kind == events.LoadStarted {
			d.Setup = setup(t, e.At)
		}
		return d
	case events.MixData:
		return events.MixData{
			Mix: n("mix"), Resin: n("resin"), Grams: rapid.Int64Range(1, events.MaxGrams).Draw(t, "grams"), Ingredients: values(t, 0), Lots: lots(t), Why: why,
		}
	case events.StationData:
		return events.StationData{Why: why, Until: until}
	case events.ToolData:
		return events.ToolData{Unit: n("unit"), Why: why, Until: until}
	case events.AbsentData:
		d := events.AbsentData{Crew: n("crew"), People: rapid.IntRange(1, resources.MostHeads).Draw(t, "people"), Calendar: m("calendar"), Until: until, Why: why}
		if until == 0 {
			d.From = maybeTick(t, "from")
		}
		return d
	case events.PresentData:
		return events.PresentData{Crew: n("crew"), Why: why}
	case events.PieceData:
		return events.PieceData{Piece: n("piece"), Why: why}
	case events.ResultData:
		return events.ResultData{
			Piece: n("piece"), Operation: n("operation"), Gate: n("gate"), Pass: rapid.Bool().Draw(t, "pass"),
			Values: values(t, -math.MaxFloat64), Measured: measures(t), Decision: maybe(rapid.SampledFrom(events.Decisions())).Draw(t, "decision"), Why: why,
		}
	case events.BatchData:
		switch rapid.IntRange(0, 2).Draw(t, "of what") {
		case 0:
			return events.BatchData{Mix: n("mix"), Why: why}
		case 1:
			return events.BatchData{Load: n("load"), Why: why}
		}
		return events.BatchData{Material: n("material"), Lot: n("lot"), Why: why}
	case events.PlanData:
		return events.PlanData{
			Version: rapid.Int64Range(1, math.MaxInt64).Draw(t, "version"), Base: rapid.Uint64().Draw(t, "base"),
			Gzip:  rapid.SliceOfN(rapid.Byte(), 1, 300).Draw(t, "gzip"),
			Parts: drawParts(t), Optimal: rapid.Bool().Draw(t, "optimal"), Churn: drawChurn(t), Asked: drawAsked(t),
		}
	case events.VoidData:
		return events.VoidData{Event: e.ID[:len(e.ID)-1] + "~~", Why: why}
	}
	t.Fatalf("no generator for %s", e.Kind)
	return nil
}

// setup is when a changeover began for work that began then; 0: nobody says.
func setup(t *rapid.T, began resources.Tick) resources.Tick {
	if rapid.Bool().Draw(t, "no changeover") {
		return 0
	}
	return resources.Tick(rapid.Int64Range(int64(events.FirstInstant), int64(began)).Draw(t, "changeover"))
}

func anyLoad(t *rapid.T, k events.Kind, load, mix, why string) events.LoadData {
	d := events.LoadData{Load: load, Mix: mix, Lots: lots(t), Why: why}
	least := 0
	if k == events.LoadClosed {
		least = 1
	}
	for _, p := range rapid.SliceOfNDistinct(name(), least, 5, rapid.ID).Draw(t, "pieces") {
		d.Pieces = append(d.Pieces, events.LoadItem{Piece: p, Operation: name().Draw(t, "operation"), Tools: names(t, "tools")})
	}
	return d
}

// name draws names with letters of several scripts, signs that mean something
// to subjects, URIs, JSON and HTML, and inner spaces.
func name() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		s := rapid.StringOfN(rapid.RuneFrom([]rune("abzAZ019-_.*>/%~ <&\"\\'äßñ軸🏁\u2028")), 1, 20, -1).Draw(t, "name")
		if s = strings.TrimSpace(s); s == "" {
			return "x"
		}
		return s
	})
}

func note() *rapid.Generator[string] {
	return rapid.StringOfN(rapid.RuneFrom([]rune("ab \n\t\r<>&\"\\é🏁")), 1, 200, -1)
}

func maybe(g *rapid.Generator[string]) *rapid.Generator[string] {
	return rapid.OneOf(rapid.Just(""), g)
}

// names and values draw nil for none: JSON cannot tell nil from empty.
func names(t *rapid.T, label string) []string {
	s := rapid.SliceOfN(name(), 0, 3).Draw(t, label)
	if len(s) == 0 {
		return nil
	}
	return s
}

func values(t *rapid.T, low float64) map[string]float64 {
	m := rapid.MapOfN(name(), rapid.Float64Range(low, math.MaxFloat64), 0, 4).Draw(t, "values")
	if len(m) == 0 {
		return nil
	}
	return m
}

func lots(t *rapid.T) []events.LotUse {
	var out []events.LotUse
	for range rapid.IntRange(0, 2).Draw(t, "lots") {
		out = append(out, events.LotUse{Material: name().Draw(t, "material"), Lot: name().Draw(t, "lot")})
	}
	return out
}

func measures(t *rapid.T) []quality.Measure {
	var out []quality.Measure
	for range rapid.IntRange(0, 2).Draw(t, "measures") {
		out = append(out, quality.Measure{
			Of: name().Draw(t, "of"), Unit: name().Draw(t, "unit"), Values: rapid.SliceOfN(rapid.Float64(), 1, 4).Draw(t, "readings"),
		})
	}
	return out
}

func tick(t *rapid.T, label string) resources.Tick {
	return resources.Tick(rapid.Int64Range(int64(events.FirstInstant), int64(events.LastInstant)).Draw(t, label))
}

func maybeTick(t *rapid.T, label string) resources.Tick {
	if rapid.Bool().Draw(t, label+"?") {
		return tick(t, label)
	}
	return 0
}

func drawParts(t *rapid.T) []events.PlanPart {
	var parts []events.PlanPart
	for range rapid.IntRange(0, 3).Draw(t, "parts") {
		value := rapid.Int64Range(0, 1<<40).Draw(t, "value")
		parts = append(parts, events.PlanPart{
			Part: rapid.SampledFrom([]string{"lost", "tardiness"}).Draw(t, "part"), Unit: "s",
			Value: value, Bound: rapid.Int64Range(0, value).Draw(t, "bound"), By: rapid.SampledFrom([]string{"", "waits"}).Draw(t, "by"),
		})
	}
	return parts
}

func drawAsked(t *rapid.T) *events.PlanAsked {
	if rapid.Bool().Draw(t, "repaired") {
		return nil
	}
	return &events.PlanAsked{Why: rapid.SampledFrom([]string{"order.added", "many small changes"}).Draw(t, "asked"), Since: rapid.Uint64().Draw(t, "since")}
}

func drawChurn(t *rapid.T) *events.PlanChurn {
	if rapid.Bool().Draw(t, "first") {
		return nil
	}
	upTo := func(most int, label string) int { return rapid.IntRange(0, most).Draw(t, label) }
	c := &events.PlanChurn{Against: rapid.Int64Range(1, 1<<40).Draw(t, "against"), Compared: upTo(5000, "compared")}
	c.Moved, c.Frozen = upTo(c.Compared, "moved"), upTo(c.Compared, "frozen")
	c.Station, c.Near, c.Slipped = upTo(c.Moved, "station"), upTo(c.Moved, "near"), upTo(c.Frozen, "slipped")
	if rapid.Bool().Draw(t, "another next job") {
		c.Next = []string{"W1", "BOND"}
	}
	return c
}
