// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// browserPath finds a Chromium. Without one the journeys are skipped on a
// person's machine and fail where everything must be tried.
func browserPath(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const why = "no chromium, chromium-browser or google-chrome on the path; the page journeys need one"
	if ci := os.Getenv("CI"); ci != "" && ci != "0" && ci != "false" {
		t.Fatal(why)
	}
	t.Skip(why)
	return ""
}

// theBrowser is started once and shared; each test has a tab of its own.
// TestMain ends it.
func theBrowser(path string) (context.Context, error) {
	browserOnce.Do(func() {
		options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
			chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true))
		ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
		ctx, stopFirst := chromedp.NewContext(ctx)
		browserCtx, browserErr = ctx, chromedp.Do(ctx)
		stopBrowser = func() { stopFirst(); stop() }
	})
	return browserCtx, browserErr
}

var (
	browserOnce sync.Once
	browserCtx  context.Context
	browserErr  error
	stopBrowser = func() {}
)

func TestMain(m *testing.M) {
	code := m.Run()
	stopBrowser()
	os.Exit(code)
}

// tab is a browser's tab that remembers what its console complained about.
type tab struct {
	t    testing.TB
	ctx  context.Context
	base string

	mu       sync.Mutex
	trouble  []string
	expected string // part of a complaint that is part of the journey
}

// wait bounds a journey; nothing in it depends on how fast it goes.
const wait = 5 * time.Minute

func open(t testing.TB, shop web.Shop, width, height int64) *tab {
	t.Helper()
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second})
	return openAt(t, base, width, height)
}

func openAt(t testing.TB, base string, width, height int64) *tab {
	t.Helper()
	chromium, err := theBrowser(browserPath(t))
	require.NoError(t, err)
	ctx, stopTab := chromedp.NewContext(chromium)
	require.NoError(t, chromedp.Do(ctx, chromedp.EmulateViewport(width, height)))
	limited, stopTime := context.WithTimeout(ctx, wait)
	b := &tab{t: t, ctx: limited, base: base}
	messages := chromedp.Console(ctx)
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		for m, err := range messages {
			if err != nil {
				return
			}
			b.hear(m)
		}
	}()
	t.Cleanup(func() {
		if t.Failed() {
			b.shoot("failed-" + strings.ReplaceAll(t.Name(), "/", "-"))
		}
		stopTime()
		stopTab()
		<-heard
		require.Empty(t, b.trouble, "the browser's console must stay empty")
	})
	return b
}

// hear collects errors of scripts, of the security policy and of loading.
func (b *tab) hear(m chromedp.ConsoleMessage) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if m.Type == "log" || m.Type == "info" || m.Type == "debug" {
		return
	}
	if text := fmt.Sprintf("%s: %s %s", m.Type, m.Text, m.URL); b.expected == "" || !strings.Contains(text, b.expected) {
		b.trouble = append(b.trouble, text)
	}
}

func (b *tab) expect(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.expected = text
}

func (b *tab) run(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, actions...))
}

// visit opens a page and waits until it hears of news.
func (b *tab) visit(path string) {
	b.t.Helper()
	b.run(chromedp.Navigate(b.base+path), chromedp.WaitReady(chromedp.CSS(`#link[data-link="live"]`)))
}

// until waits until a JavaScript expression is true, also across a navigation,
// which ends a poll of the page before.
func (b *tab) until(expression string) {
	b.t.Helper()
	for {
		_, err := chromedp.Run(b.ctx, chromedp.Poll[bool](expression, chromedp.WithPollingInterval(50*time.Millisecond), chromedp.WithPollingTimeout(0)))
		if err == nil {
			return
		}
		require.NoError(b.t, b.ctx.Err(), "%s: %v", expression, err)
		require.NotContains(b.t, err.Error(), "SyntaxError", expression)
	}
}

func (b *tab) text(selector string) string {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Text(chromedp.CSS(selector)))
	require.NoError(b.t, err, selector)
	return out
}

func (b *tab) click(selector string) {
	b.t.Helper()
	b.loaded()
	b.run(chromedp.ScrollIntoView(chromedp.CSS(selector)), chromedp.Click(chromedp.CSS(selector), chromedp.NodeVisible))
}

// loaded waits until the page's scripts have run: what is pressed before reaches
// nobody, however visible it is.
func (b *tab) loaded() {
	b.t.Helper()
	b.until(`document.readyState === "complete"`)
}

