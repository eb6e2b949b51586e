// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/whatif"
	"towpath/web/view"
)

// A search that hardly tried says little, but for one that had no more to try.
func TestFewTriesSayLittle(t *testing.T) {
	require.True(t, view.FewTries(&whatif.Comparison{}))
	require.True(t, view.FewTries(&whatif.Comparison{Iterations: view.EnoughTries - 1}))
	require.False(t, view.FewTries(&whatif.Comparison{Iterations: view.EnoughTries}))
	require.False(t, view.FewTries(&whatif.Comparison{Iterations: 3, Proven: true}))
}
