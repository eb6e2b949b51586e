// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

	"towpath/scheduler/risk"
)

// Calibrate forecasts each program with o's replications and seed, plays
// histories of it with other luck, and counts how often what was said came
// true. The histories are shared out evenly among the programs. It tells after
// each program how many are done; when ctx ends first it answers with ctx's
// error and what was counted until then.
func Calibrate(ctx context.Context, programs []*risk.Program, histories int, o risk.Options, workers int, told func(done, most int)) (*risk.Calibration, error) {
	o = o.Or()
	o.Width = 0
	c := risk.NewCalibration(o.Seed)
	for i, g := range programs {
		forecast := o
		// Two seeds for each program, so that no luck is used twice.
		forecast.Seed = o.Seed + uint64(2*i)<<32
		_, said, err := Risk(ctx, g, forecast, Hands{Cores: workers}, nil)
		if err != nil {
			return c, err
		}
		played := risk.Options{Seed: o.Seed + uint64(2*i+1)<<32, Replications: histories*(i+1)/len(programs) - histories*i/len(programs)}
		if played.Replications == 0 {
			continue
		}
		_, happened, err := Risk(ctx, g, played, Hands{Cores: workers}, nil)
		if err != nil {
			return c, err
		}
		c.Add(said, o.Replications, happened, played.Replications)
		if told != nil {
			told(i+1, len(programs))
		}
	}
	return c, nil
}
