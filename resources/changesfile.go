// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// The name of a set of changes: how long it may be, in characters, and what else
// is asked of it, in words.
const (
	MaxSetName     = 80
	AllowedSetName = "1 to 80 characters on one line, no control characters"
)

// IsSetName tells whether a set of changes may be called that. It is a line of
// text: it stands in lists, in the heads of tables and in the log.
func IsSetName(name string) bool {
	n := utf8.RuneCountInString(name)
	return n > 0 && n <= MaxSetName && utf8.ValidString(name) && !strings.ContainsFunc(name, breaksLine)
}

// breaksLine knows what does not stay within a line as it is read: control
// characters, the separators of lines and paragraphs, and what misleads.
func breaksLine(c rune) bool {
	return unicode.IsControl(c) || unicode.In(c, unicode.Zl, unicode.Zp) || misleads(c)
}

// Limits of a file of changes.
const (
	mostTimes   = 100
	leastTimes  = 0.01
	longestStop = 52 * 7 * Day
)

// ReadChanges reads a set of changes (YAML, or JSON, which is YAML too; see the
// package's README for the format) to this plant and these order lines, and
// makes those of the plant on a copy to see that they can be made. It reports
// all findings of the file at once, in the order of its lines; with any Error
// among them there is no set. Now is what "from now on" means.
func ReadChanges(file string, text []byte, p *Plant, lines []OrderLine, now Tick) (*ChangeSet, []Finding) {
	return readChanges(file, text, p, lines, now, false)
}

// readChanges reads a set, to be made for the first time or to stand on top of
// the plant as it was made once.
func readChanges(file string, text []byte, p *Plant, lines []OrderLine, now Tick, onTop bool) (*ChangeSet, []Finding) {
	r := &changesReader{reader: reader{file: file, what: "set of changes", lines: map[string]int{}, zone: p.Zone}, plant: p, orders: lines, now: now, onTop: onTop, seen: map[string]int{}}
	set := r.set(text)
	if set != nil && !HasErrors(r.findings) {
		_, found := set.applyPlant(p, now, onTop)
		for _, f := range found {
			r.report(f)
		}
	}
	SortFindings(r.findings)
	findings := capped(file, r.findings, r.dropped)
	if HasErrors(r.findings) {
		return nil, findings
	}
	return set, findings
}

// changesReader reads one file of changes.
type changesReader struct {
	reader
	plant  *Plant
	orders []OrderLine
	now    Tick
	onTop  bool           // it was adopted once: its name stands, whatever it is
	number int            // of the change that is read, from 1
	seen   map[string]int // what was changed already, by its name: the number of the change
	stops  []plannedStop
}

func (r *changesReader) set(text []byte) *ChangeSet {
	root := r.document(text)
	if root == nil {
		return nil
	}
	o := r.object("set", "", root)
	set := &ChangeSet{Name: o.text("name"), Note: o.text("note")}
	o.need("name", "changes")
	if set.Name != "" && !IsSetName(set.Name) && !r.onTop {
		o.bad("name", o.values["name"], AllowedSetName)
	}
	for i, it := range o.items("changes", "list:change", false) {
		r.number = i + 1
		child := r.object("change", it.path, it.node)
		if !child.unread {
			c := r.change(child)
			c.Source = sourceOf(it.node)
			set.Changes = append(set.Changes, c)
		}
	}
	o.done()
	return set
}

// change reads one item of the list: a mapping with one key, which says what
// kind of change it is.
func (r *changesReader) change(o *object) Change {
	c := Change{Line: r.lineOf(o.path)}
	if n := len(o.keys); n != 1 && r.keys == nil {
		r.report(Finding{Line: c.Line, Field: o.path, Text: fmt.Sprintf("must be one change; it has %d keys", n), Allowed: strings.Join(ChangeKinds(), ", "),
			Hint: "begin each change with a dash of its own"})
	}
	o.one("add_order", "add_order", func(o *object) { c.AddOrder = r.addOrder(o) })
	o.one("change_order", "change_order", func(o *object) { c.ChangeOrder = r.changeOrder(o) })
	o.one("drop_order", "drop_order", func(o *object) { c.DropOrder = r.dropOrder(o) })
	o.one("station", "station_change", func(o *object) { c.Station = r.station(o) })
	o.one("crew", "crew_change", func(o *object) {
		o.need("id", "heads")
		c.Crew = &CrewChange{ID: o.text("id"), Calendar: o.text("calendar"), Heads: o.count("heads", 0, 0, MostHeads)}
		r.onceCrew(o, c.Crew)
	})
	o.one("tool", "tool_change", func(o *object) {
		o.need("id", "count")
		c.Tool = &ToolChange{ID: o.text("id"), Count: o.count("count", 1, 1, mostUnits)}
		r.once(o, "tool", c.Tool.ID)
	})
	o.one("down", "down", func(o *object) { c.Down = r.down(o) })
	o.one("absent", "absence", func(o *object) { c.Absent = r.absent(o) })
	o.one("shift", "extra_shift", func(o *object) { c.Shift = r.shift(o) })
	o.one("duration", "duration_change", func(o *object) {
		c.Duration = readFactor(o)
		c.Duration.Station = o.text("station")
		r.onceFactor(o, "duration", c.Duration)
	})
	o.one("yield", "yield_change", func(o *object) {
		c.Yield = readFactor(o)
		r.onceFactor(o, "yield", c.Yield)
	})
	o.one("recipe", "recipe_change", func(o *object) { c.Recipe, c.Given = r.recipe(o), given(o) })
	o.one("calendar", "calendar_change", func(o *object) { c.Calendar, c.Given = r.calendar(o), given(o) })
	o.done()
	return c
}

