// SPDX-License-Identifier: Apache-2.0

package main

import (
	"errors"
	"fmt"
	"log/slog"

	"towpath/scheduler"
	"towpath/scheduler/boltstore"
	"towpath/scheduler/runner"
)

// fileStore lets the runner keep its projection in a bbolt file.
type fileStore struct{ *boltstore.Store }

// openStore opens the store of a data folder; log names the log it belongs to.
func openStore(dir, log string, logger *slog.Logger) (closableStore, error) {
	store, err := boltstore.Open(dir, boltstore.Options{Log: log, Logger: logger})
	switch {
	case errors.Is(err, boltstore.ErrInUse):
		return nil, inUse(dir)
	case errors.Is(err, boltstore.ErrForeign):
		return nil, trouble("give another folder with --data, or move that file away", "%v", err)
	case err != nil:
		return nil, trouble("", "%v", err)
	}
	return fileStore{store}, nil
}

func (s fileStore) Load() (*scheduler.State, error) { return usable(s.Store.Load()) }

func (s fileStore) Before(seq uint64) (*scheduler.State, error) { return usable(s.Store.Before(seq)) }

func usable(state *scheduler.State, err error) (*scheduler.State, error) {
	if errors.Is(err, boltstore.ErrNoState) {
		return nil, fmt.Errorf("%w: %w", runner.ErrNoState, err)
	}
	return state, err
}
