// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/web/view"
	"towpath/web/webtest"
)

// crowded is a shop with so many stations and alerts.
type crowded struct {
	*webtest.Shop
	stations, alerts int
}

func (c *crowded) Picture() *view.Picture {
	p := *c.Shop.Picture()
	state := p.State.Clone()
	plant := *state.Plant
	plant.Stations = nil
	for i := range c.stations {
		st := state.Plant.Stations[i%len(state.Plant.Stations)]
		if i >= len(state.Plant.Stations) {
			st.ID = fmt.Sprint("EXTRA-", i)
		}
		plant.Stations = append(plant.Stations, st)
	}
	state.Plant, p.State, p.Alerts = &plant, state, nil
	for i := range c.alerts {
		p.Alerts = append(p.Alerts, view.Alert{
			Key: fmt.Sprint("short/", i), Kind: "material-short", About: "tow", Pieces: []string{}, By: p.Now + resources.Tick(i-2)*3600, Since: p.Now, Order: "1001",
			Text: "12.25 kg short of intermediate modulus carbon tow: open work needs 40.5 kg, 28.25 kg are there and expected",
			Do:   "order more and enter the receipt in the plant file, or cancel the line; order 1001 is the first that would lack it", Who: "Production manager",
		})
	}
	return &p
}

// beyond names the stations that are not wholly on the screen, or whose name,
// condition or job in hand is not, or whose job has no room for its name, and what makes a wall scroll.
const beyond = `(() => {
	const out = [...document.querySelectorAll(".station")].flatMap((s) => [s, ...s.querySelectorAll(".station-top, h2 a, .mark, .now, .now .what, .next, .next b")].filter((e) => {
		const box = s.getBoundingClientRect(), r = e.getBoundingClientRect();
		return r.bottom > innerHeight || r.right > innerWidth || r.top < 0 || r.bottom > box.bottom + 1 || r.right > box.right + 1 || r.height < 8 && e.checkVisibility() || e.matches(".line .what") && r.width < box.width * .6;
	}).map((e) => s.dataset.key + " " + e.className + " " + e.tagName));
	const all = document.scrollingElement;
	if (all.scrollHeight > all.clientHeight || all.scrollWidth > all.clientWidth) out.push("scrolls");
	return out.join(", ");
})()`

// A screen on the wall is read from where people work and nobody scrolls it: each
// station is seen whole, whatever the screen and however many alerts there are, in
// letters of a stated share of its height.
func TestBrowserWallShowsEveryStation(t *testing.T) {
	shop, err := worked(26 * resources.Hour)
	require.NoError(t, err)
	for _, stations := range some([]int{30, 24, 12}) {
		for _, alerts := range some([]int{9, 0}) {
			b := open(t, &crowded{shop, stations, alerts}, 1920, 1080)
			for _, size := range some([][2]int64{{1920, 1080}, {1366, 768}, {3840, 2160}}) {
				name := fmt.Sprintf("wall-%d-%d-%d", stations, alerts, size[0])
				b.run(chromedp.EmulateViewport(size[0], size[1]))
				b.visit("/floor?wall=1")
				b.shoot(name)
				out, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](beyond))
				require.NoError(t, err)
				assert.Empty(t, out, name)
				least, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](`Math.min(...[...document.querySelectorAll(".floor h2, .floor .mark, .floor strong, .floor .next, .alert p")].map((e) => parseFloat(getComputedStyle(e).fontSize))) / innerHeight`))
				require.NoError(t, err)
				require.Greater(t, least, 1.0/60, "%s: lines of text on a screen's height", name)
				shown, err := chromedp.Run(b.ctx, chromedp.Evaluate[int](`document.querySelectorAll(".alert").length`))
				require.NoError(t, err)
				require.Equal(t, min(alerts, 6), shown, name)
				if alerts > 6 {
					require.Contains(t, b.text(".alert-strip .more"), "3 more alerts")
				}
			}
		}
	}
}
