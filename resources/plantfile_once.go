// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"
)

// stand notes what stands at a field: a key, an item or a mapping. One that has an
// anchor stands at every place that refers to it or merges it.
func (r *reader) stand(path string, n *yaml.Node) {
	if r.nodes == nil {
		r.nodes = map[string]*yaml.Node{}
	}
	if r.nodes[path] == nil {
		r.nodes[path] = n
	}
}

// standing is what stands at a field or at the nearest place around it, and the
// rest of the field's path from there.
func (r *reader) standing(path string) (n *yaml.Node, rest string) {
	for at := path; at != ""; {
		if n := r.nodes[at]; n != nil {
			return n, path[len(at):]
		}
		cut := strings.LastIndexAny(at, ".[")
		if cut < 0 {
			break
		}
		at = at[:cut]
	}
	return nil, path
}

// once leaves one finding of those that say the same of the same place of the file,
// which several fields take over by its anchor; to mend it there mends them all.
func (r *reader) once(findings []Finding) []Finding {
	type slip struct {
		node *yaml.Node
		of   Finding // without the field that leads to it
	}
	first := map[slip]int{}
	var told []Finding
	var more []int // fields beside the one told
	for _, f := range findings {
		var s slip
		s.of = f
		if s.node, s.of.Field = r.standing(f.Field); s.node != nil {
			if i, ok := first[s]; ok && told[i].Field != f.Field {
				more[i]++
				continue
			}
			first[s] = len(told)
		}
		told, more = append(told, f), append(more, 0)
	}
	for i, n := range more {
		if n == 0 {
			continue
		}
		if told[i].Hint != "" {
			told[i].Hint += "; "
		}
		places := "1 more place that takes it over"
		if n > 1 {
			places = fmt.Sprintf("%d more places that take it over", n)
		}
		told[i].Hint += "mended here, it is mended in " + places
	}
	return told
}
