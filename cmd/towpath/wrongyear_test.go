// SPDX-License-Identifier: Apache-2.0

package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

const (
	yearPlant  = "../../testdata/demo/plant.yaml"
	yearOrders = "../../testdata/demo/orders.csv"
)

func TestCheckWarnsOfDatesThatArePast(t *testing.T) {
	code, out, errs := towpath(t, "check", "--plant", yearPlant, "--orders", yearOrders)
	require.Zero(t, code, errs)
	require.NotContains(t, out, "due before now", "all of them are after starts_at")
	code, out, errs = towpath(t, "check", "--plant", yearPlant, "--orders", yearOrders, "--now", "2027-03-02")
	require.Zero(t, code, errs)
	require.Contains(t, out, "orders.csv: warning: ship_by: due before now, Tue 2 Mar 2027 00:00")
	require.Regexp(t, ` and \d+ more; is the year right\?`, out)
	one := filepath.Join(t.TempDir(), "one.csv")
	require.NoError(t, os.WriteFile(one, []byte("order,product,quantity,ship_by\nN-1,HS-S,1,2025-03-12\nN-2,HS-S,1,2026-03-19\n"), 0o600))
	code, out, errs = towpath(t, "check", "--plant", yearPlant, "--orders", one)
	require.Zero(t, code, errs)
	require.Contains(t, out, ": N-1/1 (Wed 12 Mar 2025 16:00 ")
	require.NotContains(t, out, "N-2")
	code, _, _ = towpath(t, "check", "--plant", yearPlant, "--now", "soon")
	require.Equal(t, 2, code)
}

func TestCapacityWarnsOfAForecastOfAnotherTime(t *testing.T) {
	forecast := filepath.Join(t.TempDir(), "f.csv")
	for week, say := range map[string]string{
		"2025-W10": "f.csv: warning: week: all weeks of the forecast are over by now, Mon 2 Mar 2026",
		"2028-W20": "f.csv: warning: week: the forecast begins more than two years after now, Mon 2 Mar 2026",
		"2026-W12": "",
	} {
		require.NoError(t, os.WriteFile(forecast, []byte("product,week,quantity\nHS-S,"+week+",3\n"), 0o600))
		code, _, errs := towpath(t, "capacity", "--plant", yearPlant, "--orders", yearOrders, "--forecast", forecast)
		require.Zero(t, code, errs)
		if say == "" {
			require.NotContains(t, errs, "forecast")
			continue
		}
		require.Contains(t, errs, say)
		require.Contains(t, errs, `found "`+week+` to `+week+`"; are the year and --now right?`)
	}
}
