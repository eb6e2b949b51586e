// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// online takes the tab's network away, or gives it back.
func (b *tab) online(on bool) {
	b.t.Helper()
	b.run(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			MatchedNetworkConditions: []*network.Conditions{{Offline: !on, DownloadThroughput: -1, UploadThroughput: -1}},
		})
		if err != nil {
			return err
		}
		_, err = cdp.Call(ctx, t, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: !on, DownloadThroughput: -1, UploadThroughput: -1})
		return err
	}))
}

// readyStation is a station whose next job can be reported started now.
func readyStation(t *testing.T, shop *webtest.Shop) string {
	t.Helper()
	for range 12 {
		require.NoError(t, shop.Advance(shop.Picture().Now+resources.Tick(resources.Hour), resources.Hour))
		p := shop.Picture()
		v := view.New(p)
		for i := range p.State.Plant.Stations {
			id := p.State.Plant.Stations[i].ID
			sheet := v.StationSheet(id)
			if !sheet.Can || len(sheet.Next) == 0 || sheet.Next[0].Actions[0].Key != "start" || len(sheet.Next[0].Actions[0].Reports) != 1 {
				continue
			}
			r := sheet.Next[0].Actions[0].Reports[0]
			_, err := p.State.Clone().Apply(events.Event{ID: "try", Kind: r.Kind, Plant: "tallowmere", Station: id, At: p.Now, Data: r.Data})
			if err == nil {
				return id
			}
		}
	}
	t.Fatal("no station is ready")
	return ""
}

// reported are the facts that the page sent.
func reported(shop *webtest.Shop, by string) []view.LogRow {
	return view.New(shop.Picture()).Log(view.LogQuery{Show: "work", Text: by}).Rows
}

// Without a network what is pressed is kept with its own time and id, also over
// a start and its end, and arrives once when the network is back.
func TestBrowserKeepsReportsWhileOffline(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 820, 1180)
	station := readyStation(t, shop)
	b.visit("/station/" + station)
	b.expect("ERR_INTERNET_DISCONNECTED") // what the browser itself says of a lost network
	b.online(false)
	b.click(".job.n0 button.start")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")), chromedp.SendKeys(chromedp.CSS("#ask [name=by]"), "KM"))
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outbox")))
	require.Contains(t, b.text("#outbox p"), "1 report waits on this device")
	require.Contains(t, b.text("#outcome p"), "kept on this device")
	pressed := shop.Picture().Now
	b.click("#outbox button")
	b.until(`document.querySelector("#outbox p").textContent.includes("2 reports wait")`)
	b.shoot("offline-820")
	require.Empty(t, reported(shop, "KM"))

	// The shop goes on meanwhile; the reports still tell of the time they were
	// pressed.
	shop.Pass(20 * resources.Minute)
	b.online(true)
	b.until(`document.querySelector("#outbox").hidden`)
	b.until(`document.querySelector("#outcome p").textContent.includes("recorded")`)
	b.shoot("online-again-820")
	rows := reported(shop, "KM")
	require.Len(t, rows, 2)
	for _, row := range rows {
		require.Equal(t, "event", row.Sort)
		require.Equal(t, "KM", row.By)
		require.Less(t, row.At, pressed+resources.Tick(10*resources.Minute), "as pressed, not as sent")
	}
	require.True(t, strings.HasSuffix(rows[0].Kind, ".finished"), rows[0].Kind)
	require.True(t, strings.HasSuffix(rows[1].Kind, ".started"), rows[1].Kind)

	// Nothing is left that a reload would send again.
	b.visit("/station/" + station)
	b.until(`document.querySelector("#outbox").hidden && localStorage.getItem("towpath-outbox") === "[]"`)
	require.Len(t, reported(shop, "KM"), 2)
}

// busyShop answers nothing in time while it is busy, though it stores what it is told.
type busyShop struct {
	*webtest.Shop
	busy atomic.Bool
}

func (s *busyShop) Report(ctx context.Context, batch ...events.Event) (web.Outcome, error) {
	out, err := s.Shop.Report(ctx, batch...)
	if s.busy.Load() {
		return web.Outcome{}, context.DeadlineExceeded
	}
	return out, err
}

// A shop that does not answer in time is like a lost network: the report is
// kept, with its id, and so counts once. Taking back can be pressed again.
func TestBrowserKeepsReportsWhileTheShopIsBusy(t *testing.T) {
	shop := &busyShop{Shop: demo(t)}
	b := open(t, shop, 820, 1180)
	station := readyStation(t, shop.Shop)
	b.visit("/station/" + station)
	b.expect("503") // the browser logs the status itself
	shop.busy.Store(true)
	b.click(".job.n0 button.start")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")), chromedp.SendKeys(chromedp.CSS("#ask [name=by]"), "KM"))
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outbox")))
	require.Contains(t, b.text("#outcome p"), "The shop does not answer now. Your report is kept on this device")
	shop.busy.Store(false)
	b.until(`document.querySelector("#outbox").hidden`)
	b.until(`document.querySelector("#outcome p").textContent.includes("recorded")`)
	require.Len(t, reported(shop.Shop, "KM"), 1)
}

func TestBrowserTakesBackOnceFromABusyShop(t *testing.T) {
	shop := &busyShop{Shop: demo(t)}
	b := open(t, shop, 820, 1180)
	station := readyStation(t, shop.Shop)
	b.visit("/station/" + station)
	b.expect("503")
	b.click(".job.n0 button.start")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outcome [data-back]")))
	shop.busy.Store(true)
	b.click("#outcome [data-back]")
	b.until(`document.querySelector("#outcome p").textContent.includes("nobody knows whether it was taken back")`)
	shop.busy.Store(false)
	b.click("#outcome [data-back]")
	b.until(`document.querySelector("#outcome p").textContent.includes("Taken back")`)
}

// What was kept and cannot be believed any more stays in sight with the reason
// until somebody has seen it, over a reload too.
func TestBrowserShowsKeptReportsThatAreRefused(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 820, 1180)
	station := readyStation(t, shop)
	b.visit("/station/" + station)
	b.expect("ERR_INTERNET_DISCONNECTED")
	b.online(false)
	b.click(".job.n0 button.start")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outbox")))
	action := view.New(shop.Picture()).StationSheet(station).Next[0].Actions[0]
	_, err := shop.Report(t.Context(), events.Event{
		ID: "other", Kind: action.Reports[0].Kind, Plant: "tallowmere", Station: station, At: shop.Picture().Now, By: "LT", Data: action.Reports[0].Data,
	})
	require.NoError(t, err)
	b.expect("409") // the browser logs the refusal's status itself
	b.online(true)
	b.run(chromedp.WaitVisible(chromedp.CSS("#outbox li.refused")))
	b.until(`document.querySelector("#outcome").hidden`) // it said that the report is kept and goes out
	b.visit("/station/" + station)
	require.Contains(t, b.text("#outbox li.refused"), "Not accepted")
	require.Contains(t, b.text("#outbox li.refused"), "already started by LT")
	b.shoot("offline-refused-820")
	b.click("#outbox li.refused button")
	b.until(`document.querySelector("#outbox").hidden`)
}
