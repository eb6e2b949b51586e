// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"fmt"
	"math"

	"towpath/resources"
)

// changeovers adds what a week's mixture of work costs each station in
// changeovers: once round all set-ups it needs, by the nearest next, as many
// rounds as the finite plan shows.
func (m *model) changeovers(groups []*group, week int) {
	for s := range m.plant.Stations {
		st := &m.plant.Stations[s]
		if len(st.Setups) == 0 {
			continue
		}
		need := setupsOf(groups, s)
		hours, turns := round(st, need)
		hours, turns = hours*m.roundsOf[s], turns*m.roundsOf[s]
		x := &m.works[s][week]
		x.setup += hours
		x.turns += turns
		m.skill(st.SetupSkill, st.SetupShare, hours, turns, week)
	}
}

// setupsOf lists the different set-ups that groups need on a station.
func setupsOf(groups []*group, s int) []map[string]string {
	var out []map[string]string
	seen := map[string]bool{}
	for _, g := range groups {
		for k, on := range g.on {
			if on != s || g.share[k] == 0 {
				continue
			}
			for i := range g.classes {
				has := g.classes[i].operation().SetupAttributes()
				if key := fmt.Sprint(has); !seen[key] {
					seen[key] = true
					out = append(out, has)
				}
			}
		}
	}
	return out
}

// round is the hours and the number of changeovers once round all set-ups and
// back to the first.
func round(st *resources.Station, need []map[string]string) (hours, turns float64) {
	if len(need) < 2 {
		return 0, 0
	}
	add := func(d Seconds) {
		if d > 0 {
			hours += float64(d) / 3600
			turns++
		}
	}
	left := append([]map[string]string(nil), need[1:]...)
	at := need[0]
	for len(left) > 0 {
		best, least := 0, Seconds(math.MaxInt64)
		for i := range left {
			if d, _ := st.Changeover(at, left[i]); d < least {
				best, least = i, d
			}
		}
		add(least)
		at = left[best]
		left = append(left[:best], left[best+1:]...)
	}
	back, _ := st.Changeover(at, need[0])
	add(back)
	return hours, turns
}
