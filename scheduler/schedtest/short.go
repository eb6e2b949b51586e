// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Long leaves a test out where -short asks for it, as the race detector's run does: it
// takes long, and is of one goroutine, so that there is nothing to race.
func Long(t testing.TB) {
	t.Helper()
	if testing.Short() {
		t.Skip("long, and of one goroutine: left out with -short")
	}
}

// Met requires that examples drawn at random have met what is not in each of them. With
// -short too few are drawn to ask for that.
func Met(t testing.TB, times int, what ...any) {
	t.Helper()
	if !testing.Short() {
		require.Positive(t, times, what...)
	}
}
