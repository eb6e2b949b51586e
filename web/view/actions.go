// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"

	"towpath/events"
	"towpath/resources"
)

// Report is one fact to be sent as it stands, but for who reports and why.
type Report struct {
	Kind    events.Kind `json:"kind" doc:"kind of event, e.g. operation.started"`
	Station string      `json:"station" doc:"reporting station"`
	Data    any         `json:"data" doc:"payload of the kind"`
}

// Action is something an operator can report with one button: the question to
// confirm, and the reports to send together.
type Action struct {
	Key     string      `json:"key" doc:"start, finish, passed, failed, resume, pause, down, up, scrap, hold, discard, away, back"`
	Word    string      `json:"word" doc:"what stands on the button"`
	Ask     string      `json:"ask" doc:"question to confirm"`
	Detail  []Attribute `json:"detail" doc:"what to check before confirming"`
	Reasons []string    `json:"reasons" doc:"usual reasons to choose from; empty: no reason is asked"`
	Until   bool        `json:"until" doc:"true: ask how long it will last"`
	Fields  []Field     `json:"fields" doc:"what to measure and enter; it becomes measured in the report of the result"`
	Blanks  []Blank     `json:"blanks,omitempty" doc:"what else to fill in; what each holds becomes the payload's field of its name. Left out: nothing"`
	Mind    string      `json:"mind,omitempty" doc:"what to mind when a reason is written; left out: nothing"`
	Reports []Report    `json:"reports" doc:"what to send"`
}

// Field is one quantity a person enters at a gate.
type Field struct {
	Of    string   `json:"of" doc:"the quantity"`
	Label string   `json:"label" doc:"what stands beside the input"`
	Unit  string   `json:"unit" doc:"unit it is asked in"`
	Units []string `json:"units" doc:"units it may be entered in"`
	Many  bool     `json:"many" doc:"true: a list of readings, points or images"`
	Limit string   `json:"limit" doc:"the limit, in words; empty: none of its own"`
}

// Blank is one field of a payload that a person fills in. It begins as the
// payload has it.
type Blank struct {
	Field string   `json:"field" doc:"field of the payload"`
	Label string   `json:"label" doc:"what stands beside the input"`
	Type  string   `json:"type" doc:"number, choice, or instant, which may stay empty"`
	Most  int      `json:"most" doc:"largest number; 0: it is none"`
	Empty string   `json:"empty" doc:"what it means when it stays empty; empty: it must be filled in"`
	Usual []Choice `json:"usual" doc:"of a choice, what to choose from; of an instant, usual ones with their words"`
}

// actions lists what can be reported of a job as it stands.
func (v *View) actions(st *resources.Station, j *Job) []Action {
	switch {
	case j.Kind == MixJob:
		return v.mixActions(j)
	case j.Status == JobPlanned || j.Status == JobClosed:
		return []Action{v.startAction(j)}
	case j.Status == JobPaused:
		return append([]Action{{
			Key: "resume", Word: "Go on", Ask: "Go on with " + j.Title + " of " + j.Subject() + "?", Detail: []Attribute{}, Reasons: []string{}, Fields: []Field{},
			Reports: []Report{v.operationReport(events.OperationResumed, j, 0, "")},
		}}, v.finishActions(j)...)
	case j.Status == JobRunning:
		return v.finishActions(j)
	}
	return []Action{}
}

func (v *View) startAction(j *Job) Action {
	a := Action{
		Key: "start", Word: "Start", Ask: "Start " + j.Title + " of " + j.Subject() + " on " + j.Station + "?",
		Detail: v.needs(j), Reasons: []string{}, Fields: []Field{},
	}
	if j.Kind == LoadJob {
		data := events.LoadData{Load: j.ID, Mix: j.Mix}
		for i := range j.Pieces {
			p := &j.Pieces[i]
			data.Pieces = append(data.Pieces, events.LoadItem{Piece: p.Piece, Operation: p.Operation, Tools: p.Tools})
		}
		a.Reports = []Report{{Kind: events.LoadStarted, Station: j.Station, Data: data}}
		return a
	}
	a.Reports = []Report{v.operationReport(events.OperationStarted, j, j.Place, j.Mix)}
	return a
}

