// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// handClock shows what it is set to.
type handClock struct {
	at    resources.Tick
	speed float64
}

func (c *handClock) Now() resources.Tick { return c.at }
func (c *handClock) Speed() float64      { return max(1, c.speed) }

func TestGuardFollowsClocks(t *testing.T) {
	type reading struct {
		wall  int // seconds since the first
		clock resources.Tick
		want  resources.Tick
		alert string // part of it
	}
	tests := []struct {
		name  string
		speed float64
		in    []reading
	}{
		{"ordinary time", 1, []reading{{0, 1000, 1000, ""}, {10, 1010, 1010, ""}, {400, 1400, 1400, ""}}},
		{"a small step back is held", 1, []reading{{0, 1000, 1000, ""}, {10, 950, 1000, ""}, {60, 1001, 1001, ""}}},
		{"a large step back is followed", 1, []reading{{0, 10000, 10000, ""}, {10, 4000, 4000, "went back by 1 h 40 min"}, {20, 4010, 4010, ""}}},
		{"a leap ahead waits", 1, []reading{
			{0, 1000, 1000, ""}, {10, 90000, 1010, "waits"}, {20, 90010, 1020, "waits"}, {30, 1030, 1030, ""},
		}},
		{"a leap ahead that lasts is followed", 1, []reading{
			{0, 1000, 1000, ""}, {10, 90000, 1010, "waits"}, {41, 90031, 90031, "follows"}, {42, 90032, 90032, ""},
		}},
		{"two leaps apart do not add up", 1, []reading{
			{0, 1000, 1000, ""}, {10, 90000, 1010, "waits"}, {20, 1020, 1020, ""}, {60, 90000, 1060, "waits"},
		}},
		{"a leap that ends a little behind is held", 1, []reading{
			{0, 1000, 1000, ""}, {20, 90000, 1020, "waits"}, {21, 1005, 1020, ""}, {30, 1014, 1020, ""}, {40, 1024, 1024, ""},
		}},
		{"a leap that ends far behind is told", 1, []reading{
			{0, 10000, 10000, ""}, {20, 90000, 10020, "waits"}, {21, 9000, 9000, "went back by 17 min"},
		}},
		{"two leaps with a held clock between do not add up", 1, []reading{
			{0, 1000, 1000, ""}, {10, 90000, 1010, "waits"}, {20, 995, 1010, ""}, {50, 90000, 1040, "waits"},
		}},
		{"a fast clock is no leap", 120, []reading{{0, 1000, 1000, ""}, {10, 2200, 2200, ""}, {20, 6000, 6000, ""}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			clock := &handClock{speed: tt.speed}
			g := guard{clock: clock}
			start := time.Now()
			for i, r := range tt.in {
				clock.at = r.clock
				got, alert := g.now(start.Add(time.Duration(r.wall) * time.Second))
				require.Equal(t, r.want, got, "reading %d", i)
				if r.alert == "" {
					require.Empty(t, alert, "reading %d", i)
				} else {
					require.True(t, strings.Contains(alert, r.alert), "reading %d: %q", i, alert)
				}
			}
		})
	}
}

// It is asked several times a second; time does not stand still for that.
func TestGuardGoesOnThroughALeapHoweverOftenItIsAsked(t *testing.T) {
	for _, speed := range []float64{1, 3, 1.5} {
		clock := &handClock{at: 1000, speed: speed}
		g := guard{clock: clock}
		start := time.Now()
		g.now(start)
		clock.at = 900000
		told := resources.Tick(1000)
		for ms := 50; ms <= 25000; ms += 50 {
			got, _ := g.now(start.Add(time.Duration(ms) * time.Millisecond))
			require.GreaterOrEqual(t, got, told)
			told = got
		}
		require.InDelta(t, 1000+25*speed, float64(told), 1)
	}
}

func TestScaledClockSpeeds(t *testing.T) {
	for _, bad := range []float64{0, -1, 2e6} {
		_, err := NewScaledClock(0, bad)
		require.Error(t, err)
	}
	c, err := NewScaledClock(500, 3600)
	require.NoError(t, err)
	require.GreaterOrEqual(t, c.Now(), resources.Tick(500))
	require.InDelta(t, 3600, c.Speed(), 0)
}
