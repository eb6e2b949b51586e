// SPDX-License-Identifier: Apache-2.0

package whatif_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
)

// What is adopted makes the shop that was compared, once.
func TestAdopt(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7), line("B", 1, 20))
	add := line("C", 1, 30)
	set := setOf(
		resources.Change{Down: &resources.DownChange{Station: "W", For: 3 * resources.Hour}},
		resources.Change{AddOrder: &add},
		resources.Change{DropOrder: &resources.OrderName{Order: "B"}},
	)
	asked := s.Clone()
	q, err := whatif.Ask(asked, now, set)
	require.NoError(t, err)
	was := print(s)
	list, err := q.Adopt(s, "try")
	require.NoError(t, err)
	require.Equal(t, was, print(s), "the shop itself is untouched")
	require.Len(t, list, 3)
	for i, e := range list {
		require.Equal(t, []string{"try-0", "try-1", "try-2"}[i], e.ID)
		e.Seq = s.Seq + 1
		_, err := s.Apply(e)
		require.NoError(t, err)
	}
	require.Equal(t, q.After.Lines, s.Lines)
	require.Equal(t, q.After.Stations["W"].Down, s.Stations["W"].Down)
	require.True(t, s.Stations["W"].Down)

	_, err = q.Adopt(s, "again")
	require.ErrorIs(t, err, whatif.ErrMoved, "adopting twice")
}

func TestWhatIsNotAdopted(t *testing.T) {
	s := schedtest.State(bench(), line("A", 2, 7))
	q, err := whatif.Ask(s, now, setOf())
	require.NoError(t, err)
	_, err = q.Adopt(s, "try")
	require.ErrorIs(t, err, whatif.ErrNothing)
	q, err = whatif.Ask(s, now, setOf(resources.Change{Tool: &resources.ToolChange{ID: "M", Count: 2}, Line: 3}))
	require.NoError(t, err)
	_, err = q.Adopt(s, "try")
	require.ErrorIs(t, err, whatif.ErrOfPlant)
	require.ErrorContains(t, err, "line 3: tool M")
}
