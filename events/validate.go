// SPDX-License-Identifier: Apache-2.0

package events

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
	"towpath/resources/quality"
)

// Limits of what an event may say, far beyond any shop and near enough to
// catch a slip of a finger.
const (
	MaxQuantity = 10_000
	MaxWeight   = 1_000_000
	MaxMembers  = 1_000     // pieces in one load
	MaxPlace    = 1_000     // of one station
	MaxGrams    = 1_000_000 // one mix: a tonne
	MaxLots     = 50        // named in one report
	MaxMeasures = 50        // quantities in one result
)

// Validate reports everything about an event that can be seen without knowing
// the plant or what happened before: that the kind exists, that Data is its
// payload type, that names are there and clean, that numbers are in range. It
// does not ask whether the instants are plausible; Encode and Decode do.
func Validate(e Event) error {
	var fs faults
	if !ValidID(e.ID) {
		if e.ID == "" {
			fs.add(ErrMissing, "id", "", "a text that no other event has", "use a UUID; keep it when sending the same event again")
		} else {
			fs.add(ErrValue, "id", strconv.Quote(e.ID), "1 to 128 visible ASCII characters without space", "use a UUID")
		}
	}
	w := wordOf(e.Kind)
	if w == nil {
		fs.add(ErrKind, "type", strconv.Quote(string(e.Kind)), typeList, "")
		return fs.err()
	}
	fs.name("source", e.Plant, "the plant's name in /plant/PLANT")
	fs.station(w, e)
	if e.By != "" {
		fs.name("by", e.By, "who reports")
	}
	if reflect.TypeOf(e.Data) != reflect.TypeOf(w.data) {
		fs.add(ErrValue, "data", fmt.Sprintf("%T", e.Data), fmt.Sprintf("%T", w.data), "")
		return fs.err()
	}
	w.check(&fs, e)
	return fs.err()
}

func (fs *faults) station(w *word, e Event) {
	switch {
	case w.station == '!' && e.Station == "":
		fs.add(ErrMissing, "source", Source(e), "/plant/PLANT/station/STATION", "this kind of event is reported by a station")
	case w.station == ' ' && e.Station != "":
		fs.add(ErrValue, "source", Source(e), "/plant/PLANT", "this kind of event does not come from a station")
	case e.Station != "":
		fs.name("source", e.Station, "the station's ID")
	}
}

// name demands a clean name.
func (fs *faults) name(field, s, what string) {
	switch {
	case s == "":
		fs.add(ErrMissing, field, "", what, "")
	case !ValidName(s):
		fs.add(ErrValue, field, strconv.Quote(s), what+": at most 200 bytes, no control characters, no space at an end", "")
	}
}

func (fs *faults) maybeName(field, s, what string) {
	if s != "" {
		fs.name(field, s, what)
	}
}

func (fs *faults) note(field, s string) {
	if !validNote(s) {
		fs.add(ErrValue, field, strconv.Quote(s), "at most 4096 bytes of text without control characters", "")
	}
}

func (fs *faults) within(field string, n, low, high int64) {
	if n < low || n > high {
		fs.add(ErrValue, field, strconv.FormatInt(n, 10), fmt.Sprintf("%d to %d", low, high), "")
	}
}

func (fs *faults) numbers(field string, m map[string]float64, low float64) {
	for _, k := range slices.Sorted(maps.Keys(m)) {
		fs.name(field, k, "names in "+field)
		if v := m[k]; math.IsNaN(v) || math.IsInf(v, 0) || v < low {
			fs.add(ErrValue, field+"."+k, strconv.FormatFloat(v, 'g', -1, 64), "a finite number", "")
		}
	}
}

// after demands that an expected end lies after the event.
func (fs *faults) after(field string, until resources.Tick, e Event) {
	if until != 0 && until <= e.At {
		fs.add(ErrContradiction, field, instant(until), "an instant after the event's time "+instant(e.At), "leave it out if nobody knows")
	}
}

func checkPlant(fs *faults, e Event) {
	d := e.Data.(PlantData)
	if strings.TrimSpace(d.File) == "" {
		fs.add(ErrMissing, "data.file", "", "the whole text of the plant file", "")
	} else if strings.ToValidUTF8(d.File, "") != d.File {
		fs.add(ErrText, "data.file", "", "UTF-8", "save the plant file as UTF-8")
	}
	if len(d.Adopted) > resources.MaxAdopted {
		fs.add(ErrValue, "data.adopted", strconv.Itoa(len(d.Adopted))+" sets", fmt.Sprintf("at most %d", resources.MaxAdopted), "write them into the plant file and declare that")
		return
	}
	for i := range d.Adopted {
		a, field := &d.Adopted[i], fmt.Sprintf("data.adopted[%d]", i)
		switch {
		case a.At == 0:
			fs.add(ErrMissing, field+".at", "", "when it was asked for, RFC 3339", "")
		case strings.TrimSpace(a.Text) == "" || len(a.Text) > resources.MaxAdoptedText:
			fs.add(ErrValue, field+".text", fmt.Sprintf("%d bytes", len(a.Text)), fmt.Sprintf("1 to %d bytes", resources.MaxAdoptedText), "")
		case strings.ToValidUTF8(a.Text, "") != a.Text:
			fs.add(ErrText, field+".text", "", "UTF-8", "")
		}
	}
}

