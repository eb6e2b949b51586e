// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// NextJobs is how many jobs ahead an operator sees.
const NextJobs = 3

// StationSheet is what an operator needs at a station.
type StationSheet struct {
	Station  FloorStation `json:"station" doc:"the station and its condition"`
	Alerts   []Alert      `json:"alerts" doc:"what wants somebody here, the first to act first"`
	Away     []string     `json:"away" doc:"who is away now of crews that work here, in words"`
	Now      []JobSheet   `json:"now" doc:"running or paused, by place"`
	Next     []JobSheet   `json:"next" doc:"planned next, at most three"`
	More     int          `json:"more" doc:"jobs planned behind these"`
	Can      bool         `json:"can_start" doc:"true: there is room for the next job"`
	SetUp    []Attribute  `json:"set_up" doc:"what the station is set up for"`
	Mixes    []MixClock   `json:"mixes" doc:"mixes that the jobs shown draw from, with their clocks"`
	Trouble  []Action     `json:"trouble" doc:"what can be reported when something is wrong"`
	Cautions []string     `json:"cautions" doc:"safety cautions for the work here"`
	Key      string       `json:"key" doc:"changes when the jobs shown or their order change"`
}

// Attribute is a name with a value.
type Attribute struct {
	Name  string `json:"name" doc:"what"`
	Value string `json:"value" doc:"its value"`
}

// JobSheet is a job with everything it needs.
type JobSheet struct {
	Job        *Job        `json:"job" doc:"the job and its times"`
	Product    string      `json:"product" doc:"names of the products in it"`
	Customer   string      `json:"customer" doc:"customers it is for"`
	Needs      []Attribute `json:"needs" doc:"tools, resin, recipe, program, people, material"`
	Changeover []Attribute `json:"changeover" doc:"attributes to change, as from → to; empty: none"`
	Why        []string    `json:"why" doc:"why this job is next, in words"`
	By         *Limit      `json:"by" doc:"latest start from a maximum wait; null: none"`
	Then       *Limit      `json:"then" doc:"maximum wait that this job begins: what must start next and when; null: none"`
	Cautions   []string    `json:"cautions" doc:"cautions of its operations, as the plant file says"`
	Actions    []Action    `json:"actions" doc:"what can be reported of it now"`
}

// StationSheet computes a station page; nil when there is no such station.
func (v *View) StationSheet(id string) *StationSheet {
	st := v.plant.Station(id)
	if st == nil {
		return nil
	}
	s := &StationSheet{Station: v.floorStation(st), Alerts: v.Alerts(AlertsQuery{Station: id}).Alerts, Now: []JobSheet{}, Next: []JobSheet{}, SetUp: v.setUp(st)}
	now, next := v.lineOf(id)
	key := []string{string(s.Station.Status)}
	for _, j := range now {
		s.Now = append(s.Now, v.jobSheet(st, j))
		key = append(key, j.ID+string(j.Status))
	}
	s.Can = len(now) < s.Station.Places && s.Station.Status != StationDown
	for i, j := range next {
		if i == NextJobs {
			s.More = len(next) - NextJobs
			break
		}
		s.Next = append(s.Next, v.jobSheet(st, j))
		key = append(key, j.ID)
	}
	s.Cautions = v.cautions(st, append(slices.Clone(now), next[:min(len(next), NextJobs)]...))
	s.Mixes = v.mixClocks(append(slices.Clone(now), next[:min(len(next), NextJobs)]...))
	s.Trouble = v.troubles(st, s)
	s.Away = v.awayAt(st)
	s.Key = strings.Join(key, " ")
	return s
}

// Stations lists stations for the page on which an operator picks one.
func (v *View) Stations() []FloorStation { return v.Floor().Stations }

func (v *View) setUp(st *resources.Station) []Attribute {
	attributes := st.Initial
	if s := v.Picture.State.Stations[st.ID]; s != nil && s.Setup != nil {
		attributes = s.Setup
	}
	return attributeList(attributes)
}

func attributeList(m map[string]string) []Attribute {
	out := []Attribute{}
	for k, value := range m {
		out = append(out, Attribute{Name: strings.ReplaceAll(k, "_", " "), Value: value})
	}
	slices.SortFunc(out, func(a, b Attribute) int { return strings.Compare(a.Name, b.Name) })
	return out
}

