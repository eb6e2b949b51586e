// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/scheduler/capacity"
	"towpath/web"
	"towpath/web/webtest"
)

// changing is a shop that is another each time it is looked at.
type changing struct {
	web.Shop
	pictures []*web.Picture
	looked   *int
}

func (c changing) Picture() *web.Picture {
	*c.looked++
	return c.pictures[*c.looked%len(c.pictures)]
}

// twoShops are the demo and a shop with no order in it, in turn.
func twoShops(t *testing.T) changing {
	t.Helper()
	shop, err := demoOnce()
	require.NoError(t, err)
	full := shop.Picture()
	none, err := webtest.OfPlant(full.State.Plant, nil, full.Now)
	require.NoError(t, err)
	empty, state := *none.Picture(), *none.Picture().State
	plant := *state.Plant
	plant.ID, plant.Name = "elsewhere", "Elsewhere"
	state.Plant, empty.State = &plant, &state
	return changing{shop, []*web.Picture{full, &empty}, new(int)}
}

// A calendar is of one picture: orders are under the name of their own plant.
func TestACalendarIsOfOnePicture(t *testing.T) {
	shop := twoShops(t)
	s := newSite(t, shop)
	for i := range 2 {
		*shop.looked = i
		text := s.get("/api/dates.ics").Body.String()
		require.NotEqual(t, strings.Contains(text, "Elsewhere"), strings.Contains(text, "BEGIN:VEVENT"))
	}
}

// solved notes which additions are to be solved of what.
type solved struct {
	*webtest.Season
	asked chan solvedOf
}

type solvedOf struct {
	in   capacity.Input
	list []capacity.Addition
}

func (x solved) Worth(_ context.Context, in capacity.Input, list []capacity.Addition, _ func(capacity.Standing, []capacity.Worth)) error {
	x.asked <- solvedOf{in, list}
	return nil
}

// What is most loaded is so in the shop that is solved.
func TestAdditionsAreOfOnePicture(t *testing.T) {
	shop := twoShops(t)
	season, err := webtest.DemoSeason(shop.Shop.Picture().State.Plant)
	require.NoError(t, err)
	x := solved{season, make(chan solvedOf, 1)}
	season.Foreseen = nil
	s, _ := loggedSite(t, web.Options{Shop: shop, Season: x})
	for i := range 2 {
		require.Eventually(t, func() bool {
			*shop.looked = i
			return s.send("/api/capacity/worth", `{"count":3}`).Code == http.StatusOK
		}, patience, time.Millisecond)
		got := <-x.asked
		r, err := capacity.Of(got.in)
		require.NoError(t, err)
		var want, have []string
		for _, a := range capacity.Additions(got.in.State.Plant, r)[:3] {
			want = append(want, a.Key)
		}
		for _, a := range got.list {
			have = append(have, a.Key)
		}
		require.Equal(t, want, have)
	}
}