// given says on one line what a change has beside the name of what it changes.
func given(o *object) string {
	const most = 200
	var parts []string
	for _, k := range o.keys {
		if k.Value != "id" {
			left := most
			parts = append(parts, k.Value+" "+onOneLine(o.values[k.Value], &left))
		}
	}
	text := []rune(strings.ToValidUTF8(strings.Join(parts, ", "), "\uFFFD"))
	if len(text) > most {
		return string(text[:most-1]) + "…"
	}
	return string(text)
}

// onOneLine writes a value as people would in one line, so many nodes at most.
func onOneLine(n *yaml.Node, left *int) string {
	if *left--; *left < 0 {
		return "…"
	}
	n = follow(n)
	var parts []string
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			parts = append(parts, follow(n.Content[i]).Value+" "+onOneLine(n.Content[i+1], left))
		}
	case yaml.SequenceNode:
		for _, item := range n.Content {
			parts = append(parts, onOneLine(item, left))
		}
		return strings.Join(parts, "; ")
	default:
		return strings.Join(strings.Fields(n.Value), " ")
	}
	return strings.Join(parts, " ")
}

// cells takes the keys of an order line as the columns of an order file, so
// that both are read alike.
func (r *changesReader) cells(o *object, columns []string) *orderCells {
	reader := newOrderReader(r.file, r.plant)
	c := &orderCells{r: reader, line: r.lineOf(o.path), cells: map[string]string{}}
	for _, key := range columns {
		if n := o.take(key, "text"); n != nil {
			text, ok := scalarText(n)
			if !ok {
				o.bad(key, n, "a word, a number or a date")
			}
			c.cells[key] = strings.TrimSpace(text)
		}
	}
	return c
}

// told takes over what was found in cells.
func (r *changesReader) told(o *object, c *orderCells) {
	for _, f := range c.r.findings {
		f.Field = o.at(f.Field)
		f.Line = r.lineOf(f.Field)
		r.report(f)
	}
}

func (r *changesReader) addOrder(o *object) *NewOrder {
	o.need("order", "product", "quantity", "ship_by")
	c := r.cells(o, orderColumns)
	line := c.read()
	r.told(o, c)
	if r.line(line.Order, line.Line) != nil {
		r.report(Finding{Line: r.lineOf(o.path), Field: o.at("order"), Text: fmt.Sprintf("order %s already has a line %s", line.Order, line.Line), Hint: "take another number, or change_order:"})
	}
	if line.Due != 0 && line.Due <= r.now {
		r.report(Finding{Line: r.lineOf(o.at("ship_by")), Field: o.at("ship_by"), Text: "is in the past: it would be due " + dueText(r.zone, line.Due), Found: c.cells["ship_by"]})
	}
	r.once(o, "order", line.Order+"/"+line.Line)
	added := &NewOrder{OrderLine: line}
	o.one("asked", "asked_order", func(o *object) {
		added.Asked = &Asked{
			Wish: o.local("wish"), Plan: int64(o.count("plan", 0, 0, math.MaxInt32)), PerMille: int64(math.Floor(o.number("confidence", 0, 0, 0.999)*1000 + 1e-6)),
		}
	})
	return added
}

// read makes a line of the cells, as a row of an order file.
func (c *orderCells) read() OrderLine {
	line := OrderLine{
		Order:    c.name("order", allowedOrder, isOrderRune),
		Line:     c.name("line", allowedLine, isLineRune),
		Customer: c.text("customer", maxCustomer, ""),
		Product:  c.product(),
		Quantity: int(c.whole("quantity", 1, maxOrderQuantity, 0)),
		Weight:   c.whole("weight", 0, maxOrderWeight, 1),
		Kind:     c.kind(),
		Note:     c.text("note", maxNote, "\n\r\t"),
	}
	c.times(&line)
	return line
}

