// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"runtime"

	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/web"
)

// webChances lets the risk page have plans played forward.
type webChances struct{}

// Play plays beside the planning of the shop, on half of the cores.
func (webChances) Play(ctx context.Context, p *web.Picture, o risk.Options, told func(done, most int)) (*risk.Report, error) {
	g, err := risk.Compile(p.State, p.Now, p.Plan)
	if err != nil {
		return nil, err
	}
	report, _, err := runner.Risk(ctx, g, o, max(1, runtime.GOMAXPROCS(0)/2), told)
	return report, err
}
