// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

func TestPagesAnswer(t *testing.T) {
	s := demoSite(t)
	order := s.shop.Picture().Plan.Work[0].Order
	for _, path := range []string{
		"/floor", "/floor?wall=1", "/alerts", "/alerts?station=W1", "/alerts?order=" + order, "/dates", "/dates?show=all&sort=slack&down=1&q=racing", "/dates?show=complete-late", "/orders/" + order, "/lineup", "/lineup?zoom=week&order=" + order,
		"/lineup?zoom=3days&kind=oven", "/loads", "/loads?all=1&done=1", "/stations", "/station/W1", "/station/O1", "/station/MIX", "/log", "/log?show=rejects", "/help", "/trace", "/trace?q=nobody", "/tools", "/people", "/trace?q=x&as=mix",
	} {
		w := s.get(path)
		require.Equal(t, http.StatusOK, w.Code, path)
		body := w.Body.String()
		require.Contains(t, body, "<main id=\"main\"", path)
		require.Contains(t, body, "</html>", path)
		require.NotContains(t, body, "ZgotmplZ", "a template could not be escaped: %s", path)
		require.NotRegexp(t, `(?i)\sstyle=|<style|<script>|\son[a-z]+=`, body, "the policy forbids inline style and script: %s", path)
		require.NotRegexp(t, `(?:src|href)="(?:https?:)?//`, body, "nothing may come from elsewhere: %s", path)
		fragment := s.get(path + map[bool]string{true: "&", false: "?"}[strings.Contains(path, "?")] + "fragment=1").Body.String()
		require.True(t, strings.HasPrefix(fragment, "<main"), path)
		require.NotContains(t, fragment, "<header class=\"top\"", path)
	}
}

// Every link on every page leads somewhere.
func TestLinksLeadSomewhere(t *testing.T) {
	s := demoSite(t)
	href := regexp.MustCompile(`href="(/[^"#]*)`)
	seen := map[string]bool{}
	todo := []string{"/floor", "/alerts", "/dates", "/lineup", "/loads", "/whatif", "/stations", "/people", "/trace", "/log", "/help"}
	for depth := 0; depth < 2; depth++ {
		var next []string
		for _, path := range todo {
			if seen[path] {
				continue
			}
			seen[path] = true
			w := s.get(path)
			require.Equal(t, http.StatusOK, w.Code, path)
			for _, m := range href.FindAllStringSubmatch(w.Body.String(), -1) {
				next = append(next, strings.ReplaceAll(m[1], "&amp;", "&"))
			}
		}
		todo = next[:min(len(next), 400)]
	}
	require.Greater(t, len(seen), 60)
}

// A hold is told on the pages where somebody can act on it, and goes with it.
// alerted is a shop with other alerts.
type alerted struct {
	web.Shop
	alerts []web.Alert
}

func (a alerted) Picture() *web.Picture {
	p := *a.Shop.Picture()
	p.Alerts = a.alerts
	return &p
}

// "More" alerts are more than some that are shown.
func TestAlertsForLaterAreCountedAsTheyAre(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	now := shop.Picture().Now
	later := web.Alert{By: now + 3*86400}
	page := newSite(t, alerted{shop, []web.Alert{later, later}}).get("/floor").Body.String()
	require.Contains(t, page, `>2 alerts</a> <span class="soft">for later`)
	page = newSite(t, alerted{shop, []web.Alert{{By: now}, later}}).get("/floor").Body.String()
	require.Contains(t, page, `>1 more alert</a>`)
}

func TestAlertsAreShownAndGo(t *testing.T) {
	s := demoSite(t)
	work := s.shop.Picture().Plan.Work
	whole := slices.IndexFunc(work, func(w scheduler.Work) bool { // not a tube that pieces are cut from: each would be named
		return !slices.ContainsFunc(work, func(x scheduler.Work) bool { return strings.HasPrefix(x.Piece, w.Piece+".") })
	})
	piece := work[whole].Piece
	alerts := func() []view.Alert {
		var l view.AlertList
		require.NoError(t, json.Unmarshal(s.get("/api/alerts").Body.Bytes(), &l))
		return slices.DeleteFunc(l.Alerts, func(a view.Alert) bool { return a.Kind != "hold-undecided" })
	}
	require.Empty(t, alerts())
	tell := func(id string, kind events.Kind) {
		_, err := s.shop.Report(t.Context(), events.Event{ID: id, Kind: kind, At: s.shop.Picture().Now, Data: events.PieceData{Piece: piece, Why: "label <lost>"}})
		require.NoError(t, err)
	}
	tell("hold", events.PieceHeld)
	require.Len(t, alerts(), 1)
	require.Equal(t, []string{piece}, alerts()[0].Pieces)
	require.Contains(t, s.get("/alerts").Body.String(), piece+" is on hold: label &lt;lost&gt;")
	require.Regexp(t, `id="alert-count" class="count">[1-9]`, s.get("/help").Body.String())
	tell("release", events.PieceReleased)
	require.Empty(t, alerts())
}

