// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"runtime"
	"time"

	"towpath/resources"
	"towpath/resources/xlsx"
	"towpath/scheduler/capacity"
	"towpath/scheduler/runner"
)

// webSeason lets the capacity page stand on a forecast and the runner's
// searches.
type webSeason struct {
	forecast *resources.Forecast
}

// Forecast is what the shop was started with; nil when there is none.
func (s webSeason) Forecast() *resources.Forecast { return s.forecast }

// Worth solves additions beside the planning of the shop, on half of the cores.
func (s webSeason) Worth(ctx context.Context, in capacity.Input, list []capacity.Addition, told func(capacity.Standing, []capacity.Worth)) error {
	workers := max(1, runtime.GOMAXPROCS(0)/2)
	_, _, err := runner.WorthOf(ctx, in, capacity.Effort{Seed: 1}, list, workers, func(q *capacity.Question, soFar []capacity.Worth) { told(q.Base, soFar) })
	return err
}

// Workbook writes tables as a workbook.
func (s webSeason) Workbook(sheets []resources.Sheet, zone *time.Location) ([]byte, error) {
	return xlsx.Write(sheets, zone)
}
