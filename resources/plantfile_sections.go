// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// MostHeads is how many people a shift of a crew may have.
const MostHeads = 10_000

// Defaults and limits of single values.
const (
	defaultHorizon = 26 * 7 * Day
	ordinaryRoom   = 20.0 // °C
	longestHorizon = 104 * 7 * Day
	mostPlaces     = 1000
	mostUnits      = 10_000
	mostPieces     = 1000 // samples of a line, shafts of a tube
	anyWord        = "any"
	holidayWhy     = "holiday"
)

// plant reads the whole file. The zone comes first, because local times need
// it, and materials before products, because draws are in their unit.
func (r *reader) plant(root *yaml.Node) *Plant {
	o := r.object("plant", "", root)
	p := &Plant{ID: o.id(), Name: o.text("name")}
	o.need("zone", "calendars", "stations", "crews", "products")
	r.readZone(o)
	p.Zone = r.zone
	p.StartsAt = o.local("starts_at")
	p.Horizon = o.duration("horizon", defaultHorizon)
	if p.Horizon > longestHorizon || p.Horizon < Day {
		o.bad("horizon", o.values["horizon"], "from 1d to 104w")
		p.Horizon = defaultHorizon
	}
	p.Freeze = o.duration("freeze", 0)
	p.Room.Celsius = ordinaryRoom
	o.one("room", "room", func(o *object) { p.Room = readRoom(o) })
	o.one("shipping", "shipping", func(o *object) { p.Shipping = readShipping(o) })
	p.Objective = DefaultObjective()
	o.one("objective", "objective", func(o *object) { readObjective(o, &p.Objective) })
	o.one("chance", "chance", func(o *object) { p.Chance = readChance(o) })
	p.Floor = DefaultFloor()
	o.one("floor", "floor", func(o *object) { p.Floor = readFloor(o) })
	o.each("calendars", "calendar", func(o *object) { p.Calendars = append(p.Calendars, r.readCalendar(o)) })
	o.each("stations", "station", func(o *object) { p.Stations = append(p.Stations, readStation(o)) })
	o.each("crews", "crew", func(o *object) { p.Crews = append(p.Crews, readCrew(o)) })
	o.each("tools", "tool", func(o *object) { p.Tools = append(p.Tools, readTool(o)) })
	o.each("resins", "resin", func(o *object) { p.Resins = append(p.Resins, readResin(o)) })
	o.each("recipes", "recipe", func(o *object) { p.Recipes = append(p.Recipes, readRecipe(o, p.Room.Celsius)) })
	o.each("materials", "material", func(o *object) { p.Materials = append(p.Materials, readMaterial(o)) })
	units := map[string]string{}
	for _, m := range p.Materials {
		units[m.ID] = m.Unit
	}
	o.each("products", "product", func(o *object) { p.Products = append(p.Products, readProduct(o, units)) })
	o.take("anchors", "any") // a place for &anchors that are used further down
	o.done()
	if p.Name == "" {
		p.Name = p.ID
	}
	return p
}

func (r *reader) readZone(o *object) {
	r.zone = time.UTC
	name := o.text("zone")
	if name == "" {
		return
	}
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		o.bad("zone", o.values["zone"], "an IANA time zone, like Europe/London, or UTC")
		return
	}
	r.zone = zone
}

func readRoom(o *object) Room {
	room := Room{Celsius: o.temperature("ordinary", ordinaryRoom)}
	o.each("periods", "period", func(o *object) {
		o.need("from", "to", "temperature")
		w := Warmth{Interval: Interval{o.local("from"), o.local("to")}, Celsius: o.temperature("temperature", room.Celsius)}
		room.Periods = append(room.Periods, w)
	})
	return room
}

func readShipping(o *object) Shipping {
	s := Shipping{Days: o.days("days"), CutOff: o.clock("cut_off")}
	for _, d := range o.dates("closed") {
		s.Closed = append(s.Closed, d.Format(time.DateOnly))
	}
	return s
}

func readObjective(o *object, into *Objective) {
	for _, t := range []struct {
		key  string
		term *Term
	}{
		{"lost", &into.Lost}, {"tardiness", &into.Tardiness}, {"churn", &into.Churn}, {"oven", &into.Oven},
		{"setup_time", &into.SetupTime}, {"setup_cost", &into.SetupCost}, {"discard", &into.Discard}, {"flow", &into.Flow},
	} {
		o.one(t.key, "term", func(o *object) {
			o.need("level", "weight")
			t.term.Level = o.count("level", t.term.Level, 0, 3)
			t.term.Weight = int64(o.count("weight", int(t.term.Weight), 0, 1_000_000))
		})
	}
}

