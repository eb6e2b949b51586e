// SPDX-License-Identifier: Apache-2.0

package boltstore_test

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/scheduler/boltstore"
)

const childDir = "TOWPATH_CRASH_DIR"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		child(dir)
		return
	}
	os.Exit(m.Run())
}

// child goes on telling the story from where the store is, saves in groups of
// 1 to 30 and prints the sequence after each save, until it is killed.
func child(dir string) {
	t := &testing.T{}
	shop := newStory(t)
	s, err := boltstore.Open(dir, boltstore.Options{})
	if err != nil {
		panic(err)
	}
	state, err := s.Load()
	if err != nil {
		state = scheduler.NewState(nil)
	}
	for group := 1; ; group = group%30 + 1 {
		for range group {
			if _, err := state.Apply(shop.event(int(state.Seq) + 1)); err != nil {
				panic(err)
			}
		}
		if err := s.Save(state); err != nil {
			panic(err)
		}
		fmt.Println(state.Seq)
	}
}

// Killed at any moment, the store has a state that the log had, not older than
// the last that was saved.
func TestKilledStoreHasWhatItSaved(t *testing.T) {
	shop := newStory(t)
	dir := t.TempDir()
	for round := range 4 {
		saved := killedChild(t, dir, 20+13*round)
		s := open(t, dir)
		state, err := s.Load()
		require.NoError(t, err)
		require.GreaterOrEqual(t, state.Seq, saved)
		require.Equal(t, shop.tell(t, nil, int(state.Seq)).Hash(), state.Hash())
		require.NoError(t, s.Close())
	}
}

func killedChild(t *testing.T, dir string, lines int) (saved uint64) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childDir+"="+dir)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	scan := bufio.NewScanner(out)
	for n := 0; scan.Scan(); n++ {
		saved, err = strconv.ParseUint(scan.Text(), 10, 64)
		require.NoError(t, err)
		if n == lines {
			require.NoError(t, cmd.Process.Kill())
		}
	}
	require.Error(t, cmd.Wait(), "the child ends only by being killed")
	return saved
}