func TestErrorsSayWhatToDo(t *testing.T) {
	s := demoSite(t)
	for path, want := range map[string]struct {
		status int
		code   string
	}{
		"/api/orders/NONE":           {404, "not_found"},
		"/api/stations/NONE":         {404, "not_found"},
		"/api/nothing":               {404, "not_found"},
		"/api/dates?sort=price":      {400, "bad_request"},
		"/api/lineup?zoom=year":      {400, "bad_request"},
		"/api/lineup?from=yesterday": {400, "bad_request"},
		"/api/log?show=secrets":      {400, "bad_request"},
	} {
		w := s.get(path)
		require.Equal(t, want.status, w.Code, path)
		var f web.Fault
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f), path)
		require.Equal(t, want.code, f.Code, path)
		require.NotEmpty(t, f.Message, path)
		require.NotEmpty(t, f.Hint, path)
	}
	w := s.get("/orders/NONE")
	require.Equal(t, 404, w.Code)
	require.Contains(t, w.Body.String(), "There is no order &#34;NONE&#34;.")
	require.Equal(t, 405, s.do(httptest.NewRequest(http.MethodPost, "/api/floor", nil)).Code)
	require.Equal(t, 404, s.get("/assets/x/../../secret.css").Code)
}

func TestHeadersGuardThePages(t *testing.T) {
	h := demoSite(t).get("/floor").Header()
	require.Contains(t, h.Get("Content-Security-Policy"), "default-src 'none'")
	require.NotContains(t, h.Get("Content-Security-Policy"), "unsafe")
	require.Equal(t, "nosniff", h.Get("X-Content-Type-Options"))
	require.Equal(t, "no-store", h.Get("Cache-Control"))
}

func TestAssetsMayBeKeptForEver(t *testing.T) {
	s := demoSite(t)
	css := regexp.MustCompile(`/assets/[0-9a-f]+/base\.css`).FindString(s.get("/floor").Body.String())
	w := s.get(css)
	require.Equal(t, 200, w.Code)
	require.Contains(t, w.Header().Get("Cache-Control"), "immutable")
	require.Equal(t, "no-cache", s.get("/assets/old/base.css").Header().Get("Cache-Control"))
	require.Equal(t, 404, s.get("/assets/old/none.css").Code)
}

// fresh is a site of its own over the first instant of the demo.
func fresh(t testing.TB) *site {
	t.Helper()
	shop, err := webtest.Demo()
	require.NoError(t, err)
	return newSite(t, shop)
}

// startOf is a start that the shop will believe, as its page would send it.
func startOf(t *testing.T, s *site) (body string, station string) {
	t.Helper()
	p := s.shop.Picture()
	v := view.New(p)
	for _, st := range v.Stations() {
		sheet := v.StationSheet(st.ID)
		if len(sheet.Next) == 0 || !believed(p, sheet.Next[0].Actions[0]) {
			continue
		}
		text, err := json.Marshal(map[string]any{"by": "KM", "reports": sheet.Next[0].Actions[0].Reports})
		require.NoError(t, err)
		return string(text), st.ID
	}
	t.Fatal("no job can start")
	return "", ""
}

func believed(p *web.Picture, a view.Action) bool {
	state := p.State.Clone()
	for i, r := range a.Reports {
		_, err := state.Apply(events.Event{
			ID: fmt.Sprint("try-", i), Kind: r.Kind, Plant: p.State.Plant.ID, Station: r.Station, At: p.Now, Data: r.Data, Seq: state.Seq + 1,
		})
		if err != nil {
			return false
		}
	}
	return true
}

func TestReportIsRecordedOnce(t *testing.T) {
	s := fresh(t)
	body, station := startOf(t, s)
	body = strings.Replace(body, `"kind"`, `"id":"press-1","kind"`, 1)
	var first, second web.ReportAnswer
	w := s.post(body, "application/json")
	require.Equal(t, 200, w.Code, w.Body)
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &first))
	require.NotEmpty(t, first.Said)
	require.Contains(t, s.get("/api/log").Body.String(), `"station":"`+station+`","by":"KM"`)
	version := s.shop.Picture().Version
	w = s.post(body, "application/json; charset=utf-8")
	require.Equal(t, 200, w.Code, w.Body)
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &second))
	require.True(t, second.Repeat)
	require.Equal(t, version, s.shop.Picture().Version, "a repeat changes nothing")
}