func (r *reader) readCalendar(o *object) Calendar {
	c := Calendar{ID: o.id()}
	o.each("shifts", "shift", func(o *object) { c.Shifts = append(c.Shifts, readShift(o)) })
	for _, d := range o.dates("holidays") {
		midnight := LocalTick(r.zone, d.Year(), d.Month(), d.Day(), 0)
		next := LocalTick(r.zone, d.Year(), d.Month(), d.Day()+1, 0)
		c.Exceptions = append(c.Exceptions, Exception{Start: midnight, Long: Seconds(next - midnight), Why: holidayWhy})
	}
	o.each("exceptions", "exception", func(o *object) { c.Exceptions = append(c.Exceptions, readException(o)) })
	return c
}

func readShift(o *object) Shift {
	o.need("days", "hours")
	s := Shift{Days: o.days("days")}
	s.Start, s.End, _ = o.hours("hours", -1)
	for _, it := range o.items("breaks", "hours_list", true) {
		text, _ := scalarText(it.node)
		start, end, ok := hoursOf(text, s.Start)
		if !ok || start < s.Start || end > s.End {
			o.r.report(Finding{
				Line: it.node.Line, Field: it.path, Text: "is not a break inside the shift", Found: describe(it.node),
				Allowed: `a span like "09:00-09:15" within the shift's hours`,
			})
			continue
		}
		s.Breaks = append(s.Breaks, ShiftBreak{start, end})
	}
	return s
}

// hours reads "06:00-14:00". An end that is not after the start is on the
// next day.
func (o *object) hours(key string, notBefore Seconds) (start, end Seconds, ok bool) {
	n := o.take(key, "hours")
	if n == nil {
		return 0, 0, false
	}
	text, _ := scalarText(n)
	start, end, ok = hoursOf(text, notBefore)
	if !ok {
		o.bad(key, n, `a span of the day like "06:00-14:00"; "22:00-06:00" ends on the next day`)
	}
	return start, end, ok
}

// hoursOf moves a span that would begin before notBefore to the next day: a
// break at 02:00 in a shift from 22:00.
func hoursOf(text string, notBefore Seconds) (start, end Seconds, ok bool) {
	from, to, _ := strings.Cut(text, "-")
	start, ok1 := clockOf(strings.TrimSpace(from))
	end, ok2 := clockOf(strings.TrimSpace(to))
	if end <= start {
		end += Day
	}
	if start < notBefore {
		start, end = start+Day, end+Day
	}
	return start, end, ok1 && ok2
}

func readException(o *object) Exception {
	opens, closes := o.has("open"), o.has("closed")
	e := Exception{Open: opens, Start: max(o.local("open"), o.local("closed"))}
	if opens == closes {
		o.r.report(Finding{Line: o.r.lineOf(o.path), Field: o.path, Text: "must say when it begins, with either open: or closed:", Allowed: allowedLocal})
	}
	o.need("for")
	readRepeated(o, &e)
	e.Apart = o.flag("apart")
	return e
}

// readStop reads a planned stop of a station: a span in which it is "open for
// stopping", so that the same code lays it out.
func readStop(o *object) Exception {
	o.need("from", "for")
	e := Exception{Open: true, Start: o.local("from")}
	readRepeated(o, &e)
	return e
}

func readRepeated(o *object, e *Exception) {
	e.Long = o.duration("for", 0)
	if o.has("for") && e.Long == 0 {
		o.bad("for", o.values["for"], "a length of time above 0")
	}
	e.Rule = o.text("repeat")
	if e.Why = o.text("why"); e.Why == "" {
		e.Why = "exception"
	}
}

func readStation(o *object) Station {
	s := Station{
		ID: o.id(), Name: o.text("name"), Kind: o.text("kind"), Calendar: o.text("calendar"),
		Unattended: o.flag("unattended"), Places: o.count("places", 1, 1, mostPlaces),
		Speed:   o.number("speed", 1, 0.001, 1000),
		Recipes: o.texts("recipes"), Limits: o.sizes("limits"),
		SetupSkill: o.text("setup_skill"), SetupSum: o.flag("setup_sum"),
		Initial: o.attributes("initial"), Freeze: o.duration("freeze", 0), SetupSpread: o.spread("setup_spread"),
		Watts: o.power("power"),
	}
	if share := o.people("setup_people"); s.SetupSkill != "" {
		s.SetupShare = share
	}
	o.one("batch", "batch", func(o *object) {
		o.need("capacity")
		s.Batch = &Batch{Capacity: o.sizes("capacity"), Same: o.texts("same")}
	})
	o.one("breakdowns", "breakdowns", func(o *object) { s.Breakdowns = readBreakdowns(o) })
	o.each("stops", "stop", func(o *object) { s.Stops = append(s.Stops, readStop(o)) })
	o.each("setups", "setup", func(o *object) {
		o.need("attribute", "time")
		s.Setups = append(s.Setups, SetupRule{
			Attribute: o.text("attribute"), From: orAny(o.text("from")), To: orAny(o.text("to")),
			Time: o.duration("time", 0), Cost: int64(o.count("cost", 0, 0, 1_000_000_000)),
		})
	})
	return s
}