// shoot keeps a picture of the page in the folder TOWPATH_SHOTS names.
func (b *tab) shoot(name string) {
	dir := os.Getenv("TOWPATH_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Logf("no picture of %s: %v", name, err)
		return
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.t.Logf("no picture of %s: %v", name, err)
	}
}

func demo(t testing.TB) *webtest.Shop {
	t.Helper()
	shop, err := webtest.Demo()
	require.NoError(t, err)
	return shop
}

func TestBrowserFloorHearsOfNews(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 1440, 900)
	b.visit("/floor")
	b.until(`document.querySelectorAll(".floor > li").length > 10`)
	b.run(chromedp.Focus(chromedp.CSS(`.station[data-key="W2"] h2 a`)))
	_, err := shop.Report(t.Context(), events.Event{
		ID: "belt", Kind: events.StationDown, Plant: "tallowmere", Station: "W1", At: shop.Picture().Now, Data: events.StationData{Why: "drive belt"},
	})
	require.NoError(t, err)
	b.until(`document.querySelector('.station[data-key="W1"]').innerText.includes("drive belt")`)
	require.Contains(t, b.text(`.station[data-key="W1"] .mark`), "down")
	b.until(`document.activeElement.textContent === "W2"`) // a new version leaves the focus alone
}

// fill enters the middle of each limit that a form shows.
func (b *tab) fill() {
	b.t.Helper()
	b.until(`[...document.querySelectorAll(".measure")].every((m) => {
		const [low, high] = m.querySelector("small").textContent.match(/[\d.]+/g).map(Number);
		m.querySelector("input").value = String((low + high) / 2);
		return true;
	})`)
}

func TestBrowserOperatorStartsAndFinishes(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 820, 1180)
	_, station := startOf(t, newSite(t, shop))
	b.visit("/station/" + station)
	b.click(".job.n0 button.start, .job.n0 button.finish")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")), chromedp.SendKeys(chromedp.CSS("#ask [name=by]"), "KM"))
	b.fill()
	b.shoot("ask-820")
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outcome")))
	require.Contains(t, b.text("#outcome p"), "✓ Recorded")
	b.shoot("recorded-820")
	rows := view.New(shop.Picture()).Log(view.LogQuery{Show: "work"}).Rows
	require.Len(t, rows, 1)
	require.Equal(t, "KM", rows[0].By)
	// A slip is taken back where it was made.
	b.click("#outcome [data-back]")
	b.until(`document.querySelector("#outcome p").textContent.includes("Taken back")`)
	require.Contains(t, shop.Picture().Recent[len(shop.Picture().Recent)-2].Event.Kind, "voided")
}

// beforeChangeover lets the shop work until a minute before a station's next job, which
// has a changeover before it, begins, with the job's mix made.
func beforeChangeover(t *testing.T, shop *webtest.Shop, station string) {
	t.Helper()
	for range 100 {
		now := shop.Picture().Now
		sheet := view.New(shop.Picture()).StationSheet(station)
		next := sheet.Next[0].Job
		if len(sheet.Now) > 0 || next.Setup == next.Start {
			require.NoError(t, shop.Advance(now+900, 900))
			continue
		}
		if now < next.Start-60 {
			require.NoError(t, shop.Advance(next.Start-60, 3600))
		}
		for _, m := range shop.Picture().State.Plan.Mixes {
			if m.ID == next.Mix && shop.Picture().State.Mixes[m.ID] == nil {
				_, err := shop.Report(t.Context(), events.Event{
					ID: "mixed", Kind: events.MixMade, Plant: "tallowmere", Station: m.Station, At: shop.Picture().Now, Data: events.MixData{Mix: m.ID, Resin: m.Resin, Grams: m.Grams},
				})
				require.NoError(t, err)
			}
		}
		next = view.New(shop.Picture()).StationSheet(station).Next[0].Job
		require.Less(t, next.Setup, next.Start)
		return
	}
	t.Fatalf("no changeover at %s", station)
}

