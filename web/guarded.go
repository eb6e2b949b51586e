// SPDX-License-Identifier: Apache-2.0

package web

import (
	"errors"
	"log/slog"
	"runtime/debug"
)

// errPanicked is what is said of work that panicked; the rest is for the program's log.
var errPanicked = errors.New("the program made a mistake of its own, and its log describes it")

// guarded does work that goes on after the request that began it. Nobody is
// above it: a panic there would end the program, and the shop with it. It becomes
// an error instead.
func guarded(log *slog.Logger, work func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			log.Error("work in the background panicked", "panic", p, "stack", string(debug.Stack()))
			err = errPanicked
		}
	}()
	return work()
}
