// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"fmt"
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// moves is what a plan changes, in few lines: what is new piece by piece, what
// goes to another station step by step, and what only slides together with
// everything that slides as far.
type moves struct {
	fresh  map[string][]string // by piece
	away   []string
	slides map[scheduler.Seconds][]string // by how far
}

func newMoves() *moves {
	return &moves{fresh: map[string][]string{}, slides: map[scheduler.Seconds][]string{}}
}

// add takes a planned step and what it was in the plan before; nil: not there.
func (m *moves) add(before, w *scheduler.Work) {
	name := w.Piece + " " + w.Operation
	switch {
	case before == nil:
		m.fresh[w.Piece] = append(m.fresh[w.Piece], fmt.Sprintf("%s %s %s", w.Operation, w.Station, clockText(w.Start)))
	case before.Station != w.Station:
		m.away = append(m.away, fmt.Sprintf("%s from %s %s to %s %s", name, before.Station, clockText(before.Start), w.Station, clockText(w.Start)))
	default:
		by := scheduler.Seconds(w.Start - before.Start)
		if max(by, -by) < resources.Minute {
			return
		}
		m.slides[by] = append(m.slides[by], name)
	}
}

func (m *moves) lines() []string {
	var out []string
	for _, piece := range sortedKeys(m.fresh) {
		out = append(out, "new: "+piece+": "+strings.Join(m.fresh[piece], ", "))
	}
	out = append(out, m.away...)
	for _, by := range sortedKeys(m.slides) {
		way := "later by " + resources.Spell(by)
		if by < 0 {
			way = "earlier by " + resources.Spell(-by)
		}
		out = append(out, way+": "+strings.Join(m.slides[by], ", "))
	}
	return out
}

// sortedKeys of a map.
func sortedKeys[K interface{ ~string | ~int64 }, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
