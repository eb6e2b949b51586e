// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"runtime"

	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/runner/helping"
	"towpath/web"
)

// webChances lets the risk page have plans played forward.
type webChances struct{ desk *helping.Desk }

// Play plays beside the planning of the shop, on half of the cores and those of
// other machines that help.
func (w webChances) Play(ctx context.Context, p *web.Picture, o risk.Options, told func(done, most int)) (*risk.Report, error) {
	g, err := risk.Compile(p.State, p.Now, p.Plan)
	if err != nil {
		return nil, err
	}
	hands := runner.Hands{Cores: max(1, runtime.GOMAXPROCS(0)/2), Away: w.desk.Play(p.State, p.Now, o.Seed)}
	report, _, err := runner.Risk(ctx, g, o, hands, told)
	return report, err
}