func (v *View) jobSheet(st *resources.Station, j *Job) JobSheet {
	s := JobSheet{Job: j, Needs: v.needs(j), Changeover: []Attribute{}, Why: []string{}, Cautions: []string{}, Actions: v.actions(st, j)}
	var products, customers []string
	for i := range j.Pieces {
		p := &j.Pieces[i]
		name := p.Product
		if product := v.product[p.Product]; product != nil {
			name = cmp.Or(product.Name, product.ID)
		}
		products = appendNew(products, name)
		if o := v.order[p.Order]; o != nil {
			customers = appendNew(customers, o.Customer)
		}
		if op := v.operation(p.Piece, p.Operation); op != nil && j.Kind != MixJob {
			for _, c := range op.Cautions {
				s.Cautions = appendNew(s.Cautions, c)
			}
		}
		v.tighten(&s, j, p)
	}
	s.Product, s.Customer = strings.Join(products, ", "), strings.Join(customers, ", ")
	if j.Status == JobPlanned || j.Status == JobClosed {
		s.Changeover = v.changes(st, j)
		s.Why = v.reasons(j)
	}
	return s
}

// tighten keeps the earliest of the maximum waits that end here and of those
// that begin here.
func (v *View) tighten(s *JobSheet, j *Job, p *JobPiece) {
	if j.Kind == MixJob {
		return
	}
	if l := v.limitsOn(p.Piece, p.Operation); len(l) > 0 && (j.Status == JobPlanned || j.Status == JobClosed) && (s.By == nil || l[0].By < s.By.By) {
		s.By = &l[0]
	}
	if l := v.limitsFrom(p.Piece, p.Operation); len(l) > 0 && (s.Then == nil || l[0].By < s.Then.By) {
		s.Then = &l[0]
	}
}

func appendNew(list []string, s string) []string {
	if s == "" || slices.Contains(list, s) {
		return list
	}
	return append(list, s)
}

// changes lists the attributes in which a job differs from what runs on the
// station before it.
func (v *View) changes(st *resources.Station, j *Job) []Attribute {
	out := []Attribute{}
	if j.Kind == MixJob || j.Setup >= j.Start || len(j.Pieces) == 0 {
		return out
	}
	op := v.operation(j.Pieces[0].Piece, j.Pieces[0].Operation)
	if op == nil {
		return out
	}
	from := st.Initial
	if s := v.Picture.State.Stations[st.ID]; s != nil && s.Setup != nil {
		from = s.Setup
	}
	for _, before := range v.station[st.ID] {
		if before == j {
			break
		}
		if before.Kind == MixJob || before.Status == JobDone || before.Place != j.Place || len(before.Pieces) == 0 {
			continue
		}
		if o := v.operation(before.Pieces[0].Piece, before.Pieces[0].Operation); o != nil {
			from = o.SetupAttributes()
		}
	}
	for _, a := range attributeList(op.SetupAttributes()) {
		old := from[strings.ReplaceAll(a.Name, " ", "_")]
		if old == "" {
			old = from[a.Name]
		}
		if old != a.Value && v.hasRule(st, a.Name) {
			out = append(out, Attribute{Name: a.Name, Value: cmp.Or(old, "not known") + " → " + a.Value})
		}
	}
	return out
}

func (v *View) hasRule(st *resources.Station, attribute string) bool {
	for i := range st.Setups {
		if strings.ReplaceAll(st.Setups[i].Attribute, "_", " ") == attribute {
			return true
		}
	}
	return false
}

// needs lists what must be at hand for a job.
func (v *View) needs(j *Job) []Attribute {
	out := []Attribute{}
	if j.Kind == MixJob {
		return append(out, v.mixNeeds(j)...)
	}
	tools, grams := []Attribute{}, int64(0)
	resin := ""
	attributes := map[string]string{}
	draws := map[string]int64{}
	for i := range j.Pieces {
		p := &j.Pieces[i]
		op := v.operation(p.Piece, p.Operation)
		if op == nil {
			continue
		}
		tools = append(tools, v.toolNeeds(p, len(j.Pieces) > 1)...)
		for k, value := range op.Attributes {
			attributes[k] = value
		}
		if op.Mix != nil {
			resin, grams = op.Mix.Resin, grams+op.Mix.Grams
		}
		for _, d := range op.Draws {
			draws[d.Material] += d.Quantity
		}
	}
	out = append(out, tools...)
	if resin != "" {
		out = append(out, Attribute{Name: "resin", Value: v.mixWords(j.Mix, resin, grams)})
	}
	if r := v.plant.Recipe(j.Recipe); r != nil {
		out = append(out, Attribute{Name: "recipe", Value: strings.TrimSuffix(cmp.Or(r.Name, r.ID)+": "+cycle(r), ": ")})
	}
	for _, a := range attributeList(attributes) {
		if !slices.ContainsFunc(out, func(has Attribute) bool { return has.Name == a.Name }) {
			out = append(out, a)
		}
	}
	return append(append(out, v.materialNeeds(draws)...), v.peopleNeeds(j)...)
}

