// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// waits is a shop of two benches with hours of their own, for waits between
// them. The bench in the morning hands over to the one in the evening.
const waits = `id: waits
zone: UTC
calendars:
  - id: morning
    shifts: [{days: Mon-Fri, hours: 06:00-10:00}]
  - id: evening
    shifts: [{days: Mon-Fri, hours: 18:00-22:00}]
  - id: all-day
    shifts: [{days: Mon-Fri, hours: 06:00-22:00}]
stations:
  - id: AM
    calendar: morning
  - id: PM
    calendar: evening
    unattended: false
crews:
  - id: first
    skills: [first]
    shifts: [{calendar: morning, heads: 1}]
  - id: second
    skills: [second]
    shifts: [{calendar: evening, heads: 1}]
  - id: both
    skills: [both]
    shifts: [{calendar: all-day, heads: 2}]
products:
  - id: P
    routing:
      - id: a
        stations: AM
        run: 1h
        needs: [{parts: run, skill: first}]
      - id: b
        stations: PM
        run: 1h
        needs: [{parts: run, skill: second}]
        after: [{operation: a, max: 12h}]
      - id: c
        stations: PM
        run: 1h
        needs: [{parts: run, skill: both, people: 1.5}]
`

// The earliest b after the latest a: a ends by 10:00, b begins at 18:00, so
// eight hours are just enough, and a second less is never enough.
func TestLongestWaitAgainstHours(t *testing.T) {
	for max, good := range map[string]bool{"12h": true, "8h": true, "7h 59m 59s": false, "0": false} {
		p, findings := resources.ReadPlant("w.yaml", []byte(strings.Replace(waits, "max: 12h", "max: "+max, 1)))
		require.Equal(t, good, p != nil, "%s: %v", max, findings)
		if !good {
			require.Len(t, findings, 1)
			require.Contains(t, findings[0].Text, "whenever a can end, b cannot begin within")
			require.Equal(t, "products[P].routing[b].after[0]", findings[0].Field)
		}
	}
}

// The latest start of a is 09:00, nine hours before the earliest of b.
func TestLongestWaitFromTheStart(t *testing.T) {
	for max, good := range map[string]bool{"9h": true, "8h 59m": false} {
		text := strings.Replace(waits, "max: 12h", "from: start, max: "+max, 1)
		p, findings := resources.ReadPlant("w.yaml", []byte(text))
		require.Equal(t, good, p != nil, "%s: %v", max, findings)
	}
}

// A finished run that may wait inside can end as late as anybody likes.
func TestWaitInsideStretchesAnOperation(t *testing.T) {
	text := strings.Replace(waits, "max: 12h", "max: 1h", 1)
	text = strings.Replace(text, "        run: 1h\n", "        run: 1h\n        wait_inside: true\n", 1)
	text = strings.Replace(text, "    calendar: morning\n", "    calendar: morning\n    unattended: true\n", 1)
	p, findings := resources.ReadPlant("w.yaml", []byte(text))
	require.NotNil(t, p, "%v", findings)
}

func TestPeopleAgainstHours(t *testing.T) {
	requireSlips(t, "w.yaml", waits, resources.Error, []slip{
		{"skill never there", "skill: second}", "skill: first}", "no crew can give first while the station is open", "- id: b\n        stations"},
		{"never so many", "people: 1.5}", "people: 2.5}", "no crew can give 2.5 of both", "- id: c"},
		{"longer than the opening", "people: 1.5}]\n", "people: 1.5}]\n        load: 3h 30m\n", "it takes 4h 30m without a pause and the station is open for at most 4h", "- id: c"},
	})
}

// A run that may pause needs only some time, not all of it at once.
func TestPausingNeedsNoLongWindow(t *testing.T) {
	long := strings.Replace(waits, "people: 1.5}]\n", "people: 1.5}]\n        may_pause: true\n", 1)
	long = strings.Replace(long, "      - id: c\n        stations: PM\n        run: 1h", "      - id: c\n        stations: PM\n        run: 30h", 1)
	p, findings := resources.ReadPlant("w.yaml", []byte(long))
	require.NotNil(t, p, "%v", findings)
	p, _ = resources.ReadPlant("w.yaml", []byte(strings.Replace(long, "may_pause: true", "may_pause: false", 1)))
	require.Nil(t, p)
}