func (v *View) operationReport(kind events.Kind, j *Job, place int, mix string) Report {
	p := &j.Pieces[0]
	data := events.OperationData{Piece: p.Piece, Operation: p.Operation, Place: place, Mix: mix}
	if kind == events.OperationStarted {
		data.Tools = p.Tools
	}
	return Report{Kind: kind, Station: j.Station, Data: data}
}

// finishActions end a job; at a gate, with its verdict.
func (v *View) finishActions(j *Job) []Action {
	finish := Action{
		Key: "finish", Word: "Finish", Ask: "Finish " + j.Title + " of " + j.Subject() + "?", Detail: []Attribute{}, Reasons: []string{}, Fields: []Field{},
	}
	if j.Kind == LoadJob {
		finish.Reports = []Report{{Kind: events.LoadFinished, Station: j.Station, Data: events.LoadData{Load: j.ID}}}
	} else {
		finish.Reports = []Report{v.operationReport(events.OperationFinished, j, 0, "")}
	}
	gates := v.gates(j)
	if len(gates) == 0 {
		return []Action{finish}
	}
	if len(gates) == 1 && v.rule(&gates[0]) != nil {
		return v.measureActions(j, finish, &gates[0])
	}
	if slices.ContainsFunc(gates, func(g events.ResultData) bool { return v.rule(&g) != nil }) {
		return []Action{finish} // its results are entered one by one, under Trouble
	}
	gate := gates[0].Gate
	pass, fail := finish, finish
	pass.Key, pass.Word = "passed", "Finish: passed"
	pass.Ask = "Finish " + j.Title + " of " + j.Subject() + " with result " + gate + " passed?"
	pass.Reports = append([]Report{}, finish.Reports...)
	for _, g := range gates {
		g.Pass = true
		pass.Reports = append(pass.Reports, Report{Kind: events.ResultRecorded, Station: j.Station, Data: g})
	}
	if len(gates) > 1 {
		// Results of a load are reported piece by piece when not all passed.
		pass.Word, pass.Ask = "Finish: all passed", "Finish "+j.Title+" of "+j.Subject()+", result "+gate+" passed for every piece?"
		return append([]Action{pass, finish}, v.failActions(j, gates)...)
	}
	fail.Key, fail.Word = "failed", "Finish: failed"
	fail.Ask = "Finish " + j.Title + " of " + j.Subject() + " with result " + gate + " FAILED? The piece goes on hold."
	fail.Reasons = []string{"Out of tolerance", "Visible damage", "Measurement doubtful"}
	fail.Reports = append(append([]Report{}, finish.Reports...), Report{Kind: events.ResultRecorded, Station: j.Station, Data: gates[0]})
	return []Action{pass, fail}
}

// failActions finish a load with one piece failed and the others passed.
func (v *View) failActions(j *Job, gates []events.ResultData) []Action {
	var out []Action
	for i, bad := range gates {
		a := Action{
			Key: "failed", Word: "Finish: " + bad.Piece + " failed", Ask: "Finish " + j.Title + " of " + j.Subject() + ": " + bad.Piece + " FAILED, the others passed?",
			Detail: []Attribute{}, Reasons: []string{"Out of tolerance", "Visible damage", "Measurement doubtful"}, Fields: []Field{},
			Reports: []Report{{Kind: events.LoadFinished, Station: j.Station, Data: events.LoadData{Load: j.ID}}},
		}
		for k, g := range gates {
			g.Pass = k != i
			a.Reports = append(a.Reports, Report{Kind: events.ResultRecorded, Station: j.Station, Data: g})
		}
		out = append(out, a)
	}
	return out
}

func (v *View) gates(j *Job) []events.ResultData {
	var out []events.ResultData
	for i := range j.Pieces {
		p := &j.Pieces[i]
		if op := v.operation(p.Piece, p.Operation); op != nil && op.Gate != "" {
			out = append(out, events.ResultData{Piece: p.Piece, Operation: p.Operation, Gate: op.Gate})
		}
	}
	return out
}

func (v *View) mixActions(j *Job) []Action {
	if j.Status == JobDone {
		return []Action{}
	}
	return []Action{{
		Key: "finish", Word: "Mixed", Ask: j.Title + ": " + j.ID + " is mixed and the weights are checked?", Detail: v.mixNeeds(j), Reasons: []string{}, Fields: v.weighings(j),
		Reports: []Report{{Kind: events.MixMade, Station: j.Station, Data: events.MixData{Mix: j.ID, Resin: j.Resin, Grams: j.Grams}}},
	}}
}

