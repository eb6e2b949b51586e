// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"runtime"

	"towpath/scheduler/relax"
	"towpath/scheduler/runner"
	"towpath/web"
)

// webSaver lets the order page ask the runner's searches what would save an
// order.
type webSaver struct{}

// Save solves changes beside the planning of the shop, on half of the cores.
func (webSaver) Save(ctx context.Context, p *web.Picture, order string, told func(*relax.Answer)) error {
	workers := max(1, runtime.GOMAXPROCS(0)/2)
	last, err := runner.Relax(ctx, p.State, p.Now, p.Plan, order, relax.Effort{Seed: 1}, workers, told)
	if err == nil {
		told(last)
	}
	return err
}
