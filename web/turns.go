// SPDX-License-Identifier: Apache-2.0

package web

// before counts the works of a list, the oldest first, that are done before that of
// one which waits for its turn: the one under way and those that wait since
// earlier.
func before[T comparable](list []T, x T, state func(T) string) (n int) {
	if state(x) != "waiting" {
		return 0
	}
	older := true
	for _, o := range list {
		older = older && o != x
		if s := state(o); s == "running" || s == "waiting" && older {
			n++
		}
	}
	return n
}
