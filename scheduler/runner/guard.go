// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"fmt"
	"time"

	"towpath/resources"
)

// Tolerances of the guard.
const (
	smallStep   resources.Seconds = 120              // ordinary correction of a clock: held, not jumped
	trustAfter                    = 30 * time.Second // a jump forward must last this long on the wall before the plan follows it
	jumpForward resources.Seconds = 900
)

// guard stands between a clock and the plan. A clock set a little back is held
// until it has caught up, so that planning time never runs backwards by
// accident. A clock set far back is followed at once, since holding would stop
// planning for that long. A clock that leaps ahead is followed only when the
// leap lasts: one wrong reading must not declare every order lost.
type guard struct {
	clock   Clock
	started bool
	last    resources.Tick // what was last told
	lastAt  time.Time      // when, on the wall (monotonic)
	leapAt  time.Time      // when the present leap was first seen
}

// now is the instant to plan for, and what to tell people when the clock has
// jumped; empty when all is well.
func (g *guard) now(wall time.Time) (resources.Tick, string) {
	read := g.clock.Now()
	if !g.started {
		g.started, g.last, g.lastAt = true, read, wall
		return read, ""
	}
	passed := resources.Tick(wall.Sub(g.lastAt).Seconds() * g.clock.Speed())
	ahead := resources.Seconds(read - g.last - passed)
	switch {
	case read < g.last && g.last-read <= resources.Tick(smallStep):
		g.lastAt, g.leapAt = wall, time.Time{}
		return g.last, ""
	case read < g.last:
		alert := fmt.Sprintf("the clock went back by %s; the plan follows it", resources.Spell(resources.Seconds(g.last-read)))
		g.last, g.lastAt, g.leapAt = read, wall, time.Time{}
		return read, alert
	case ahead > g.allowed():
		if g.leapAt.IsZero() {
			g.leapAt = wall
		}
		if wall.Sub(g.leapAt) < trustAfter {
			// Time goes on from the last trusted instant. What is told is kept, as
			// the next reading must not be before it; of the wall only whole ticks
			// are used up, the rest counts the next time.
			g.last += passed
			g.lastAt = g.lastAt.Add(time.Duration(float64(passed) / g.clock.Speed() * float64(time.Second)))
			return g.last, fmt.Sprintf("the clock leapt ahead by %s; the plan waits to see whether that lasts", resources.Spell(ahead))
		}
		g.last, g.lastAt, g.leapAt = read, wall, time.Time{}
		return read, fmt.Sprintf("the clock leapt ahead by %s; the plan follows it", resources.Spell(ahead))
	}
	g.last, g.lastAt, g.leapAt = read, wall, time.Time{}
	return read, ""
}

// allowed is the largest step ahead that is not a leap. A fast clock's
// seconds are short, so it scales.
func (g *guard) allowed() resources.Seconds {
	if s := g.clock.Speed(); s > 1 {
		return resources.Seconds(float64(jumpForward) * s)
	}
	return jumpForward
}