func (r *changesReader) line(order, line string) *OrderLine {
	for i := range r.orders {
		if l := &r.orders[i]; l.Order == order && l.Line == line {
			return l
		}
	}
	return nil
}

// named finds the one line that is meant; nil after a finding.
func (r *changesReader) named(o *object, order, line string) *OrderLine {
	var of []string
	var found *OrderLine
	var orders []string
	for i := range r.orders {
		l := &r.orders[i]
		if !slices.Contains(orders, l.Order) {
			orders = append(orders, l.Order)
		}
		if l.Order != order {
			continue
		}
		of = append(of, l.Line)
		if line == "" || l.Line == line {
			found = l
		}
	}
	switch {
	case order == "": // told already
	case len(of) == 0:
		r.report(Finding{Line: r.lineOf(o.at("order")), Field: o.at("order"), Text: "names no open order", Found: order, Allowed: list(orders), Hint: hint(order, orders)})
	case line == "" && len(of) > 1:
		r.report(Finding{Line: r.lineOf(o.path), Field: o.at("line"), Text: "is missing: the order has several lines", Allowed: list(of)})
	case found == nil:
		r.report(Finding{Line: r.lineOf(o.at("line")), Field: o.at("line"), Text: "names no open line of order " + order, Found: line, Allowed: list(of)})
	default:
		return found
	}
	return nil
}

func (r *changesReader) changeOrder(o *object) *OrderLine {
	o.need("order")
	c := r.cells(o, orderColumns)
	is := c.read()
	r.told(o, c)
	was := r.named(o, is.Order, c.cells["line"])
	if was == nil {
		return &is
	}
	line := *was
	given := 0
	for _, part := range []struct {
		key string
		set func()
	}{
		{"customer", func() { line.Customer = is.Customer }},
		{"product", func() { line.Product = is.Product }},
		{"quantity", func() { line.Quantity = is.Quantity }},
		{"weight", func() { line.Weight = is.Weight }},
		{"kind", func() { line.Kind = is.Kind }},
		{"note", func() { line.Note = is.Note }},
		{"ship_by", func() { line.ShipBy, line.Due = is.ShipBy, is.Due }},
		{"earliest_start", func() { line.EarliestStart = is.EarliestStart }},
	} {
		if o.has(part.key) {
			given++
			part.set()
		}
	}
	if given == 0 || line == *was {
		f := asIs("", was.Order+"/"+was.Line)
		f.Line, f.Field = r.lineOf(o.path), o.path
		r.report(*f)
	}
	r.once(o, "order", line.Order+"/"+line.Line)
	return &line
}

func (r *changesReader) dropOrder(o *object) *OrderName {
	o.need("order")
	name := OrderName{Order: o.text("order"), Line: o.text("line")}
	if !slices.ContainsFunc(r.orders, func(l OrderLine) bool { return l.Order == name.Order && (name.Line == "" || l.Line == name.Line) }) {
		r.named(o, name.Order, name.Line)
	}
	r.onceDropped(o, &name)
	return &name
}

func (r *changesReader) station(o *object) *StationChange {
	o.need("id")
	x := &StationChange{ID: o.text("id"), Count: o.count("count", -1, 0, 20), Places: o.count("places", 0, 1, mostPlaces), Speed: o.number("speed", 0, 0.001, 1000)}
	r.once(o, "station", x.ID)
	if !o.has("count") && !o.has("places") && !o.has("speed") && r.keys == nil {
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "says nothing that changes", Allowed: "count: (stations like it, itself included), places: or speed:"})
	}
	return x
}

func (r *changesReader) down(o *object) *DownChange {
	o.need("station")
	x := &DownChange{Station: o.text("station"), From: o.local("from"), To: o.local("to"), For: o.duration("for", 0), Why: o.text("why")}
	if r.keys != nil {
		return x
	}
	r.lasts(o, x.To, x.For, x.Span(r.now), "take the station out with station: {id: …, count: 0}")
	r.known(o, "station", x.Station, stationIDs(r.plant))
	r.onceDown(o, x)
	return x
}

// known reports a field that names a thing which is none of those of the plant.
func (r *changesReader) known(o *object, field, id string, ids []string) {
	if id == "" || slices.Contains(ids, id) {
		return
	}
	f := nothing("", field, id, ids)
	f.Line, f.Field = r.lineOf(o.at(field)), o.at(field)
	r.report(*f)
}

