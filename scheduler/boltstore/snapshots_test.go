// SPDX-License-Identifier: Apache-2.0

package boltstore_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/boltstore"
)

// copying opens a store that makes a snapshot every hundred events.
func copying(t testing.TB, dir, log string) *boltstore.Store {
	s, err := boltstore.Open(dir, boltstore.Options{Log: log, Every: 100, Snapshots: 3})
	require.NoError(t, err)
	return s
}

// saved tells the story up to each number, saves there and lets the snapshot
// be made.
func saved(t testing.TB, s *boltstore.Store, shop *story, state *scheduler.State, numbers ...int) *scheduler.State {
	for _, n := range numbers {
		state = shop.tell(t, state, n)
		require.NoError(t, s.Save(state))
		_, err := s.Before(0) // waits for it
		require.ErrorIs(t, err, boltstore.ErrEmpty)
	}
	return state
}

// seqs are the sequences in the names of the snapshots.
func seqs(t testing.TB, dir string) []string {
	files, err := os.ReadDir(filepath.Join(dir, boltstore.SnapshotFolder))
	require.NoError(t, err)
	var list []string
	for _, f := range files {
		list = append(list, strings.SplitN(f.Name(), "-", 3)[1])
	}
	return list
}

func TestSnapshotsAreTheStatesThatWere(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	defer s.Close()
	_, err := s.Before(math.MaxUint64)
	require.ErrorIs(t, err, boltstore.ErrNoState)
	saved(t, s, shop, nil, 9, 120, 180, 240)
	require.Equal(t, []string{"120", "240"}, seqs(t, dir), "one every hundred events, the first after ten")
	for seq, want := range map[uint64]int{math.MaxUint64: 240, 241: 240, 240: 120, 121: 120} {
		got, err := s.Before(seq)
		require.NoError(t, err, seq)
		require.Equal(t, shop.tell(t, nil, want).Hash(), got.Hash(), "before %d", seq)
	}
	_, err = s.Before(120)
	require.ErrorIs(t, err, boltstore.ErrNoState)
	for by, want := range map[int]uint64{119: 0, 120: 120, 239: 120, 240: 240, 9999: 240} {
		got, err := s.Taken(at + resources.Tick(by))
		require.NoError(t, err)
		require.Equal(t, want, got, "by %d", by)
	}
}

// A shop with few events has its snapshots by time.
func TestSnapshotsComeAfterATimeToo(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s, err := boltstore.Open(dir, boltstore.Options{Every: 1000, Span: 60})
	require.NoError(t, err)
	defer s.Close()
	state := saved(t, s, shop, nil, 99, 100, 159, 160, 161)
	require.Equal(t, []string{"100", "160"}, seqs(t, dir))
	require.NoError(t, s.Save(state))
	require.NoError(t, s.Close())
	s, err = boltstore.Open(dir, boltstore.Options{Every: 1000, Span: 60})
	require.NoError(t, err)
	state, err = s.Load()
	require.NoError(t, err)
	saved(t, s, shop, state, 219, 220)
	require.Equal(t, []string{"100", "160", "220"}, seqs(t, dir), "it goes on where it was")
}

func TestSnapshotsLieTheFartherApartTheOlder(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	defer s.Close()
	saved(t, s, shop, nil, 100, 200, 300, 400, 500, 600, 700, 800)
	got := seqs(t, dir)
	require.Len(t, got, 3)
	require.Equal(t, "100", got[0])
	require.Equal(t, "800", got[2])
}

func TestSnapshotsAreCutAndPruned(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	state := saved(t, s, shop, nil, 100, 200, 300)
	require.NoError(t, s.Cut(201))
	require.Equal(t, []string{"100", "200"}, seqs(t, dir))
	state = saved(t, s, shop, state, 310, 350)
	require.Equal(t, []string{"100", "200", "310"}, seqs(t, dir), "the next comes a hundred after the newest that is left")
	require.NoError(t, s.Prune(200))
	require.Equal(t, []string{"200", "310"}, seqs(t, dir))
	require.NoError(t, s.Cut(0))
	require.Empty(t, seqs(t, dir))
	require.NoError(t, s.Close())
	require.Equal(t, uint64(350), state.Seq)
}

// A store that was lost or damaged goes on from its newest good snapshot.
func TestLoadFallsBackToASnapshot(t *testing.T) {
	for name, harm := range map[string]func(t *testing.T, path string){
		"missing": func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) },
		"cut":     func(t *testing.T, path string) { require.NoError(t, os.Truncate(path, 20000)) },
		"noise": func(t *testing.T, path string) {
			require.NoError(t, os.WriteFile(path, flipped(t, path), 0o640))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir, shop := t.TempDir(), newStory(t)
			s := copying(t, dir, "a")
			saved(t, s, shop, nil, 100, 210, 250)
			require.NoError(t, s.Close())
			harm(t, filepath.Join(dir, boltstore.FileName))
			s = copying(t, dir, "a")
			defer s.Close()
			state, err := s.Load()
			require.NoError(t, err)
			require.Equal(t, shop.tell(t, nil, 210).Hash(), state.Hash())
			state = saved(t, s, shop, state, 260)
			require.NoError(t, s.Close())
			s = copying(t, dir, "a")
			again, err := s.Load()
			require.NoError(t, err)
			require.Equal(t, state.Hash(), again.Hash())
		})
	}
}

