// SPDX-License-Identifier: Apache-2.0

package main

import (
	"strconv"
	"strings"

	"towpath/events"
)

// verbs lists what can be reported.
func verbs() []verb {
	list := append(operationVerbs(), loadVerbs()...)
	list = append(list, stationVerbs()...)
	return append(list, pieceVerbs()...)
}

func operationVerbs() []verb {
	data := func(o *reportOptions) (any, error) {
		started, err := momentFlag("started", o.started)
		return events.OperationData{
			Piece: o.piece, Operation: o.operation, Place: o.place, Mix: o.mix, Tools: o.tools, Started: started, Why: o.why,
		}, err
	}
	needs := []string{"station", "piece", "operation"}
	example := "--station W1 --piece A-1-01 --operation wind"
	return []verb{
		{"start", events.OperationStarted, "An operation of a piece has started", with(needs, "place", "tool", "mix", "why"), needs, example, data},
		{"pause", events.OperationPaused, "An operation is paused", with(needs, "why"), needs, example, data},
		{"resume", events.OperationResumed, "A paused operation goes on", with(needs, "why"), needs, example, data},
		{"finish", events.OperationFinished, "An operation is finished; without a start, the start is implied",
			with(needs, "place", "tool", "mix", "started", "why"), needs, example, data},
	}
}

func loadVerbs() []verb {
	data := func(o *reportOptions) (any, error) {
		d := events.LoadData{Load: o.load, Mix: o.mix, Why: o.why}
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
	flags := with(needs, "member", "mix", "why")
	example := "--station OV1 --load L-12 --member A-1-01/cure --member A-1-02/cure"
	mixData := func(o *reportOptions) (any, error) {
		return events.MixData{Mix: o.mix, Resin: o.resin, Grams: o.grams, Why: o.why}, nil
	}
	return []verb{
		{"close-load", events.LoadClosed, "A load is settled: these pieces and no others", flags, with(needs, "member"), example, data},
		{"start-load", events.LoadStarted, "A load has started", flags, needs, "--station OV1 --load L-12", data},
		{"finish-load", events.LoadFinished, "A load is finished", flags, needs, "--station OV1 --load L-12", data},
		{"mix", events.MixMade, "Resin has been mixed", []string{"station", "mix", "resin", "grams", "why"},
			[]string{"station", "mix", "resin", "grams"}, "--station MIX --mix M-7 --resin R1 --grams 1800", mixData},
		{"discard-mix", events.MixDiscarded, "What was left of a mix has been thrown away", []string{"station", "mix", "why"},
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

func pieceVerbs() []verb {
	piece := func(o *reportOptions) (any, error) { return events.PieceData{Piece: o.piece, Why: o.why}, nil }
	flags, needs, example := []string{"station", "piece", "why"}, []string{"piece"}, "--piece A-1-01 --why \"dropped\""
	return []verb{
		{"scrap", events.PieceScrapped, "A piece is scrap", flags, needs, example, piece},
		{"hold", events.PieceHeld, "A piece must not go on for now", flags, needs, example, piece},
		{"release", events.PieceReleased, "A held piece may go on", flags, needs, "--piece A-1-01", piece},
		{"result", events.ResultRecorded, "A result at a gate",
			[]string{"station", "piece", "operation", "gate", "pass", "fail", "value", "why"}, []string{"piece", "operation", "gate"},
			"--piece A-1-01 --operation proof --gate proof --pass --value torque_nm=412.5", resultData},
		{"cancel", events.OrderCancelled, "An order, or one line of it, is cancelled", []string{"order", "line", "why"}, []string{"order"}, "--order A-1",
			func(o *reportOptions) (any, error) {
				return events.CancelData{Order: o.order, Line: o.line, Why: o.why}, nil
			}},
		{"void", events.EventVoided, "An earlier report was a mistake", []string{"event", "why"}, []string{"event"}, "--event 6f1c… --why \"wrong piece\"",
			func(o *reportOptions) (any, error) { return events.VoidData{Event: o.event, Why: o.why}, nil }},
	}
}

func resultData(o *reportOptions) (any, error) {
	if o.pass == o.fail {
		return nil, usage("", "say either --pass or --fail")
	}
	d := events.ResultData{Piece: o.piece, Operation: o.operation, Gate: o.gate, Pass: o.pass, Why: o.why}
	for _, v := range o.values {
		name, text, _ := strings.Cut(v, "=")
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || name == "" {
			return nil, usage("e.g. --value torque_nm=412.5", "--value %q: want NAME=NUMBER", v)
		}
		if d.Values == nil {
			d.Values = map[string]float64{}
		}
		d.Values[name] = x
	}
	return d, nil
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
