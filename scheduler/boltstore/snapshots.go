// SPDX-License-Identifier: Apache-2.0

package boltstore

import (
	"cmp"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"syscall"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"towpath/resources"
	"towpath/scheduler"
)

// SnapshotFolder holds copies of the store as it was on the way.
const SnapshotFolder = "snapshots"

// Defaults of Options.
const (
	defaultEvery = 50_000
	defaultSpan  = 7 * resources.Day
	defaultKept  = 4
)

// firstPart: the first snapshot comes after this part of the events that lie
// between later ones, so that a small shop has one soon.
const firstPart = 10

// What is added to the name of a snapshot that is damaged, and of one that
// is not finished.
const (
	damagedSuffix = ".damaged"
	draftSuffix   = ".draft"
)

// snapshot is a copy of the store in its folder, told by its name alone.
type snapshot struct {
	path string
	seq  uint64
	at   resources.Tick // latest instant its state knows of
}

const nameTime = "20060102T150405Z"

var nameOf = regexp.MustCompile(`^(\d{8}T\d{6}Z)-(\d{1,20})-([0-9a-f]{8})\.bolt$`)

// mark tells the log in a snapshot's name, so that those of another are left
// alone.
func (s *Store) mark() string {
	sum := sha256.Sum256([]byte(s.opt.Log))
	return fmt.Sprintf("%x", sum[:4])
}

func (s *Store) snapshotPath(at resources.Tick, seq uint64) string {
	stamp := time.Unix(int64(at), 0).UTC().Format(nameTime)
	return filepath.Join(s.dir, SnapshotFolder, fmt.Sprintf("%s-%d-%s.bolt", stamp, seq, s.mark()))
}

// sweep drops drafts that a crash has left, and finds the newest snapshot.
func (s *Store) sweep() error {
	drafts, err := filepath.Glob(filepath.Join(s.dir, SnapshotFolder, "*"+draftSuffix))
	for _, path := range drafts {
		err = errors.Join(err, removeIfThere(path))
	}
	if err != nil {
		return fmt.Errorf("drop unfinished snapshots: %w", err)
	}
	list, err := s.snapshots()
	if len(list) > 0 {
		s.copied = list[len(list)-1]
	}
	return err
}

// snapshots lists those of this log, oldest first.
func (s *Store) snapshots() ([]snapshot, error) {
	files, err := os.ReadDir(filepath.Join(s.dir, SnapshotFolder))
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("list snapshots: %w", err)
	}
	var list []snapshot
	for _, f := range files {
		part := nameOf.FindStringSubmatch(f.Name())
		if part == nil || part[3] != s.mark() {
			continue
		}
		at, badTime := time.Parse(nameTime, part[1])
		seq, badSeq := strconv.ParseUint(part[2], 10, 64)
		if badTime == nil && badSeq == nil {
			path := filepath.Join(s.dir, SnapshotFolder, f.Name())
			list = append(list, snapshot{path: path, seq: seq, at: resources.Tick(at.Unix())})
		}
	}
	slices.SortFunc(list, func(a, b snapshot) int { return cmp.Compare(a.seq, b.seq) })
	return list, nil
}

// snap begins a snapshot when enough has been stored since the last one. It is
// made in the background, from one transaction; one that fails is told to the
// logger and tried again after as many events more.
func (s *Store) snap(state *scheduler.State) {
	if s.opt.Every < 0 || s.busy() {
		return
	}
	since := state.Seq - min(state.Seq, s.copied.seq)
	switch {
	case since >= uint64(s.opt.Every):
	case s.copied.seq == 0 && since >= uint64(s.opt.Every/firstPart):
	case s.copied.seq != 0 && since > 0 && state.At >= s.copied.at+resources.Tick(s.opt.Span):
	default:
		return
	}
	path := s.snapshotPath(state.At, state.Seq)
	s.copied = snapshot{path: path, seq: state.Seq, at: state.At}
	tx, err := s.db.Begin(false)
	if err != nil {
		s.opt.Logger.Warn("no snapshot", "seq", state.Seq, "err", err)
		return
	}
	done := make(chan struct{})
	s.copying = done
	go func() {
		defer close(done)
		if err := s.copyTo(path, tx); err != nil {
			s.opt.Logger.Warn("no snapshot", "file", path, "err", err)
			return
		}
		if err := s.thin(); err != nil {
			s.opt.Logger.Warn("old snapshots stay", "err", err)
		}
	}()
}

// busy tells whether a snapshot is being made.
func (s *Store) busy() bool {
	if s.copying == nil {
		return false
	}
	select {
	case <-s.copying:
		s.copying = nil
		return false
	default:
		return true
	}
}

// still waits until no snapshot is being made.
func (s *Store) still() {
	if s.copying != nil {
		<-s.copying
		s.copying = nil
	}
}

