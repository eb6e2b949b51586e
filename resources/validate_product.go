// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"
)

// Longest routing that is checked; the check of waits takes time with the
// square of it.
const mostOperations = 300

func (v *validator) product(p *Product) {
	path := "products[" + p.ID + "]"
	if len(p.Routing) == 0 {
		v.fail(path+".routing", "", "at least one operation", "", "is empty")
		return
	}
	if len(p.Routing) > mostOperations {
		v.fail(path+".routing", fmt.Sprint(len(p.Routing)), fmt.Sprintf("at most %d operations", mostOperations), "", "is too long")
		return
	}
	for i := range p.Routing {
		v.operation(p, &p.Routing[i])
	}
	v.samples(p)
	v.routing(p)
	if v.isBroken(path) {
		return
	}
	for i := range p.Routing {
		v.feasible(p, &p.Routing[i])
	}
}

func opPath(p *Product, op *Operation) string {
	return "products[" + p.ID + "].routing[" + op.ID + "]"
}

// operation checks what one operation refers to.
func (v *validator) operation(p *Product, op *Operation) {
	path := opPath(p, op)
	known := true
	for i, s := range op.Stations {
		at := fmt.Sprintf("%s.stations[%d]", path, i)
		known = v.refer(at, "station", s) && known
		if slices.Contains(op.Stations[:i], s) {
			v.fail(at, s, "", "keep one of them", "the station is named twice")
		}
	}
	if len(op.Stations) == 0 {
		v.fail(path+".stations", "", list(v.names["station"]), "", "no station is named")
		known = false
	}
	for _, s := range sortedKeys(op.RunAt) {
		if !slices.Contains(op.Stations, s) {
			v.fail(path+".run_at."+s, s, list(op.Stations), hint(s, op.Stations), "the operation is not done at this station")
		}
	}
	for _, n := range op.Needs {
		v.refer(path+".needs", "skill", n.Skill)
	}
	v.operationUses(path, op)
	if op.Recipe != "" {
		v.used["operation recipe "+op.Recipe] = true
		known = v.refer(path+".recipe", "recipe", op.Recipe) && known
	}
	for k, value := range op.SetupAttributes() {
		v.values[k+"="+value] = true
	}
	if known {
		v.eligible(p, op)
	}
}

// operationUses checks tools, materials and resin.
func (v *validator) operationUses(path string, op *Operation) {
	for i, t := range op.Takes {
		at := fmt.Sprintf("%s.takes[%d].tool", path, i)
		if v.refer(at, "tool", t.Tool) && len(v.plant.Tool(t.Tool).Units) == 0 {
			v.fail(at, t.Tool, "", "", "there are no units of this tool")
		}
	}
	for i, d := range op.Draws {
		at := fmt.Sprintf("%s.draws[%d]", path, i)
		if !v.refer(at+".material", "material", d.Material) {
			continue
		}
		m := v.plant.Material(d.Material)
		supply := m.Stock
		for _, r := range m.Receipts {
			supply += r.Quantity
		}
		if d.Quantity > supply && !v.isBroken("materials["+m.ID+"]") {
			v.fail(at+".quantity", milliText(d.Quantity, m.Unit), "at most "+milliText(supply, m.Unit), "",
				"can never be drawn: that is all there is, receipts included")
		}
	}
	if op.Mix == nil {
		return
	}
	if !v.refer(path+".mix.resin", "resin", op.Mix.Resin) {
		return
	}
	r := v.plant.Resin(op.Mix.Resin)
	if usable := r.MaxMass - r.HeelMass; op.Mix.Grams > usable && !v.isBroken("resins["+r.ID+"]") {
		v.fail(path+".mix.mass", fmt.Sprintf("%d g", op.Mix.Grams),
			fmt.Sprintf("at most %d g: a mix of %d g less the heel of %d g", usable, r.MaxMass, r.HeelMass), "", "no mix is large enough")
	}
}

func milliText(milli int64, unit string) string {
	if milli%1000 == 0 {
		return fmt.Sprintf("%d %s", milli/1000, unit)
	}
	return strings.TrimRight(fmt.Sprintf("%d.%03d", milli/1000, milli%1000), "0") + " " + unit
}

// refusal says why a station cannot take the product at this operation, empty
// when it can.
func refusal(s *Station, p *Product, op *Operation) string {
	if op.Recipe != "" && !slices.Contains(s.Recipes, op.Recipe) {
		return s.ID + " does not run recipe " + op.Recipe
	}
	for _, d := range sortedKeys(s.Limits) {
		if have := p.Dimensions[d]; have > s.Limits[d] {
			return fmt.Sprintf("%s takes %s up to %d, the product has %d", s.ID, d, s.Limits[d], have)
		}
	}
	return ""
}

