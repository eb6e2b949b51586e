// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Adopted is a set of changes of the plant that stands on top of its file.
type Adopted struct {
	At   Tick   `json:"at"`   // when it was asked for: what "from now on" means in it
	Text string `json:"text"` // as a file of changes has it
}

// Limits of what stands on top of a plant file.
const (
	MaxAdopted     = 100      // sets
	MaxAdoptedText = 64 << 10 // bytes of each
)

// ErrTooLong: the changes are longer than what may stand on top of a plant file.
var ErrTooLong = fmt.Errorf("the changes are longer than %d kB; write them into the plant file", MaxAdoptedText>>10)

// Adopt puts the changes that are of the plant into a set of their own, to stand
// on top of its file. It fails when one of them was not read from a file, or with
// ErrTooLong.
func (set *ChangeSet) Adopt(at Tick) (Adopted, error) {
	list := &yaml.Node{Kind: yaml.SequenceNode}
	for i := range set.Changes {
		c := &set.Changes[i]
		if !c.OfPlant(at) {
			continue
		}
		var n yaml.Node
		if err := yaml.Unmarshal([]byte(c.Source), &n); err != nil || len(n.Content) != 1 {
			return Adopted{}, errors.New("the change is not known as it was written")
		}
		list.Content = append(list.Content, n.Content[0])
	}
	word := func(text string) *yaml.Node {
		n := &yaml.Node{}
		n.SetString(text)
		return n
	}
	text, err := yaml.Marshal(&yaml.Node{Kind: yaml.MappingNode, Content: []*yaml.Node{word("name"), word(set.Name), word("changes"), list}})
	if err != nil {
		return Adopted{}, err
	}
	if len(text) > MaxAdoptedText {
		return Adopted{}, ErrTooLong
	}
	return Adopted{At: at, Text: string(text)}, nil
}

// ReadPlantWith reads a plant file, as ReadPlant does, and makes the sets that
// stand on top of it, in their order. What changes nothing any more, as a set
// below was taken off, is left as it is. With any Error there is no plant; a
// finding about a set names the set in place of the file.
func ReadPlantWith(file string, text []byte, adopted []Adopted) (*Plant, []Finding) {
	p, found := ReadPlant(file, text)
	for i := range adopted {
		if p == nil {
			return nil, found
		}
		a := &adopted[i]
		set, bad := readChanges(fmt.Sprintf("adopted set %d (%s)", i+1, a.Name()), []byte(a.Text), p, nil, a.At, true)
		if set == nil {
			return nil, bad
		}
		p, bad = set.applyPlant(p, a.At, true)
		found = append(found, bad...)
	}
	return p, found
}

// Name is what the set is called; empty when its text cannot be read.
func (a *Adopted) Name() string {
	var set struct {
		Name string `yaml:"name"`
	}
	if err := yaml.Unmarshal([]byte(a.Text), &set); err != nil {
		return ""
	}
	return strings.TrimSpace(set.Name)
}

// Key tells the set apart from others on top of the same file.
func (a *Adopted) Key() string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %s", a.At, a.Text))
	return hex.EncodeToString(sum[:6])
}

// mostNodes bounds a change that is written out again: what it takes from
// elsewhere in its file is in it then, as often as it was named.
const mostNodes = 10_000

// sourceOf writes a change so that it can be read by itself; empty when that is
// too long.
func sourceOf(n *yaml.Node) string {
	left := mostNodes
	whole := alone(n, &left)
	if left < 0 {
		return ""
	}
	text, err := yaml.Marshal(whole)
	if err != nil {
		return ""
	}
	return string(text)
}

// alone copies a node with what it names elsewhere, without comments, and laid
// out to be read, also where it came as JSON.
func alone(n *yaml.Node, left *int) *yaml.Node {
	if *left--; *left < 0 {
		return &yaml.Node{Kind: yaml.ScalarNode}
	}
	n = follow(n)
	out := &yaml.Node{Kind: n.Kind, Tag: n.Tag, Value: n.Value}
	for _, c := range n.Content {
		out.Content = append(out.Content, alone(c, left))
	}
	return out
}
