// SPDX-License-Identifier: Apache-2.0

package risk

import "math/bits"

// set is a set of small numbers, a bit each.
type set []uint64

// newSet has room for the numbers below n.
func newSet(n int) set { return make(set, n/64+1) }

func (x set) add(i int32) { x[i>>6] |= 1 << (i & 63) }

func (x set) drop(i int32) { x[i>>6] &^= 1 << (i & 63) }

func (x set) has(i int32) bool { return x[i>>6]>>(i&63)&1 != 0 }

// least is the least number of a set; -1: it is empty.
func (x set) least() int32 {
	for k, word := range x {
		if word != 0 {
			return int32(k*64 + bits.TrailingZeros64(word))
		}
	}
	return -1
}
