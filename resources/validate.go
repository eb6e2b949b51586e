// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
)

// ValidatePlant checks a plant that was made in code rather than read from a
// file, with the same rules: references, sense and whether every product can
// be made. The findings name fields but have no lines. The plant is not
// changed.
func ValidatePlant(p *Plant) []Finding {
	var findings []Finding
	v := &validator{
		plant:  p,
		report: func(f Finding) { findings = append(findings, f) },
		line:   func(string) int { return 0 },
	}
	v.validate()
	return findings
}

// validator checks what a plant means. Its findings name the field by the
// same path under which the reader remembered the line.
type validator struct {
	plant    *Plant
	report   func(Finding)
	line     func(path string) int
	broken   []string // fields that could not be read
	failed   []string // fields with an error found here
	reported map[Finding]bool
	marks    map[string]string
	names    map[string][]string // by kind, in file order
	known    map[string]bool     // "station W1", "skill winding", …: what there is
	used     map[string]bool     // the same, for what somebody refers to
	values   map[string]bool     // "resin=A": attribute values that operations have
	station  map[string]*Station
	times    *pattern
}

func (v *validator) validate() {
	v.used, v.values, v.marks = map[string]bool{}, map[string]bool{}, map[string]string{}
	v.reported = map[Finding]bool{}
	v.index()
	v.times = newPattern(v.plant)
	v.general()
	for i := range v.plant.Calendars {
		v.calendar(&v.plant.Calendars[i])
	}
	for i := range v.plant.Stations {
		v.stationItself(&v.plant.Stations[i])
	}
	for i := range v.plant.Crews {
		v.crew(&v.plant.Crews[i])
	}
	for i := range v.plant.Tools {
		v.tool(&v.plant.Tools[i])
	}
	for i := range v.plant.Resins {
		v.resin(&v.plant.Resins[i])
	}
	for i := range v.plant.Recipes {
		v.recipe(&v.plant.Recipes[i])
	}
	for i := range v.plant.Products {
		v.product(&v.plant.Products[i])
	}
	v.unused()
}

// fail reports an error once, unless the field could not be read in the first
// place. What has failed counts as broken from then on, so that one slip does
// not bring findings about everything that rests on it.
func (v *validator) fail(path, found, allowed, hint, format string, args ...any) {
	f := Finding{
		Line: v.line(path), Field: path, Found: found, Allowed: allowed, Hint: hint, Text: fmt.Sprintf(format, args...),
	}
	if v.reported[f] || within(v.broken, path) {
		return
	}
	if len(v.failed) >= maxReported {
		v.report(f) // to be counted
		return
	}
	v.reported[f] = true
	v.failed = append(v.failed, path)
	v.report(f)
}

func (v *validator) warn(path, hint, format string, args ...any) {
	v.report(Finding{Severity: Warning, Line: v.line(path), Field: path, Hint: hint, Text: fmt.Sprintf(format, args...)})
}

// isBroken tells whether the field or something in it could not be read or
// makes no sense.
func (v *validator) isBroken(path string) bool {
	return within(v.broken, path) || within(v.failed, path)
}

// within tells whether any of the fields is this one or lies in it.
func within(fields []string, path string) bool {
	for _, b := range fields {
		if rest, ok := strings.CutPrefix(b, path); ok && (rest == "" || rest[0] == '.' || rest[0] == '[') {
			return true
		}
	}
	return false
}

// skillsBroken tells whether some crew's skills could not be read.
func (v *validator) skillsBroken() bool {
	for _, b := range v.broken {
		if b == "crews" || strings.HasPrefix(b, "crews[") && (strings.HasSuffix(b, "]") || strings.Contains(b, ".skills")) {
			return true
		}
	}
	return false
}

// index lists the names of everything once, for references and hints.
func (v *validator) index() {
	p := v.plant
	v.names, v.known, v.station = map[string][]string{}, map[string]bool{}, map[string]*Station{}
	add := func(kind, name string) {
		if name != "" && !v.known[kind+" "+name] {
			v.known[kind+" "+name] = true
			v.names[kind] = append(v.names[kind], name)
		}
	}
	for i := range p.Calendars {
		add("calendar", p.Calendars[i].ID)
	}
	for i := range p.Stations {
		add("station", p.Stations[i].ID)
		v.station[p.Stations[i].ID] = &p.Stations[i]
	}
	for i := range p.Crews {
		for _, s := range p.Crews[i].Skills {
			add("skill", s)
		}
	}
	for i := range p.Tools {
		add("tool", p.Tools[i].ID)
	}
	for i := range p.Resins {
		add("resin", p.Resins[i].ID)
	}
	for i := range p.Recipes {
		add("recipe", p.Recipes[i].ID)
	}
	for i := range p.Materials {
		add("material", p.Materials[i].ID)
	}
}

