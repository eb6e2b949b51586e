// SPDX-License-Identifier: Apache-2.0

// Package boltstore keeps a projection of the log, the state as it is now, in
// a bbolt file, so that a start need not fold the whole log. The log is the
// truth: a store that is missing, damaged or of another log is made anew from
// it. README.md describes the file byte by byte.
package boltstore

import (
	"encoding/binary"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"towpath/resources"
	"towpath/scheduler"
)

// FileName is the store's file in its folder; a damaged one is kept beside it.
const (
	FileName    = "state.bolt"
	DamagedName = "state.damaged.bolt"
)

// format is the number of the layout that README.md describes.
const format = 1

var (
	bucketMeta     = []byte("meta")
	bucketEntities = []byte("entities")
	keyFormat      = []byte("format")
	keySeq         = []byte("seq")
	keySum         = []byte("sum")
	keyLog         = []byte("log")
)

// Options of a store.
type Options struct {
	// Log names the log the state is folded from; a store that was made from
	// another is not loaded. Empty: not compared.
	Log string
	// Logger is told when a damaged store is put aside; nil: nobody.
	Logger *slog.Logger
	// Wait is how long to wait for another process to let go of the file;
	// default 1 s.
	Wait time.Duration
	// Every is how many events lie between two snapshots; default 50,000,
	// negative: none are made. Span is the shop time after which the next one
	// is made although fewer have come; default a week. The first snapshot comes
	// after a tenth of Every.
	Every int
	Span  resources.Seconds
	// Snapshots is how many are kept at most, 2 or more; default 4.
	Snapshots int
}

// Store is an open file and its snapshots. One goroutine at a time may use it.
type Store struct {
	dir     string
	opt     Options
	db      *bolt.DB
	damaged bool             // to be put aside before the next write
	known   *scheduler.State // whose changes since the last write are all that is not in the file
	copied  snapshot         // the newest snapshot, or the last try at one
	copying chan struct{}    // closed when the snapshot under way is made; nil: none is
}