// flipped is a file with every byte after the second page inverted.
func flipped(t *testing.T, path string) []byte {
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := 2 * os.Getpagesize(); i < len(text); i++ {
		text[i] ^= 0xff
	}
	return text
}

func TestADamagedSnapshotIsPassedOverAndKept(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	defer s.Close()
	saved(t, s, shop, nil, 100, 200)
	files, err := filepath.Glob(filepath.Join(dir, boltstore.SnapshotFolder, "*-200-*"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	require.NoError(t, os.WriteFile(files[0], flipped(t, files[0]), 0o640))
	got, err := s.Before(math.MaxUint64)
	require.NoError(t, err)
	require.Equal(t, uint64(100), got.Seq)
	require.FileExists(t, files[0]+".damaged")
	require.NoFileExists(t, files[0])
}

// A snapshot that another program looks into is whole all the same.
func TestASnapshotInUseStays(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	defer s.Close()
	saved(t, s, shop, nil, 100, 200)
	files, err := filepath.Glob(filepath.Join(dir, boltstore.SnapshotFolder, "*-200-*"))
	require.NoError(t, err)
	require.Len(t, files, 1)
	other, err := bolt.Open(files[0], 0o640, nil)
	require.NoError(t, err)
	_, err = s.Before(math.MaxUint64)
	require.ErrorIs(t, err, boltstore.ErrInUse)
	require.NotErrorIs(t, err, boltstore.ErrNoState)
	require.NoError(t, other.Close())
	got, err := s.Before(math.MaxUint64)
	require.NoError(t, err)
	require.Equal(t, uint64(200), got.Seq)
}

// What a snapshot's file holds, and nothing else, makes it a damaged one.
func TestWhatIsNoSnapshotIsPutAside(t *testing.T) {
	for name, harm := range map[string]func(path string) error{
		"empty":     func(path string) error { return os.Truncate(path, 0) },
		"cut":       func(path string) error { return os.Truncate(path, 1000) },
		"no format": func(path string) error { return os.WriteFile(path, make([]byte, 100_000), 0o640) },
	} {
		t.Run(name, func(t *testing.T) {
			dir, shop := t.TempDir(), newStory(t)
			s := copying(t, dir, "a")
			defer s.Close()
			saved(t, s, shop, nil, 100, 200)
			files, err := filepath.Glob(filepath.Join(dir, boltstore.SnapshotFolder, "*-200-*"))
			require.NoError(t, err)
			require.Len(t, files, 1)
			require.NoError(t, harm(files[0]))
			got, err := s.Before(math.MaxUint64)
			require.NoError(t, err)
			require.Equal(t, uint64(100), got.Seq)
			require.FileExists(t, files[0]+".damaged")
		})
	}
}

func TestSnapshotsOfAnotherLogAreLeftAlone(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	saved(t, s, shop, nil, 100)
	require.NoError(t, s.Close())
	s = copying(t, dir, "b")
	defer s.Close()
	_, err := s.Load()
	require.ErrorIs(t, err, boltstore.ErrOtherLog)
	_, err = s.Before(math.MaxUint64)
	require.ErrorIs(t, err, boltstore.ErrNoState)
	require.NoError(t, s.Cut(0))
	require.NoError(t, s.Prune(math.MaxUint64))
	require.Equal(t, []string{"100"}, seqs(t, dir))
}

// What a crash leaves half written is no snapshot and goes at the next start.
func TestAnUnfinishedSnapshotGoes(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, boltstore.SnapshotFolder)
	require.NoError(t, os.MkdirAll(folder, 0o750))
	draft := filepath.Join(folder, fmt.Sprintf("20260302T080000Z-7-%s.bolt.draft", "00000000"))
	require.NoError(t, os.WriteFile(draft, []byte("half"), 0o640))
	s := copying(t, dir, "a")
	defer s.Close()
	require.NoFileExists(t, draft)
	_, err := s.Before(math.MaxUint64)
	require.ErrorIs(t, err, boltstore.ErrNoState)
}

// A snapshot that cannot be made is told and stops nothing.
func TestASnapshotThatCannotBeMadeStopsNothing(t *testing.T) {
	dir, shop := t.TempDir(), newStory(t)
	s := copying(t, dir, "a")
	defer s.Close()
	require.NoError(t, os.WriteFile(filepath.Join(dir, boltstore.SnapshotFolder), []byte("in the way"), 0o640))
	state := shop.tell(t, nil, 150)
	require.NoError(t, s.Save(state))
	require.NoError(t, s.Save(shop.tell(t, state, 160)))
}
