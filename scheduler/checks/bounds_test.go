// SPDX-License-Identifier: Apache-2.0

package checks_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources/instance"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// below holds the engine's lower bound of a case against a proven optimum and
// returns it in the published figure.
func below(t *testing.T, c *instance.Case, optimum int64) int64 {
	t.Helper()
	p, err := scheduler.Compile(stateOf(t, c), instance.Start)
	require.NoError(t, err)
	b := time.Now()
	bound, err := search.Bound(p)
	require.NoError(t, err)
	value := c.Value(bound)
	t.Logf("%s: bound %d optimum %d  %v", c.Name, value, optimum, time.Since(b))
	require.LessOrEqual(t, value, optimum, c.Name)
	return value
}

func TestBoundsStayBelowOptima(t *testing.T) {
	for _, check := range readChecks[flowCheck](t, "flow_shop.json") {
		c, err := check.shop(t).Makespan()
		require.NoError(t, err)
		below(t, c, check.Optimum)
	}
	for _, check := range readChecks[jobCheck](t, "job_shop.json") {
		c, err := check.shop().Makespan()
		require.NoError(t, err)
		below(t, c, check.Optimum)
	}
	for _, check := range readChecks[flexibleCheck](t, "flexible_job_shop.json") {
		c, err := check.shop().Makespan()
		require.NoError(t, err)
		below(t, c, check.Optimum)
	}
	for _, check := range readChecks[singleCheck](t, "single_machine.json") {
		below(t, check.build(t), check.Optimum)
	}
	for _, check := range readChecks[batchCheck](t, "batch_machine.json") {
		for i, optimum := range check.Optima {
			below(t, check.build(t, i+1), optimum)
		}
	}
	for _, check := range readChecks[tourCheck](t, "tour.json") {
		tour := instance.Tour{Name: check.ID, Setup: check.Setup}
		c, err := tour.Makespan()
		require.NoError(t, err)
		below(t, c, check.Optimum)
	}
	for _, check := range readChecks[projectCheck](t, "project_lags.json") {
		if check.Starts != nil {
			below(t, check.build(t), check.Optimum)
		}
	}
	for _, check := range readChecks[ovenCheck](t, "oven.json") {
		below(t, readOvens(t, check.File).Case(), check.Optimum)
	}
	files, _ := filepath.Glob(filepath.Join(testdata, "bench", "ovens", "*.dzn"))
	for _, f := range files {
		below(t, readOvens(t, filepath.Base(f)).Case(), 1<<62)
	}
	files, _ = filepath.Glob(filepath.Join(testdata, "bench", "jobshop", "*.txt"))
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		shop, findings := instance.ReadJobShop(filepath.Base(file), text)
		require.Empty(t, findings)
		c, err := shop.Makespan()
		require.NoError(t, err)
		below(t, c, 1<<62)
	}
}
