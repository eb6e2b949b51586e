// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// The form asks with the keys of a file of changes, for every kind of change.
func TestWhatIfFormKnowsEveryChange(t *testing.T) {
	picture := demo(t).Picture()
	p := view.New(picture).WhatIfPage(view.WhatIfList{}, nil, true)
	kinds := []string{}
	strange := func(kind, key string) bool {
		_, found := resources.ReadChanges("", fmt.Appendf(nil, "name: x\nchanges:\n- %s: {%s: ~}\n", kind, key), picture.State.Plant, nil, picture.Now)
		return slices.ContainsFunc(found, func(f resources.Finding) bool { return strings.Contains(f.Text, "is not a key") })
	}
	for _, k := range p.Kinds {
		kinds = append(kinds, k.Key)
		require.True(t, strange(k.Key, "nonsense"))
		require.NotEmpty(t, k.Fields)
		for _, f := range k.Fields {
			require.False(t, strange(k.Key, f.Key), "%s: %s", k.Key, f.Key)
		}
	}
	require.ElementsMatch(t, resources.ChangeKinds(), kinds)
}

func TestWhatIfPagesAnswer(t *testing.T) {
	shop := fewOrders(t)
	hold := make(chan struct{})
	s := triedSite(t, shop, hold)
	require.Contains(t, s.get("/whatif").Body.String(), "Nothing has been tried yet")
	w := tryOf(t, s, "a <b>rush</b>", rushOf(s, "X-1", 12), `{"tool":{"id":"M-36","count":8}}`)
	at := "/whatif/" + w.ID
	page := s.get(at).Body.String()
	require.Contains(t, page, "data-running")
	require.Contains(t, page, "Of the plant: tool M-36: 8 of them", "said before anything is computed")
	require.Equal(t, http.StatusConflict, s.get("/api/whatifs/"+w.ID+"/lineups").Code)
	hold <- struct{}{}
	w = settled(t, s, w.ID)
	for _, path := range []string{at, at + "?zoom=week&all=1", at + "?order=X-1", "/whatif", "/whatif?from=" + w.ID, "/whatif?from=none"} {
		r := s.get(path)
		require.Equal(t, http.StatusOK, r.Code, path)
		body := r.Body.String()
		require.NotContains(t, body, "ZgotmplZ", path)
		require.NotContains(t, body, "<b>rush</b>", path)
		require.NotRegexp(t, `(?i)\sstyle=|<style|<script>|\son[a-z]+=`, body, path)
		require.Contains(t, body, "</html>", path)
	}
	page = s.get(at + "?zoom=week&all=1").Body.String()
	require.Contains(t, page, "people&#39;s hours")
	require.Contains(t, page, "block")
	require.Contains(t, page, `<b>W1</b>`)
	require.NotEmpty(t, regexp.MustCompile(`class="block[^"]* moved"`).FindString(page))
	require.Contains(t, s.get("/whatif?from=none").Body.String(), "not kept any more")
	require.Contains(t, s.get("/whatif?from="+w.ID).Body.String(), "M-36")
	require.Equal(t, http.StatusNotFound, s.get("/whatif/none").Code)
	require.Equal(t, http.StatusBadRequest, s.get(at+"?zoom=year").Code)
	require.Contains(t, demoSite(t).get("/whatif").Body.String(), "tries no changes")
}

// A page says how much its searches could try, and when that says little.
func TestAComparisonSaysHowMuchWasTried(t *testing.T) {
	shop := fewOrders(t)
	for effort, want := range map[int64]string{1: "had 2 tries. Fewer than 100 say little", view.EnoughTries / 2: "had 100 tries.</p>"} {
		server, err := web.New(web.Options{Shop: shop, Trier: &webtest.Trier{Shop: shop, Iterations: effort}})
		require.NoError(t, err)
		t.Cleanup(server.Close)
		s := &site{shop: shop, server: server, handler: server.Handler()}
		a := settled(t, s, tryOf(t, s, "add", rushOf(s, "X-1", 12)).ID)
		require.Contains(t, s.get("/whatif/"+a.ID).Body.String(), want)
		b := settled(t, s, tryOf(t, s, "more", rushOf(s, "X-2", 12)).ID)
		pair := "compare?a=" + a.ID + "&b=" + b.ID
		require.Equal(t, 4*effort, decoded[view.WhatIfPair](t, s.get("/api/whatifs/"+pair)).Comparison.Iterations)
		require.Equal(t, effort == 1, strings.Contains(s.get("/whatif/"+pair).Body.String(), "Fewer than 100 say little"))
	}
}

