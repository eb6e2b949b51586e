// SPDX-License-Identifier: Apache-2.0

package schedtest

import "testing"

// Long leaves a test out where -short asks for it, as the race detector's run does: it
// takes long, and is of one goroutine, so that there is nothing to race.
func Long(t testing.TB) {
	t.Helper()
	if testing.Short() {
		t.Skip("long, and of one goroutine: left out with -short")
	}
}
