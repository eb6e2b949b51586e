// SPDX-License-Identifier: Apache-2.0

package risk

import "reflect"

// shared is how many bytes cores take from each other at once: a line of the
// cache is 64 bytes, and they are fetched in pairs.
const shared = 128

// apart is room for n things that shares no line of the cache with the room of
// another player: what one core writes all the time would keep the other waiting.
func apart[T any](n int) []T {
	if n == 0 {
		return nil
	}
	size, most := int(reflect.TypeFor[T]().Size()), n
	for most*size%shared != 0 {
		most++
	}
	return make([]T, n, most)
}

// some is room for a few things, apart.
func some[T any]() []T { return apart[T](1)[:0] }