// refer checks a reference to something by name and remembers it as used.
// An empty name is a reference not made.
func (v *validator) refer(path, kind, name string) bool {
	if name == "" {
		return false
	}
	v.used[kind+" "+name] = true
	if v.known[kind+" "+name] {
		return true
	}
	known := v.names[kind]
	if len(v.failed) >= maxReported {
		known = nil // a hopeless file gets no hints
	}
	if kind == "skill" {
		if !v.skillsBroken() {
			v.fail(path, name, list(known), hint(name, known), "nobody has this skill")
		}
		return false
	}
	v.fail(path, name, list(known), hint(name, known), "there is no %s of this name", kind)
	return false
}

func (v *validator) general() {
	p := v.plant
	for i, w := range p.Room.Periods {
		path := fmt.Sprintf("room.periods[%d]", i)
		if w.End <= w.Start {
			v.fail(path, "", "", "", "ends before it begins")
		}
		if i > 0 && w.Start < p.Room.Periods[i-1].End {
			v.fail(path, "", "", "put the periods in the order of time", "begins before the one above has ended")
		}
	}
	if len(p.Shipping.Days) > 0 && p.Shipping.CutOff == 0 {
		v.fail("shipping", "", `cut_off: "16:00"`, "", "names ship days but no cut-off time")
	}
	if len(p.Products) == 0 {
		v.fail("products", "", "", "", "the plant makes nothing")
	}
}

func (v *validator) calendar(c *Calendar) {
	path := "calendars[" + c.ID + "]"
	opens := len(c.Shifts) > 0
	for _, e := range c.Exceptions {
		opens = opens || e.Open
	}
	if !opens {
		v.warn(path, "give it shifts", "is never open")
	}
	if v.isBroken(path) {
		return
	}
	for i, e := range c.Exceptions {
		if !v.rule(v.exceptionPath(c, i), e.Rule) {
			return
		}
	}
	if _, err := v.times.calendar(c.ID); err != nil {
		v.fail(path, "", "", "", "%v", err)
	}
}

// rule checks a rule that repeats a span; an empty one does not.
func (v *validator) rule(path, rule string) bool {
	if rule == "" {
		return true
	}
	if _, err := parseRule(rule); err != nil {
		v.fail(path, rule, "an RFC 5545 rule, like FREQ=MONTHLY;BYDAY=1SA", "", "%v", err)
		return false
	}
	return true
}

// exceptionPath finds the entry of the file: holidays are exceptions too, and
// stand first.
func (v *validator) exceptionPath(c *Calendar, i int) string {
	holidays := 0
	for _, e := range c.Exceptions[:i] {
		if e.Why == holidayWhy {
			holidays++
		}
	}
	return fmt.Sprintf("calendars[%s].exceptions[%d].repeat", c.ID, i-holidays)
}

func (v *validator) stationItself(s *Station) {
	path := "stations[" + s.ID + "]"
	v.refer(path+".calendar", "calendar", s.Calendar)
	for i, r := range s.Recipes {
		v.refer(fmt.Sprintf("%s.recipes[%d]", path, i), "recipe", r)
	}
	v.refer(path+".setup_skill", "skill", s.SetupSkill)
	if s.Batch != nil {
		if s.Places > 1 {
			v.fail(path+".places", fmt.Sprint(s.Places), "1", "", "a station that runs loads has one place")
		}
		if len(s.Batch.Capacity) == 0 {
			v.fail(path+".batch.capacity", "", "a dimension and how much of it a load may have, like tubes: 8", "", "is empty")
		}
		for _, d := range sortedKeys(s.Batch.Capacity) {
			if s.Batch.Capacity[d] < 1 {
				v.fail(path+".batch.capacity."+d, "", "at least 1", "", "holds nothing")
			}
		}
	}
	for i, e := range s.Stops {
		v.rule(fmt.Sprintf("%s.stops[%d].repeat", path, i), e.Rule)
	}
	seen := map[SetupRule]int{}
	for i, r := range s.Setups {
		key := SetupRule{Attribute: r.Attribute, From: r.From, To: r.To}
		at := fmt.Sprintf("%s.setups[%d]", path, i)
		if first, ok := seen[key]; ok {
			v.fail(at, "", "", "keep one of them", "the same change stands in line %d of the table already", first+1)
			continue
		}
		seen[key] = i
	}
}

