// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
)

// Every history is counted once, whatever the cores; an end answers with what
// was counted.
func TestCalibrate(t *testing.T) {
	programs := []*risk.Program{demoProgram(t), demoProgram(t), demoProgram(t)}
	o := risk.Options{Replications: 50, Seed: 4}
	one, err := runner.Calibrate(t.Context(), programs, 100, o, 1, nil)
	require.NoError(t, err)
	many, err := runner.Calibrate(t.Context(), programs, 100, o, 3, nil)
	require.NoError(t, err)
	require.Equal(t, one, many)
	require.Equal(t, 100, one.Levels(0.95)[0].N)

	ctx, cancel := context.WithCancel(t.Context())
	part, err := runner.Calibrate(ctx, programs, 100, o, 2, func(int, int) { cancel() })
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, 33, part.Levels(0.95)[0].N)
}