func TestRefusalIsClear(t *testing.T) {
	s := fresh(t)
	w := s.post(`{"reports":[{"kind":"operation.started","station":"W1","data":{"piece":"NO-1","operation":"wind"}}]}`, "application/json")
	require.Equal(t, http.StatusConflict, w.Code)
	var f web.Fault
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f))
	require.Equal(t, web.Fault{Code: "refused", Message: "piece NO-1: there is no such piece", Hint: "check the serial"}, f)
}

func TestReportRefusesWhatItCannotRead(t *testing.T) {
	s := fresh(t)
	before := s.shop.Picture()
	for _, c := range []struct {
		name, body, kind string
		status           int
		says             string
	}{
		{"no json", `piece`, "application/json", 400, "not the JSON"},
		{"unknown member", `{"reports":[],"shout":true}`, "application/json", 400, "shout"},
		{"nothing", `{"reports":[]}`, "application/json", 422, "0 facts"},
		{"misspelt field", `{"reports":[{"kind":"operation.started","station":"W1","data":{"peace":"x","operation":"wind"}}]}`, "application/json", 422, "peace"},
		{"no data", `{"reports":[{"kind":"operation.started","station":"W1"}]}`, "application/json", 422, "data"},
		{"unknown kind", `{"reports":[{"kind":"operation.danced","station":"W1","data":{}}]}`, "application/json", 422, "unknown kind"},
		{"plan", `{"reports":[{"kind":"plan.published","data":{"version":1,"base":1,"gzip":"eA=="}}]}`, "application/json", 422, "cannot be reported here"},
		{"form", `a=b`, "application/x-www-form-urlencoded", 415, "content type"},
		{"batch no array", `{}`, "application/cloudevents-batch+json", 400, "array"},
		{"event broken", `{"specversion":"1.0"}`, "application/cloudevents+json", 422, "missing"},
		{"huge", `{"by":"` + strings.Repeat("x", 2<<20) + `"}`, "application/json", 413, "larger"},
	} {
		w := s.post(c.body, c.kind)
		require.Equal(t, c.status, w.Code, "%s: %s", c.name, w.Body)
		require.Contains(t, w.Body.String(), c.says, c.name)
	}
	require.Equal(t, before, s.shop.Picture(), "nothing has changed")
}

func TestCloudEventIsTaken(t *testing.T) {
	s := fresh(t)
	text, err := events.Encode(events.Event{
		ID: "ce-1", Kind: events.StationDown, Plant: "tallowmere", Station: "W1", At: s.shop.Picture().Now, Data: events.StationData{Why: "belt"},
	})
	require.NoError(t, err)
	require.Equal(t, 200, s.post(string(text), "application/cloudevents+json").Code)
	require.True(t, s.shop.Picture().State.Stations["W1"].Down)
	require.Contains(t, s.get("/floor").Body.String(), "belt")
}

func TestOtherSitesCannotReport(t *testing.T) {
	s := fresh(t)
	body := `{"reports":[{"kind":"station.down","station":"W1","data":{"why":"prank"}}]}`
	require.Equal(t, 403, s.post(body, "application/json", "Sec-Fetch-Site", "cross-site").Code)
	require.Equal(t, 403, s.post(body, "application/json", "Sec-Fetch-Site", "same-site").Code)
	require.Equal(t, 403, s.post(body, "application/json", "Origin", "http://evil.example").Code)
	require.False(t, s.shop.Picture().State.Stations["W1"].Down)
	require.Equal(t, 200, s.post(body, "application/json", "Sec-Fetch-Site", "same-origin").Code)
}

// Names are people's: whatever they hold is text on a page.
func TestNamesAreEscaped(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	s := newSite(t, shop)
	nasty := `<script>alert(1)</script>"'/../ é`
	text, err := events.Encode(events.Event{
		ID: "x-1", Kind: events.OrderAdded, Plant: "tallowmere", At: shop.Picture().Now,
		Data: events.OrderData{Order: nasty, Line: "1", Customer: nasty, Product: "HS-M", Quantity: 1, ShipBy: shop.Picture().Now + 30*86400, Due: shop.Picture().Now + 30*86400, Kind: "firm", Note: nasty},
	})
	require.NoError(t, err)
	w := s.post(string(text), "application/cloudevents+json")
	require.Equal(t, 200, w.Code, w.Body)
	for _, path := range []string{"/dates?show=all", "/dates?q=%3Cscript%3E", "/log?show=all", "/lineup?zoom=week", "/floor"} {
		body := s.get(path).Body.String()
		require.NotContains(t, body, "<script>alert", path)
	}
	link := regexp.MustCompile(`href="(/orders/%3Cscript[^"]*)"`).FindStringSubmatch(s.get("/dates?show=all").Body.String())
	require.NotNil(t, link)
	w = s.get(link[1])
	require.Equal(t, 200, w.Code, link[1])
	require.Contains(t, w.Body.String(), "&lt;script&gt;alert(1)")
}