// troubles lists what can be reported when something is wrong at a station.
func (v *View) troubles(st *resources.Station, s *StationSheet) []Action {
	out := []Action{}
	if s.Station.Status == StationDown {
		out = append(out, Action{
			Key: "up", Word: st.ID + " works again", Ask: "Report that " + st.ID + " works again?", Detail: []Attribute{}, Reasons: []string{}, Fields: []Field{},
			Reports: []Report{{Kind: events.StationUp, Station: st.ID, Data: events.StationData{}}},
		})
	}
	for i := range s.Now {
		if j := s.Now[i].Job; j.Kind == PieceJob && j.Status == JobRunning {
			out = append(out, Action{
				Key: "pause", Word: "Pause " + j.Subject(), Ask: "Pause " + j.Title + " of " + j.Subject() + "?", Detail: []Attribute{},
				Reasons: []string{"Waiting for material", "Waiting for a tool", "Waiting for a person", "Break"}, Fields: []Field{},
				Reports: []Report{v.operationReport(events.OperationPaused, j, 0, "")},
			})
		}
	}
	if s.Station.Status != StationDown {
		out = append(out, Action{
			Key: "down", Word: st.ID + " is down", Ask: "Report that " + st.ID + " is down? Work planned here moves.", Detail: []Attribute{}, Until: true,
			Reasons: []string{"Breakdown", "Maintenance", "No power or air", "No operator"}, Fields: []Field{},
			Reports: []Report{{Kind: events.StationDown, Station: st.ID, Data: events.StationData{}}},
		})
	}
	return append(append(append(out, v.openResults(st)...), v.pieceTroubles(st, s)...), v.mixTroubles(st)...)
}

// pieceTroubles hold or scrap each piece that is here or comes next.
func (v *View) pieceTroubles(st *resources.Station, s *StationSheet) []Action {
	out := []Action{}
	seen := map[string]bool{}
	jobs := append([]JobSheet{}, s.Now...)
	if len(s.Next) > 0 {
		jobs = append(jobs, s.Next[0])
	}
	for i := range jobs {
		if jobs[i].Job.Kind == MixJob {
			continue
		}
		for k := range jobs[i].Job.Pieces {
			p := &jobs[i].Job.Pieces[k]
			if seen[p.Piece] {
				continue
			}
			seen[p.Piece] = true
			data := events.PieceData{Piece: p.Piece}
			out = append(out, Action{
				Key: "hold", Word: "Hold " + p.Piece, Ask: "Put " + p.Piece + " of order " + p.Order + " on hold until somebody decides?", Detail: []Attribute{},
				Reasons: []string{"Looks wrong", "Measurement doubtful", "Dropped or knocked", "Mix-up suspected"}, Fields: []Field{},
				Reports: []Report{{Kind: events.PieceHeld, Station: st.ID, Data: data}},
			}, Action{
				Key: "scrap", Word: "Scrap " + p.Piece, Ask: "Scrap " + p.Piece + " of order " + p.Order + "? It is made again if the order needs it.", Detail: []Attribute{},
				Reasons: []string{"Winding fault", "Damaged", "Resin gelled", "Out of tolerance", "Stuck on mandrel"}, Fields: []Field{},
				Reports: []Report{{Kind: events.PieceScrapped, Station: st.ID, Data: data}},
			})
		}
	}
	return out
}

// mixTroubles throw away mixes made here that are still alive.
func (v *View) mixTroubles(st *resources.Station) []Action {
	out := []Action{}
	for _, j := range v.station[st.ID] {
		if j.Kind != MixJob || j.Status != JobDone {
			continue
		}
		run := v.Picture.State.Mixes[j.ID]
		if run == nil || run.Discarded || run.Expiry+resources.Tick(resources.Day) < v.zone.Now {
			continue
		}
		out = append(out, Action{
			Key: "discard", Word: "Throw away mix " + j.ID, Ask: "Report mix " + j.ID + " as thrown away?", Detail: []Attribute{},
			Reasons: []string{"Used up", "Pot life over", "Gelling", "Weight check failed"}, Fields: []Field{},
			Reports: []Report{{
				Kind: events.MixDiscarded, Station: st.ID,
				Data: events.MixData{Mix: j.ID, Resin: j.Resin, Grams: max(0, cmp.Or(run.Left, run.Grams-run.Drawn))},
			}},
		})
	}
	return out
}
