// SPDX-License-Identifier: Apache-2.0

package boltstore

import (
	"encoding/binary"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"

	bolt "go.etcd.io/bbolt"

	"towpath/scheduler"
)

// Save writes what changed in the state since it was last written, and its
// sequence, in one transaction, and returns when that is on the disk: a crash
// leaves the state before or the state after, never a mixture. Only the store
// may call the state's TakeChanged.
//
// A state other than the one last saved, replaced or loaded is written whole;
// so is one when the file turns out to be damaged.
func (s *Store) Save(state *scheduler.State) error {
	if state != s.known {
		return s.Replace(state)
	}
	keys := state.TakeChanged()
	err := s.write(state, func(tx *bolt.Tx, total *sum) error {
		entities := tx.Bucket(bucketEntities)
		for _, key := range keys {
			if err := total.drop(entities, []byte(key)); err != nil {
				return err
			}
			text, there := state.EncodeEntity(key)
			if !there {
				if err := entities.Delete([]byte(key)); err != nil {
					return err
				}
				continue
			}
			if err := put(entities, total, key, text); err != nil {
				return err
			}
		}
		return nil
	})
	if errors.Is(err, ErrDamaged) {
		return s.Replace(state)
	}
	return err
}

// Replace writes the state whole and drops whatever else is stored. A file
// that is damaged, or turns out to be, is put aside.
func (s *Store) Replace(state *scheduler.State) error {
	state.TakeChanged()
	if !s.damaged {
		if err := s.writeWhole(state); !errors.Is(err, ErrDamaged) {
			return err
		}
	}
	if err := s.putAside(); err != nil {
		return err
	}
	return s.writeWhole(state)
}

func (s *Store) writeWhole(state *scheduler.State) error {
	return s.write(state, func(tx *bolt.Tx, total *sum) error {
		if err := lay(tx, s.opt.Log); err != nil {
			return err
		}
		*total = sum{}
		entities := tx.Bucket(bucketEntities)
		entities.FillPercent = 0.9 // keys come sorted
		return putAll(entities, total, state.Entities())
	})
}

func putAll(entities *bolt.Bucket, total *sum, all iter.Seq2[string, []byte]) error {
	for key, text := range all {
		if err := put(entities, total, key, text); err != nil {
			return err
		}
	}
	return nil
}

func put(entities *bolt.Bucket, total *sum, key string, text []byte) error {
	if err := entities.Put([]byte(key), text); err != nil {
		return fmt.Errorf("entity %s: %w", key, err)
	}
	total.add([]byte(key), text)
	return nil
}

// write runs one transaction that ends with the sequence and the sum. When it
// fails, nothing is written, and the next write is a whole one, as what
// changed is not known any more.
func (s *Store) write(state *scheduler.State, change func(*bolt.Tx, *sum) error) error {
	s.known = nil
	if s.db == nil {
		return ErrClosed
	}
	err := guard(func() error {
		return s.db.Update(func(tx *bolt.Tx) error {
			var total sum
			if err := total.read(tx.Bucket(bucketMeta).Get(keySum)); err != nil {
				return err
			}
			if err := change(tx, &total); err != nil {
				return err
			}
			meta := tx.Bucket(bucketMeta)
			if err := meta.Put(keySeq, binary.BigEndian.AppendUint64(nil, state.Seq)); err != nil {
				return err
			}
			return meta.Put(keySum, []byte(total.bytes()))
		})
	})
	s.damaged = errors.Is(err, ErrDamaged)
	if err != nil {
		return fmt.Errorf("save %s at %d: %w", s.path(), state.Seq, err)
	}
	s.known = state
	s.snap(state)
	return nil
}

// putAside renames a damaged file, so that a person may look at it, and begins
// a new one.
func (s *Store) putAside() error {
	s.still()
	if s.db != nil {
		_ = guard(s.db.Close)
		s.db = nil
	}
	aside := filepath.Join(s.dir, DamagedName)
	if err := os.Rename(s.path(), aside); err != nil {
		return fmt.Errorf("put damaged store aside: %w", err)
	}
	s.opt.Logger.Warn("damaged store put aside", "file", aside)
	if err := s.open(); err != nil {
		return fmt.Errorf("open store %s: %w", s.path(), err)
	}
	s.damaged = false
	return nil
}