// Who presses when a changeover begins has it told with the start: that is what
// its time is learned from.
func TestBrowserChangeoverIsToldWithTheStart(t *testing.T) {
	shop := demo(t)
	const station = "W2"
	beforeChangeover(t, shop, station)
	b := open(t, shop, 820, 1180)
	b.visit("/station/" + station)
	b.click("button.changeover")
	b.until(`document.querySelector("button.changeover").innerText.includes("since")`)
	b.shoot("changeover-820")
	b.until(`(() => {
		const list = JSON.parse(localStorage.getItem("towpath-changeovers"));
		for (const job in list) list[job] -= 600;
		localStorage.setItem("towpath-changeovers", JSON.stringify(list));
		return true;
	})()`)
	b.click(".job.n0 button.start")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
	require.Contains(t, b.text("#ask-detail"), "Changeover since")
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outcome")))
	require.Contains(t, b.text("#outcome p"), "✓ Recorded")
	at := shop.Picture().Now
	for _, r := range shop.Picture().Recent {
		switch d := r.Event.Data.(type) {
		case events.OperationData:
			at = d.Setup
		case events.LoadData:
			at = d.Setup
		}
	}
	require.InDelta(t, 600, float64(shop.Picture().Now-at), 60)
	b.until(`localStorage.getItem("towpath-changeovers") === "{}"`)
}

// A device that keeps nothing remembers the press as long as the page is there.
func TestBrowserChangeoverWhereNothingIsKept(t *testing.T) {
	shop := demo(t)
	beforeChangeover(t, shop, "W2")
	b := open(t, shop, 820, 1180)
	b.visit("/station/W2")
	b.until(`(() => { Storage.prototype.setItem = () => { throw new Error("nothing is kept here"); }; return true; })()`)
	b.click("button.changeover")
	b.until(`document.querySelector("button.changeover").innerText.includes("since")`)
	b.click("button.changeover")
	b.until(`document.querySelector("button.changeover").innerText.includes("begins")`)
	b.until(`localStorage.getItem("towpath-changeovers") === null`)
}

func TestBrowserRefusalSaysWhatToDo(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 390, 844)
	b.expect("409") // the browser logs the refusal's status itself
	_, station := startOf(t, newSite(t, shop))
	b.visit("/station/" + station)
	b.click(".job.n0 button.start, .job.n0 button.finish")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
	// Meanwhile somebody else presses the same button.
	v := view.New(shop.Picture())
	action := v.StationSheet(station).Next[0].Actions[0]
	for i, r := range action.Reports {
		_, err := shop.Report(t.Context(), events.Event{
			ID: fmt.Sprint("other-", i), Kind: r.Kind, Plant: "tallowmere", Station: station, At: shop.Picture().Now, By: "LT", Data: r.Data,
		})
		require.NoError(t, err)
	}
	b.fill()
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outcome.refused")))
	require.Contains(t, b.text("#outcome p"), "Not accepted")
	b.shoot("refused-390")
}

func TestBrowserTroubleHasReasons(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 820, 1180)
	b.visit("/station/W1")
	b.click("button[data-trouble]")
	b.run(chromedp.WaitVisible(chromedp.CSS("#choose")))
	b.shoot("trouble-820")
	b.run(chromedp.Click(chromedp.Search(`//dialog[@id="choose"]//button[text()="W1 is down"]`), chromedp.NodeVisible))
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
	b.run(chromedp.Click(chromedp.Search(`//dialog[@id="ask"]//span[text()="Breakdown"]`), chromedp.NodeVisible), chromedp.Click(chromedp.Search(`//dialog[@id="ask"]//span[text()="1 h"]`), chromedp.NodeVisible))
	b.shoot("down-820")
	b.click("#ask .yes")
	b.until(`document.querySelector(".bench-top").innerText.includes("Breakdown")`)
	state := shop.Picture().State.Stations["W1"]
	require.True(t, state.Down)
	require.Equal(t, "Breakdown", state.Why)
	require.InDelta(t, 3600, float64(state.Until-shop.Picture().Now), 120)
	b.click(".trouble button.up")
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
	b.click("#ask .yes")
	b.until(`!document.querySelector(".bench-top").innerText.includes("Breakdown")`)
	require.False(t, shop.Picture().State.Stations["W1"].Down)
}