// toolNeeds are the tools a piece takes here, or has from before.
func (v *View) toolNeeds(p *JobPiece, several bool) []Attribute {
	out := []Attribute{}
	marks := slices.Clone(p.Tools)
	taken := len(marks)
	for unit, t := range v.Picture.State.Tools {
		if t.Holder == p.Piece && !slices.Contains(marks, unit) {
			marks = append(marks, unit)
		}
	}
	slices.Sort(marks[taken:])
	for _, unit := range marks {
		pool := v.plant.ToolOfUnit(unit)
		a := Attribute{Name: "tool", Value: unit}
		if pool != nil {
			a.Name = cmp.Or(pool.Kind, "tool")
			if !several { // of a load, marks and pieces are enough
				a.Value += toolWords(pool)
			}
		}
		if several {
			a.Value += " for " + p.Piece
		}
		if t := v.Picture.State.Tools[unit]; t != nil && t.Holder != p.Piece {
			switch {
			case t.Out:
				a.Value += ", out of use: " + t.Why
			case t.Holder != "":
				a.Value += ", still with " + t.Holder
			case t.Free > v.zone.Now:
				a.Value += ", free from " + v.zone.Time(t.Free)
			}
		}
		out = append(out, a)
	}
	return out
}

// toolWords is a pool's name and what tells its units from others.
func toolWords(pool *resources.Tool) string {
	var b strings.Builder
	if pool.Name != "" && pool.Name != pool.ID {
		b.WriteString(", " + pool.Name)
	}
	for _, dim := range slices.Sorted(maps.Keys(pool.Dimensions)) {
		name, unit := strings.TrimSuffix(dim, "_mm"), ""
		if name != dim {
			unit = " mm"
		}
		fmt.Fprintf(&b, ", %s %d%s", strings.ReplaceAll(name, "_", " "), pool.Dimensions[dim], unit)
	}
	return b.String()
}

// mixWords says which resin, how much, from which mix and until when.
func (v *View) mixWords(mix, resin string, grams int64) string {
	name := resin
	if r := v.plant.Resin(resin); r != nil {
		name = cmp.Or(r.Name, r.ID)
	}
	words := name + ", " + Grams(grams)
	if mix == "" {
		return words
	}
	words += " from mix " + mix
	for _, j := range v.jobs {
		if j.Kind == MixJob && j.ID == mix {
			if j.Status == JobDone {
				return words + ", made " + v.zone.Time(j.End) + ", use before " + v.zone.Time(j.Expiry)
			}
			return words + ", to be made by " + v.zone.Time(j.End) + ", lives until " + v.zone.Time(j.Expiry)
		}
	}
	return words
}

func (v *View) mixNeeds(j *Job) []Attribute {
	out := []Attribute{{Name: "mass", Value: Grams(j.Grams)}}
	r := v.plant.Resin(j.Resin)
	if r == nil {
		return out
	}
	var parts float64
	for _, in := range r.Ingredients {
		parts += in.Parts
	}
	for _, in := range r.Ingredients {
		if parts > 0 {
			out = append(out, Attribute{Name: in.Name, Value: Grams(int64(float64(j.Grams)*in.Parts/parts + 0.5))})
		}
	}
	out = append(out, Attribute{Name: "use before", Value: v.zone.Time(j.Expiry)})
	if len(j.Pieces) > 0 {
		names := []string{}
		for i := range j.Pieces {
			names = append(names, j.Pieces[i].Piece)
		}
		out = append(out, Attribute{Name: "for", Value: strings.Join(names, ", ")})
	}
	return out
}

func (v *View) materialNeeds(draws map[string]int64) []Attribute {
	out := []Attribute{}
	for i := range v.plant.Materials {
		m := &v.plant.Materials[i]
		if n := draws[m.ID]; n > 0 {
			out = append(out, Attribute{Name: "material", Value: milli(n) + " " + m.Unit + " " + cmp.Or(m.Name, m.ID)})
		}
	}
	return out
}

// peopleNeeds says who is wanted for loading, the run and unloading.
func (v *View) peopleNeeds(j *Job) []Attribute {
	out := []Attribute{}
	for i := range j.Pieces {
		w := v.works[member{Piece: j.Pieces[i].Piece, Operation: j.Pieces[i].Operation}]
		if w == nil {
			continue
		}
		for _, use := range w.People {
			out = appendPeople(out, use)
		}
	}
	return out
}

func appendPeople(out []Attribute, use scheduler.PeopleUse) []Attribute {
	part := [...]string{"changeover", "loading", "run", "unloading"}[min(use.Part, resources.PartUnload)]
	text := milli(use.Share) + " × " + use.Skill + " (" + use.Crew + ")"
	for i := range out {
		if out[i].Value == text && strings.HasPrefix(out[i].Name, "people") {
			if !strings.Contains(out[i].Name, part) {
				out[i].Name += ", " + part
			}
			return out
		}
	}
	return append(out, Attribute{Name: "people, " + part, Value: text})
}

// milli writes thousandths without needless zeros.
func milli(n int64) string {
	s := strings.TrimRight(strings.TrimRight(fixed3(n), "0"), ".")
	return cmp.Or(s, "0")
}
