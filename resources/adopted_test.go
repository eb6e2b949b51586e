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
	require.Contains(t, fmt.Sprint(texts(findings)), "adopted set 2:", "a change that changes nothing any more")
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
