// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"towpath/resources"
	"towpath/scheduler/capacity"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// seasonSite is the demo with a forecast and additions that can be solved.
func seasonSite(t testing.TB, hold chan struct{}) *site {
	t.Helper()
	shop, err := demoOnce()
	require.NoError(t, err)
	season, err := webtest.DemoSeason(shop.Picture().State.Plant)
	require.NoError(t, err)
	season.Hold = hold
	server, err := web.New(web.Options{Shop: shop, Season: season})
	require.NoError(t, err)
	t.Cleanup(server.Close)
	return &site{shop: shop, server: server, handler: server.Handler()}
}

func (s *site) send(path, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	return s.do(r)
}

func TestCapacityIsTheSameEverywhere(t *testing.T) {
	s := seasonSite(t, nil)
	w := s.get("/api/capacity?weeks=20")
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	var r capacity.Report
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &r))
	require.Len(t, r.Weeks, 20)
	require.Equal(t, "2026-W36", r.Forecast.Last)

	w = s.get("/api/capacity.csv?weeks=20")
	rows, err := csv.NewReader(w.Body).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+20*len(r.Rows))
	w = s.get("/api/capacity.xlsx?weeks=20")
	book, err := excelize.OpenReader(bytes.NewReader(w.Body.Bytes()))
	require.NoError(t, err)
	require.Contains(t, book.GetSheetList(), "load ratio")

	page := s.get("/capacity?weeks=20&row=skill:bonding").Body.String()
	require.Contains(t, page, `id="row"`)
	require.Contains(t, page, "Six Fens Sprint League round 4")
	require.Contains(t, s.get("/capacity?week=2026-W19&kind=crew").Body.String(), "Week 2026-W19, most loaded first")
	for _, bad := range []string{"/api/capacity?weeks=0", "/api/capacity?weeks=53", "/capacity?weeks=x", "/capacity?kind=dog"} {
		require.Equal(t, http.StatusBadRequest, s.get(bad).Code, bad)
	}
}

// turningShop shows one picture so many times, then another.
type turningShop struct {
	*webtest.Shop
	first, then *web.Picture
	looks       atomic.Int64
	turn        int64
}

func (s *turningShop) Picture() *web.Picture {
	if s.looks.Add(1) <= s.turn {
		return s.first
	}
	return s.then
}

// A report computed while something happens is not handed out as one of what is
// after that.
func TestCapacityIsOfTheShopAsItIs(t *testing.T) {
	demo, err := demoOnce()
	require.NoError(t, err)
	first := demo.Picture()
	then := *first
	then.Now += resources.Tick(3 * resources.Day)
	text := func(p *web.Picture) string {
		r, err := capacity.Of(capacity.Input{State: p.State, Now: p.Now, Plan: p.Plan})
		require.NoError(t, err)
		j, err := json.Marshal(r)
		require.NoError(t, err)
		return string(j)
	}
	require.NotEqual(t, text(first), text(&then))
	for turn := range int64(8) {
		server, err := web.New(web.Options{Shop: &turningShop{Shop: demo, first: first, then: &then, turn: turn}})
		require.NoError(t, err)
		t.Cleanup(server.Close)
		s := &site{shop: demo, server: server, handler: server.Handler()}
		for range 8 {
			require.Equal(t, http.StatusOK, s.get("/api/capacity").Code)
		}
		require.JSONEq(t, text(&then), s.get("/api/capacity").Body.String(), "turned after %d looks", turn)
	}
}

func TestCapacityWithoutASeason(t *testing.T) {
	s := demoSite(t)
	require.Equal(t, http.StatusOK, s.get("/capacity").Code)
	require.Equal(t, http.StatusNotFound, s.get("/api/capacity.xlsx").Code)
	require.Equal(t, http.StatusNotFound, s.send("/api/capacity/worth", "{}").Code)
}

func worthOf(t *testing.T, s *site) view.WorthJob {
	t.Helper()
	var j view.WorthJob
	require.NoError(t, json.Unmarshal(s.get("/api/capacity/worth").Body.Bytes(), &j))
	return j
}

func TestAdditionsAreSolvedStoppedAndSolvedAgain(t *testing.T) {
	hold := make(chan struct{})
	s := seasonSite(t, hold)
	require.Equal(t, "idle", worthOf(t, s).State)
	for body, code := range map[string]int{
		`{"count":-1}`: 400, `{"count":61}`: 400, `{"keys":["tool:none"]}`: 400, `{"number":3}`: 400, `[]`: 400, `{} {}`: 400,
	} {
		require.Equal(t, code, s.send("/api/capacity/worth", body).Code, body)
	}
	require.Equal(t, http.StatusOK, s.send("/api/capacity/worth", `{"keys":["tool:M-36","station:O1","shift:bonders"]}`).Code)
	require.Equal(t, http.StatusConflict, s.send("/api/capacity/worth", `{}`).Code, "one asking at a time")
	hold <- struct{}{}
	require.Eventually(t, func() bool { return worthOf(t, s).Done == 1 }, patience, 10*time.Millisecond)
	require.Equal(t, http.StatusOK, s.send("/api/capacity/worth/stop", "").Code)
	require.Eventually(t, func() bool { return worthOf(t, s).State == "stopped" }, patience, 10*time.Millisecond)
	j := worthOf(t, s)
	require.Equal(t, 3, j.Asked)
	require.Len(t, j.Worths, 1, "what is solved stays")

	require.Equal(t, http.StatusOK, s.send("/api/capacity/worth", `{"count":2}`).Code)
	hold <- struct{}{}
	hold <- struct{}{}
	require.Eventually(t, func() bool { return worthOf(t, s).State == "done" }, patience, 10*time.Millisecond)
	require.Equal(t, 8, worthOf(t, s).Base.OnTime)
}

func TestBrowserCapacity(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	season, err := webtest.DemoSeason(shop.Picture().State.Plant)
	require.NoError(t, err)
	season.Hold = make(chan struct{})
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Season: season})
	b := openAt(t, base, 1440, 900)
	b.visit("/capacity")
	b.shoot("capacity-season-1440")
	b.click(`.heatmap tr[data-key="skill:bonding"] td a`)
	b.run(chromedp.WaitVisible(chromedp.CSS("#row-h")))
	require.Contains(t, b.text("#row-h"), "bonding")
	b.click(`button[data-post="/api/capacity/worth"]`)
	b.run(chromedp.WaitVisible(chromedp.CSS(`#worth [role="status"]`)))
	for range 2 {
		season.Hold <- struct{}{}
	}
	b.until(`document.querySelector("#worth").innerText.includes("2 of 20 solved")`)
	b.shoot("capacity-worth-1440")
	b.click(`button[data-post="/api/capacity/worth/stop"]`)
	b.until(`document.querySelector("#worth").innerText.includes("stopped; 2 of 20 solved")`)
}