// Two sets are held against each other; from one to the other and back nothing is
// gained.
func TestTwoWhatIfsAreCompared(t *testing.T) {
	shop := fewOrders(t)
	s := triedSite(t, shop, nil)
	order := shop.Picture().Plan.Work[0].Order
	a := settled(t, s, tryOf(t, s, "add", rushOf(s, "X-1", 12)).ID)
	b := settled(t, s, tryOf(t, s, "drop", fmt.Sprintf(`{"drop_order":{"order":%q}}`, order)).ID)
	there := decoded[view.WhatIfPair](t, s.get("/api/whatifs/compare?a="+a.ID+"&b="+b.ID))
	back := decoded[view.WhatIfPair](t, s.get("/api/whatifs/compare?a="+b.ID+"&b="+a.ID))
	require.True(t, there.Together)
	require.Equal(t, []string{"add", "drop"}, []string{there.A.Name, there.B.Name})
	require.Equal(t, a.Comparison.After, there.Comparison.Before)
	require.Equal(t, b.Comparison.After, there.Comparison.After)
	require.Equal(t, there.Comparison.Won, back.Comparison.Lost)
	require.Equal(t, there.Comparison.Added, back.Comparison.Dropped)
	names := func(list []whatif.Outcome) (out []string) {
		for _, o := range list {
			out = append(out, o.Order)
		}
		return out
	}
	require.Equal(t, []string{order, "X-1"}, names(there.Comparison.Dropped))
	require.Empty(t, there.Comparison.Added)
	require.Equal(t, a.Comparison.Chances.After, *there.RiskA)
	for i := range there.Comparison.Moved {
		require.Equal(t, there.Comparison.Moved[i].By, -back.Comparison.Moved[i].By)
	}
	page := s.get("/whatif/compare?a=" + a.ID + "&b=" + b.ID)
	require.Equal(t, http.StatusOK, page.Code)
	require.NotContains(t, page.Body.String(), "different moments")
	require.Contains(t, s.get("/whatif").Body.String(), `action="/whatif/compare"`)

	require.NoError(t, shop.Advance(shop.Picture().Now+resources.Tick(resources.Hour), resources.Hour))
	c := settled(t, s, tryOf(t, s, "later", rushOf(s, "X-1", 12)).ID)
	require.False(t, decoded[view.WhatIfPair](t, s.get("/api/whatifs/compare?a="+a.ID+"&b="+c.ID)).Together)
	require.Contains(t, s.get("/whatif/compare?a="+a.ID+"&b="+c.ID).Body.String(), "different moments")
	for path, code := range map[string]int{"?a=" + a.ID: 404, "?a=" + a.ID + "&b=" + a.ID: 400, "?a=none&b=" + a.ID: 404, "": 404} {
		require.Equal(t, code, s.get("/api/whatifs/compare"+path).Code, path)
		require.Equal(t, code, s.get("/whatif/compare"+path).Code, path)
	}
}

// Blocks are marked where the two line-ups differ, and nowhere else.
func TestLineupsSayWhereTheyDiffer(t *testing.T) {
	p := demo(t).Picture()
	same := view.SidesOf(p.Now, p.State, p.Plan, p.State, p.Plan).Lineups(view.LineupQuery{Zoom: "week"})
	for _, pair := range same.Pairs() {
		require.True(t, pair.Same, pair.ID)
		for _, b := range pair.Was.Blocks {
			require.False(t, b.Moved)
		}
	}
	require.Empty(t, view.SidesPage{Lineups: same}.Pairs(), "lines that are alike are left out")
	require.Len(t, view.SidesPage{Lineups: same, All: true}.Pairs(), len(p.State.Plant.Stations))
	both := view.SidesOf(p.Now, p.State, p.Plan, p.State, p.Plan).Lineups(view.LineupQuery{Zoom: "week"})
	var moved string
	for i := range both.After.Rows {
		if r := &both.After.Rows[i]; len(r.Blocks) > 1 {
			r.Blocks[1].X++
			moved = r.ID
			break
		}
	}
	marked := map[string]int{}
	for _, pair := range both.Pairs() {
		for _, row := range []*view.LineupRow{pair.Was, pair.Is} {
			for _, b := range row.Blocks {
				if b.Moved {
					marked[pair.ID]++
				}
			}
		}
		require.Equal(t, pair.ID != moved, pair.Same)
	}
	require.Equal(t, map[string]int{moved: 2}, marked)
}

// figuresFit: the change of each figure is in sight, whatever the sets are called.
const figuresFit = `(box => box.scrollWidth <= box.clientWidth)(document.querySelector('[aria-label="Figures"]'))`

// movesFit: so are all the columns of the dates that move.
const movesFit = `[...document.querySelectorAll('[aria-label="Dates moved"]')].every(box => box.scrollWidth <= box.clientWidth)`