func checkOrder(fs *faults, e Event) {
	d := e.Data.(OrderData)
	fs.name("data.order", d.Order, "the order's number")
	fs.name("data.line", d.Line, "the line's number, e.g. 1")
	fs.maybeName("data.customer", d.Customer, "the customer's name")
	fs.name("data.product", d.Product, "a product's ID")
	fs.within("data.quantity", int64(d.Quantity), 1, MaxQuantity)
	fs.within("data.weight", d.Weight, 0, MaxWeight)
	if d.Kind != "firm" && d.Kind != "event" {
		fs.add(ErrValue, "data.kind", strconv.Quote(d.Kind), "firm, event", "")
	}
	fs.note("data.note", d.Note)
	if a := d.Asked; a != nil {
		if e.Kind != OrderAdded {
			fs.add(ErrValue, "data.asked", "a promise", "nothing", "what was promised is said when the order is added, and kept as it was said")
		}
		checkSaid(fs, "data.asked.", a.Plan, a.PerMille)
	}
}

// checkSaid looks at the plan and the chance that were said with a date.
func checkSaid(fs *faults, in string, plan, perMille int64) {
	fs.within(in+"confidence", perMille, 0, 999)
	if plan < 0 {
		fs.add(ErrValue, in+"plan", strconv.FormatInt(plan, 10), "0 or more", "")
	}
}

func checkCancel(fs *faults, e Event) {
	d := e.Data.(CancelData)
	fs.name("data.order", d.Order, "the order's number")
	fs.maybeName("data.line", d.Line, "the line's number")
	fs.note("data.why", d.Why)
}

func checkReserve(fs *faults, e Event) {
	d := e.Data.(ReserveData)
	fs.name("data.promise", d.Promise, "the promise's number")
	fs.maybeName("data.customer", d.Customer, "the customer's name")
	fs.name("data.product", d.Product, "a product's ID")
	fs.within("data.quantity", int64(d.Quantity), 1, MaxQuantity)
	fs.within("data.weight", d.Weight, 0, MaxWeight)
	if d.Kind != "firm" && d.Kind != "event" {
		fs.add(ErrValue, "data.kind", strconv.Quote(d.Kind), "firm, event", "")
	}
	checkSaid(fs, "data.", d.Plan, d.PerMille)
	fs.after("data.expires", d.Expires, e)
}

func checkPromise(fs *faults, e Event) {
	d := e.Data.(PromiseData)
	fs.name("data.promise", d.Promise, "the promise's number")
	fs.maybeName("data.customer", d.Customer, "the customer's name")
	fs.note("data.why", d.Why)
}

func checkOperation(fs *faults, e Event) {
	d := e.Data.(OperationData)
	fs.name("data.piece", d.Piece, "the piece's serial")
	fs.name("data.operation", d.Operation, "an operation of the product's routing")
	fs.within("data.place", int64(d.Place), 0, MaxPlace)
	fs.maybeName("data.mix", d.Mix, "the mix's ID")
	for i, u := range d.Tools {
		fs.name(fmt.Sprintf("data.tools[%d]", i), u, "the mark of a tool unit")
	}
	fs.lots(d.Lots)
	fs.note("data.why", d.Why)
	switch {
	case d.Started == 0:
	case e.Kind != OperationFinished:
		fs.add(ErrValue, "data.started", instant(d.Started), "only in "+Type(OperationFinished), "a start is told by the event's time")
	case d.Started > e.At:
		fs.add(ErrContradiction, "data.started", instant(d.Started), "not after the event's time "+instant(e.At), "")
	}
	begun := e.At
	if e.Kind == OperationFinished && d.Started != 0 {
		begun = d.Started
	}
	fs.setup(d.Setup, begun, e.Kind == OperationStarted || e.Kind == OperationFinished && d.Started != 0, "of a start, or of an end that tells the start")
}

