// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events/natslog"
)

// The child of the crash test opens a log in the folder childDir names,
// appends events from number childFirst on, in batches of 1, 2, 3, …, and
// prints the number after each acknowledged batch, until it is killed.
const (
	childDir   = "TOWPATH_CRASH_DIR"
	childFirst = "TOWPATH_CRASH_FIRST"
)

func child(dir string) {
	next, err := strconv.Atoi(os.Getenv(childFirst))
	if err != nil {
		panic(err)
	}
	l, err := natslog.Open(context.Background(), natslog.Config{Plant: "demo", Dir: dir, Listen: natslog.InProcess})
	if err != nil {
		panic(err)
	}
	for n := 1; ; n = n%40 + 1 {
		if _, err := l.Append(context.Background(), numbered("crash", next, n), natslog.AnyLast); err != nil {
			panic(err)
		}
		next += n
		fmt.Println(next)
	}
}

// Killed at any moment, a log keeps every acknowledged event, in order, and
// none twice, although what was in flight is sent again after each crash.
func TestKilledLogKeepsWhatItAcknowledged(t *testing.T) {
	dir := t.TempDir()
	acknowledged := 0
	for round := range 4 {
		acknowledged = killedChild(t, dir, acknowledged, 15+17*round)
	}
	require.Positive(t, acknowledged)
	all := readAll(t, open(t, dir))
	require.GreaterOrEqual(t, len(all), acknowledged)
	for i, e := range all {
		require.NoError(t, e.Err)
		require.Equal(t, fmt.Sprintf("crash-%06d", i), e.Event.ID)
	}
}

// killedChild runs a child, kills it after so many acknowledgements and
// returns the number that follows the last acknowledged event.
func killedChild(t *testing.T, dir string, first, lines int) int {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childDir+"="+dir, childFirst+"="+strconv.Itoa(first))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	scan := bufio.NewScanner(out)
	last := first
	for n := 0; scan.Scan(); n++ {
		number, err := strconv.Atoi(scan.Text())
		require.NoError(t, err)
		last = number
		if n == lines {
			require.NoError(t, cmd.Process.Kill()) // SIGKILL; lines already written are still read
		}
	}
	require.Error(t, cmd.Wait(), "the child ends only by being killed")
	require.Greater(t, last, first)
	return last
}
