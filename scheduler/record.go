// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"maps"
	"slices"
)

// mark stands for an event's ID: half of its SHA-256. A year has millions of
// IDs; marks are short and hold no pointer for the garbage collector to follow.
type mark [16]byte

func markOf(id string) mark {
	h := sha256.Sum256([]byte(id))
	return mark(h[:16])
}

// text is a mark as part of a key.
func (m mark) text() string { return base64.RawURLEncoding.EncodeToString(m[:]) }

func readMark(text string) (m mark, ok bool) {
	if len(text) != 22 {
		return m, false
	}
	n, err := base64.RawURLEncoding.Strict().Decode(m[:], []byte(text))
	return m, err == nil && n == len(m)
}

// record is a growing set of event IDs with their sequences. Layers but the
// last are shared between clones and never written again, so that a clone
// costs no copy of a long history.
type record struct {
	layers []map[mark]uint64
	sum    [2]uint64 // of the marks, so that order does not matter
}

func (r *record) seq(id string) (uint64, bool) {
	if len(r.layers) == 0 {
		return 0, false
	}
	return r.at(markOf(id))
}

func (r *record) at(m mark) (uint64, bool) {
	for i := len(r.layers) - 1; i >= 0; i-- {
		if seq, ok := r.layers[i][m]; ok {
			return seq, true
		}
	}
	return 0, false
}

// add must not be called for an ID that is there.
func (r *record) add(id string, seq uint64) mark {
	m := markOf(id)
	r.put(m, seq)
	return m
}

func (r *record) put(m mark, seq uint64) {
	if len(r.layers) == 0 {
		r.layers = []map[mark]uint64{{}}
	}
	r.layers[len(r.layers)-1][m] = seq
	r.sum[0] += binary.LittleEndian.Uint64(m[:8])
	r.sum[1] += binary.LittleEndian.Uint64(m[8:])
}

// share gives another record with the same content. Layers of like size are
// merged on the way, so there are at most about log₂ n of them and each ID is
// copied about log₂ n times in all. It writes to r, unless nothing was added
// since r was shared last.
func (r *record) share() record {
	if n := len(r.layers); n > 0 && len(r.layers[n-1]) > 0 {
		for n > 1 && 2*len(r.layers[n-1]) >= len(r.layers[n-2]) {
			merged := maps.Clone(r.layers[n-2])
			maps.Copy(merged, r.layers[n-1])
			r.layers = append(slices.Clone(r.layers[:n-2]), merged)
			n--
		}
		r.layers = append(r.layers, map[mark]uint64{})
	}
	other := record{layers: slices.Clone(r.layers), sum: r.sum}
	if n := len(other.layers); n > 0 {
		other.layers[n-1] = map[mark]uint64{}
	}
	return other
}

// sized is an empty record with room for n IDs.
func sized(n int) record {
	return record{layers: []map[mark]uint64{make(map[mark]uint64, n)}}
}

func (r *record) size() int {
	n := 0
	for _, layer := range r.layers {
		n += len(layer)
	}
	return n
}

// marks lists all marks, sorted.
func (r *record) marks() []mark {
	out := make([]mark, 0, r.size())
	for _, layer := range r.layers {
		for m := range layer {
			out = append(out, m)
		}
	}
	slices.SortFunc(out, func(a, b mark) int { return bytes.Compare(a[:], b[:]) })
	return out
}
