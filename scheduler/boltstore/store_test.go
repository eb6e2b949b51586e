// SPDX-License-Identifier: Apache-2.0

package boltstore_test

import (
	"encoding/binary"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/boltstore"
)

func open(t require.TestingT, dir string) *boltstore.Store {
	s, err := boltstore.Open(dir, boltstore.Options{Wait: 50 * time.Millisecond})
	require.NoError(t, err)
	return s
}

// reload closes the store, opens it again and loads.
func reload(t require.TestingT, s *boltstore.Store, dir string) (*boltstore.Store, *scheduler.State) {
	require.NoError(t, s.Close())
	s = open(t, dir)
	state, err := s.Load()
	require.NoError(t, err)
	return s, state
}

func TestNewStoreHasNoState(t *testing.T) {
	s := open(t, t.TempDir())
	defer s.Close()
	_, err := s.Load()
	require.ErrorIs(t, err, boltstore.ErrEmpty)
	require.ErrorIs(t, err, boltstore.ErrNoState)
	seq, err := s.Seq()
	require.NoError(t, err)
	require.Zero(t, seq)
}

// Whatever the sizes of the groups and wherever it was opened anew, the store
// has the state that a fold from nothing gives.
func TestStoredStateEqualsFold(t *testing.T) {
	shop := newStory(t)
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "boltstore")
		require.NoError(t, err)
		defer os.RemoveAll(dir)
		s := open(t, dir)
		state := scheduler.NewState(nil)
		for range rapid.IntRange(1, 6).Draw(t, "groups") {
			n := int(state.Seq) + rapid.IntRange(0, 120).Draw(t, "events")
			for i := int(state.Seq) + 1; i <= n; i++ {
				_, err := state.Apply(shop.event(i))
				require.NoError(t, err)
			}
			switch rapid.IntRange(0, 3).Draw(t, "how") {
			case 0:
				require.NoError(t, s.Replace(state))
			case 1:
				state = state.Clone() // another value: must be written whole
				fallthrough
			default:
				require.NoError(t, s.Save(state))
			}
			if rapid.Bool().Draw(t, "reopen") {
				want := state.Hash()
				s, state = reload(t, s, dir)
				require.Equal(t, want, state.Hash())
			}
		}
		want := state.Hash()
		s, state = reload(t, s, dir)
		defer s.Close()
		require.Equal(t, want, state.Hash())
		fold := scheduler.NewState(nil)
		for i := 1; i <= int(state.Seq); i++ {
			_, err := fold.Apply(shop.event(i))
			require.NoError(t, err)
		}
		require.Equal(t, fold.Hash(), state.Hash())
	})
}

// An entity that is no more must not come back.
func TestDroppedEntitiesAreDropped(t *testing.T) {
	dir := t.TempDir()
	shop := newStory(t)
	s := open(t, dir)
	state := shop.tell(t, nil, 2)
	require.NoError(t, s.Save(state))
	require.Len(t, state.Pieces, pieces)
	e := shop.event(2)
	e.ID, e.Kind, e.Seq = "fewer", events.OrderChanged, 3
	d := e.Data.(events.OrderData)
	d.Quantity = 3
	e.Data = d
	_, err := state.Apply(e)
	require.NoError(t, err)
	require.Len(t, state.Pieces, 3)
	require.NoError(t, s.Save(state))
	want := state.Hash()
	s, state = reload(t, s, dir)
	defer s.Close()
	require.Len(t, state.Pieces, 3)
	require.Equal(t, want, state.Hash())
}

