// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler/learn"
	demofiles "towpath/testdata/demo"
	"towpath/web"
)

// unruly is a history in which one station broke down often, shortly.
type unruly struct{ since resources.Tick }

func (h unruly) Stops(context.Context) ([]learn.Stop, resources.Tick, error) {
	var stops []learn.Stop
	for i := range 12 {
		at := h.since + resources.Tick(3600*i)
		stops = append(stops, learn.Stop{Station: "W2", Interval: resources.Interval{Start: at, End: at + 600}})
	}
	return stops, h.since, nil
}

// declared is a shop whose plant came as the text of a file.
type declared struct {
	web.Shop
	picture *web.Picture
}

func (d declared) Picture() *web.Picture { return d.picture }

// The page proposes with evidence, the plant file is there to take away with
// what was chosen, and the shop's own stays as it was.
func TestLearnedIsProposedAndNeverMade(t *testing.T) {
	began, err := demoOnce()
	require.NoError(t, err)
	picture, state := *began.Picture(), *began.Picture().State
	state.PlantFile, picture.State = string(demofiles.Plant), &state
	p, shop := &picture, declared{began, &picture}
	server, err := web.New(web.Options{Shop: shop, History: unruly{p.State.Plant.StartsAt}})
	require.NoError(t, err)
	s := &site{shop: shop, server: server, handler: server.Handler()}

	var r learn.Report
	require.NoError(t, json.Unmarshal(s.get("/api/learn").Body.Bytes(), &r))
	require.True(t, r.Log)
	var key string
	for i := range r.Proposals {
		if x := &r.Proposals[i]; x.About == learn.Breakdowns && x.Station == "W2" {
			key = x.Key()
			require.Len(t, x.Revisions, 1, x.Why)
		}
	}
	require.Equal(t, "breakdowns///W2", key)
	page := s.get("/learn").Body.String()
	require.Contains(t, page, `value="breakdowns///W2" checked`)
	require.Contains(t, page, "Plant file with these changes")

	w := s.get("/api/learn/plant.yaml?take=" + url.QueryEscape(key))
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	plant, findings := resources.ReadPlant("learned.yaml", w.Body.Bytes())
	require.NotNil(t, plant, "%v", findings)
	require.NotNil(t, plant.Station("W2").Breakdowns)
	require.Nil(t, p.State.Plant.Station("W2").Breakdowns)
	require.Equal(t, p.State.PlantFile, s.get("/api/plant.yaml").Body.String(), "nothing is changed in the shop")

	w = s.get("/api/learn/plant.yaml?take=time%2Fno%2Fsuch%2F")
	require.Equal(t, http.StatusConflict, w.Code)
	require.Contains(t, w.Body.String(), "not proposed any more")

	require.Equal(t, http.StatusNotFound, demoSite(t).get("/api/plant.yaml").Code, "a shop begun without a file")
	require.NotContains(t, demoSite(t).get("/learn").Body.String(), "time to repair", "no log, no breakdowns")
}
