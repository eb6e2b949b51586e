// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"fmt"
	"time"

	"towpath/resources"
)

// Clock tells the shop's time. Speed is how many of its seconds pass in one
// second of the wall; 1 for a real shop.
type Clock interface {
	Now() resources.Tick
	Speed() float64
}

// SystemClock is the machine's own clock.
type SystemClock struct{}

// Now is the present instant.
func (SystemClock) Now() resources.Tick { return resources.Tick(time.Now().Unix()) }

// Speed is 1.
func (SystemClock) Speed() float64 { return 1 }

// ScaledClock runs faster (or slower) than the wall, from an instant of its
// own. It counts on the machine's monotonic clock, so setting the machine's
// time does not move it.
type ScaledClock struct {
	from  resources.Tick
	began time.Time
	speed float64
}

// NewScaledClock starts a clock at from now. Speed must be positive.
func NewScaledClock(from resources.Tick, speed float64) (*ScaledClock, error) {
	if !(speed > 0) || speed > 1e6 {
		return nil, fmt.Errorf("clock speed %g: want more than 0 and at most 1000000", speed)
	}
	return &ScaledClock{from: from, began: time.Now(), speed: speed}, nil
}

// Now is the clock's present instant.
func (c *ScaledClock) Now() resources.Tick {
	return c.from + resources.Tick(time.Since(c.began).Seconds()*c.speed)
}

// Speed is how many of the clock's seconds pass in one second of the wall.
func (c *ScaledClock) Speed() float64 { return c.speed }
