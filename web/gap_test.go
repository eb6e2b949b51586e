// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"encoding/json"
	"fmt"
	"html"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/web/view"
	"towpath/web/webtest"
)

// The line-up says how far from the best its plan may be, and only as long as
// that is known.
func TestLineupShowsWhatNoPlanCanGoBelow(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	s := newSite(t, shop)
	var l view.Lineup
	require.NoError(t, json.Unmarshal(s.get("/api/lineup").Body.Bytes(), &l))
	require.NotEmpty(t, l.Gaps)
	page := s.get("/lineup").Body.String()
	for _, g := range l.Gaps {
		require.LessOrEqual(t, g.Bound, g.Value, g.Part)
		require.Contains(t, page, fmt.Sprintf(`<td class="num">%v %s</td>`, g.Bound, g.Unit))
		require.Contains(t, page, html.EscapeString(g.By))
	}
	require.Equal(t, l.Optimal, shop.Picture().Plan.Optimal)

	later := demoSite(t) // repaired since
	require.Contains(t, later.get("/lineup").Body.String(), "not computed yet")
}

// A plan that follows another says what it changed for people; a first plan has
// nothing to say.
func TestLineupShowsWhatAPlanChanged(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	s := newSite(t, shop)
	require.NotContains(t, s.get("/lineup").Body.String(), "What plan")

	later := demoSite(t)
	plan := later.shop.Picture().Plan
	var l view.Lineup
	require.NoError(t, json.Unmarshal(later.get("/api/lineup").Body.Bytes(), &l))
	require.NotNil(t, l.Change)
	require.Equal(t, plan.Version-1, l.Change.Against)
	require.Equal(t, plan.Churn.Moved, l.Change.Moved)
	require.Len(t, l.Change.Next, len(plan.Churn.Next))
	require.Contains(t, later.get("/lineup").Body.String(), fmt.Sprintf("What plan %d changed", plan.Version))
	require.Contains(t, later.get("/log?show=plans").Body.String(), "moved")
}
