// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"crypto/sha256"
	"encoding/binary"
	"maps"
	"slices"
)

// record is a growing set of event IDs with their sequences. Layers but the
// last are shared between clones and never written again, so that a clone
// costs no copy of a long history.
type record struct {
	layers []map[string]uint64
	sum    [4]uint64 // of the hashes of the IDs, so that order does not matter
}

func (r *record) seq(id string) (uint64, bool) {
	for i := len(r.layers) - 1; i >= 0; i-- {
		if seq, ok := r.layers[i][id]; ok {
			return seq, true
		}
	}
	return 0, false
}

// add must not be called for an ID that is there.
func (r *record) add(id string, seq uint64) {
	if len(r.layers) == 0 {
		r.layers = []map[string]uint64{{}}
	}
	r.layers[len(r.layers)-1][id] = seq
	h := sha256.Sum256([]byte(id))
	for i := range r.sum {
		r.sum[i] += binary.LittleEndian.Uint64(h[8*i:])
	}
}

// share gives another record with the same content. Layers of like size are
// merged on the way, so there are at most about log₂ n of them and each ID is
// copied about log₂ n times in all.
func (r *record) share() record {
	if n := len(r.layers); n > 0 && len(r.layers[n-1]) > 0 {
		for n > 1 && 2*len(r.layers[n-1]) >= len(r.layers[n-2]) {
			merged := maps.Clone(r.layers[n-2])
			maps.Copy(merged, r.layers[n-1])
			r.layers = append(slices.Clone(r.layers[:n-2]), merged)
			n--
		}
		r.layers = append(r.layers, map[string]uint64{})
	}
	other := record{layers: slices.Clone(r.layers), sum: r.sum}
	if n := len(other.layers); n > 0 {
		other.layers[n-1] = map[string]uint64{}
	}
	return other
}

func (r *record) size() int {
	n := 0
	for _, layer := range r.layers {
		n += len(layer)
	}
	return n
}

// ids lists all IDs, sorted.
func (r *record) ids() []string {
	out := make([]string, 0, r.size())
	for _, layer := range r.layers {
		for id := range layer {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}
