// SPDX-License-Identifier: Apache-2.0

package main

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"towpath/events"
	"towpath/resources/quality"
)

// verbs lists what can be reported.
func verbs() []verb {
	list := append(operationVerbs(), loadVerbs()...)
	list = append(list, stationVerbs()...)
	list = append(list, crewVerbs()...)
	return append(list, pieceVerbs()...)
}

func operationVerbs() []verb {
	data := func(o *reportOptions) (any, error) {
		started, err := momentFlag("started", o.started)
		setup, wrong := momentFlag("setup", o.setup)
		lots, bad := lotsFlag(o.lots)
		return events.OperationData{
			Piece: o.piece, Operation: o.operation, Place: o.place, Mix: o.mix, Tools: o.tools, Lots: lots, Started: started, Setup: setup, Why: o.why,
		}, cmp.Or(err, wrong, bad)
	}
	needs := []string{"station", "piece", "operation"}
	example := "--station W1 --piece A-1-01 --operation wind"
	return []verb{
		{"start", events.OperationStarted, "An operation of a piece has started", with(needs, "place", "tool", "mix", "use-lot", "setup", "why"), needs, example, data},
		{"pause", events.OperationPaused, "An operation is paused", with(needs, "why"), needs, example, data},
		{"resume", events.OperationResumed, "A paused operation goes on", with(needs, "why"), needs, example, data},
		{"finish", events.OperationFinished, "An operation is finished; without a start, the start is implied",
			with(needs, "place", "tool", "mix", "use-lot", "started", "setup", "why"), needs, example, data},
	}
}

func loadVerbs() []verb {
	data := func(o *reportOptions) (any, error) {
		lots, err := lotsFlag(o.lots)
		if err != nil {
			return nil, err
		}
		setup, err := momentFlag("setup", o.setup)
		if err != nil {
			return nil, err
		}
		d := events.LoadData{Load: o.load, Mix: o.mix, Lots: lots, Setup: setup, Why: o.why}
		for _, m := range o.members {
			piece, operation, ok := cutLast(m)
			if !ok {
				return nil, usage("e.g. --member A-1-01/cure", "--member %q: want PIECE/OPERATION", m)
			}
			d.Pieces = append(d.Pieces, events.LoadItem{Piece: piece, Operation: operation})
		}
		return d, nil
	}
	needs := []string{"station", "load"}
	flags := with(needs, "member", "mix", "use-lot", "why")
	example := "--station OV1 --load L-12 --member A-1-01/cure --member A-1-02/cure"
	mixData := func(o *reportOptions) (any, error) {
		lots, err := lotsFlag(o.lots)
		if err != nil {
			return nil, err
		}
		weights, err := numbersFlag("ingredient", o.ingredients)
		return events.MixData{Mix: o.mix, Resin: o.resin, Grams: o.grams, Ingredients: weights, Lots: lots, Why: o.why}, err
	}
	return []verb{
		{"close-load", events.LoadClosed, "A load is settled: these pieces and no others", flags, with(needs, "member"), example, data},
		{"start-load", events.LoadStarted, "A load has started", with(flags, "setup"), needs, "--station OV1 --load L-12", data},
		{"finish-load", events.LoadFinished, "A load is finished", flags, needs, "--station OV1 --load L-12", data},
		{"mix", events.MixMade, "Resin has been mixed", []string{"station", "mix", "resin", "grams", "ingredient", "use-lot", "why"},
			[]string{"station", "mix", "resin", "grams"}, "--station MIX --mix M-7 --resin R1 --grams 1320 --ingredient resin=1000 --ingredient hardener=320", mixData},
		{"discard-mix", events.MixDiscarded, "What was left of a mix has been thrown away", []string{"station", "mix", "grams", "why"},
			[]string{"mix"}, "--mix M-7 --why \"end of pot life\"", mixData},
	}
}

func stationVerbs() []verb {
	station := func(o *reportOptions) (any, error) {
		until, err := momentFlag("until", o.until)
		return events.StationData{Why: o.why, Until: until}, err
	}
	tool := func(o *reportOptions) (any, error) {
		until, err := momentFlag("until", o.until)
		return events.ToolData{Unit: o.unit, Why: o.why, Until: until}, err
	}
	return []verb{
		{"down", events.StationDown, "A station has stopped", []string{"station", "why", "until"}, []string{"station"},
			"--station W1 --why \"drive fault\"", station},
		{"up", events.StationUp, "A station works again", []string{"station", "why"}, []string{"station"}, "--station W1", station},
		{"tool-out", events.ToolOut, "A tool is out of use", []string{"unit", "why", "until"}, []string{"unit"}, "--unit M-76-2 --why scratched", tool},
		{"tool-in", events.ToolIn, "A tool is in use again", []string{"unit", "why"}, []string{"unit"}, "--unit M-76-2", tool},
	}
}

func crewVerbs() []verb {
	absent := func(o *reportOptions) (any, error) {
		from, err := momentFlag("from", o.from)
		if err != nil {
			return nil, err
		}
		until, err := momentFlag("until", o.until)
		return events.AbsentData{Crew: o.crew, People: o.people, Calendar: o.calendar, From: from, Until: until, Why: o.why, Absence: o.absence}, err
	}
	present := func(o *reportOptions) (any, error) {
		return events.PresentData{Crew: o.crew, Absence: o.absence, Why: o.why}, nil
	}
	return []verb{
		{"absent", events.CrewAbsent, "People of a crew are away", []string{"station", "crew", "people", "calendar", "from", "until", "why", "absence"}, []string{"crew"},
			"--crew winders --until 2026-03-05T06:00:00Z --why \"not in\"", absent},
		{"present", events.CrewPresent, "People of a crew who were away are back", []string{"station", "crew", "absence", "why"}, []string{"crew"}, "--crew winders", present},
	}
}

