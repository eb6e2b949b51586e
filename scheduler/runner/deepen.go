// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

	"towpath/scheduler/promise"
	"towpath/scheduler/risk"
)

// Depth is how a second look is taken.
type Depth struct {
	Seed    uint64
	Workers int // 0: one
}

// Deepen takes the second look at an answer, which takes longer than a caller
// waits: its plan is played through many histories for the date at the asked
// confidence. It tells how far that is; told may be nil and is called by one
// goroutine at a time. The answer given is left as it is. When ctx ends first,
// what comes back is what was known by then, with ctx's error.
func Deepen(ctx context.Context, a *promise.Answer, d Depth, told func(promise.Progress)) (*promise.Answer, error) {
	tell := func(done int) {
		if told != nil {
			told(promise.Progress{Answer: a, Doing: "playing it forward", Done: done, Most: 2 * promise.Replications})
		}
	}
	played := 0
	var next *promise.Answer
	err := guarded(func() (err error) {
		next, err = a.Sure(func(g *risk.Program) (*risk.Report, *risk.Sample, error) {
			before := played
			return Risk(ctx, g, risk.Options{Replications: promise.Replications, Seed: d.Seed}, max(1, d.Workers), func(done, _ int) {
				played = before + done
				tell(played)
			})
		})
		return err
	})
	if err != nil {
		return a, err
	}
	return next, nil
}
