// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// object reads the keys of one mapping. Asking for a key makes it known; done
// then reports the keys nobody asked for.
type object struct {
	r      *reader
	kind   string // "station", "operation", …: its name in the schema
	path   string
	keys   []*yaml.Node // in file order, merged ones last
	values map[string]*yaml.Node
	known  []string
	unread bool // it is no mapping; that has been reported
}

// keyForm says what a key holds, for the test that holds the schema to it.
type keyForm struct {
	form     string
	required bool
}

// object starts reading a mapping. Anything else is a finding and reads as
// empty, so that callers need not look.
func (r *reader) object(kind, path string, n *yaml.Node) *object {
	o := &object{r: r, kind: kind, path: path, values: map[string]*yaml.Node{}}
	if n == nil {
		return o
	}
	if _, ok := r.lines[path]; !ok {
		r.lines[path] = n.Line
	}
	n = follow(n)
	r.stand(path, n)
	if n.Kind != yaml.MappingNode {
		r.report(Finding{Line: n.Line, Field: path, Text: "must have keys of its own", Found: describe(n), Allowed: "key: value lines, one level deeper"})
		o.unread = true
		return o
	}
	o.add(n, false)
	for _, k := range o.keys {
		if at := o.at(k.Value); r.lines[at] == 0 {
			r.lines[at] = k.Line
			r.stand(at, k)
		}
	}
	return o
}

// add takes over the keys of a mapping; keys that a merge brings in yield to
// those already there.
func (o *object) add(n *yaml.Node, merged bool) {
	var merges []*yaml.Node
	seen := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		key = follow(key)
		switch {
		case key.Kind != yaml.ScalarNode:
			o.r.report(Finding{Line: key.Line, Field: o.path, Text: "a key must be a plain word", Found: describe(key)})
			continue
		case key.ShortTag() == "!!merge":
			merges = append(merges, value)
			continue
		case seen[key.Value] > 0:
			o.r.report(Finding{
				Line: key.Line, Field: o.at(key.Value), Hint: "keep one of them",
				Text: fmt.Sprintf("the key is given twice, first on line %d", seen[key.Value]),
			})
			continue
		}
		seen[key.Value] = key.Line
		if _, there := o.values[key.Value]; there && merged {
			continue
		}
		o.keys = append(o.keys, key)
		o.values[key.Value] = value
	}
	for _, m := range merges {
		o.merge(follow(m))
	}
}

func (o *object) merge(n *yaml.Node) {
	switch n.Kind {
	case yaml.MappingNode:
		o.add(n, true)
	case yaml.SequenceNode:
		for _, item := range n.Content {
			o.merge(follow(item))
		}
	default:
		o.r.report(Finding{Line: n.Line, Field: o.path, Text: "<< must bring in a mapping", Found: describe(n), Allowed: "*anchor of a mapping, or a list of them"})
	}
}

func (o *object) at(key string) string {
	if o.path == "" {
		return shorten(key)
	}
	return o.path + "." + shorten(key)
}

// take asks for a key. It is nil when the file does not give it.
func (o *object) take(key, form string) *yaml.Node {
	o.known = append(o.known, key)
	if o.r.keys != nil {
		k := o.r.keys[o.kind+"."+key]
		o.r.keys[o.kind+"."+key] = keyForm{form: form, required: k.required}
	}
	n, ok := o.values[key]
	if !ok {
		return nil
	}
	n = follow(n)
	if n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null" {
		o.r.report(Finding{Line: n.Line, Field: o.at(key), Text: "has no value", Hint: "give it one or leave the key out"})
		return nil
	}
	return n
}

// need marks keys as required and reports the missing ones.
func (o *object) need(keys ...string) {
	for _, key := range keys {
		if o.r.keys != nil {
			k := o.r.keys[o.kind+"."+key]
			k.required = true
			o.r.keys[o.kind+"."+key] = k
		}
	}
	o.expect(keys...)
}

// expect reports keys that are missing here, though not everywhere required.
func (o *object) expect(keys ...string) {
	for _, key := range keys {
		if _, ok := o.values[key]; !ok {
			o.r.report(Finding{Line: o.r.lineOf(o.path), Field: o.at(key), Text: "is missing"})
		}
	}
}

// done reports the keys nobody asked for.
func (o *object) done() {
	allowed, kind := strings.Join(o.known, ", "), strings.ReplaceAll(o.kind, "_", " ")
	for _, k := range o.keys {
		if slices.Contains(o.known, k.Value) {
			continue
		}
		f := Finding{Line: k.Line, Field: o.at(k.Value), Text: "is not a key of this " + kind, Allowed: allowed}
		if len(o.r.findings) < maxReported { // a hopeless file gets no hints
			f.Hint = hint(k.Value, o.known)
		}
		o.r.report(f)
	}
}

// bad reports a value that is not what the key holds.
func (o *object) bad(key string, n *yaml.Node, allowed string) {
	o.r.report(Finding{Line: n.Line, Field: o.at(key), Text: "cannot be read", Found: describe(n), Allowed: allowed})
}

