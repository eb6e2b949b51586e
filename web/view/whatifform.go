// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"
	"slices"

	"towpath/resources"
	"towpath/scheduler/whatif"
)

// ChangeKind is a kind of change as the page asks for it, with the keys of a
// file of changes.
type ChangeKind struct {
	Key    string
	Word   string
	Means  string
	Events bool // of what is reported; false: of the plant
	Fields []ChangeField
}

// ChangeField is a field of a change.
type ChangeField struct {
	Key      string
	Word     string
	Type     string // text, number, date, datetime-local, names (several, with commas) or choice
	Options  []Choice
	List     string // names that are offered, the id of a list on the page
	Required bool
	Step     string // of a number; empty: whole
	Hint     string // how it is written
}

// WhatIfPage is the page on which changes are put together, with what was tried.
type WhatIfPage struct {
	WhatIfList
	Can   bool // changes can be tried here
	Kinds []ChangeKind
	Names []NameList
	From  *WhatIf // tried before, to be changed; nil: none
	Gone  bool    // one is named that is not kept
	OnTop OnTop
}

// NameList is what a field of names offers.
type NameList struct {
	ID    string
	Names []string
}

// WhatIfPage is the page with what was tried; from may be nil.
func (v *View) WhatIfPage(list WhatIfList, from *WhatIf, can bool) WhatIfPage {
	return WhatIfPage{WhatIfList: list, Can: can, Kinds: v.changeKinds(), From: from, Names: v.changeNames(), OnTop: v.OnTop()}
}

