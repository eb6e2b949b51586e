// SPDX-License-Identifier: Apache-2.0

// Package shelf keeps the sets of changes that were tried in a bbolt file, so
// that they outlive the program.
package shelf

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"towpath/web/view"
)

// FileName is the file's name in its folder.
const FileName = "whatifs.bolt"

var bucket = []byte("whatifs")

// Shelf is an open file. Any number of goroutines may use it.
type Shelf struct{ db *bolt.DB }

// kept is a set as it is stored, under its ID; its number gives the order in
// which sets came.
type kept struct {
	Number uint64      `json:"number"`
	WhatIf view.WhatIf `json:"whatif"`
}

// Open opens the file in a folder, or makes a new one there.
func Open(dir string) (*Shelf, error) {
	path := filepath.Join(dir, FileName)
	db, err := bolt.Open(path, 0o640, &bolt.Options{Timeout: time.Second})
	if err == nil {
		err = db.Update(func(tx *bolt.Tx) error {
			_, err := tx.CreateBucketIfNotExists(bucket)
			return err
		})
	}
	if err != nil {
		if db != nil {
			err = errors.Join(err, db.Close())
		}
		return nil, fmt.Errorf("what was tried, %s: %w; put the file aside to begin a new one", path, err)
	}
	return &Shelf{db}, nil
}

// Load lists what is kept, the oldest first. What cannot be read is left out and
// told; the others are there.
func (s *Shelf) Load() ([]view.WhatIf, error) {
	var list []kept
	var bad []error
	err := s.db.View(func(tx *bolt.Tx) error {
		return tx.Bucket(bucket).ForEach(func(id, text []byte) error {
			var x kept
			if err := json.Unmarshal(text, &x); err != nil {
				bad = append(bad, fmt.Errorf("set %s: %w", id, err))
			} else {
				list = append(list, x)
			}
			return nil
		})
	})
	slices.SortFunc(list, func(a, b kept) int {
		if a.Number < b.Number {
			return -1
		}
		return 1
	})
	out := make([]view.WhatIf, len(list))
	for i := range list {
		out[i] = list[i].WhatIf
	}
	return out, errors.Join(append(bad, err)...)
}

// Put keeps a set under its ID, as it is now.
func (s *Shelf) Put(w view.WhatIf) error {
	return s.db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket(bucket)
		x := kept{WhatIf: w}
		if old := b.Get([]byte(w.ID)); old != nil {
			var was kept
			if json.Unmarshal(old, &was) == nil {
				x.Number = was.Number
			}
		}
		if x.Number == 0 {
			var err error
			if x.Number, err = b.NextSequence(); err != nil {
				return err
			}
		}
		text, err := json.Marshal(x)
		if err != nil {
			return err
		}
		return b.Put([]byte(w.ID), text)
	})
}

// Drop forgets a set.
func (s *Shelf) Drop(id string) error {
	return s.db.Update(func(tx *bolt.Tx) error { return tx.Bucket(bucket).Delete([]byte(id)) })
}

// Close lets go of the file.
func (s *Shelf) Close() error { return s.db.Close() }