// lasts reports a stretch of time that is said in no way or in two, is over, or
// is longer than what is for a time.
func (r *changesReader) lasts(o *object, to Tick, long Seconds, span Interval, instead string) {
	switch {
	case o.has("to") == o.has("for"):
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "must say how long, in one way", Allowed: "either for: 3d or to: 2026-03-12 06:00"})
	case to == 0 && long == 0: // it says none, or could not be read
		if n := o.values["for"]; n != nil && !r.onTop {
			if d, err := ParseDuration(follow(n).Value); err == nil && d == 0 {
				o.bad("for", n, "a length of time above 0")
			}
		}
	case span.End <= span.Start || span.End <= r.now:
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "is over before it begins, or before now, " + dueText(r.zone, r.now)})
	case Seconds(span.End-span.Start) > longestStop:
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "is very long", Allowed: "at most 52w", Hint: instead})
	}
}

func (r *changesReader) shift(o *object) *ShiftChange {
	o.need("date", "hours")
	x := &ShiftChange{Heads: o.count("heads", 0, 1, MostHeads)}
	start, end, ok := o.hours("hours", -1)
	days := o.dates("date")
	if o.has("crews") {
		x.Crews = o.texts("crews")
	}
	if o.has("stations") {
		x.Stations = o.texts("stations")
	}
	o.take("crews", "texts")
	o.take("stations", "texts")
	if len(x.Crews) == 0 && len(x.Stations) == 0 && r.keys == nil {
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "says neither who works nor what is open", Allowed: "crews:, stations: or both"})
	}
	switch {
	case len(days) > 1:
		o.bad("date", o.values["date"], "one date; give each day an extra shift of its own")
	case len(days) == 1 && ok:
		d := days[0]
		x.Start = LocalTick(r.zone, d.Year(), d.Month(), d.Day(), start)
		x.End = LocalTick(r.zone, d.Year(), d.Month(), d.Day(), end)
		if x.End <= r.now {
			r.report(Finding{Line: r.lineOf(o.at("date")), Field: o.at("date"), Text: "is in the past", Found: d.Format("2006-01-02")})
		}
		x.meets(r.plant)
		r.onceShift(o, x)
	}
	return x
}

func readFactor(o *object) *FactorChange {
	o.need("factor")
	return &FactorChange{Product: o.text("product"), Operation: o.text("operation"), Factor: o.number("factor", 1, leastTimes, mostTimes)}
}

// recipe reads what differs from the plant's.
func (r *changesReader) recipe(o *object) *Recipe {
	o.need("id")
	id := o.text("id")
	var rec Recipe
	if was := r.plant.Recipe(id); was != nil {
		rec = *was
	}
	rec.ID = id
	if o.has("group") {
		rec.Group = o.text("group")
	}
	rec.StartC = o.temperature("start", rec.StartC)
	rec.OpenC = o.temperature("open_at", rec.OpenC)
	if rate := o.rate("cool_rate"); o.has("cool_rate") {
		rec.CoolRate = rate
	}
	if d := o.difference("tolerance"); o.has("tolerance") {
		rec.Tolerance = d
	}
	var steps []CureStep
	o.each("steps", "step", func(o *object) {
		o.need("rate", "to", "dwell")
		steps = append(steps, CureStep{Rate: o.rate("rate"), ToC: o.temperature("to", 0), Dwell: o.duration("dwell", 0)})
	})
	if o.has("steps") {
		rec.Steps, rec.Fixed = steps, 0
	}
	if fixed := o.duration("fixed", 0); o.has("fixed") {
		rec.Fixed = fixed
		if fixed == 0 {
			o.bad("fixed", o.values["fixed"], "a length of time above 0")
		}
	}
	o.take("group", "text")
	if len(o.keys) == 1 {
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "says nothing that changes", Allowed: "fixed:, steps:, cool_rate:, open_at:, tolerance:, start: or group:"})
	}
	r.once(o, "recipe", id)
	return &rec
}

// calendar reads a calendar's new shifts, if it gives any, and the holidays and
// exceptions that come on top of those it has.
func (r *changesReader) calendar(o *object) *Calendar {
	more := r.readCalendar(o)
	c := Calendar{ID: more.ID, Shifts: more.Shifts}
	if was := r.plant.Calendar(more.ID); was != nil {
		c = *was
		if o.has("shifts") {
			c.Shifts = more.Shifts
		}
	}
	c.Exceptions = slices.Concat(c.Exceptions, more.Exceptions)
	if len(o.keys) == 1 {
		r.report(Finding{Line: r.lineOf(o.path), Field: o.path, Text: "says nothing that changes", Allowed: "shifts:, holidays: or exceptions:"})
	}
	r.once(o, "calendar", more.ID)
	return &c
}