// copyTo writes what a transaction sees into a file, reads that back, and only
// then gives it its name: whatever has a snapshot's name is whole.
func (s *Store) copyTo(path string, tx *bolt.Tx) error {
	draft := path + draftSuffix
	err := guard(func() error {
		defer tx.Rollback()
		if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
			return err
		}
		return writeSynced(draft, tx)
	})
	if err == nil {
		_, err = s.readSnapshot(draft)
	}
	if err == nil {
		err = os.Rename(draft, path)
	}
	if err != nil {
		return errors.Join(err, removeIfThere(draft))
	}
	return syncFolder(filepath.Dir(path))
}

func writeSynced(path string, tx *bolt.Tx) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o640)
	if err != nil {
		return err
	}
	_, err = tx.WriteTo(f)
	return errors.Join(err, f.Sync(), f.Close())
}

func syncFolder(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// readSnapshot is the state in a snapshot's file, with every record compared
// with the sum.
func (s *Store) readSnapshot(path string) (*scheduler.State, error) {
	var state *scheduler.State
	err := guard(func() error {
		db, err := s.openSnapshot(path)
		if err != nil {
			return err
		}
		defer func() { _ = db.Close() }()
		return db.View(func(tx *bolt.Tx) error {
			if tx.Bucket(bucketMeta) == nil {
				return fmt.Errorf("%w: bucket meta is missing", ErrDamaged)
			}
			var err error
			state, err = s.load(tx)
			return err
		})
	})
	if err != nil {
		return nil, fmt.Errorf("read snapshot %s: %w", path, err)
	}
	state.TakeChanged()
	return state, nil
}

// openSnapshot opens a snapshot's file. It is damaged only when what is in it
// says so: one that another program has locked, or that the machine does not
// hand out now, may be whole.
func (s *Store) openSnapshot(path string) (*bolt.DB, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.Size() == 0 { // which would be taken for a new file, to be written
		return nil, fmt.Errorf("%w: it is empty", ErrDamaged)
	}
	db, err := bolt.Open(path, 0o640, &bolt.Options{Timeout: s.opt.Wait, ReadOnly: true})
	var machine syscall.Errno
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, ErrInUse
	case errors.As(err, &machine):
		return nil, err
	case err != nil:
		return nil, fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return db, nil
}

// thin drops snapshots until no more than are to be kept are left: each time
// the one whose absence makes the least difference for its age, so that the
// older lie the farther apart. The oldest and the newest stay.
func (s *Store) thin() error {
	list, err := s.snapshots()
	for err == nil && len(list) > s.opt.Snapshots {
		newest := list[len(list)-1].seq
		drop, least := 0, 0.0
		for i := 1; i < len(list)-1; i++ {
			gap := float64(list[i+1].seq - list[i-1].seq)
			if worth := gap / float64(newest-list[i].seq+1); drop == 0 || worth < least {
				drop, least = i, worth
			}
		}
		err = removeIfThere(list[drop].path)
		list = slices.Delete(list, drop, drop+1)
	}
	return err
}

// Before is the state of the newest snapshot from before a sequence. One that
// is damaged is renamed, so that a person may look at it, and the next older
// one is taken; one that cannot be opened now is an error and stays, as it may
// hold what the log no longer has. The error is ErrEmpty when there is none.
func (s *Store) Before(seq uint64) (*scheduler.State, error) {
	s.still()
	list, err := s.snapshots()
	if err != nil {
		return nil, err
	}
	for _, x := range slices.Backward(list) {
		if x.seq >= seq {
			continue
		}
		state, err := s.readSnapshot(x.path)
		if err == nil {
			return state, nil
		}
		if !errors.Is(err, ErrNoState) {
			return nil, err
		}
		s.opt.Logger.Warn("snapshot is passed over", "file", x.path, "err", err)
		if errors.Is(err, ErrDamaged) {
			if err := os.Rename(x.path, x.path+damagedSuffix); err != nil {
				return nil, fmt.Errorf("put damaged snapshot aside: %w", err)
			}
		}
	}
	return nil, ErrEmpty
}

// Taken is the sequence of the newest snapshot whose state knows of nothing
// after an instant; 0 when there is none. It does not wait for one under way.
func (s *Store) Taken(by resources.Tick) (uint64, error) {
	list, err := s.snapshots()
	seq := uint64(0)
	for _, x := range list {
		if x.at <= by {
			seq = x.seq
		}
	}
	return seq, err
}

// Cut drops the snapshots from a sequence on, which something learned later
// has made untrue.
func (s *Store) Cut(seq uint64) error {
	return s.remove(func(x snapshot) bool { return x.seq >= seq })
}

// Prune drops the snapshots from before a sequence.
func (s *Store) Prune(seq uint64) error {
	return s.remove(func(x snapshot) bool { return x.seq < seq })
}

func (s *Store) remove(which func(snapshot) bool) error {
	s.still()
	list, err := s.snapshots()
	if err != nil {
		return err
	}
	s.copied = snapshot{}
	for _, x := range list {
		if which(x) {
			err = errors.Join(err, removeIfThere(x.path))
		} else {
			s.copied = x
		}
	}
	if err != nil {
		return fmt.Errorf("drop snapshots: %w", err)
	}
	return nil
}