func TestBrowserWhatIf(t *testing.T) {
	shop := fewOrders(t)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Trier: &webtest.Trier{Shop: shop, Replications: 8}})
	s := &site{shop: shop}
	b := openAt(t, base, 1440, 900)
	b.expect("400") // a set with a mistake is tried first
	b.visit("/whatif")
	b.run(chromedp.SetValue(chromedp.CSS("#whatif-name"), "Rush and a stop"))
	b.click("#whatif-add")
	field := func(row int, key, value string) {
		b.run(chromedp.SetValue(chromedp.CSS(fmt.Sprintf(`.change-row:nth-child(%d) [data-field="%s"]`, row, key)), value))
	}
	field(1, "order", "X-9")
	field(1, "product", "HS-M")
	field(1, "quantity", "3")
	field(1, "ship_by", wishOf(s, 14))
	b.run(chromedp.SetValue(chromedp.CSS("#whatif-kind"), "down"))
	b.click("#whatif-add")
	field(2, "station", "W1")
	b.click(`#whatif button[type="submit"]`)
	b.until(`document.querySelector(".change-row:nth-child(2) .problem").innerText.includes("how long")`)
	b.until(`document.querySelector("#problem").innerText.includes("marked above")`)
	b.shoot("whatif-mistake-1440")
	field(2, "for", "5h")
	b.click(`#whatif button[type="submit"]`)
	b.until(`location.pathname.startsWith("/whatif/")`)
	b.until(`!!document.querySelector("#whatif-adopt")`)
	b.until(`document.querySelector("#main").innerText.includes("Dates moved")`)
	b.until(`document.querySelectorAll("svg.lane").length > 1`)
	b.until(figuresFit)
	b.until(movesFit)
	b.shoot("whatif-tried-1440")
	b.run(chromedp.ScrollIntoView(chromedp.CSS("#lineups")))
	b.shoot("whatif-lineups-1440")
	at, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.pathname`))
	require.NoError(t, err)
	id := strings.TrimPrefix(at, "/whatif/")

	b.click("#whatif-rename")
	b.run(chromedp.SetValue(chromedp.CSS("#rename-name"), "The rush"))
	b.click(`#rename-dialog button[value="yes"]`)
	b.until(`document.querySelector("h1").innerText === "The rush"`)
	b.click("#whatif-adopt")
	b.run(chromedp.SetValue(chromedp.CSS("#adopt-by"), "Ada"))
	b.shoot("whatif-adopt-1440")
	b.click(`#adopt-dialog button[value="yes"]`)
	b.until(`document.querySelector("#main").innerText.includes("adopted by Ada")`)
	p := shop.Picture()
	require.Equal(t, 3, p.State.Lines["X-9/1"].Quantity)
	require.True(t, p.State.Stations["W1"].Down)
	schedtest.RequireOK(t, p.State, p.Now, p.Plan)

	b.visit("/whatif?from=" + id) // its rows are filled again
	b.until(`document.querySelectorAll(".change-row").length === 2 && document.querySelector('[data-field="quantity"]').value === "3"`)
	b.shoot("whatif-form-1440")
	b.run(chromedp.SetValue(chromedp.CSS("#whatif-name"), "Another one, in more words than a column has room for"))
	field(1, "order", "X-10")
	b.click(".change-row:nth-child(2) [data-remove]")
	b.click(`#whatif button[type="submit"]`)
	b.until(`location.pathname.startsWith("/whatif/") && document.querySelector("h1").innerText.startsWith("Another one")`)
	at, err = chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.pathname`))
	require.NoError(t, err)
	other := strings.TrimPrefix(at, "/whatif/")
	b.until(`!!document.querySelector("#whatif-adopt")`)
	b.visit("/whatif")
	b.click(`form[action="/whatif/compare"] button`)
	b.until(`location.pathname === "/whatif/compare" && document.querySelector("#main").innerText.includes("different moments")`)
	b.until(figuresFit)
	b.until(movesFit)
	b.shoot("whatif-pair-1440")
	for _, size := range [][2]int64{{820, 1180}, {390, 844}} {
		b := openAt(t, base, size[0], size[1])
		for name, path := range map[string]string{"form": "/whatif?from=" + id, "tried": "/whatif/" + id + "?zoom=3days", "pair": "/whatif/compare?a=" + id + "&b=" + other} {
			b.visit(path)
			b.shoot(fmt.Sprintf("whatif-%s-%d", name, size[0]))
			over, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > document.documentElement.clientWidth`))
			require.NoError(t, err)
			require.False(t, over, "%s at %d", path, size[0])
			if name != "form" {
				b.until(figuresFit)
				b.until(movesFit)
			}
		}
	}
}

// adopt adopts the set that is looked at.
func (b *tab) adopt() {
	b.t.Helper()
	b.click("#whatif-adopt")
	b.run(chromedp.SetValue(chromedp.CSS("#adopt-by"), "Ada"))
	b.click(`#adopt-dialog button[value="yes"]`)
	b.until(`document.querySelector("#main").innerText.includes("adopted by Ada")`)
}