// Open opens the store in a folder, or makes a new one there.
func Open(dir string, o Options) (*Store, error) {
	if o.Wait == 0 {
		o.Wait = time.Second
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Every == 0 {
		o.Every = defaultEvery
	}
	if o.Span <= 0 {
		o.Span = defaultSpan
	}
	if o.Snapshots < 2 {
		o.Snapshots = defaultKept
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, fmt.Errorf("store folder: %w", err)
	}
	s := &Store{dir: dir, opt: o}
	err := s.open()
	if errors.Is(err, ErrDamaged) {
		// Ours, but cut short or overwritten inside.
		s.opt.Logger.Warn("store is damaged", "file", s.path(), "err", err)
		s.damaged = true
	} else if err != nil {
		return nil, fmt.Errorf("open store %s: %w", s.path(), err)
	}
	if err := s.sweep(); err != nil { // after the lock on the file is ours
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *Store) path() string { return filepath.Join(s.dir, FileName) }

// open opens the file and checks that it is a store of this format.
func (s *Store) open() error {
	if info, err := os.Stat(s.path()); err == nil && !info.Mode().IsRegular() {
		return fmt.Errorf("%w: it is no file", ErrForeign)
	}
	return guard(func() error {
		db, err := bolt.Open(s.path(), 0o640, &bolt.Options{Timeout: s.opt.Wait, FreelistType: bolt.FreelistMapType})
		switch {
		case errors.Is(err, bolterrors.ErrTimeout):
			return ErrInUse
		case errors.Is(err, bolterrors.ErrInvalid), errors.Is(err, bolterrors.ErrVersionMismatch), errors.Is(err, bolterrors.ErrChecksum):
			return fmt.Errorf("%w (%v): move the file away, and the store is made anew from the log", ErrForeign, err)
		case err != nil:
			return err
		}
		if err := prepare(db, s.opt.Log); err != nil {
			_ = db.Close()
			return err
		}
		s.db = db
		return nil
	})
}

// prepare writes the format into a new file and compares it in an old one.
func prepare(db *bolt.DB, log string) error {
	return db.Update(func(tx *bolt.Tx) error {
		meta := tx.Bucket(bucketMeta)
		if meta == nil {
			if name, _ := tx.Cursor().First(); name != nil {
				return fmt.Errorf("%w: it is a bbolt file of another program, with a bucket %q", ErrForeign, name)
			}
			return lay(tx, log)
		}
		switch v := meta.Get(keyFormat); {
		case len(v) != 4:
			return fmt.Errorf("%w: it is a bbolt file of another program", ErrForeign)
		case binary.BigEndian.Uint32(v) != format:
			return fmt.Errorf("%w: format %d, this program reads %d; use the program that wrote it, or move the file away and the store is made anew from the log",
				ErrForeign, binary.BigEndian.Uint32(v), format)
		}
		return nil
	})
}

// lay makes an empty store.
func lay(tx *bolt.Tx, log string) error {
	for _, name := range [][]byte{bucketMeta, bucketEntities} {
		if err := tx.DeleteBucket(name); err != nil && !errors.Is(err, bolterrors.ErrBucketNotFound) {
			return err
		}
		if _, err := tx.CreateBucket(name); err != nil {
			return err
		}
	}
	meta := tx.Bucket(bucketMeta)
	if err := meta.Put(keyFormat, binary.BigEndian.AppendUint32(nil, format)); err != nil {
		return err
	}
	return meta.Put(keyLog, []byte(log))
}

// Load reads the stored state. Every record is compared with the sum kept
// beside it. When the file holds nothing that can be trusted, the state is that
// of the newest snapshot. An error that is ErrNoState says why there is nothing
// to begin from; the log is to be folded then and the result given to Replace.
func (s *Store) Load() (*scheduler.State, error) {
	state, err := s.loadFile()
	if !errors.Is(err, ErrEmpty) && !errors.Is(err, ErrDamaged) {
		return state, err
	}
	old, none := s.Before(math.MaxUint64)
	if none != nil {
		if !errors.Is(none, ErrNoState) {
			s.opt.Logger.Warn("no snapshot takes the store's place", "why", none)
		}
		return nil, err
	}
	s.opt.Logger.Warn("the state is taken from a snapshot", "seq", old.Seq, "why", err)
	return old, nil
}

func (s *Store) loadFile() (*scheduler.State, error) {
	if s.damaged {
		return nil, ErrDamaged
	}
	if s.db == nil {
		return nil, ErrClosed
	}
	var state *scheduler.State
	err := guard(func() error {
		return s.db.View(func(tx *bolt.Tx) error {
			var err error
			state, err = s.load(tx)
			return err
		})
	})
	s.damaged = errors.Is(err, ErrDamaged)
	if err != nil {
		return nil, fmt.Errorf("load %s: %w", s.path(), err)
	}
	state.TakeChanged()
	s.known = state
	return state, nil
}

func (s *Store) load(tx *bolt.Tx) (*scheduler.State, error) {
	meta, entities := tx.Bucket(bucketMeta), tx.Bucket(bucketEntities)
	if entities == nil {
		return nil, fmt.Errorf("%w: bucket entities is missing", ErrDamaged)
	}
	seq, kept := meta.Get(keySeq), meta.Get(keySum)
	if seq == nil {
		return nil, ErrEmpty
	}
	if log := string(meta.Get(keyLog)); s.opt.Log != "" && log != s.opt.Log {
		return nil, fmt.Errorf("%w: %q, not %q", ErrOtherLog, log, s.opt.Log)
	}
	parts, got, err := readAll(entities)
	if err != nil {
		return nil, err
	}
	if got.bytes() != string(kept) {
		return nil, fmt.Errorf("%w: the records do not add up to the sum kept beside them", ErrDamaged)
	}
	state, err := scheduler.JoinEntities(parts...)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	case len(seq) != 8 || state.Seq != binary.BigEndian.Uint64(seq):
		return nil, fmt.Errorf("%w: the state is at %d, the store at %x", ErrDamaged, state.Seq, seq)
	}
	return state, nil
}

// Seq is the last applied sequence of what is stored; 0: nothing is.
func (s *Store) Seq() (uint64, error) {
	if s.damaged {
		return 0, ErrDamaged
	}
	if s.db == nil {
		return 0, ErrClosed
	}
	var seq uint64
	err := guard(func() error {
		return s.db.View(func(tx *bolt.Tx) error {
			if v := tx.Bucket(bucketMeta).Get(keySeq); len(v) == 8 {
				seq = binary.BigEndian.Uint64(v)
			}
			return nil
		})
	})
	return seq, err
}

// Close lets a snapshot under way be finished and lets go of the file. It may
// be called twice.
func (s *Store) Close() error {
	s.still()
	db := s.db
	s.db, s.known, s.damaged = nil, nil, false
	if db == nil {
		return nil
	}
	return guard(db.Close)
}
