// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/schedtest"
	"towpath/testdata/demo"
)

// What the office writes can be read and made, every kind of it turns up, and a
// seed and a day give the same again.
func TestOfficeChangesCanBeMade(t *testing.T) {
	schedtest.Long(t)
	p, found := resources.ReadPlant("plant.yaml", demo.Plant)
	require.NotNil(t, p, "%v", found)
	kinds := map[string]int{}
	for seed := range uint64(5) {
		o := NewOffice(seed)
		for day := range 14 {
			now := p.StartsAt + resources.Tick(day)*resources.Tick(resources.Day)
			text := o.Change(p, day, now)
			if day%changeEvery != 1 {
				require.Empty(t, text)
				continue
			}
			set, found := resources.ReadChanges("changes.yaml", []byte(text), p, nil, now)
			require.NotNil(t, set, "%s\n%v", text, found)
			require.Len(t, set.Changes, 2, text)
			for i := range set.Changes {
				require.True(t, set.Changes[i].OfPlant(now), text)
				kinds[set.Changes[i].Kind()]++
			}
		}
	}
	now := p.StartsAt + resources.Tick(resources.Day)
	require.Equal(t, NewOffice(1).Change(p, 1, now), NewOffice(1).Change(p, 1, now))
	for _, kind := range strings.Fields("tool crew shift duration down") {
		require.NotZero(t, kinds[kind], "%s is never chosen: %v", kind, kinds)
	}
}

// A plant without tools, crews or stations is left as it is.
func TestOfficeLeavesAnEmptyPlant(t *testing.T) {
	require.Empty(t, NewOffice(1).Change(&resources.Plant{}, 1, 0))
}