// Comparable are those that can be held against each other; none when there are
// less than two.
func (p WhatIfPage) Comparable() []Choice {
	var out []Choice
	for _, w := range p.WhatIfs {
		if w.Ready && !w.Shelved {
			out = append(out, Choice{Key: w.ID, Word: w.Name})
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// changeNames lists what changes may speak of.
func (v *View) changeNames() []NameList {
	var orders, stations, crews, operations []string
	for _, l := range whatif.Lines(v.Picture.State) { // by order
		orders = append(orders, l.Order)
	}
	for i := range v.plant.Stations {
		stations = append(stations, v.plant.Stations[i].ID)
	}
	for i := range v.plant.Crews {
		crews = append(crews, v.plant.Crews[i].ID)
	}
	for i := range v.plant.Products {
		for k := range v.plant.Products[i].Routing {
			operations = append(operations, v.plant.Products[i].Routing[k].ID)
		}
	}
	slices.Sort(operations)
	return []NameList{
		{"whatif-orders", slices.Compact(orders)}, {"whatif-stations", stations}, {"whatif-crews", crews}, {"whatif-operations", slices.Compact(operations)},
	}
}

// changeKinds lists them in the order in which people ask: what is reported
// first. A test holds their keys against those of a file.
func (v *View) changeKinds() []ChangeKind {
	stations := choices(v.plant.Stations, func(s *resources.Station) (string, string) { return s.ID, s.Name })
	crews := choices(v.plant.Crews, func(c *resources.Crew) (string, string) { return c.ID, c.Name })
	products := choices(v.plant.Products, func(p *resources.Product) (string, string) { return p.ID, p.Name })
	tools := choices(v.plant.Tools, func(t *resources.Tool) (string, string) { return t.ID, t.Name })
	calendars := choices(v.plant.Calendars, func(c *resources.Calendar) (string, string) { return c.ID, "" })
	recipes := choices(v.plant.Recipes, func(r *resources.Recipe) (string, string) { return r.ID, "" })
	kind := []Choice{{"", "as usual"}, {"firm", "firm"}, {"event", "event"}}
	order := ChangeField{Key: "order", Word: "Order", Type: "text", Required: true, List: "whatif-orders"}
	choice := func(key, word string, options []Choice, required bool) ChangeField {
		first := "all"
		if required {
			first = "choose"
		}
		return ChangeField{Key: key, Word: word, Type: "choice", Options: append([]Choice{{"", first}}, options...), Required: required}
	}
	number := func(key, word string, required bool) ChangeField {
		return ChangeField{Key: key, Word: word, Type: "number", Required: required}
	}
	factor := ChangeField{Key: "factor", Word: "Times", Type: "number", Required: true, Step: "any", Hint: "1.1 is 10 % more"}
	operations := ChangeField{Key: "operation", Word: "Operation", Type: "text", List: "whatif-operations", Hint: "empty: all"}
	return []ChangeKind{
		{"add_order", "Add an order", "one more order line", true, []ChangeField{
			{Key: "order", Word: "Order", Type: "text", Required: true}, choice("product", "Product", products, true), number("quantity", "Pieces", true),
			{Key: "ship_by", Word: "Ship by", Type: "date", Required: true}, {Key: "customer", Word: "Customer", Type: "text"}, {Key: "kind", Word: "If late", Type: "choice", Options: kind}, number("weight", "Weight", false),
		}},
		{"change_order", "Change an order", "what is left empty stays", true, []ChangeField{
			order, {Key: "line", Word: "Line", Type: "text", Hint: "where there are several"}, number("quantity", "Pieces", false), {Key: "ship_by", Word: "Ship by", Type: "date"},
			number("weight", "Weight", false), {Key: "kind", Word: "If late", Type: "choice", Options: kind},
		}},
		{"drop_order", "Drop an order", "cancelled as a whole, or one line of it", true, []ChangeField{order, {Key: "line", Word: "Line", Type: "text", Hint: "empty: all of it"}}},
		{"down", "Station down", "it stands still, from now on or later", true, []ChangeField{
			choice("station", "Station", stations, true), {Key: "from", Word: "From", Type: "datetime-local", Hint: "empty: now"},
			{Key: "for", Word: "For", Type: "text", Hint: "6h or 2d"}, {Key: "to", Word: "or to", Type: "datetime-local"}, {Key: "why", Word: "Why", Type: "text"},
		}},
		{"absent", "People away", "some of a crew are not there, from now on or later", true, []ChangeField{
			choice("crew", "Crew", crews, true), {Key: "people", Word: "People", Type: "number", Hint: "empty: 1"},
			{Key: "calendar", Word: "Calendar", Type: "choice", Options: append([]Choice{{"", "whichever they work"}}, calendars...)},
			{Key: "from", Word: "From", Type: "datetime-local", Hint: "empty: now"},
			{Key: "for", Word: "For", Type: "text", Hint: "8h or 2d"}, {Key: "to", Word: "or to", Type: "datetime-local"}, {Key: "why", Word: "Why", Type: "text"},
		}},
		{"shift", "Extra shift", "people work and stations are open once more", false, []ChangeField{
			{Key: "date", Word: "Date", Type: "date", Required: true}, {Key: "hours", Word: "Hours", Type: "text", Required: true, Hint: "06:00-14:00"},
			{Key: "crews", Word: "Crews", Type: "names", List: "whatif-crews", Hint: "with commas"}, {Key: "stations", Word: "Stations", Type: "names", List: "whatif-stations", Hint: "empty: those the crews need"}, number("heads", "People", false),
		}},
		{"crew", "Number of people", "how many of a crew work a calendar", false, []ChangeField{choice("id", "Crew", crews, true), {Key: "calendar", Word: "Calendar", Type: "choice", Options: append([]Choice{{"", "its only one"}}, calendars...)}, number("heads", "People", true)}},
		{"station", "Number of stations", "how many there are like one, itself included; 0 takes it out", false, []ChangeField{choice("id", "Station", stations, true), number("count", "Like it", false), number("places", "Places", false), {Key: "speed", Word: "Speed", Type: "number", Step: "any"}}},
		{"tool", "Number of tools", "how many mandrels or fixtures there are", false, []ChangeField{choice("id", "Tool", tools, true), number("count", "Of them", true)}},
		{"duration", "Durations", "runs take so many times as long", false, []ChangeField{choice("product", "Product", products, false), operations, choice("station", "Station", stations, false), factor}},
		{"yield", "Yields", "so many times the share passes", false, []ChangeField{choice("product", "Product", products, false), operations, factor}},
		{"recipe", "Recipe", "another fixed time; steps are given as text", false, []ChangeField{choice("id", "Recipe", recipes, true), {Key: "fixed", Word: "Fixed time", Type: "text", Required: true, Hint: "7h"}}},
		{"calendar", "Calendar", "a holiday more; shifts are given as text", false, []ChangeField{choice("id", "Calendar", calendars, true), {Key: "holidays", Word: "Holiday", Type: "date", Required: true}}},
	}
}

func choices[T any](list []T, of func(*T) (id, name string)) []Choice {
	out := make([]Choice, len(list))
	for i := range list {
		id, name := of(&list[i])
		out[i] = Choice{Key: id, Word: id}
		if name = cmp.Or(name, id); name != id {
			out[i].Word = id + " " + name
		}
	}
	return out
}