// badPlain is bad for a number or a truth: in quotation marks YAML takes it for
// text.
func (o *object) badPlain(key string, n *yaml.Node, allowed string) {
	f := Finding{Line: n.Line, Field: o.at(key), Text: "cannot be read", Found: describe(n), Allowed: allowed}
	if n.Kind == yaml.ScalarNode && n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
		plain := yaml.Node{Kind: yaml.ScalarNode, Value: n.Value}
		switch plain.ShortTag() {
		case "!!int", "!!float", "!!bool":
			f.Text, f.Hint = "stands in quotation marks, so it is text", "write it without them: "+shorten(n.Value)
		}
	}
	o.r.report(f)
}

// describe shows a value as the file has it.
func describe(n *yaml.Node) string {
	n = follow(n)
	switch n.Kind {
	case yaml.MappingNode:
		return "keys and values"
	case yaml.SequenceNode:
		return "a list"
	}
	if n.Value == "" {
		return "nothing"
	}
	return n.Value
}

// scalarText is the text of a word, a number or a date. Anything else is not
// one: a bare true or ~ in place of a name is always a slip.
func scalarText(n *yaml.Node) (string, bool) {
	n = follow(n)
	if n.Kind != yaml.ScalarNode {
		return "", false
	}
	switch n.ShortTag() {
	case "!!str", "!!int", "!!float", "!!timestamp":
		return n.Value, true
	}
	return "", false
}

// values of a list, each with the path findings call it by. A single value
// where a list may stand is a list of one.
func (o *object) items(key, form string, single bool) []item {
	n := o.take(key, form)
	if n == nil {
		return nil
	}
	if n.Kind != yaml.SequenceNode {
		if single {
			return []item{{node: n, path: o.at(key)}}
		}
		o.bad(key, n, "a list: lines that start with a dash")
		return nil
	}
	if most := mostItems(key); len(n.Content) > most {
		o.bad(key, n, fmt.Sprintf("a list of at most %d", most))
		return nil
	}
	all := make([]item, len(n.Content))
	for i, c := range n.Content {
		all[i] = item{node: c, path: fmt.Sprintf("%s[%d]", o.at(key), i)}
		o.r.stand(all[i].path, follow(c))
	}
	return all
}

// mostItems is how long a list may be: calendars are laid out over the whole
// horizon and waits are checked against all hours, so these are kept shorter.
func mostItems(key string) int {
	switch key {
	case "calendars":
		return 500
	case "after", "needs":
		return 50
	case "changes":
		return 200
	case "routing":
		return mostOperations
	}
	return maxItems
}

// has tells whether the file gives the key, even as an empty list.
func (o *object) has(key string) bool {
	_, ok := o.values[key]
	return ok
}

type item struct {
	node *yaml.Node
	path string
}

// each reads a list of mappings of one kind. Those with an id are called by
// it in findings, and no two may share one.
func (o *object) each(key, kind string, read func(*object)) {
	seen := map[string]int{}
	for _, it := range o.items(key, "list:"+kind, false) {
		id := idOf(it.node)
		switch first := seen[id]; {
		case id == "":
		case first > 0:
			o.r.report(Finding{
				Line: it.node.Line, Field: it.path + ".id", Found: id,
				Text: fmt.Sprintf("the id is used twice, first on line %d", first), Hint: "give each its own",
			})
		default:
			seen[id] = it.node.Line
			it.path = o.at(key) + "[" + shorten(id) + "]"
		}
		if follow(it.node).ShortTag() == "!!null" {
			o.r.report(Finding{Line: it.node.Line, Field: it.path, Text: "is empty", Hint: "take out the lone dash"})
			continue
		}
		child := o.r.object(kind, it.path, it.node)
		if child.unread {
			continue
		}
		read(child)
		child.done()
	}
	if o.r.keys != nil && !o.has(key) { // only the schema's test asks: learn the keys of absent lists too
		child := o.r.object(kind, o.at(key), nil)
		read(child)
	}
}

// one reads a single mapping; read is not called when the file leaves it out.
func (o *object) one(key, kind string, read func(*object)) {
	n := o.take(key, "object:"+kind)
	if n == nil && o.r.keys == nil {
		return
	}
	child := o.r.object(kind, o.at(key), n)
	if child.unread {
		return
	}
	read(child)
	child.done()
}

// idOf is the id of a mapping, its own or a merged one, empty without one.
func idOf(n *yaml.Node) string {
	n = follow(n)
	if n.Kind != yaml.MappingNode {
		return ""
	}
	merged := ""
	for i := 0; i+1 < len(n.Content); i += 2 {
		switch key := follow(n.Content[i]); {
		case key.Kind == yaml.ScalarNode && key.Value == "id":
			text, _ := scalarText(n.Content[i+1])
			return text
		case key.ShortTag() == "!!merge" && merged == "":
			merged = mergedID(follow(n.Content[i+1]))
		}
	}
	return merged
}

func mergedID(n *yaml.Node) string {
	if n.Kind != yaml.SequenceNode {
		return idOf(n)
	}
	for _, item := range n.Content {
		if id := idOf(item); id != "" {
			return id
		}
	}
	return ""
}

const allowedID = "1 to 64 letters A to Z, digits, - and _, starting with a letter or digit"

var idPattern = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$`)

// id reads the name by which a thing is referred to. It becomes part of bus
// subjects and labels, hence the narrow alphabet.
func (o *object) id() string {
	n := o.take("id", "id")
	o.need("id")
	if n == nil {
		return ""
	}
	text, ok := scalarText(n)
	if !ok || !idPattern.MatchString(text) {
		o.bad("id", n, allowedID)
		return ""
	}
	return text
}
