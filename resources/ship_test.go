// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/resources"
)

func TestDueIsTheLastCutOff(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	tuesdays := []time.Weekday{time.Tuesday, time.Thursday}
	at16 := 16 * resources.Hour
	for name, c := range map[string]struct {
		shipping   resources.Shipping
		ship, want string
	}{
		"any time":                 {resources.Shipping{}, "2026-03-14T09:17", "2026-03-14T09:17"},
		"same day":                 {resources.Shipping{Days: tuesdays, CutOff: at16}, "2026-03-12T16:00", "2026-03-12T16:00"},
		"just missed":              {resources.Shipping{Days: tuesdays, CutOff: at16}, "2026-03-12T15:59", "2026-03-10T16:00"},
		"over the weekend":         {resources.Shipping{Days: tuesdays, CutOff: at16}, "2026-03-16T09:00", "2026-03-12T16:00"},
		"closed":                   {resources.Shipping{Days: tuesdays, CutOff: at16, Closed: []string{"2026-03-12"}}, "2026-03-13T09:00", "2026-03-10T16:00"},
		"cut-off on every day":     {resources.Shipping{CutOff: at16}, "2026-03-15T09:00", "2026-03-14T16:00"},
		"before the clock changes": {resources.Shipping{CutOff: at16}, "2026-03-29T12:00", "2026-03-28T16:00"},
		"missing cut-off":          {resources.Shipping{CutOff: 2*resources.Hour + 30*resources.Minute}, "2026-03-29T12:00", "2026-03-29T03:30"},
		"days only":                {resources.Shipping{Days: tuesdays}, "2026-03-12T09:17", "2026-03-12T09:17"},
	} {
		p := &resources.Plant{Zone: zone, Shipping: c.shipping}
		require.Equal(t, local(t, zone, c.want), p.Due(local(t, zone, c.ship)), name)
	}
	p := &resources.Plant{Zone: zone, Shipping: resources.Shipping{Days: tuesdays}}
	require.Equal(t, local(t, zone, "2026-03-13T00:00")-1, p.Due(local(t, zone, "2026-03-14T09:00")), "the last second of the last ship day")
	never := &resources.Plant{Zone: zone, Shipping: resources.Shipping{Days: []time.Weekday{9}, CutOff: at16}}
	require.Equal(t, resources.Tick(12345), never.Due(12345))
}

func TestDueIsOnAShipDayAndNotAfterShipBy(t *testing.T) {
	zones := []*time.Location{zoneOf(t, "America/New_York"), zoneOf(t, "Australia/Lord_Howe"), nil}
	rapid.Check(t, func(t *rapid.T) {
		s := resources.Shipping{CutOff: resources.Seconds(rapid.IntRange(0, 47).Draw(t, "cut-off")) * 1800}
		for d := time.Sunday; d <= time.Saturday; d++ {
			if rapid.Bool().Draw(t, "ships") {
				s.Days = append(s.Days, d)
			}
		}
		p := &resources.Plant{Zone: rapid.SampledFrom(zones).Draw(t, "zone"), Shipping: s}
		shipBy := resources.Tick(rapid.Int64Range(1_700_000_000, 1_900_000_000).Draw(t, "ship by"))
		due := p.Due(shipBy)
		require.LessOrEqual(t, due, shipBy)
		require.Greater(t, due, shipBy-8*resources.Tick(resources.Day))
		zone := p.Zone
		if zone == nil {
			zone = time.UTC
		}
		if len(s.Days) > 0 {
			day := time.Unix(int64(due), 0).In(zone).Weekday()
			require.True(t, slices.Contains(s.Days, day), day)
		}
		require.LessOrEqual(t, due, p.Due(shipBy+3600), "a later ship-by is not due sooner")
		require.Equal(t, due, p.Due(due), "a due instant is its own")
	})
}

func TestNextShipmentIsTheNextCutOff(t *testing.T) {
	zone := zoneOf(t, "Europe/Berlin")
	tuesdays := []time.Weekday{time.Tuesday, time.Thursday}
	at16 := 16 * resources.Hour
	for name, c := range map[string]struct {
		shipping    resources.Shipping
		ready, want string
	}{
		"any time":          {resources.Shipping{}, "2026-03-14T09:17", "2026-03-14T09:17"},
		"same day":          {resources.Shipping{Days: tuesdays, CutOff: at16}, "2026-03-12T16:00", "2026-03-12T16:00"},
		"just missed":       {resources.Shipping{Days: tuesdays, CutOff: at16}, "2026-03-12T16:01", "2026-03-17T16:00"},
		"closed":            {resources.Shipping{Days: tuesdays, CutOff: at16, Closed: []string{"2026-03-12"}}, "2026-03-11T09:00", "2026-03-17T16:00"},
		"the clock changes": {resources.Shipping{CutOff: at16}, "2026-03-28T17:00", "2026-03-29T16:00"},
	} {
		p := &resources.Plant{Zone: zone, Shipping: c.shipping}
		at, ok := p.NextShipment(local(t, zone, c.ready))
		require.True(t, ok, name)
		require.Equal(t, local(t, zone, c.want), at, name)
		require.Equal(t, at, p.Due(at), name)
	}
	never := &resources.Plant{Zone: zone, Shipping: resources.Shipping{Days: []time.Weekday{9}, CutOff: at16}}
	_, ok := never.NextShipment(local(t, zone, "2026-03-12T16:00"))
	require.False(t, ok)
}
