// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/web/view"
)

// A report is taken back on the log page, with a reason, and the log shows both.
func TestBrowserTakesAReportBack(t *testing.T) {
	shop := demo(t)
	_, err := shop.Report(t.Context(), events.Event{
		ID: "wrong-stop", Kind: events.StationDown, Plant: "tallowmere", Station: "W1", At: shop.Picture().Now, By: "LT", Data: events.StationData{Why: "drive belt"},
	})
	require.NoError(t, err)
	b := open(t, shop, 1440, 900)
	b.visit("/log?show=trouble")
	b.click(`[data-void="wrong-stop"]`)
	b.run(chromedp.WaitVisible(chromedp.CSS("#void")))
	require.Contains(t, b.text("#void-what"), "station down, W1")
	b.run(chromedp.SendKeys(chromedp.CSS("#void [name=why]"), "it was W2"), chromedp.SendKeys(chromedp.CSS("#void [name=by]"), "KM"))
	b.shoot("void-1440")
	b.click("#void .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outcome")))
	require.Contains(t, b.text("#outcome p"), "Taken back")
	b.until(`document.querySelector("#e-wrong-stop.is-void") !== null`)
	b.shoot("voided-1440")
	require.False(t, shop.Picture().State.Stations["W1"].Down)
	rows := view.New(shop.Picture()).Log(view.LogQuery{Show: "corrections"}).Rows
	require.Len(t, rows, 2)
	require.Equal(t, "it was W2", rows[0].Detail)
	require.Equal(t, "KM", rows[0].By)
	require.Equal(t, rows[0].ID, rows[1].Void)
	require.False(t, rows[1].CanVoid, "once is enough")
	require.True(t, rows[0].CanVoid, "taking back can be taken back")
}