func TestEmptyShopExplainsItself(t *testing.T) {
	s := newSite(t, webtest.Empty(resources.Tick(time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC).Unix())))
	for _, path := range []string{"/floor", "/dates", "/lineup", "/loads", "/whatif", "/capacity", "/stations", "/station/W1", "/orders/1", "/log"} {
		w := s.get(path)
		require.Equal(t, 200, w.Code, path)
		require.Contains(t, w.Body.String(), "No plant has been declared yet", path)
	}
	require.Equal(t, 200, s.get("/help").Code)
	require.Equal(t, 503, s.post(`{"reports":[{"kind":"station.up","station":"W1","data":{}}]}`, "application/json").Code)
	nothing := []string{"/api/plan", "/api/capacity.xlsx", "/api/whatifs/compare"} // there is none to answer with
	for _, e := range web.Endpoints() {
		if e.Method == http.MethodGet && !strings.Contains(e.Path, ":") && !slices.Contains(nothing, e.Path) && !strings.HasSuffix(e.Path, "plant.yaml") {
			require.Equal(t, 200, s.get(e.Path).Code, e.Path)
		}
	}
}

// Whatever the address, the server stays up and answers with a known status.
func TestAnyAddressIsAnswered(t *testing.T) {
	s := demoSite(t)
	rapid.Check(t, func(t *rapid.T) {
		path := rapid.SampledFrom([]string{"/floor", "/alerts", "/api/alerts", "/dates", "/lineup", "/loads", "/log", "/api/lineup", "/api/dates", "/orders/", "/station/", "/api/stations/"}).Draw(t, "path")
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.URL.Path = path
		if strings.HasSuffix(path, "/") {
			r.URL.Path += rapid.StringN(0, 12, 40).Draw(t, "name")
		}
		q := r.URL.Query()
		for _, k := range []string{"q", "show", "sort", "from", "zoom", "kind", "order", "station", "fragment", "down"} {
			if rapid.Bool().Draw(t, "has "+k) {
				q.Set(k, rapid.StringN(0, 8, 20).Draw(t, k))
			}
		}
		r.URL.RawQuery = q.Encode()
		w := s.do(r)
		if w.Code != 200 && w.Code != 400 && w.Code != 404 {
			t.Fatalf("%s answered %d: %s", r.URL, w.Code, w.Body)
		}
	})
}

// serve runs a server on a port of its own until stop or the test's end.
func serve(t testing.TB, shop web.Shop, o web.Options) (base string, stop func()) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	return "http://" + l.Addr().String(), serveOn(t, l, shop, o)
}

func serveOn(t testing.TB, l net.Listener, shop web.Shop, o web.Options) (stop func()) {
	t.Helper()
	o.Shop = shop
	server, err := web.New(o)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- server.Serve(ctx, l) }()
	stop = sync.OnceFunc(func() {
		cancel()
		require.NoError(t, <-done)
	})
	t.Cleanup(stop)
	return stop
}

func TestLiveStreamTellsOfNews(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	base, _ := serve(t, shop, web.Options{})
	answer, err := http.Get(base + "/live")
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, "text/event-stream", answer.Header.Get("Content-Type"))
	lines := bufio.NewScanner(answer.Body)
	next := func() web.Sign {
		for lines.Scan() {
			if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				var sign web.Sign
				require.NoError(t, json.Unmarshal([]byte(data), &sign))
				return sign
			}
		}
		t.Fatal("the stream ended")
		return web.Sign{}
	}
	first := next().Version
	_, err = shop.Report(t.Context(), events.Event{ID: "d", Kind: events.StationDown, Plant: "tallowmere", Station: "W1", At: shop.Picture().Now, Data: events.StationData{}})
	require.NoError(t, err)
	require.Equal(t, first+1, next().Version)
}

func TestLiveStreamsAreBounded(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	base, _ := serve(t, shop, web.Options{Streams: 2})
	for range 2 {
		answer, err := http.Get(base + "/live")
		require.NoError(t, err)
		defer answer.Body.Close()
		require.Equal(t, 200, answer.StatusCode)
	}
	answer, err := http.Get(base + "/live")
	require.NoError(t, err)
	defer answer.Body.Close()
	require.Equal(t, http.StatusServiceUnavailable, answer.StatusCode)
	require.NotEmpty(t, answer.Header.Get("Retry-After"))
}