// The list under somebody's hands does not change by itself.
func TestBrowserNextJobsWaitForTheOperator(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 820, 1180)
	b.visit("/station/W1")
	before := b.text(".job.n0 h2")
	b.click(".bench-top h1") // a finger on the glass
	piece := view.New(shop.Picture()).StationSheet("W1").Next[0].Job.Pieces[0].Piece
	_, err := shop.Report(t.Context(), events.Event{
		ID: "hold", Kind: events.PieceHeld, Plant: "tallowmere", Station: "W1", At: shop.Picture().Now, Data: events.PieceData{Piece: piece, Why: "test"},
	})
	require.NoError(t, err)
	require.NotEqual(t, piece, view.New(shop.Picture()).StationSheet("W1").Next[0].Job.Pieces[0].Piece)
	b.run(chromedp.WaitVisible(chromedp.CSS("#changed")))
	require.Equal(t, before, b.text(".job.n0 h2"))
	b.click("#changed [data-show]")
	b.until(fmt.Sprintf(`document.querySelector(".job.n0 h2").innerText.trim() !== %q`, strings.TrimSpace(before)))
}

func TestBrowserOrderSaysWhy(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	b := open(t, shop, 1440, 900)
	b.visit("/dates?show=all")
	b.run(chromedp.SendKeys(chromedp.CSS("#q"), "1203"), chromedp.Submit(chromedp.CSS("#q")), chromedp.WaitVisible(chromedp.CSS(`tr[data-key="1203"]`)))
	b.until(`document.querySelectorAll(".dates tbody tr").length === 1`)
	b.click(`tr[data-key="1203"] th a`)
	b.run(chromedp.WaitVisible(chromedp.CSS(".why-chain")))
	b.until(`document.querySelectorAll(".why-chain li").length > 3`)
	require.Contains(t, b.text("h1"), "Order 1203")
}

func TestBrowserLineupZooms(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	b := open(t, shop, 1440, 900)
	b.visit("/lineup")
	b.click(`[data-zoom="3days"]`)
	b.run(chromedp.WaitVisible(chromedp.CSS(".zoom-3days")))
	b.loaded()
	b.run(chromedp.KeyEvent("-"), chromedp.WaitVisible(chromedp.CSS(".zoom-week")))
	b.loaded()
	b.run(chromedp.Evaluate[chromedp.Void](`document.querySelector("[data-block]").dispatchEvent(new MouseEvent("click", {bubbles: true, cancelable: true}))`),
		chromedp.WaitVisible(chromedp.CSS("#detail")))
	require.Contains(t, b.text("#detail"), "–")
	b.run(chromedp.KeyEvent("\u001b"), chromedp.WaitNotVisible(chromedp.CSS("#detail")))
}

func TestBrowserSaysWhenItIsNotConnected(t *testing.T) {
	shop := demo(t)
	base, stop := serve(t, shop, web.Options{Beat: 2 * time.Second})
	b := openAt(t, base, 820, 1180)
	b.expect("ERR_") // the browser logs the lost connection itself
	b.visit("/floor")
	stop()
	b.run(chromedp.WaitVisible(chromedp.CSS("#gone")))
	require.Contains(t, b.text("#gone"), "Not connected since")
	b.shoot("gone-820")
	l, err := net.Listen("tcp", strings.TrimPrefix(base, "http://"))
	require.NoError(t, err)
	serveOn(t, l, shop, web.Options{})
	b.run(chromedp.WaitNotVisible(chromedp.CSS("#gone")))
	require.Equal(t, "live", b.text("#link"))
}

// some are the sizes of screen that are looked at: with -short the first, as how wide a page
// is has nothing to do with what races, and each page is drawn anew for each.
func some[T any](sizes []T) []T {
	if testing.Short() {
		return sizes[:1]
	}
	return sizes
}

