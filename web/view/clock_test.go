// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/web/view"
)

// Zones whose clocks change at midnight have a day that begins at 1:00, one
// that ends twice, or one that begins twice.
var midnightZones = []string{"America/Santiago", "America/Havana", "Africa/Cairo", "Asia/Beirut", "America/Nuuk", "Europe/London"}

func TestADayBeginsOnItself(t *testing.T) {
	for _, name := range midnightZones {
		t.Run(name, func(t *testing.T) {
			zone, err := time.LoadLocation(name)
			require.NoError(t, err)
			c := view.Clock{Zone: zone}
			for i := range 365 {
				noon := time.Date(2026, 1, 1+i, 12, 0, 0, 0, zone)
				begin, next := c.Midnight(tick(noon)), c.NextMidnight(tick(noon))
				require.Equal(t, c.Day(tick(noon)), c.Day(begin))
				require.NotEqual(t, c.Day(begin), c.Day(begin-1), "it has no earlier instant")
				require.Equal(t, next, c.NextMidnight(begin))
				require.Equal(t, next, c.Midnight(tick(noon.AddDate(0, 0, 1))))
				require.Greater(t, next, begin)
			}
		})
	}
}

func TestLineupEndsWhereClocksChangeAtMidnight(t *testing.T) {
	for _, name := range midnightZones {
		t.Run(name, func(t *testing.T) {
			zone, err := time.LoadLocation(name)
			require.NoError(t, err)
			p := *small()
			state, plant := *p.State, *p.State.Plant
			plant.Zone = zone
			state.Plant, p.State = &plant, &state
			for i := range 52 {
				from := time.Date(2026, 1, 1+7*i, 12, 0, 0, 0, zone)
				days := 0
				for _, m := range view.New(&p).Lineup(view.LineupQuery{From: tick(from), Zoom: "week"}).Marks {
					if m.Day {
						days++
					}
				}
				require.Equal(t, 7, days, "%s", from)
			}
		})
	}
}

func tick(t time.Time) resources.Tick { return resources.Tick(t.Unix()) }
