// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func TestSpell(t *testing.T) {
	for d, want := range map[resources.Seconds]string{
		0: "0 min", 1: "1 s", 59: "59 s", 60: "1 min", 3599: "59 min", 3600: "1 h", 3659: "1 h", 3660: "1 h 1 min", 72 * resources.Hour: "72 h",
	} {
		require.Equal(t, want, resources.Spell(d))
	}
}