// The crew goes home while an always open station could go on.
func TestStretchOfOneCrew(t *testing.T) {
	text := strings.Replace(waits, "  - id: PM\n    calendar: evening\n", "  - id: PM\n", 1)
	good := strings.Replace(text, "run: 1h\n        needs: [{parts: run, skill: both", "run: 16h\n        needs: [{parts: run, skill: both", 1)
	p, findings := resources.ReadPlant("w.yaml", []byte(good))
	require.NotNil(t, p, "%v", findings)
	p, findings = resources.ReadPlant("w.yaml", []byte(strings.Replace(good, "run: 16h", "run: 16h 1m", 1)))
	require.Nil(t, p)
	require.Contains(t, findings[0].Text, "its run takes 16h 1m and one crew can give 1.5 of both there for at most 16h at a stretch")
}

// Planned stops are no opening time.
func TestStopsCloseAStation(t *testing.T) {
	stopped := strings.Replace(waits, "    unattended: false\n", "    stops: [{from: 2024-01-01 18:00, for: 3h 30m, repeat: FREQ=DAILY}]\n", 1)
	p, findings := resources.ReadPlant("w.yaml", []byte(stopped))
	require.Nil(t, p)
	require.Contains(t, findings[0].String(), "open for at most 30m")
	s := &resources.Station{ID: "X", Stops: []resources.Exception{{Open: true, Start: 1000, Long: 100, Rule: "FREQ=DAILY;COUNT=2"}}}
	stops, err := s.PlannedStops(nil, 0, 200_000)
	require.NoError(t, err)
	require.Equal(t, []resources.Interval{{Start: 1000, End: 1100}, {Start: 87_400, End: 87_500}}, stops)
}

// Load by one crew and run by another that is never there right after.
func TestPartsThatNeverFollow(t *testing.T) {
	text := strings.Replace(waits, "  - id: AM\n    calendar: morning\n", "  - id: AM\n    unattended: true\n", 1)
	text = strings.Replace(text, "        needs: [{parts: run, skill: first}]\n",
		"        load: 1h\n        needs: [{parts: load, skill: first}, {parts: run, skill: second}]\n", 1)
	p, findings := resources.ReadPlant("w.yaml", []byte(text))
	require.Nil(t, p)
	require.Contains(t, findings[0].Text, "never there one after the other")
}

// A mix made in the evening only does not live until the morning.
func TestMixMustReachTheWind(t *testing.T) {
	text := strings.Replace(waits, "products:\n", `resins:
  - id: R
    pot_life: 9h
    at: 20 C
    max_mass: 1 kg
    mixing: 30m
    station: PM
    skill: second
products:
`, 1)
	text = strings.Replace(text, "        needs: [{parts: run, skill: first}]\n", "        needs: [{parts: run, skill: first}]\n        mix: {resin: R, mass: 10 g}\n", 1)
	p, findings := resources.ReadPlant("w.yaml", []byte(text))
	require.NotNil(t, p, "22:00 to 07:00 is nine hours: %v", findings)
	p, findings = resources.ReadPlant("w.yaml", []byte(strings.Replace(text, "pot_life: 9h", "pot_life: 8h 59m", 1)))
	require.Nil(t, p)
	require.Contains(t, findings[0].Text, "no mix of resin R")
}

// The room's temperature decides, in the coolest period there is.
func TestPotLifeByTheRoom(t *testing.T) {
	text := strings.Replace(readEveryKey(t), "    bath: 30 C\n", "", 1)
	text = strings.Replace(text, "pot_life: 4h", "pot_life: 40m", 1) // at 25 C; 51 min at 21.5 C
	p, findings := resources.ReadPlant("p.yaml", []byte(text))
	require.NotNil(t, p, "%v", findings)
	p, findings = resources.ReadPlant("p.yaml", []byte(strings.Replace(text, "ordinary: 21.5 °C", "ordinary: 26 °C", 1)))
	require.Nil(t, p)
	require.Contains(t, findings[0].Text, "it needs the mix for 50m and resin A lives 37m")
}