// A change of the plant is adopted and taken off again on the page, which is
// read on any screen.
func TestBrowserPutsAChangeOnTopOfThePlantFile(t *testing.T) {
	shop := filed(t)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Trier: &webtest.Trier{Shop: shop, Replications: 8}})
	b := openAt(t, base, 1440, 900)
	b.visit("/whatif")
	b.run(chromedp.SetValue(chromedp.CSS("#whatif-name"), "Saturday"), chromedp.SetValue(chromedp.CSS("#whatif-text"), "- tool: {id: M-36, count: 9}"))
	b.click(`#whatif button[type="submit"]`)
	b.until(`!!document.querySelector("#whatif-adopt")`)
	b.shoot("whatif-of-plant-1440")
	b.adopt()
	require.Len(t, shop.Picture().State.Plant.Tool("M-36").Units, 9)
	b.visit("/whatif")
	b.until(`!!document.querySelector("button[data-off]")`)
	b.shoot("whatif-on-top-1440")
	for _, size := range [][2]int64{{390, 844}, {820, 1180}} {
		small := openAt(t, base, size[0], size[1])
		small.visit("/whatif")
		small.until(`!!document.querySelector("button[data-off]") && document.documentElement.scrollWidth <= document.documentElement.clientWidth`)
		small.run(chromedp.Evaluate[chromedp.Void](`document.querySelector("#ontop-h").scrollIntoView()`))
		small.shoot(fmt.Sprintf("whatif-on-top-%d", size[0]))
	}
	b.click("button[data-off]")
	require.Contains(t, b.text("#off-dialog"), "Saturday")
	b.shoot("whatif-off-1440")
	b.run(chromedp.SetValue(chromedp.CSS("#off-by"), "Bob"))
	b.click(`#off-dialog button[value="yes"]`)
	b.until(`!document.querySelector("button[data-off]")`)
	require.Empty(t, shop.Picture().State.Adopted)
}

// People who are away are put into the form, tried and adopted: then the shop plans
// without them, and its plant is as it was.
func TestBrowserTriesPeopleAway(t *testing.T) {
	shop := fewOrders(t)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Trier: &webtest.Trier{Shop: shop, Replications: 8}})
	b := openAt(t, base, 1440, 900)
	b.expect("400") // more people than there are is tried first
	b.visit("/whatif")
	b.run(chromedp.SetValue(chromedp.CSS("#whatif-name"), "A course"), chromedp.SetValue(chromedp.CSS("#whatif-kind"), "absent"))
	b.click("#whatif-add")
	field := func(key, value string) {
		b.run(chromedp.SetValue(chromedp.CSS(fmt.Sprintf(`.change-row [data-field="%s"]`, key)), value))
	}
	field("crew", "winders")
	field("people", "9")
	field("calendar", "early")
	field("for", "2d")
	field("why", "course")
	b.click(`#whatif button[type="submit"]`)
	b.until(`document.querySelector(".change-row .problem").innerText.includes("work by that calendar")`)
	b.shoot("whatif-away-1440")
	field("people", "1")
	from := time.Unix(int64(shop.Picture().Now), 0).In(shop.Picture().State.Plant.Zone).AddDate(0, 0, 1)
	field("from", from.Format("2006-01-02T15:04"))
	b.click(`#whatif button[type="submit"]`)
	b.until(`location.pathname.startsWith("/whatif/")`)
	b.until(`!!document.querySelector("#whatif-adopt")`)
	said := b.text("#main")
	require.Contains(t, said, "1 of winders, calendar early, away from "+from.Format("Mon 2 Jan 2006 15:04")+" for 48 h")
	require.NotContains(t, said, "Of the plant")
	at, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.pathname`))
	require.NoError(t, err)
	b.adopt()
	p := shop.Picture()
	require.Len(t, p.State.Absences, 1)
	for _, a := range p.State.Absences {
		begins := resources.Tick(from.Truncate(time.Minute).Unix())
		require.Equal(t, scheduler.Absence{Crew: "winders", People: 1, Calendar: "early", From: begins, Until: begins + 2*resources.Tick(resources.Day), Why: "course", By: "Ada"}, *a)
	}
	require.Empty(t, p.State.Adopted)
	schedtest.RequireOK(t, p.State, p.Now, p.Plan)

	b.visit("/whatif?from=" + strings.TrimPrefix(at, "/whatif/")) // its row is filled again
	b.until(`document.querySelector('.change-row [data-field="crew"]').value === "winders" && document.querySelector('.change-row [data-field="calendar"]').value === "early"`)
	small := openAt(t, base, 390, 844)
	small.visit("/whatif?from=" + strings.TrimPrefix(at, "/whatif/"))
	small.until(`!!document.querySelector(".change-row") && document.documentElement.scrollWidth <= document.documentElement.clientWidth`)
	small.shoot("whatif-away-390")
}
