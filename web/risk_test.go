// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/scheduler/risk"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

func riskOf(t *testing.T, s *site) view.RiskJob {
	t.Helper()
	w := s.get("/api/risk")
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	var j view.RiskJob
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &j))
	return j
}

func TestThePlanIsPlayedStoppedAndPlayedAgain(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	hold := make(chan struct{})
	server, err := web.New(web.Options{Shop: shop, Chances: &webtest.Chances{Hold: hold, Batch: 20}})
	require.NoError(t, err)
	t.Cleanup(server.Close)
	s := &site{shop: shop, server: server, handler: server.Handler()}
	require.Equal(t, "idle", riskOf(t, s).State)
	require.Contains(t, s.get("/risk").Body.String(), "Play the plan 1,000 times")
	for _, bad := range []string{`{"replications":-1}`, `{"replications":10001}`, `{"confidence":1}`, `{"confidence":-0.1}`, `{"number":3}`, `[]`} {
		require.Equal(t, http.StatusBadRequest, s.send("/api/risk", bad).Code, bad)
	}
	require.Equal(t, "idle", riskOf(t, s).State)

	require.Equal(t, http.StatusOK, s.send("/api/risk", `{"replications":60,"seed":5}`).Code)
	require.Equal(t, http.StatusConflict, s.send("/api/risk", `{}`).Code, "one at a time")
	hold <- struct{}{}
	require.Eventually(t, func() bool { return riskOf(t, s).Done == 20 }, patience, 10*time.Millisecond)
	require.Contains(t, s.get("/risk").Body.String(), "20 of 60 histories played")
	require.Equal(t, http.StatusOK, s.send("/api/risk/stop", "").Code)
	require.Eventually(t, func() bool { return riskOf(t, s).State == "stopped" }, patience, 10*time.Millisecond)
	require.Equal(t, 20, riskOf(t, s).Report.Replications, "what is played stays")

	require.Equal(t, http.StatusOK, s.send("/api/risk", `{"replications":40,"seed":5}`).Code)
	hold <- struct{}{}
	hold <- struct{}{}
	require.Eventually(t, func() bool { return riskOf(t, s).State == "done" }, patience, 10*time.Millisecond)
	j := riskOf(t, s)
	p := shop.Picture()
	require.Equal(t, p.Plan.Version, j.Base)
	require.False(t, j.Stale)
	g, err := risk.Compile(p.State, p.Now, p.Plan)
	require.NoError(t, err)
	want, _, err := risk.Play(g, risk.Options{Replications: 40, Seed: 5})
	require.NoError(t, err)
	require.Equal(t, want, j.Report, "the engine's own answer")
	require.Contains(t, s.get("/risk").Body.String(), "40 histories of plan")
}

func TestRiskWhereNobodyPlays(t *testing.T) {
	s := demoSite(t)
	require.Contains(t, s.get("/risk").Body.String(), "does not play its plan forward")
	require.Equal(t, http.StatusNotFound, s.send("/api/risk", `{}`).Code)
	require.Equal(t, http.StatusOK, s.send("/api/risk/stop", "").Code)
}

// What a page could not have begun it says, and goes on to show what is under way.
func TestBrowserSaysWhyNothingWasBegun(t *testing.T) {
	shop := fewOrders(t)
	hold := make(chan struct{})
	t.Cleanup(func() { close(hold) })
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Chances: &webtest.Chances{Hold: hold, Batch: 50}})
	b := openAt(t, base, 820, 1180)
	b.expect("409") // the browser logs the refusal's status itself
	b.visit("/risk")
	other, err := http.Post(base+"/api/risk", "application/json", strings.NewReader("{}"))
	require.NoError(t, err)
	require.NoError(t, other.Body.Close())
	require.Equal(t, http.StatusOK, other.StatusCode)
	b.click(`button[data-post="/api/risk"]`)
	b.run(chromedp.WaitVisible(chromedp.CSS(`button[data-post="/api/risk/stop"]`)))
	require.Contains(t, b.text("#problem"), "being played already")
	b.click(`button[data-post="/api/risk/stop"]`)
	b.run(chromedp.WaitNotVisible(chromedp.CSS("#problem")))
	b.until(`document.querySelector("#main").innerText.includes("stopped; 0 of 1000")`)
}

func TestBrowserRisk(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	hold := make(chan struct{})
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Chances: &webtest.Chances{Hold: hold, Batch: 50}})
	b := openAt(t, base, 1440, 900)
	b.visit("/risk")
	b.click(`button[data-post="/api/risk"]`)
	b.run(chromedp.WaitVisible(chromedp.CSS(`button[data-post="/api/risk/stop"]`)))
	for range 2 {
		hold <- struct{}{}
	}
	b.until(`document.querySelector("#main").innerText.includes("100 of 1000 histories played")`)
	b.shoot("risk-running-1440")
	b.click(`button[data-post="/api/risk/stop"]`)
	b.until(`document.querySelector("#main").innerText.includes("stopped; 100 of 1000")`)
	b.until(`document.querySelectorAll("table.risks tbody tr").length > 20`)
	b.shoot("risk-1440")
	for _, size := range [][2]int64{{1440, 900}, {1366, 768}, {1280, 800}, {820, 1180}, {390, 844}} {
		b := openAt(t, base, size[0], size[1])
		b.visit("/risk")
		b.shoot(fmt.Sprintf("risk-%d", size[0]))
		over, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`[document.documentElement, document.querySelector(".wide")].some((e) => e.scrollWidth > e.clientWidth)`))
		require.NoError(t, err)
		require.False(t, over, "at %d everything is in sight", size[0])
	}
}