func orAny(value string) string {
	if value == "" || value == anyWord {
		return Any
	}
	return value
}

func readCrew(o *object) Crew {
	o.need("skills", "shifts")
	c := Crew{ID: o.id(), Name: o.text("name"), Skills: o.texts("skills"), Absence: o.percent("absence")}
	o.each("shifts", "crew_shift", func(o *object) {
		o.need("calendar", "heads")
		c.Shifts = append(c.Shifts, CrewShift{Calendar: o.text("calendar"), Heads: o.count("heads", 1, 0, MostHeads)})
	})
	return c
}

func readTool(o *object) Tool {
	t := Tool{
		ID: o.id(), Name: o.text("name"), Kind: o.text("kind"), Units: o.texts("units"),
		Turnaround: o.duration("turnaround", 0), Dimensions: o.sizes("dimensions"),
	}
	n := o.count("count", 0, 1, mostUnits)
	if o.has("count") == o.has("units") {
		o.r.report(Finding{
			Line: o.r.lineOf(o.path), Field: o.path, Text: "must say how many there are",
			Allowed: "either count: 4 or units: [M-60-1, M-60-2, …]",
		})
	}
	if len(t.Units) == 0 {
		for i := range n {
			t.Units = append(t.Units, fmt.Sprintf("%s-%d", t.ID, i+1))
		}
	}
	return t
}

func readResin(o *object) Resin {
	o.need("pot_life", "at", "max_mass", "mixing", "station")
	res := Resin{
		ID: o.id(), Name: o.text("name"), Life: o.duration("pot_life", 0), ReferenceC: o.temperature("at", 0),
		HalvingC: o.difference("halves_every"), BathC: o.temperature("bath", 0),
		MaxMass: o.mass("max_mass"), HeelMass: o.mass("heel"), Mixing: o.duration("mixing", 0),
		Station: o.text("station"), Skill: o.text("skill"), IngredientsTol: o.percent("weigh_tolerance"),
	}
	if share := o.people("people"); res.Skill != "" {
		res.Share = share
	}
	if o.has("bath") && res.BathC <= 0 {
		o.bad("bath", o.values["bath"], "a bath temperature above 0 C; leave the key out for the room's")
	}
	o.each("ingredients", "ingredient", func(o *object) {
		o.need("name", "parts")
		res.Ingredients = append(res.Ingredients, Ingredient{Name: o.text("name"), Parts: o.number("parts", 1, 0.001, 1_000_000)})
	})
	return res
}

func readRecipe(o *object, room float64) Recipe {
	rec := Recipe{
		ID: o.id(), Name: o.text("name"), Group: o.text("group"), StartC: o.temperature("start", room),
		CoolRate: o.rate("cool_rate"), OpenC: o.temperature("open_at", 0),
		Tolerance: o.difference("tolerance"), Fixed: o.duration("fixed", 0),
	}
	if rec.Group == "" {
		rec.Group = rec.ID
	}
	o.each("steps", "step", func(o *object) {
		o.need("rate", "to", "dwell")
		rec.Steps = append(rec.Steps, CureStep{Rate: o.rate("rate"), ToC: o.temperature("to", 0), Dwell: o.duration("dwell", 0)})
	})
	if !o.has("fixed") {
		o.expect("steps", "cool_rate", "open_at", "tolerance")
	}
	if o.has("fixed") && rec.Fixed == 0 {
		o.bad("fixed", o.values["fixed"], "a length of time above 0")
	}
	return rec
}

func readMaterial(o *object) Material {
	o.need("unit", "stock")
	m := Material{ID: o.id(), Name: o.text("name"), Unit: o.text("unit")}
	m.Stock = o.quantity("stock", m.Unit)
	o.each("receipts", "receipt", func(o *object) {
		o.need("at", "quantity")
		m.Receipts = append(m.Receipts, Receipt{At: o.local("at"), Quantity: o.quantity("quantity", m.Unit)})
	})
	return m
}
