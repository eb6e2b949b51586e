// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/relax"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// troubledShop is a shop of few orders with three more of a tube: two that come too
// late to be in time, whatever anybody does, and one that does not.
func troubledShop(t testing.TB) *webtest.Shop {
	t.Helper()
	shop := fewOrders(t)
	p := shop.Picture()
	var like *scheduler.Line
	for _, w := range p.Plan.Work {
		like = p.State.Lines[scheduler.LineKey(w.Order, w.Line)]
		break
	}
	require.NotNil(t, like)
	for _, id := range []string{"hurried", "worried", "harried"} {
		due := p.Now + resources.Tick(resources.Day)
		if id == "hurried" {
			due = p.Now + resources.Tick(9*resources.Day)
		}
		_, err := shop.Report(t.Context(), events.Event{
			ID: id, Kind: events.OrderAdded, Plant: p.State.PlantName(), At: p.Now, By: "planner",
			Data: events.OrderData{Order: id, Line: "1", Customer: "somebody", Product: like.Product, Quantity: 2, ShipBy: due, Due: due, Weight: 1, Kind: "firm"},
		})
		require.NoError(t, err)
	}
	return shop
}

func savingOf(t *testing.T, s *site, order string) view.SavingJob {
	t.Helper()
	w := s.get("/api/orders/" + order + "/relaxations")
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	var j view.SavingJob
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &j))
	return j
}

func TestWhatWouldSaveAnOrderIsSolvedStoppedAndSolvedAgain(t *testing.T) {
	hold := make(chan struct{})
	shop := troubledShop(t)
	server, err := web.New(web.Options{Shop: shop, Saver: &webtest.Saver{Hold: hold, Most: 4}})
	require.NoError(t, err)
	t.Cleanup(server.Close)
	s := &site{shop: shop, server: server, handler: server.Handler()}
	const at = "/api/orders/worried/relaxations"
	require.Equal(t, "idle", savingOf(t, s, "worried").State)
	require.Contains(t, s.get("/orders/worried").Body.String(), "What would save it?")
	require.Equal(t, http.StatusNotFound, s.send("/api/orders/none/relaxations", "{}").Code)
	require.Equal(t, http.StatusNotFound, s.get("/api/orders/none/relaxations").Code)
	require.Equal(t, http.StatusBadRequest, s.send(at, `{"number":3}`).Code)
	fine := ""
	for _, o := range scheduler.MeasureOrders(shop.Picture().State, shop.Picture().Plan) {
		if o.Status == scheduler.OrderOnTime {
			fine = o.Order
		}
	}
	require.NotEmpty(t, fine)
	require.Equal(t, http.StatusConflict, s.send("/api/orders/"+fine+"/relaxations", "{}").Code, "nothing to save it from")
	require.NotContains(t, s.get("/orders/"+fine).Body.String(), "What would save it")

	require.Equal(t, http.StatusOK, s.send(at, "{}").Code)
	const other = "/api/orders/harried/relaxations"
	for _, path := range []string{at, other} {
		w := s.send(path, "{}")
		require.Equal(t, http.StatusConflict, w.Code, "one at a time")
		require.Contains(t, w.Body.String(), "order worried")
	}
	hold <- struct{}{}
	require.Eventually(t, func() bool { a := savingOf(t, s, "worried").Answer; return a != nil && a.Tried == 1 }, patience, 10*time.Millisecond)
	require.Equal(t, http.StatusOK, s.send("/api/orders/"+fine+"/relaxations/stop", "").Code)
	require.Equal(t, "running", savingOf(t, s, "worried").State, "another order's is not stopped")
	require.Equal(t, http.StatusOK, s.send(at+"/stop", "").Code)
	require.Eventually(t, func() bool { return savingOf(t, s, "worried").State == "stopped" }, patience, 10*time.Millisecond)
	j := savingOf(t, s, "worried")
	require.Len(t, j.Answer.Relaxations, 1, "what is solved stays")
	require.Equal(t, relax.Search, j.Answer.Relaxations[0].Kind)
	require.Equal(t, "worried", j.Answer.Order)
	require.NotEmpty(t, j.Answer.Chain)
	require.Contains(t, s.get("/orders/worried").Body.String(), "stopped; 1 of 4")

	require.Equal(t, http.StatusOK, s.send(at, "").Code)
	close(hold)
	require.Eventually(t, func() bool { return savingOf(t, s, "worried").State == "done" }, patience, 5*time.Millisecond)
	j = savingOf(t, s, "worried")
	require.Equal(t, j.Answer.Asked, j.Answer.Tried)
	require.False(t, j.Stale)
	again := *j.Answer
	relax.Rank(again.Relaxations)
	require.Equal(t, j.Answer.Relaxations, again.Relaxations, "ranked")

	require.Equal(t, http.StatusOK, s.send(other, "").Code)
	require.Eventually(t, func() bool { return savingOf(t, s, "harried").State == "done" }, patience, 5*time.Millisecond)
	require.Equal(t, j, savingOf(t, s, "worried"), "what was found for another stays")
	require.Equal(t, http.StatusOK, s.send(at, "").Code)
	require.Eventually(t, func() bool { return savingOf(t, s, "worried").State == "done" }, patience, 5*time.Millisecond)
	require.Equal(t, "harried", savingOf(t, s, "harried").Answer.Order)
}

func TestWithoutASaverNothingIsAsked(t *testing.T) {
	s := newSite(t, troubledShop(t))
	require.Equal(t, http.StatusNotFound, s.send("/api/orders/worried/relaxations", "{}").Code)
	page := s.get("/orders/worried").Body.String()
	require.Contains(t, page, "towpath explain")
	require.NotContains(t, page, "<button type=\"button\" data-post")
}

func TestBrowserWhatWouldSaveAnOrder(t *testing.T) {
	hold := make(chan struct{})
	base, _ := serve(t, troubledShop(t), web.Options{Beat: 2 * time.Second, Saver: &webtest.Saver{Hold: hold, Most: 4}})
	b := openAt(t, base, 1440, 900)
	b.visit("/orders/worried")
	b.click(`a[href="#saving"]`) // the way there stands where the lateness does
	b.click(`#saving button`)
	b.run(chromedp.WaitVisible(chromedp.CSS(`#saving [role="status"]`)))
	hold <- struct{}{}
	hold <- struct{}{}
	b.until(`document.querySelector("#saving").innerText.includes("2 of ")`)
	b.run(chromedp.ScrollIntoView(chromedp.CSS("#saving .savers")))
	b.shoot("order-saving-1440")
	b.click(`#saving button`)
	b.until(`document.querySelector("#saving").innerText.includes("stopped; 2 of ")`)
	require.Contains(t, b.text("#saving"), "another order of work")
}
