// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/testdata/demo"
)

// What is adopted of a set makes the plant that the set made, read again from
// its own text and the plant's.
func TestAdoptedChangesMakeTheSamePlant(t *testing.T) {
	p, lines := readDemo(t)
	set, findings := resources.ReadChanges("every-kind.yaml", changeFile(t, "every-kind.yaml"), p, lines, p.StartsAt)
	require.Empty(t, texts(findings))
	want, findings := set.ApplyPlant(p, p.StartsAt)
	require.Empty(t, texts(findings))
	a, err := set.Adopt(p.StartsAt)
	require.NoError(t, err)
	require.Equal(t, set.Name, a.Name())
	got, findings := resources.ReadPlantWith("plant.yaml", demo.Plant, []resources.Adopted{a})
	require.Empty(t, texts(findings))
	require.Equal(t, want, got)

	again, findings := resources.ReadPlantWith("plant.yaml", demo.Plant, []resources.Adopted{a, a})
	require.Nil(t, again)
	require.Contains(t, fmt.Sprint(texts(findings)), "adopted set 2 (Every kind of change):6: error: changes[1].station.id: names no station of the plant", "the first took it out")
}

// adoptedOf is a set of one change.
func adoptedOf(p *resources.Plant, change string) resources.Adopted {
	return resources.Adopted{At: p.StartsAt, Text: "name: x\nchanges: [{" + change + "}]\n"}
}

// A set may say what is so already once a set below it is taken off.
func TestAdoptedChangesMaySayWhatIsSo(t *testing.T) {
	p, _ := readDemo(t)
	eight, six := adoptedOf(p, "tool: {id: M-36, count: 8}"), adoptedOf(p, "tool: {id: M-36, count: 6}")
	for _, sets := range [][]resources.Adopted{{eight, six}, {six}, {six, six}} {
		q, findings := resources.ReadPlantWith("plant.yaml", demo.Plant, sets)
		require.Empty(t, texts(findings))
		require.Equal(t, p, q)
	}
	_, findings := resources.ReadChanges("c.yaml", []byte(six.Text), p, nil, p.StartsAt)
	require.Contains(t, fmt.Sprint(texts(findings)), "is so already", "made for the first time it is a mistake")
}

// A count is of all stations like it, also of those added before.
func TestAdoptedStationsAreCounted(t *testing.T) {
	p, _ := readDemo(t)
	with := func(changes ...string) *resources.Plant {
		var sets []resources.Adopted
		for _, change := range changes {
			sets = append(sets, adoptedOf(p, change))
		}
		q, findings := resources.ReadPlantWith("plant.yaml", demo.Plant, sets)
		require.Empty(t, texts(findings))
		return q
	}
	two, three := with("station: {id: O1, count: 2}"), with("station: {id: O1, count: 3}")
	require.Equal(t, []string{"O1", "O1-2"}, two.StationsLike("O1"))
	require.Equal(t, []string{"O1", "O1-2", "O1-3"}, three.StationsLike("O1-3"))
	require.Equal(t, three, with("station: {id: O1, count: 2}", "station: {id: O1, count: 3}"))
	require.Equal(t, two, with("station: {id: O1, count: 3}", "station: {id: O1, count: 2}"))
	require.Equal(t, two, with("station: {id: O1, count: 2}", "station: {id: O1-2, count: 2}"))
	require.Equal(t, p, with("station: {id: O1, count: 3}", "station: {id: O1, count: 1}"))
	require.Equal(t, []string{"O1"}, with("station: {id: O1, count: 2}", "station: {id: O1-2, count: 0}").StationsLike("O1"))
	require.Equal(t, 3, with("station: {id: PULL, count: 2, places: 2}", "station: {id: PULL, count: 2, places: 3}").Station("PULL").Places)
}

// What one part of a file takes from another is with it when it is adopted.
func TestAdoptedChangesStandAlone(t *testing.T) {
	p, _ := readDemo(t)
	text := "name: &n 'Two: Saturdays'\nnote: *n\nchanges:\n  - shift: &s {date: 2026-03-07, hours: \"06:00-14:00\", crews: [bonders]}\n  - shift:\n      <<: *s\n      date: 2026-03-14 # the next\n"
	set, findings := resources.ReadChanges("c.yaml", []byte(text), p, nil, p.StartsAt)
	require.Empty(t, texts(findings))
	set.Changes = set.Changes[1:]
	second, err := set.Adopt(p.StartsAt)
	require.NoError(t, err)
	require.NotContains(t, second.Text, "*")
	want, _ := set.ApplyPlant(p, p.StartsAt)
	got, findings := resources.ReadPlantWith("plant.yaml", demo.Plant, []resources.Adopted{second})
	require.Empty(t, texts(findings))
	require.Equal(t, want, got)
	require.Equal(t, "Two: Saturdays", second.Name())

	_, err = (&resources.ChangeSet{Changes: []resources.Change{{Tool: &resources.ToolChange{ID: "M-36", Count: 8}}}}).Adopt(0)
	require.Error(t, err, "it was made in code")
	require.Empty(t, (&resources.Adopted{Text: "changes: ["}).Name())
}
