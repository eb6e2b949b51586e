// SPDX-License-Identifier: Apache-2.0

package boltstore

import (
	"errors"
	"fmt"
	"runtime/debug"
)

var (
	// ErrNoState means that there is no state to load that can be trusted; the
	// log must be folded. ErrEmpty, ErrDamaged and ErrOtherLog say why, and
	// each is an ErrNoState too.
	ErrNoState  = errors.New("no stored state")
	ErrEmpty    = fmt.Errorf("%w: the store is new", ErrNoState)
	ErrDamaged  = fmt.Errorf("%w: the store is damaged", ErrNoState)
	ErrOtherLog = fmt.Errorf("%w: the store was made from another log", ErrNoState)

	// ErrInUse means that another process has the store open.
	ErrInUse = errors.New("the store is in use by another process")
	// ErrForeign means that the file is something else, or of a later format.
	// It is not touched.
	ErrForeign = errors.New("not a store this program can read")
	// ErrClosed is the answer after Close.
	ErrClosed = errors.New("the store is closed")
)

// guard runs f and turns the panics of a database over damaged pages, and the
// memory faults of one that was cut short, into ErrDamaged.
func guard(f func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %v", ErrDamaged, p)
		}
	}()
	return f()
}
