// SPDX-License-Identifier: Apache-2.0

package resources

import "go.yaml.in/yaml/v3"

// KeyForm is what the reader knows about a key: its form and whether every
// mapping of its kind must have it.
type KeyForm struct {
	Form     string
	Required bool
}

// PlantFileKeys lists every key the reader asks for, as "station.calendar".
func PlantFileKeys() map[string]KeyForm {
	r := &reader{lines: map[string]int{}, keys: map[string]keyForm{}}
	r.plant(&yaml.Node{Kind: yaml.MappingNode})
	keys := map[string]KeyForm{}
	for k, f := range r.keys {
		keys[k] = KeyForm{f.form, f.required}
	}
	return keys
}

// PlainPlantFile gives the file as JSON would: aliases followed, merges done,
// dates as text.
func PlainPlantFile(text []byte) any {
	node, _, err := parse(text)
	if err != nil {
		panic(err)
	}
	r := &reader{lines: map[string]int{}}
	return r.plain(node)
}

func (r *reader) plain(n *yaml.Node) any {
	n = follow(n)
	switch n.Kind {
	case yaml.DocumentNode:
		return r.plain(n.Content[0])
	case yaml.SequenceNode:
		all := []any{}
		for _, c := range n.Content {
			all = append(all, r.plain(c))
		}
		return all
	case yaml.MappingNode:
		o := r.object("any", "", n)
		all := map[string]any{}
		for k, v := range o.values {
			all[k] = r.plain(v)
		}
		return all
	}
	if n.ShortTag() == "!!timestamp" {
		return n.Value
	}
	var v any
	if err := n.Decode(&v); err != nil {
		panic(err)
	}
	return v
}

// SpanText is spanText, for its property with ParseDuration.
func SpanText(s Seconds) string { return spanText(s) }

// Suggest is suggest.
func Suggest(misspelt string, names []string) string { return suggest(misspelt, names) }

// ChangesFileKeys lists every key the reader of changes asks for, as
// "down.station".
func ChangesFileKeys() map[string]KeyForm {
	r := &changesReader{reader: reader{lines: map[string]int{}, keys: map[string]keyForm{}}, plant: &Plant{}, seen: map[string]int{}}
	o := r.object("set", "", &yaml.Node{Kind: yaml.MappingNode})
	o.text("name")
	o.text("note")
	o.take("changes", "list:change")
	r.change(r.object("change", "changes[0]", nil))
	keys := map[string]KeyForm{}
	for k, f := range r.keys {
		keys[k] = KeyForm{f.form, f.required}
	}
	return keys
}