// setup is when a changeover began: before the work that it was for.
func (fs *faults) setup(at, begun resources.Tick, may bool, where string) {
	switch {
	case at == 0:
	case !may:
		fs.add(ErrValue, "data.setup", instant(at), "only "+where, "")
	case at > begun && begun >= FirstInstant:
		fs.add(ErrContradiction, "data.setup", instant(at), "not after the start, "+instant(begun), "a changeover comes before its work")
	}
}

func checkLoad(fs *faults, e Event) {
	d := e.Data.(LoadData)
	fs.name("data.load", d.Load, "the load's ID")
	fs.maybeName("data.mix", d.Mix, "the mix's ID")
	fs.lots(d.Lots)
	fs.note("data.why", d.Why)
	fs.setup(d.Setup, e.At, e.Kind == LoadStarted, "of a start")
	if e.Kind == LoadClosed && len(d.Pieces) == 0 {
		fs.add(ErrMissing, "data.pieces", "", "the pieces in the load, each with its operation", "")
	}
	fs.within("number of data.pieces", int64(len(d.Pieces)), 0, MaxMembers)
	first := map[string]int{}
	for i, p := range d.Pieces {
		at := fmt.Sprintf("data.pieces[%d]", i)
		fs.name(at+".piece", p.Piece, "the piece's serial")
		fs.name(at+".operation", p.Operation, "an operation of the product's routing")
		for j, u := range p.Tools {
			fs.name(fmt.Sprintf("%s.tools[%d]", at, j), u, "the mark of a tool unit")
		}
		if j, twice := first[p.Piece]; twice {
			fs.add(ErrContradiction, at+".piece", strconv.Quote(p.Piece), "each piece once", fmt.Sprintf("it is also data.pieces[%d]", j))
		} else {
			first[p.Piece] = i
		}
	}
}

func checkMix(fs *faults, e Event) {
	d := e.Data.(MixData)
	fs.name("data.mix", d.Mix, "the mix's ID")
	if e.Kind == MixMade {
		fs.name("data.resin", d.Resin, "a resin's ID")
		fs.within("data.grams", d.Grams, 1, MaxGrams)
	} else {
		fs.maybeName("data.resin", d.Resin, "a resin's ID")
		fs.within("data.grams", d.Grams, 0, MaxGrams)
	}
	fs.numbers("data.ingredients_g", d.Ingredients, 0)
	fs.lots(d.Lots)
	fs.note("data.why", d.Why)
}

func checkStation(fs *faults, e Event) {
	d := e.Data.(StationData)
	fs.note("data.why", d.Why)
	fs.after("data.until", d.Until, e)
}

func checkTool(fs *faults, e Event) {
	d := e.Data.(ToolData)
	fs.name("data.unit", d.Unit, "the mark of a tool unit")
	fs.note("data.why", d.Why)
	fs.after("data.until", d.Until, e)
}

func checkAbsent(fs *faults, e Event) {
	d := e.Data.(AbsentData)
	fs.crew(d.Crew, d.Absence, d.Why)
	fs.within("data.people", int64(d.People), 1, resources.MostHeads)
	fs.maybeName("data.calendar", d.Calendar, "a calendar of the crew's shifts")
	if from := cmp.Or(d.From, e.At); d.Until != 0 && d.Until <= from && from <= LastInstant { // else from is told as no instant at all
		fs.add(ErrContradiction, "data.until", instant(d.Until), "an instant after "+instant(from), "leave it out if nobody knows")
	}
}

func checkPresent(fs *faults, e Event) {
	d := e.Data.(PresentData)
	fs.crew(d.Crew, d.Absence, d.Why)
}

func (fs *faults) crew(crew, absence, why string) {
	fs.name("data.crew", crew, "the crew's ID")
	if absence != "" && !ValidID(absence) {
		fs.add(ErrValue, "data.absence", strconv.Quote(absence), "the id of the event that told they are away", "")
	}
	fs.note("data.why", why)
}

func checkPiece(fs *faults, e Event) {
	d := e.Data.(PieceData)
	fs.name("data.piece", d.Piece, "the piece's serial")
	fs.note("data.why", d.Why)
}

func checkResult(fs *faults, e Event) {
	d := e.Data.(ResultData)
	fs.name("data.piece", d.Piece, "the piece's serial")
	fs.name("data.operation", d.Operation, "the operation with the gate")
	fs.name("data.gate", d.Gate, "the gate's name, e.g. ring")
	fs.numbers("data.values", d.Values, math.Inf(-1))
	fs.measures(d.Measured)
	if d.Decision != "" && !slices.Contains(Decisions(), d.Decision) {
		fs.add(ErrValue, "data.decision", strconv.Quote(d.Decision), strings.Join(Decisions(), ", "), "leave it out where the rule decides")
	}
	fs.note("data.why", d.Why)
}