// A published plan and every other kind of entity comes back too; the demo
// shop has them all.
func TestDemoShopIsStoredWhole(t *testing.T) {
	plantFile, err := os.ReadFile("../../testdata/demo/plant.yaml")
	require.NoError(t, err)
	plant, findings := resources.ReadPlant("plant.yaml", plantFile)
	require.NotNil(t, plant, findings)
	dir := t.TempDir()
	s := open(t, dir)
	state := scheduler.NewState(nil)
	_, err = state.Apply(events.Event{ID: "plant", Kind: events.PlantDeclared, Plant: plant.Name, At: at, Seq: 1, Data: events.PlantData{File: string(plantFile)}})
	require.NoError(t, err)
	require.NoError(t, s.Save(state))
	require.NotEmpty(t, state.Stations)
	require.NotEmpty(t, state.Tools)

	station := plant.Stations[0].ID
	_, err = state.Apply(events.Event{ID: "down", Kind: events.StationDown, Plant: plant.Name, Station: station, At: at, Seq: 2, Data: events.StationData{Why: "belt"}})
	require.NoError(t, err)
	state.Plan = &scheduler.Plan{Version: 7, Made: at, Work: []scheduler.Work{{Piece: "x", Operation: "y", Start: at}}}
	require.NoError(t, s.Replace(state))
	want := state.Hash()
	s, state = reload(t, s, dir)
	defer s.Close()
	require.Equal(t, want, state.Hash())
	require.True(t, state.Stations[station].Down)
	require.EqualValues(t, 7, state.Plan.Version)
}

func TestOneProcessAtATime(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	_, err := boltstore.Open(dir, boltstore.Options{Wait: 20 * time.Millisecond})
	require.ErrorIs(t, err, boltstore.ErrInUse)
	require.NoError(t, s.Close())
	require.NoError(t, s.Close())
	require.NoError(t, open(t, dir).Close())
}

func TestClosedStoreSaysSo(t *testing.T) {
	s := open(t, t.TempDir())
	require.NoError(t, s.Close())
	_, err := s.Load()
	require.ErrorIs(t, err, boltstore.ErrClosed)
	require.ErrorIs(t, s.Save(scheduler.NewState(nil)), boltstore.ErrClosed)
	_, err = s.Seq()
	require.ErrorIs(t, err, boltstore.ErrClosed)
}

func TestOtherLogIsNotLoaded(t *testing.T) {
	dir := t.TempDir()
	shop := newStory(t)
	use := func(log string) *boltstore.Store {
		s, err := boltstore.Open(dir, boltstore.Options{Log: log})
		require.NoError(t, err)
		return s
	}
	s := use("first")
	require.NoError(t, s.Save(shop.tell(t, nil, 60)))
	require.NoError(t, s.Close())

	s = use("second")
	_, err := s.Load()
	require.ErrorIs(t, err, boltstore.ErrOtherLog)
	require.ErrorContains(t, err, `"first", not "second"`)
	require.NoError(t, s.Replace(shop.tell(t, nil, 10)))
	state, err := s.Load()
	require.NoError(t, err)
	require.EqualValues(t, 10, state.Seq)
	require.NoError(t, s.Close())
}

func TestForeignFilesAreLeftAlone(t *testing.T) {
	for name, make := range map[string]func(t *testing.T, path string){
		"text": func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(path, []byte("my notes about the winder\n"), 0o600))
		},
		"large": func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(path, make([]byte, 1<<16), 0o600))
		},
		"folder": func(t *testing.T, path string) { require.NoError(t, os.Mkdir(path, 0o700)) },
		"other program's": func(t *testing.T, path string) {
			bucket(t, path, "recipes", "cake", []byte("flour"))
		},
		"other program's meta": func(t *testing.T, path string) {
			bucket(t, path, "meta", "version", []byte("3"))
		},
		"later format": func(t *testing.T, path string) {
			bucket(t, path, "meta", "format", binary.BigEndian.AppendUint32(nil, 99))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, boltstore.FileName)
			make(t, path)
			_, err := boltstore.Open(dir, boltstore.Options{})
			require.ErrorIs(t, err, boltstore.ErrForeign)
			require.ErrorContains(t, err, path)
			_, err = os.Stat(path)
			require.NoError(t, err)
		})
	}
}

