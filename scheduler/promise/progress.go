// SPDX-License-Identifier: Apache-2.0

package promise

// Progress is how far the second look at an answer is.
type Progress struct {
	Answer *Answer // as far as it is known
	Doing  string  // what is under way, in words
	Done   int     // steps of it
	Most   int     // steps there are
}
