// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Revision gives one key of a plant file another value: of an operation of a
// product, or of a station.
type Revision struct {
	Product   string `json:"product" doc:"product; empty: of a station"`
	Operation string `json:"operation" doc:"operation of the product; empty: of a station"`
	Station   string `json:"station" doc:"station; empty: of an operation"`
	Key       string `json:"key" doc:"key in the plant file"`
	Text      string `json:"text" doc:"its new value, as the file has it on one line"`
}

func (v *Revision) name() string {
	if v.Product != "" {
		return fmt.Sprintf("product %s, operation %s, %s", v.Product, v.Operation, v.Key)
	}
	return fmt.Sprintf("station %s, %s", v.Station, v.Key)
}

// Revise makes revisions in the text of a plant file and leaves everything
// else as it is, comments too. An operation that several products share gets
// the key where this product names it. The answer should be read by ReadPlant:
// Revise does not look at what the values mean. An error says which revision
// has to be made by hand, and why; then nothing is.
func Revise(file []byte, revisions []Revision) ([]byte, error) {
	text := file
	for i := range revisions {
		next, err := revise(text, &revisions[i])
		if err != nil {
			return nil, fmt.Errorf("%s: %w; make this change by hand", revisions[i].name(), err)
		}
		text = next
	}
	return text, nil
}

func revise(text []byte, v *Revision) ([]byte, error) {
	root, _, err := parse(text)
	if err != nil {
		return nil, err
	}
	if root.Kind == yaml.DocumentNode && len(root.Content) == 1 {
		root = root.Content[0]
	}
	n := named(valueOf(root, "stations"), v.Station)
	if v.Product != "" {
		n = named(valueOf(named(valueOf(root, "products"), v.Product), "routing"), v.Operation)
	}
	lines := strings.Split(string(text), "\n")
	switch {
	case n == nil:
		return nil, fmt.Errorf("it is not in the file")
	case n.Kind == yaml.AliasNode:
		err = expand(lines, n, v)
	case n.Kind != yaml.MappingNode || n.Style&yaml.FlowStyle != 0:
		err = fmt.Errorf("line %d is not a list of keys, one a line", n.Line)
	case n.Anchor != "":
		err = fmt.Errorf("line %d is shared under the name %s", n.Line, n.Anchor)
	default:
		lines, err = set(lines, n, v)
	}
	if err != nil {
		return nil, err
	}
	return []byte(strings.Join(lines, "\n")), nil
}

// valueOf is the value of a key of a mapping itself, else of what is merged
// into it; nil when there is none.
func valueOf(n *yaml.Node, key string) *yaml.Node {
	if n == nil {
		return nil
	}
	if n = follow(n); n.Kind != yaml.MappingNode {
		return nil
	}
	var merged *yaml.Node
	for i := 0; i+1 < len(n.Content); i += 2 {
		switch k := n.Content[i]; {
		case k.Value == key && k.ShortTag() != "!!merge":
			return n.Content[i+1]
		case k.ShortTag() == "!!merge":
			from := []*yaml.Node{n.Content[i+1]}
			if list := follow(n.Content[i+1]); list.Kind == yaml.SequenceNode {
				from = list.Content
			}
			for _, m := range from {
				if merged == nil {
					merged = valueOf(m, key)
				}
			}
		}
	}
	return merged
}

// named is the item of a list with this ID, as it stands there.
func named(list *yaml.Node, id string) *yaml.Node {
	if list == nil {
		return nil
	}
	if list.Kind == yaml.AliasNode {
		return nil // shared: a change here would be one elsewhere
	}
	i := slices.IndexFunc(list.Content, func(n *yaml.Node) bool {
		name := valueOf(n, "id")
		return name != nil && follow(name).Value == id
	})
	if i < 0 {
		return nil
	}
	return list.Content[i]
}

// expand makes "- *name" a mapping that takes over the name and has a key of
// its own.
func expand(lines []string, n *yaml.Node, v *Revision) error {
	line, at := lines[n.Line-1], n.Column-1
	before, name := line[:min(at, len(line))], "*"+n.Value
	if strings.TrimSpace(before) != "-" || !strings.HasPrefix(line[at:], name) {
		return fmt.Errorf("line %d has more than one item", n.Line)
	}
	lines[n.Line-1] = before + "<<: " + line[at:] + "\n" + strings.Repeat(" ", at) + v.Key + ": " + v.Text
	return nil
}

// set puts the value where the key is, or the key after the first one.
func set(lines []string, n *yaml.Node, v *Revision) ([]string, error) {
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if key.Value != v.Key {
			continue
		}
		if value.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 || value.Anchor != "" {
			return nil, fmt.Errorf("line %d is written in a way that is not changed here", value.Line)
		}
		head, ok := strings.CutSuffix(upTo(lines[key.Line-1], key.Column-1+len(key.Value)), key.Value)
		if !ok {
			return nil, fmt.Errorf("line %d cannot be taken apart", key.Line)
		}
		last := lastLine(value)
		comment := ""
		if last == key.Line && value.LineComment != "" {
			comment = " " + value.LineComment
		}
		lines[key.Line-1] = head + v.Key + ": " + v.Text + comment
		return slices.Delete(lines, key.Line, last), nil
	}
	after := lastLine(n.Content[1])
	more := strings.Repeat(" ", n.Content[0].Column-1) + v.Key + ": " + v.Text
	return slices.Insert(lines, after, more), nil
}

func upTo(line string, end int) string { return line[:min(end, len(line))] }

// lastLine is the last line a value is written on; what an alias stands for is
// written elsewhere.
func lastLine(n *yaml.Node) int {
	last := n.Line
	for _, c := range n.Content {
		last = max(last, lastLine(c))
	}
	return last
}
