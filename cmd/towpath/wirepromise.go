// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"runtime"

	"towpath/scheduler/promise"
	"towpath/scheduler/runner"
	"towpath/web"
)

// webPromiser lets the promise page ask the runner for dates.
type webPromiser struct {
	runner *runner.Runner
	seed   uint64
}

// Promise answers by the plan as it is.
func (p webPromiser) Promise(ctx context.Context, ask promise.Ask) (*promise.Answer, error) {
	a, err := p.runner.Promise(ctx, ask, false)
	return a, promiseRefusal(err)
}

// Deepen plays beside the planning of the shop, on half of the cores.
func (p webPromiser) Deepen(ctx context.Context, a *promise.Answer, told func(promise.Progress)) (*promise.Answer, error) {
	return runner.Deepen(ctx, a, runner.Depth{Seed: p.seed, Workers: max(1, runtime.GOMAXPROCS(0)/2), Otherwise: true}, told)
}

// Keep reserves.
func (p webPromiser) Keep(ctx context.Context, ask promise.Ask, k web.Keep) (*promise.Held, error) {
	held, err := p.runner.Reserve(ctx, ask, runner.Hold{For: k.For, ShipBy: k.ShipBy, PerMille: k.PerMille, By: k.By, Instead: k.Instead}, false)
	return held, promiseRefusal(err)
}

// promiseRefusal puts it in the words of the pages when the shop refuses or has
// no time.
func promiseRefusal(err error) error {
	if errors.Is(err, runner.ErrBusy) {
		return &web.Refusal{Reason: err.Error(), Hint: "Ask again in a moment."}
	}
	return webRefusal(err)
}