// Every page at every size: no sideways scroll of the page, console empty. The
// pictures are for people to look at: TOWPATH_SHOTS=dir go test -run Sizes.
func TestBrowserPagesAtSizes(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	order := worstOrder(shop)
	for _, size := range some([]struct{ w, h int64 }{{1920, 1080}, {1440, 900}, {820, 1180}, {390, 844}}) {
		t.Run(fmt.Sprint(size.w), func(t *testing.T) {
			b := open(t, shop, size.w, size.h)
			for name, path := range map[string]string{
				"floor": "/floor", "alerts": "/alerts", "dates": "/dates", "order": "/orders/" + order, "lineup": "/lineup", "loads": "/loads", "promise": "/promise", "whatif": "/whatif", "stations": "/stations", "capacity": "/capacity?row=crew:bonders", "learn": "/learn",
				"station": "/station/W1", "oven": "/station/O1", "trace": "/trace?q=1001-1-01", "tools": "/tools", "people": "/people", "log": "/log", "help": "/help", "wall": "/floor?wall=1",
			} {
				if name == "wall" && size.w != 1920 {
					continue
				}
				b.visit(path)
				over, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > document.documentElement.clientWidth`))
				require.NoError(t, err)
				b.shoot(fmt.Sprintf("%s-%d", name, size.w))
				require.False(t, over, "%s is wider than a screen of %d", path, size.w)
				if name != "wall" {
					b.until(nameInSight)
				}
			}
		})
	}
}

// What is above every page is one row where there is room for it, and nothing of it
// moves when the page begins to hear of news.
func TestBrowserTopStandsStill(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	b := open(t, shop, 1280, 800)
	b.visit("/promise")
	b.until(`document.getElementById("link").dataset.link === "live"`)
	b.until(`document.getElementById("clock").getBoundingClientRect().top < document.querySelector(".top nav").getBoundingClientRect().bottom`)
	moved, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`(() => {
		const at = () => ["#clock", "#link", ".top nav", "main"].map((q) => JSON.stringify(document.querySelector(q).getBoundingClientRect())).join("\n");
		const before = at();
		const request = new XMLHttpRequest();
		request.open("GET", location, false);
		request.send();
		const sent = new DOMParser().parseFromString(request.responseText, "text/html").getElementById("link");
		document.getElementById("link").replaceWith(sent);
		return sent.dataset.link + (at() === before ? "" : before + "\n\n" + at());
	})()`))
	require.NoError(t, err)
	require.Equal(t, "wait", moved)
}

// nameInSight says that of the names of the pages that of this one, or the first
// where this one has none, is on the screen.
const nameInSight = `(e => { const r = e.getBoundingClientRect(); return r.left >= 0 && r.right <= innerWidth; })(document.querySelector(".top nav [aria-current]") ?? document.querySelector(".top nav a"))`

// tooWide names what makes a page wider than its screen; empty: nothing.
const tooWide = `document.documentElement.scrollWidth <= document.documentElement.clientWidth ? "" : [...document.querySelectorAll("main *")]
	.filter((e) => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest(".wide, .lineup, svg, thead"))
	.slice(0, 6).map((e) => e.tagName + "." + e.className + " " + e.textContent.trim().slice(0, 30)).join(" | ")`

// Names and notes as long as are taken, without a space, make no page wider than
// its screen.
func TestBrowserLongNamesAtSizes(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	long := strings.Repeat("Rennwagen", 6) + "<b>Łódź" // 60 characters and more
	lines := []resources.OrderLine{{
		Order: long, Line: "1", Customer: long, Product: "HS-M", Quantity: 1, ShipBy: shop.Picture().Now + 9*86400, Due: shop.Picture().Now + 9*86400,
		Weight: 1, Note: strings.Repeat("https://", 30),
	}}
	_, err = shop.Report(t.Context(),
		events.Event{ID: "long", Kind: events.OrderAdded, Plant: "tallowmere", At: shop.Picture().Now, Data: events.OrderDataOf(&lines[0])},
		events.Event{ID: "why", Kind: events.StationDown, Plant: "tallowmere", Station: "W1", At: shop.Picture().Now, By: long, Data: events.StationData{Why: strings.Repeat("belt", 50)}})
	require.NoError(t, err)
	for _, size := range some([][2]int64{{1440, 900}, {820, 1180}, {390, 844}, {360, 740}}) {
		b := open(t, shop, size[0], size[1])
		for name, path := range map[string]string{"dates": "/dates", "order": "/orders/" + url.PathEscape(long), "log": "/log", "floor": "/floor", "station": "/station/W1", "alerts": "/alerts", "stations": "/stations"} {
			b.visit(path)
			b.shoot(fmt.Sprintf("long-%s-%d", name, size[0]))
			wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](tooWide))
			require.NoError(t, err)
			assert.Empty(t, wide, "%s is wider than a screen of %d", name, size[0])
		}
	}
}

func worstOrder(shop *webtest.Shop) string {
	rows := view.New(shop.Picture()).Dates(view.DatesQuery{Sort: "slack"}).Orders
	return rows[0].ID
}