func (v *validator) crew(c *Crew) {
	path := "crews[" + c.ID + "]"
	heads := 0
	for i, s := range c.Shifts {
		v.refer(fmt.Sprintf("%s.shifts[%d].calendar", path, i), "calendar", s.Calendar)
		heads += s.Heads
	}
	if heads == 0 && !v.isBroken(path) {
		v.warn(path, "", "has nobody on any shift")
	}
}

func (v *validator) tool(t *Tool) {
	path := "tools[" + t.ID + "]"
	for i, mark := range t.Units {
		at := fmt.Sprintf("%s.units[%d]", path, i)
		if !idPattern.MatchString(mark) {
			v.fail(at, mark, allowedID, "", "is not a mark")
		}
		if other, ok := v.marks[mark]; ok {
			v.fail(at, mark, "", "give each unit its own mark", "the mark is used twice, first by tool %s", other)
			continue
		}
		v.marks[mark] = t.ID
	}
}

func (v *validator) resin(r *Resin) {
	path := "resins[" + r.ID + "]"
	if v.refer(path+".station", "station", r.Station) && v.station[r.Station].Batch != nil {
		v.fail(path+".station", r.Station, "a station without batch:", "", "a mix cannot be made at a station that runs loads")
	}
	skilled := v.refer(path+".skill", "skill", r.Skill)
	if r.Life <= 0 {
		v.fail(path+".pot_life", "", "above 0", "", "must be given")
	}
	if r.MaxMass <= r.HeelMass {
		v.fail(path+".max_mass", "", fmt.Sprintf("above the heel of %d g", r.HeelMass), "", "leaves nothing to use")
	}
	if !v.isBroken(path) && (skilled || r.Skill == "") && v.station[r.Station] != nil {
		v.mixing(path, r)
	}
}

func (v *validator) recipe(r *Recipe) {
	path := "recipes[" + r.ID + "]"
	if r.Fixed > 0 {
		return
	}
	if len(r.Steps) == 0 {
		v.fail(path+".steps", "", "at least one ramp with its dwell, or fixed:", "", "is empty")
		return
	}
	if r.Tolerance <= 0 {
		v.fail(path+".tolerance", "", "above 0, because a part never quite reaches the air's temperature", "", "must be given")
	}
	if r.CoolRate <= 0 {
		v.fail(path+".cool_rate", "", "above 0", "", "must be given")
	}
	if r.OpenC <= r.StartC {
		v.fail(path+".open_at", fmt.Sprintf("%g C", r.OpenC), fmt.Sprintf("above the start of %g C", r.StartC), "", "is never reached by cooling")
	}
	for i, s := range r.Steps {
		if s.Rate <= 0 {
			v.fail(fmt.Sprintf("%s.steps[%d].rate", path, i), "", "above 0", "", "must be given")
		}
	}
}

// unused warns of what nothing refers to. It says nothing about a broken
// file, where the reference may be what is broken.
func (v *validator) unused() {
	if len(v.broken)+len(v.failed) > 0 {
		return
	}
	p := v.plant
	warn := func(section, kind string) {
		for _, n := range v.names[kind] {
			if !v.used[kind+" "+n] {
				v.warn(section+"["+n+"]", "", "no product or part of the plant uses this %s", kind)
			}
		}
	}
	warn("calendars", "calendar")
	warn("stations", "station")
	warn("tools", "tool")
	warn("resins", "resin")
	warn("materials", "material")
	for i := range p.Recipes {
		if id := p.Recipes[i].ID; !v.used["operation recipe "+id] {
			v.warn("recipes["+id+"]", "", "no operation runs this recipe")
		}
	}
	for i := range p.Crews {
		for j, s := range p.Crews[i].Skills {
			if !v.used["skill "+s] {
				v.warn(fmt.Sprintf("crews[%s].skills[%d]", p.Crews[i].ID, j), "", "nothing needs the skill %s", s)
			}
		}
	}
	v.setupValues()
}

// setupValues warns of changeover lines that no operation can ever bring
// about, mostly slips of spelling.
func (v *validator) setupValues() {
	for i := range v.plant.Stations {
		s := &v.plant.Stations[i]
		for j, r := range s.Setups {
			for _, value := range []string{r.From, r.To} {
				if value != Any && !v.values[r.Attribute+"="+value] {
					v.warn(fmt.Sprintf("stations[%s].setups[%d]", s.ID, j), "", "no operation has %s %s", r.Attribute, value)
				}
			}
		}
	}
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