// Decisions lists what a person may decide at a gate.
func Decisions() []string {
	return []string{string(quality.Pass), string(quality.Rework), string(quality.Remake), string(quality.Hold)}
}

// measures looks at the form of measurements; the gate's rule judges the rest.
func (fs *faults) measures(all []quality.Measure) {
	fs.within("number of data.measured", int64(len(all)), 0, MaxMeasures)
	for i, m := range all {
		at := fmt.Sprintf("data.measured[%d]", i)
		fs.name(at+".of", m.Of, "the quantity, e.g. torque")
		fs.name(at+".unit", m.Unit, "its unit, e.g. N·m")
		fs.within("number of "+at+".values", int64(len(m.Values)), 1, quality.MostReadings)
		for k, x := range m.Values {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				fs.add(ErrValue, fmt.Sprintf("%s.values[%d]", at, k), strconv.FormatFloat(x, 'g', -1, 64), "a finite number", "")
			}
		}
	}
}

// lots looks at the lots that a report names.
func (fs *faults) lots(all []LotUse) {
	fs.within("number of data.lots", int64(len(all)), 0, MaxLots)
	for i, l := range all {
		at := fmt.Sprintf("data.lots[%d]", i)
		fs.name(at+".material", l.Material, "the material")
		fs.name(at+".lot", l.Lot, "the supplier's lot")
	}
}

func checkBatch(fs *faults, e Event) {
	d := e.Data.(BatchData)
	given := 0
	for _, x := range []struct{ field, name, what string }{
		{"data.mix", d.Mix, "the mix's ID"}, {"data.load", d.Load, "the load's ID"}, {"data.lot", d.Lot, "the supplier's lot"},
	} {
		if x.name != "" {
			given++
			fs.name(x.field, x.name, x.what)
		}
	}
	if given != 1 {
		fs.add(ErrContradiction, "data", "", "exactly one of mix, load and lot", "")
	}
	if (d.Material != "") != (d.Lot != "") {
		fs.add(ErrContradiction, "data.material", strconv.Quote(d.Material), "together with lot", "")
	} else {
		fs.maybeName("data.material", d.Material, "the material")
	}
	fs.note("data.why", d.Why)
}

func checkPlan(fs *faults, e Event) {
	d := e.Data.(PlanData)
	if d.Version < 1 {
		fs.add(ErrValue, "data.version", strconv.FormatInt(d.Version, 10), "1 or more", "")
	}
	if len(d.Gzip) == 0 {
		fs.add(ErrMissing, "data.gzip", "", "the plan, gzip-compressed JSON, in base64", "")
	}
	if d.Churn != nil {
		checkChurn(fs, d.Churn)
	}
	if d.Asked != nil {
		if d.Asked.Why == "" {
			fs.add(ErrMissing, "data.asked.why", "", "the kind of the fact that asked, or words", "")
		}
		fs.note("data.asked.why", d.Asked.Why)
	}
	for i, p := range d.Parts {
		at := fmt.Sprintf("data.parts[%d]", i)
		if p.Part == "" {
			fs.add(ErrMissing, at+".part", "", "the name of a part of the objective", "")
		}
		if p.Bound > p.Value {
			fs.add(ErrContradiction, at+".bound", strconv.FormatInt(p.Bound, 10), "at most the value", "no plan costs less than the bound")
		}
	}
}

// checkChurn holds the counts against one another.
func checkChurn(fs *faults, c *PlanChurn) {
	for _, x := range []struct {
		name string
		n    int
		most string
		of   int
	}{
		{"moved", c.Moved, "compared", c.Compared}, {"station", c.Station, "moved", c.Moved}, {"near", c.Near, "moved", c.Moved},
		{"frozen", c.Frozen, "compared", c.Compared}, {"slipped", c.Slipped, "frozen", c.Frozen},
	} {
		if x.n < 0 || x.n > x.of {
			fs.add(ErrContradiction, "data.churn."+x.name, strconv.Itoa(x.n), "0 to "+x.most, "it counts some of those")
		}
	}
}

func checkVoid(fs *faults, e Event) {
	d := e.Data.(VoidData)
	switch {
	case d.Event == "":
		fs.add(ErrMissing, "data.event", "", "the id of the event that never happened", "")
	case !ValidID(d.Event):
		fs.add(ErrValue, "data.event", strconv.Quote(d.Event), "the id of an event", "")
	case d.Event == e.ID:
		fs.add(ErrContradiction, "data.event", strconv.Quote(d.Event), "the id of an earlier event", "an event cannot void itself")
	}
	fs.note("data.why", d.Why)
}
