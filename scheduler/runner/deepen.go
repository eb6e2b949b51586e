// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

	"towpath/scheduler/promise"
	"towpath/scheduler/risk"
)

// Depth is how a second look is taken.
type Depth struct {
	Seed      uint64
	Workers   int  // 0: one
	Otherwise bool // look for alternatives to a wish that cannot be met

	Iterations int64 // of each search for them; 0: promise.DefaultIterations
}

// Deepen takes the second look at an answer, which takes longer than a caller
// waits: its plan is played through many histories for the date at the asked
// confidence; where the wish cannot be met and that is asked, alternatives are
// solved and played too. It tells how far that is; told may be nil and is called by one goroutine
// at a time. The answer given is left as it is. When ctx ends first, what comes
// back is what was known by then, with ctx's error.
func Deepen(ctx context.Context, a *promise.Answer, d Depth, told func(promise.Progress)) (*promise.Answer, error) {
	x := &deepening{ctx: ctx, depth: d, told: told, last: a}
	for _, step := range []func() error{x.sure, x.otherwise, x.risks} {
		if err := Guarded(step); err != nil {
			if ctx.Err() != nil {
				err = ctx.Err()
			}
			return x.last, err
		}
	}
	return x.last, nil
}

// deepening is a second look under way.
type deepening struct {
	ctx   context.Context
	depth Depth
	told  func(promise.Progress)
	last  *promise.Answer // as far as it is known
}

func (x *deepening) tell(doing string, done, most int) {
	if x.told != nil {
		x.told(promise.Progress{Answer: x.last, Doing: doing, Done: done, Most: most})
	}
}

// play is how so many programs are played, one after the other.
func (x *deepening) play(doing string, programs int) promise.Played {
	played := 0
	return func(g *risk.Program) (*risk.Report, *risk.Sample, error) {
		before := played
		o := risk.Options{Replications: promise.Replications, Seed: x.depth.Seed}
		return Risk(x.ctx, g, o, Hands{Cores: max(1, x.depth.Workers)}, func(done, _ int) {
			played = before + done
			x.tell(doing, played, programs*promise.Replications)
		})
	}
}

func (x *deepening) sure() error {
	next, err := x.last.Sure(x.play("playing it forward", 2))
	if err == nil {
		x.last = next
	}
	return err
}

// otherwise looks for alternatives; those found before it is given up stay.
func (x *deepening) otherwise() error {
	if !x.depth.Otherwise {
		return nil
	}
	next, err := x.last.Alternatives(promise.Effort{
		Iterations: x.depth.Iterations, Seed: x.depth.Seed, Tell: x.tell, Stop: func() bool { return x.ctx.Err() != nil },
	})
	x.last = next
	return err
}

func (x *deepening) risks() error {
	o := x.last.Otherwise
	if o == nil {
		return nil
	}
	next, err := x.last.Risks(x.play("playing the alternatives forward", o.Plays()))
	x.last = next
	return err
}