func pieceVerbs() []verb {
	piece := func(o *reportOptions) (any, error) { return events.PieceData{Piece: o.piece, Why: o.why}, nil }
	flags, needs, example := []string{"station", "piece", "why"}, []string{"piece"}, "--piece A-1-01 --why \"dropped\""
	return []verb{
		{"scrap", events.PieceScrapped, "A piece is scrap", flags, needs, example, piece},
		{"hold", events.PieceHeld, "A piece must not go on for now", flags, needs, example, piece},
		{"release", events.PieceReleased, "A held piece may go on", flags, needs, "--piece A-1-01", piece},
		{"result", events.ResultRecorded, "A result at a gate",
			[]string{"station", "piece", "operation", "gate", "measure", "pass", "fail", "decide", "value", "why"}, []string{"piece", "operation", "gate"},
			`--piece A-1-01 --operation proof --gate proof --measure "torque=0 400 800 1200 N·m" --measure "twist=0 1.5 3 4.5 deg"`, resultData},
		{"hold-batch", events.BatchHeld, "Everything made from a mix, in a load or from a lot must wait", []string{"station", "mix", "load", "material", "lot", "why"}, nil,
			"--mix M-7 --why \"wrong hardener\"", batchData},
		{"release-batch", events.BatchReleased, "What was held with a mix, a load or a lot may go on", []string{"station", "mix", "load", "material", "lot", "why"}, nil,
			"--mix M-7 --why \"looked at, fit for use\"", batchData},
		{"cancel", events.OrderCancelled, "An order, or one line of it, is cancelled", []string{"order", "line", "why"}, []string{"order"}, "--order A-1",
			func(o *reportOptions) (any, error) {
				return events.CancelData{Order: o.order, Line: o.line, Why: o.why}, nil
			}},
		{"void", events.EventVoided, "An earlier report was a mistake", []string{"event", "why"}, []string{"event"}, "--event 6f1c… --why \"wrong piece\"",
			func(o *reportOptions) (any, error) { return events.VoidData{Event: o.event, Why: o.why}, nil }},
	}
}

func resultData(o *reportOptions) (any, error) {
	d := events.ResultData{Piece: o.piece, Operation: o.operation, Gate: o.gate, Pass: o.pass, Decision: o.decide, Why: o.why}
	switch {
	case o.pass && o.fail:
		return nil, usage("", "say either --pass or --fail")
	case !o.pass && !o.fail && len(o.measures) == 0 && o.decide == "":
		return nil, usage("--measure where the plant file has a rule for the gate, else --pass or --fail", "nothing says how it came out")
	}
	var err error
	if d.Values, err = numbersFlag("value", o.values); err != nil {
		return nil, err
	}
	for _, text := range o.measures {
		m, ok := measureOf(text)
		if !ok {
			return nil, usage(`e.g. --measure "torque=0 400 800 N·m"`, "--measure %q: want QUANTITY=NUMBERS UNIT", text)
		}
		d.Measured = append(d.Measured, m)
	}
	return d, nil
}

// measureOf reads "torque=0 400 800 N·m".
func measureOf(text string) (quality.Measure, bool) {
	of, rest, ok := strings.Cut(text, "=")
	words := strings.Fields(rest)
	if !ok || of == "" || len(words) < 2 {
		return quality.Measure{}, false
	}
	m := quality.Measure{Of: of, Unit: words[len(words)-1]}
	for _, w := range words[:len(words)-1] {
		x, err := strconv.ParseFloat(w, 64)
		if err != nil {
			return m, false
		}
		m.Values = append(m.Values, x)
	}
	return m, true
}

func batchData(o *reportOptions) (any, error) {
	d := events.BatchData{Mix: o.mix, Load: o.load, Material: o.material, Lot: o.lot, Why: o.why}
	if given := slices.DeleteFunc([]string{o.mix, o.load, o.lot}, func(s string) bool { return s == "" }); len(given) != 1 || (o.lot == "") != (o.material == "") {
		return nil, usage("e.g. --material tow --lot T-0481", "give exactly one of --mix, --load, or --material with --lot")
	}
	return d, nil
}

// numbersFlag reads NAME=NUMBER pairs.
func numbersFlag(flag string, pairs []string) (map[string]float64, error) {
	var out map[string]float64
	for _, v := range pairs {
		name, text, _ := strings.Cut(v, "=")
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || name == "" {
			return nil, usage("e.g. --"+flag+" torque_nm=412.5", "--%s %q: want NAME=NUMBER", flag, v)
		}
		if out == nil {
			out = map[string]float64{}
		}
		out[name] = x
	}
	return out, nil
}

// lotsFlag reads MATERIAL=LOT pairs.
func lotsFlag(pairs []string) ([]events.LotUse, error) {
	var out []events.LotUse
	for _, v := range pairs {
		material, lot, ok := strings.Cut(v, "=")
		if !ok || material == "" || lot == "" {
			return nil, usage("e.g. --use-lot tow=T-0481", "--use-lot %q: want MATERIAL=LOT", v)
		}
		out = append(out, events.LotUse{Material: material, Lot: lot})
	}
	return out, nil
}

// cutLast splits at the last slash: serials may have one, operations do not.
func cutLast(s string) (before, after string, ok bool) {
	i := strings.LastIndexByte(s, '/')
	if i <= 0 || i == len(s)-1 {
		return "", "", false
	}
	return s[:i], s[i+1:], true
}

// with is a list and more, without touching the list.
func with(list []string, more ...string) []string {
	return append(append([]string(nil), list...), more...)
}
