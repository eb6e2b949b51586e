// SPDX-License-Identifier: Apache-2.0

package resources

import "slices"

// The lookups below scan: plants are small, and hot code compiles names to
// indexes once. All return nil when the name is unknown; the pointers lead
// into the plant, which nobody changes after it was read.

// Calendar finds a calendar by its ID.
func (p *Plant) Calendar(id string) *Calendar {
	return find(p.Calendars, id, func(x *Calendar) string { return x.ID })
}

// Station finds a station by its ID.
func (p *Plant) Station(id string) *Station {
	return find(p.Stations, id, func(x *Station) string { return x.ID })
}

// Crew finds a crew by its ID.
func (p *Plant) Crew(id string) *Crew {
	return find(p.Crews, id, func(x *Crew) string { return x.ID })
}

// Tool finds a tool pool by its ID.
func (p *Plant) Tool(id string) *Tool {
	return find(p.Tools, id, func(x *Tool) string { return x.ID })
}

// Resin finds a resin by its ID.
func (p *Plant) Resin(id string) *Resin {
	return find(p.Resins, id, func(x *Resin) string { return x.ID })
}

// Recipe finds a cure recipe by its ID.
func (p *Plant) Recipe(id string) *Recipe {
	return find(p.Recipes, id, func(x *Recipe) string { return x.ID })
}

// Material finds a material by its ID.
func (p *Plant) Material(id string) *Material {
	return find(p.Materials, id, func(x *Material) string { return x.ID })
}

// Product finds a product by its ID.
func (p *Plant) Product(id string) *Product {
	return find(p.Products, id, func(x *Product) string { return x.ID })
}

// ToolOfUnit finds the pool a unit mark belongs to.
func (p *Plant) ToolOfUnit(mark string) *Tool {
	for i := range p.Tools {
		for _, u := range p.Tools[i].Units {
			if u == mark {
				return &p.Tools[i]
			}
		}
	}
	return nil
}

// Operation finds an operation of the routing by its ID; nil if unknown.
func (p *Product) Operation(id string) *Operation {
	return find(p.Routing, id, func(x *Operation) string { return x.ID })
}

// OperationIndex is the place of an operation in the routing, -1 if unknown.
func (p *Product) OperationIndex(id string) int {
	for i := range p.Routing {
		if p.Routing[i].ID == id {
			return i
		}
	}
	return -1
}

// HasSkill tells whether everybody of the crew can do this.
func (c *Crew) HasSkill(skill string) bool {
	for _, s := range c.Skills {
		if s == skill {
			return true
		}
	}
	return false
}

// HeadsBy is how many people of the crew work by a calendar, in all its shifts.
func (c *Crew) HeadsBy(calendar string) int {
	heads := 0
	for i := range c.Shifts {
		if c.Shifts[i].Calendar == calendar {
			heads += c.Shifts[i].Heads
		}
	}
	return heads
}

// Calendars are those that shifts of the crew work by, each once, in their order.
func (c *Crew) Calendars() []string {
	var all []string
	for i := range c.Shifts {
		if id := c.Shifts[i].Calendar; !slices.Contains(all, id) {
			all = append(all, id)
		}
	}
	return all
}

// Heads is how many people the crew has, in all its shifts.
func (c *Crew) Heads() int {
	heads := 0
	for i := range c.Shifts {
		heads += c.Shifts[i].Heads
	}
	return heads
}

func find[T any](list []T, id string, name func(*T) string) *T {
	for i := range list {
		if name(&list[i]) == id {
			return &list[i]
		}
	}
	return nil
}