func bucket(t *testing.T, path, name, key string, value []byte) {
	db, err := bolt.Open(path, 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, db.Update(func(tx *bolt.Tx) error {
		b, err := tx.CreateBucketIfNotExists([]byte(name))
		if err != nil {
			return err
		}
		return b.Put([]byte(key), value)
	}))
	require.NoError(t, db.Close())
}

// A record changed behind the store's back is found.
func TestChangedRecordIsNoticed(t *testing.T) {
	dir := t.TempDir()
	shop := newStory(t)
	s := open(t, dir)
	require.NoError(t, s.Save(shop.tell(t, nil, 60)))
	require.NoError(t, s.Close())
	bucket(t, filepath.Join(dir, boltstore.FileName), "entities", "event/AAAAAAAAAAAAAAAAAAAAAA", []byte(`{"Seq":3}`))
	s = open(t, dir)
	defer s.Close()
	_, err := s.Load()
	require.ErrorIs(t, err, boltstore.ErrDamaged)
	require.ErrorContains(t, err, "do not add up")
	// The log is folded and the store made anew; the old file is kept.
	state := shop.tell(t, nil, 70)
	require.NoError(t, s.Replace(state))
	require.FileExists(t, filepath.Join(dir, boltstore.DamagedName))
	s, back := reload(t, s, dir)
	defer s.Close()
	require.Equal(t, state.Hash(), back.Hash())
}

// Bytes changed or missing anywhere: the store loads what was saved or says
// that it cannot; it never crashes, never loads something else, and can be
// made anew.
func TestDamageNeverLoadsAsSomethingElse(t *testing.T) {
	dir := t.TempDir()
	shop := newStory(t)
	s := open(t, dir)
	state := shop.tell(t, nil, 600)
	require.NoError(t, s.Save(state))
	require.NoError(t, s.Save(shop.tell(t, state, 640)))
	require.NoError(t, s.Close())
	good, err := os.ReadFile(filepath.Join(dir, boltstore.FileName))
	require.NoError(t, err)
	want := state.Hash()
	rng := rand.New(rand.NewPCG(7, 7))
	loaded, refused := 0, 0
	for range 100 {
		spoilt := append([]byte(nil), good...)
		switch rng.IntN(3) {
		case 0: // a few bytes
			for range 1 + rng.IntN(20) {
				spoilt[rng.IntN(len(spoilt))] ^= byte(1 + rng.IntN(255))
			}
		case 1: // a stretch of zeros, as of a page that was never written
			from := rng.IntN(len(spoilt))
			clear(spoilt[from:min(len(spoilt), from+1+rng.IntN(16<<10))])
		case 2: // cut short
			spoilt = spoilt[:rng.IntN(len(spoilt))]
		}
		if tryDamaged(t, shop, spoilt, want) {
			loaded++
		} else {
			refused++
		}
	}
	t.Logf("%d loaded unharmed, %d refused", loaded, refused)
	require.Positive(t, refused)
}

func tryDamaged(t *testing.T, shop *story, file []byte, want string) (loaded bool) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, boltstore.FileName), file, 0o600))
	s, err := boltstore.Open(dir, boltstore.Options{})
	if err != nil {
		require.ErrorIs(t, err, boltstore.ErrForeign)
		return false
	}
	defer s.Close()
	state, err := s.Load()
	if err == nil {
		require.Equal(t, want, state.Hash())
		loaded = true
	} else {
		require.ErrorIs(t, err, boltstore.ErrNoState)
		state = shop.tell(t, nil, 100)
	}
	// What comes next may meet a damaged page that loading did not touch.
	next := shop.tell(t, state, int(state.Seq)+30)
	require.NoError(t, s.Save(next))
	back, err := s.Load()
	require.NoError(t, err)
	require.Equal(t, next.Hash(), back.Hash())
	return loaded
}
