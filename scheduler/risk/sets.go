// SPDX-License-Identifier: Apache-2.0

package risk

import "math/bits"

// set is a set of small numbers, a bit each: those below 64, which are mostly
// all there are, and the others.
type set struct {
	low  uint64
	high []uint64
}

// newSet has room for the numbers below n.
func newSet(n int) set { return set{high: apart[uint64](max(0, n-1) / 64)} }

// newSets are so many sets.
func newSets(count, n int) []set {
	sets := apart[set](count)
	for i := range sets {
		sets[i] = newSet(n)
	}
	return sets
}

func (x *set) add(i int32) {
	if i < 64 {
		x.low |= 1 << uint32(i)
	} else {
		x.high[i>>6-1] |= 1 << (uint32(i) & 63)
	}
}

func (x *set) drop(i int32) {
	if i < 64 {
		x.low &^= 1 << uint32(i)
	} else {
		x.high[i>>6-1] &^= 1 << (uint32(i) & 63)
	}
}

func (x *set) has(i int32) bool {
	if i < 64 {
		return x.low>>uint32(i)&1 != 0
	}
	return x.high[i>>6-1]>>(uint32(i)&63)&1 != 0
}

func (x *set) clear() {
	x.low = 0
	clear(x.high)
}

// words is how many words of 64 bits a set has; the numbers of word k begin
// with 64 k.
func (x *set) words() int { return 1 + len(x.high) }

func (x *set) word(k int) uint64 {
	if k == 0 {
		return x.low
	}
	return x.high[k-1]
}

// addThose adds what is in two others.
func (x *set) addThose(a, b *set) {
	x.low |= a.low & b.low
	for k := range x.high {
		x.high[k] |= a.high[k] & b.high[k]
	}
}

// least is the least number of a set; -1: it is empty.
func (x *set) least() int32 {
	for k := range x.words() {
		if word := x.word(k); word != 0 {
			return int32(k*64 + bits.TrailingZeros64(word))
		}
	}
	return -1
}