// fitting are the stations that can take the product at this operation.
func (v *validator) fitting(p *Product, op *Operation) []*Station {
	var all []*Station
	for _, id := range op.Stations {
		if s := v.station[id]; s != nil && refusal(s, p, op) == "" {
			all = append(all, s)
		}
	}
	return all
}

// eligible checks the operation against its stations: limits, recipes, batch
// sizes and the attributes that loads and changeovers look at.
func (v *validator) eligible(p *Product, op *Operation) {
	path := opPath(p, op)
	for _, id := range op.Stations {
		for _, d := range sortedKeys(v.station[id].Limits) {
			if _, ok := p.Dimensions[d]; !ok {
				v.fail("products["+p.ID+"].dimensions", "", "a value for "+d, "", "station %s of operation %s limits %s", id, op.ID, d)
			}
		}
	}
	stations := v.fitting(p, op)
	if len(stations) == 0 && !v.isBroken("products["+p.ID+"].dimensions") {
		var why []string
		for _, id := range op.Stations {
			why = append(why, refusal(v.station[id], p, op))
		}
		v.fail(path+".stations", "", "", "", "can never be done: %s", strings.Join(why, "; "))
		return
	}
	v.batchSize(path, op, stations)
	for _, s := range stations {
		v.attributes(path, op, s)
	}
}

func (v *validator) attributes(path string, op *Operation, s *Station) {
	has := op.SetupAttributes()
	var missing []string
	add := func(name string) {
		if has[name] == "" && !slices.Contains(missing, name) {
			missing = append(missing, name)
		}
	}
	if s.Batch != nil {
		for _, name := range s.Batch.Same {
			add(name)
		}
	}
	for _, r := range s.Setups {
		add(r.Attribute)
	}
	for _, name := range missing {
		v.fail(path+".attributes", "", "a value for "+name, hint(name, sortedKeys(op.Attributes)),
			"station %s looks at %s, which the operation does not have", s.ID, name)
	}
}

func (v *validator) batchSize(path string, op *Operation, stations []*Station) {
	var first *Station
	for _, s := range stations {
		if v.isBroken("stations[" + s.ID + "]") {
			return
		}
		if s.Batch == nil {
			continue
		}
		if first == nil {
			first = s
		} else if !slices.Equal(sortedKeys(first.Batch.Capacity), sortedKeys(s.Batch.Capacity)) {
			v.fail(path+".stations", "", "stations that count the same things", "", "%s and %s measure their loads differently", first.ID, s.ID)
		}
		for _, d := range sortedKeys(s.Batch.Capacity) {
			size, ok := op.Size[d]
			switch {
			case !ok && bareOf(op.Size, d):
				// told below: the number is there, its unit is not
			case !ok:
				v.fail(path+".size", "", "a value for "+d, hint(d, sortedKeys(op.Size)), "station %s fills its loads by %s", s.ID, d)
			case size > s.Batch.Capacity[d]:
				v.fail(path+".size."+d, fmt.Sprint(size), fmt.Sprintf("at most %d", s.Batch.Capacity[d]), "", "is more than a load of %s holds", s.ID)
			}
		}
	}
	if first == nil {
		if len(op.Size) > 0 {
			v.warn(path+".size", "", "none of its stations runs loads, so the size means nothing")
		}
		return
	}
	for _, d := range sortedKeys(op.Size) {
		if _, ok := first.Batch.Capacity[d]; !ok {
			known := sortedKeys(first.Batch.Capacity)
			if unit := unitMissing(d, known); unit != "" {
				v.fail(path+".size."+d, fmt.Sprint(op.Size[d]), unit, "", "has no unit")
				continue
			}
			v.fail(path+".size."+d, d, list(known), hint(d, known), "station %s does not count this", first.ID)
		}
	}
}

// unitMissing says what a bare number should have been where the station counts
// a length or a mass of that name; empty: it counts neither.
func unitMissing(name string, known []string) string {
	switch {
	case slices.Contains(known, name+"_mm"):
		return `a length with its unit, like "1200 mm"`
	case slices.Contains(known, name+"_g"):
		return `a mass with its unit, like "6.4 kg"`
	}
	return ""
}

// bareOf tells whether sizes have a length or mass without its unit.
func bareOf(sizes map[string]int64, name string) bool {
	bare := strings.TrimSuffix(strings.TrimSuffix(name, "_mm"), "_g")
	_, ok := sizes[bare]
	return ok && bare != name
}

// narrow drops the stations that cannot take the product, once everything has
// been checked.
func (p *Plant) narrow() {
	for i := range p.Products {
		product := &p.Products[i]
		for j := range product.Routing {
			op := &product.Routing[j]
			op.Stations = slices.DeleteFunc(op.Stations, func(id string) bool {
				return refusal(p.Station(id), product, op) != ""
			})
		}
	}
}
