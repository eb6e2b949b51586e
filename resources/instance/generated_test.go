// SPDX-License-Identifier: Apache-2.0

package instance_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
)

// The first draws of ta001 as published in Taillard (1993).
func TestGeneratedFlowIsThePublishedOne(t *testing.T) {
	f, err := instance.GeneratedFlow("ta001", 20, 5, 873654221)
	require.NoError(t, err)
	var first, last []int64
	for j := range f.Times {
		first, last = append(first, f.Times[j][0]), append(last, f.Times[j][4])
	}
	require.Equal(t, []int64{54, 83, 15, 71, 77, 36, 53, 38, 27, 87, 76, 91, 14, 29, 12, 77, 32, 87, 68, 94}, first)
	require.Equal(t, []int64{18, 68, 28}, last[17:])
}

func TestGeneratedFlowSaysWhatIsWrong(t *testing.T) {
	_, err := instance.GeneratedFlow("x", 0, 5, 1)
	require.ErrorContains(t, err, "0 jobs on 5 machines")
	for _, seed := range []int64{0, -3, 1<<31 - 1} {
		_, err = instance.GeneratedFlow("x", 2, 2, seed)
		require.ErrorContains(t, err, "allowed are 1 to 2147483646")
	}
}
