// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/schedtest"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// promiser makes a site over a shop that answers for dates.
func promiserSite(t testing.TB, shop *webtest.Shop, hold chan struct{}) *site {
	t.Helper()
	return siteWith(t, shop, &webtest.Promiser{Shop: shop, Hold: hold, Replications: 30})
}

func siteWith(t testing.TB, shop *webtest.Shop, p web.Promiser) *site {
	t.Helper()
	server, err := web.New(web.Options{Shop: shop, Promise: p, Trier: &webtest.Trier{Shop: shop}})
	require.NoError(t, err)
	t.Cleanup(server.Close)
	return &site{shop: shop, server: server, handler: server.Handler()}
}

// askedSite is a shop of few orders on its second day with a date asked for and changes tried.
func askedSite(t *testing.T) (s *site, question, tried string) {
	t.Helper()
	shop := fewOrders(t)
	require.NoError(t, shop.Advance(shop.Picture().Now+resources.Tick(resources.Day), 3*resources.Hour))
	server, err := web.New(web.Options{
		Shop: shop, Promise: &webtest.Promiser{Shop: shop, Replications: 30}, Trier: &webtest.Trier{Shop: shop, Replications: 8},
	})
	require.NoError(t, err)
	t.Cleanup(server.Close)
	s = &site{shop: shop, server: server, handler: server.Handler()}
	return s, askFor(t, s, 2, 20, "").ID, settled(t, s, tryOf(t, s, "rush", rushOf(s, "X-0", 20)).ID).ID
}

func wishOf(s *site, days int) string {
	p := s.shop.Picture()
	return time.Unix(int64(p.Now)+int64(days)*86400, 0).In(p.State.Plant.Zone).Format(time.DateOnly)
}

func decoded[T any](t *testing.T, w *httptest.ResponseRecorder) (out T) {
	t.Helper()
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &out))
	return out
}

func askFor(t *testing.T, s *site, quantity, days int, more string) view.Question {
	t.Helper()
	return decoded[view.Question](t, s.send("/api/questions",
		fmt.Sprintf(`{"product":"HS-M","quantity":%d,"wish":%q,"customer":"somebody"%s}`, quantity, wishOf(s, days), more)))
}

func TestADateIsAskedKeptAndConfirmed(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	hold := make(chan struct{})
	s := promiserSite(t, shop, hold)
	before := shop.Picture()
	q := askFor(t, s, 2, 25, "")
	require.True(t, q.Open())
	require.Positive(t, q.Answer.Earliest.Ship)
	require.Nil(t, q.Answer.Chances)
	require.Same(t, before, shop.Picture(), "asking changes nothing")
	page := s.get("/promise?question=" + q.ID).Body.String()
	require.Contains(t, page, "2 × HS-M")
	require.Contains(t, page, "data-running")

	hold <- struct{}{}
	at := "/api/questions/" + q.ID
	require.Eventually(t, func() bool { return decoded[view.Question](t, s.get(at)).State == "done" }, patience, 10*time.Millisecond)
	q = decoded[view.Question](t, s.get(at))
	require.Equal(t, 30, q.Answer.Chances.Replications)
	kept := decoded[web.KeptPromise](t, s.send(at+"/keep", `{"by":"Ada"}`))
	require.Equal(t, q.Answer.Offered(), kept.ShipBy)
	require.Equal(t, http.StatusConflict, s.send(at+"/keep", `{}`).Code, "kept once")
	line := shop.Picture().State.Lines[scheduler.LineKey(kept.Promise, scheduler.PromiseLine)]
	require.Equal(t, scheduler.Reserved, line.Promise.Status)
	require.Equal(t, q.Answer.PerMille(kept.ShipBy), line.Promise.PerMille)
	require.Contains(t, s.get("/promise?question="+q.ID).Body.String(), "kept as "+kept.Promise)

	decoded[web.ReportAnswer](t, s.send("/api/promises/"+kept.Promise+"/confirm", `{"by":"Ada"}`))
	require.Equal(t, http.StatusConflict, s.send("/api/promises/"+kept.Promise+"/release", `{}`).Code)
	record := decoded[promise.Record](t, s.get("/api/promises"))
	require.Equal(t, 1, record.Confirmed)
	require.Equal(t, kept.ShipBy, record.Entries[0].ShipBy)
	require.True(t, record.Entries[0].Kept)
	require.Contains(t, s.get("/promise").Body.String(), "/orders/"+kept.Promise)

	// What was promised stands beside what the plan says, on the order and on the dates.
	sheet := decoded[view.OrderSheet](t, s.get("/api/orders/"+kept.Promise))
	require.Equal(t, record.Entries[0], sheet.Promises[0])
	require.Contains(t, s.get("/orders/"+kept.Promise).Body.String(), "will be kept")
	dates := decoded[view.Dates](t, s.get("/api/dates?show=all"))
	require.Equal(t, view.PromiseCount{Confirmed: 1, Open: 1}, dates.Promised)
	for _, row := range dates.Orders {
		require.Equal(t, row.ID == kept.Promise, row.Promised == kept.ShipBy)
		require.False(t, row.Broken)
	}
	require.Contains(t, s.get("/dates?show=all").Body.String(), "Promised to those who asked")
	p := shop.Picture()
	schedtest.RequireOK(t, p.State, p.Now, p.Plan)

	// Cancelled, it stays in the list and out of the counts.
	require.Equal(t, http.StatusOK, s.send("/api/report", fmt.Sprintf(`{"reports":[{"kind":"order.cancelled","data":{"order":%q}}]}`, kept.Promise)).Code)
	said := s.get("/promise?question=" + q.ID).Body.String()
	require.Contains(t, said, "0 promises confirmed, 1 cancelled, 0 let go or expired")
	require.Contains(t, said, "</span> cancelled</span>")
	require.Contains(t, said, kept.Promise+"</a> was cancelled")
	require.NotContains(t, s.get("/dates?show=all").Body.String(), "Promised to those who asked")
}

// Two browsers show the same answer, and both press the button: one promise is
// made, and its capacity is kept once.
func TestAQuestionIsKeptOnceWhoeverAsks(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	s := promiserSite(t, shop, make(chan struct{}))
	q := askFor(t, s, 1, 30, "")
	const many = 8
	codes := make(chan int, many)
	var all sync.WaitGroup
	for range many {
		all.Go(func() { codes <- s.send("/api/questions/"+q.ID+"/keep", `{"by":"Ada"}`).Code })
	}
	all.Wait()
	close(codes)
	kept := 0
	for code := range codes {
		if code == http.StatusOK {
			kept++
		} else {
			require.Equal(t, http.StatusConflict, code)
		}
	}
	require.Equal(t, 1, kept)
	require.Equal(t, 1, decoded[promise.Record](t, s.get("/api/promises")).Reserved)

	// What was refused may be tried again.
	late := askFor(t, s, 1, 30, "")
	require.Equal(t, http.StatusConflict, s.send("/api/questions/"+late.ID+"/keep", `{"ship_by":"2026-03-02T16:00:00Z"}`).Code)
	decoded[web.KeptPromise](t, s.send("/api/questions/"+late.ID+"/keep", `{}`))
}

// A wish that cannot be met has alternatives, on the page and in the model, and
// none that is offered breaks a date.
func TestAWishThatCannotBeMetHasAlternatives(t *testing.T) {
	shop := fewOrders(t)
	s := promiserSite(t, shop, nil)
	q := askFor(t, s, 6, 2, "")
	require.False(t, q.Answer.Meets)
	at := "/api/questions/" + q.ID
	require.Eventually(t, func() bool { return decoded[view.Question](t, s.get(at)).State == "done" }, patience, 10*time.Millisecond)
	q = decoded[view.Question](t, s.get(at))
	require.NotNil(t, q.Answer.Otherwise)
	require.Positive(t, q.Answer.Otherwise.Tried)
	page := s.get("/promise?question=" + q.ID).Body.String()
	require.Contains(t, page, "What else could be done")
	for _, x := range q.Answer.Otherwise.Alternatives {
		require.Contains(t, page, x.Words)
		for _, m := range x.Moved {
			require.LessOrEqual(t, m.Will, max(m.Due, m.Was), "%s: %s", x.Words, m.Order)
		}
	}
	t.Log(len(q.Answer.Otherwise.Alternatives), q.Answer.Otherwise.Tried)
}

// alternatives answers with alternatives of its own, and notes what is to be kept.
type alternatives struct {
	webtest.Promiser
	list []promise.Alternative
	kept chan web.Keep
}

func (f *alternatives) Deepen(_ context.Context, a *promise.Answer, _ func(promise.Progress)) (*promise.Answer, error) {
	next := *a
	next.Otherwise = &promise.Otherwise{Tried: 3, Alternatives: f.list}
	return &next, nil
}

func (f *alternatives) Keep(_ context.Context, ask promise.Ask, k web.Keep) (*promise.Held, error) {
	f.kept <- k
	return &promise.Held{ShipBy: k.ShipBy, Promise: "P-7", Expires: ask.From}, nil
}

// withAlternatives answers with one that meets the wish, one that does not, and one
// that is more than another plan: twelve pieces in two shipments.
func withAlternatives(shop *webtest.Shop) *alternatives {
	part := func(after resources.Seconds) []promise.Delivery {
		return []promise.Delivery{{Quantity: 6, Date: promise.Date{Ship: shop.Picture().Now + resources.Tick(after)}}}
	}
	return &alternatives{Promiser: webtest.Promiser{Shop: shop}, kept: make(chan web.Keep, 1), list: []promise.Alternative{
		{Kind: promise.Orders, Words: "order 1203 makes way", Meets: true, MakeWay: []string{"1203"}, Parts: part(5 * resources.Day), Chances: &promise.AlternativeChances{Chance: 0.87}},
		{Kind: promise.Replan, Words: "everything planned anew", Parts: part(20 * resources.Day)},
		{Kind: promise.Split, Words: "two shipments", Parts: append(part(5*resources.Day), part(9*resources.Day)...)},
	}}
}

// What needs nothing but another plan has a button; it is kept with its own date,
// or the wish where it meets that. What asks for more is not kept.
func TestAnAlternativeIsKeptWithAButton(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	f := withAlternatives(shop)
	s := siteWith(t, shop, f)
	q := askFor(t, s, 6, 2, "")
	require.False(t, q.Answer.Meets)
	at := "/api/questions/" + q.ID
	require.Eventually(t, func() bool { return decoded[view.Question](t, s.get(at)).State == "done" }, patience, 10*time.Millisecond)
	page := s.get("/promise?question=" + q.ID).Body.String()
	require.Contains(t, page, `data-alternative="1"`)
	require.Contains(t, page, `data-alternative="2"`)
	require.NotContains(t, page, `data-alternative="3"`)
	require.Equal(t, 1, strings.Count(page, "data-attempt="), "what is more than another plan can be tried")
	for body, words := range map[string]string{
		`{"alternative":3}`:  "more than another plan",
		`{"alternative":4}`:  "there is none of number 4",
		`{"alternative":-1}`: "there is none of number -1",
	} {
		got := s.send(at+"/keep", body)
		require.Equal(t, http.StatusBadRequest, got.Code, body)
		require.Contains(t, got.Body.String(), words)
	}
	decoded[web.KeptPromise](t, s.send(at+"/keep", `{"alternative":1,"by":"Ada"}`))
	require.Equal(t, web.Keep{For: q.Hold, ShipBy: q.Answer.WishDue, PerMille: 870, By: "Ada", Instead: &f.list[0]}, <-f.kept)

	q = askFor(t, s, 6, 2, "")
	at = "/api/questions/" + q.ID
	require.Eventually(t, func() bool { return decoded[view.Question](t, s.get(at)).State == "done" }, patience, 10*time.Millisecond)
	require.Equal(t, http.StatusOK, s.send(at+"/keep", `{"alternative":2}`).Code)
	kept := <-f.kept
	require.Equal(t, f.list[1].Parts[0].Ship, kept.ShipBy)
	require.Zero(t, kept.PerMille)
}

func TestBrowserAlternativeIsKept(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	f := withAlternatives(shop)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Promise: f})
	b := openAt(t, base, 820, 1180)
	b.visit("/promise")
	b.run(chromedp.SetValue(chromedp.CSS("#ask-product"), "HS-M"), chromedp.SetValue(chromedp.CSS("#ask-quantity"), "6"),
		chromedp.SetValue(chromedp.CSS("#ask-wish"), wishOf(&site{shop: shop}, 2)), chromedp.SetValue(chromedp.CSS("#ask-by"), "Ada"))
	b.click(`#ask button`)
	b.until(`document.querySelector("#main").innerText.includes("order 1203 makes way")`)
	b.shoot("promise-alternatives-820")
	b.click(`button[data-alternative="1"]`)
	select {
	case kept := <-f.kept:
		require.Equal(t, []string{"1203"}, kept.Instead.MakeWay)
		require.Equal(t, "Ada", kept.By)
	case <-time.After(patience):
		require.Fail(t, "nothing was kept")
	}
}

func TestASecondLookIsStoppedAndAPromiseLetGo(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	s := promiserSite(t, shop, make(chan struct{}))
	first, second := askFor(t, s, 1, 25, ""), askFor(t, s, 1, 25, `,"hold_s":3600`)
	for _, q := range []view.Question{second, first} { // the second waits for the first
		require.Equal(t, http.StatusOK, s.send("/api/questions/"+q.ID+"/stop", "").Code)
		require.Eventually(t, func() bool {
			return decoded[view.Question](t, s.get("/api/questions/"+q.ID)).State == "stopped"
		}, patience, 10*time.Millisecond)
	}
	kept := decoded[web.KeptPromise](t, s.send("/api/questions/"+second.ID+"/keep", `{}`))
	require.Equal(t, shop.Picture().Now+3600, kept.Expires)
	decoded[web.ReportAnswer](t, s.send("/api/promises/"+kept.Promise+"/release", `{"why":"too late"}`))
	record := decoded[promise.Record](t, s.get("/api/promises"))
	require.Zero(t, record.Reserved)
	require.Equal(t, "released", record.Entries[0].Status)
	require.Contains(t, s.get("/promise?question="+second.ID).Body.String(), "was let go; its capacity is free again")
	again := s.send("/api/promises/"+kept.Promise+"/confirm", `{}`)
	require.Contains(t, again.Body.String(), ": it was let go at ")
}

// A promise whose time is over is told so wherever it is looked at, and nobody
// is offered to take that back: time would take it again.
func TestAnExpiredPromiseIsToldAndNotTakenBack(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	s := promiserSite(t, shop, nil)
	q := askFor(t, s, 1, 25, `,"hold_s":3600`)
	kept := decoded[web.KeptPromise](t, s.send("/api/questions/"+q.ID+"/keep", `{}`))
	shop.Pass(2 * resources.Hour)
	_, err = shop.Report(t.Context(), events.Event{
		ID: "over", Kind: events.PromiseExpired, Plant: "tallowmere", At: kept.Expires, Data: events.PromiseData{Promise: kept.Promise},
	})
	require.NoError(t, err)
	late := s.send("/api/promises/"+kept.Promise+"/confirm", `{"by":"Ada"}`)
	require.Equal(t, http.StatusConflict, late.Code)
	require.Contains(t, late.Body.String(), ": it expired at ")
	require.Contains(t, s.get("/promise?question="+q.ID).Body.String(), kept.Promise+" has expired; its capacity is free again")
	require.Contains(t, s.get("/orders/"+kept.Promise).Body.String(), "the order is cancelled, and nothing more is made for it")
	rows := decoded[view.Log](t, s.get("/api/log?q="+kept.Promise)).Rows
	can := map[string]bool{}
	for _, r := range rows {
		can[r.Kind] = r.CanVoid
	}
	require.Contains(t, can, "promise.expired")
	require.False(t, can["promise.expired"])
	require.True(t, can["promise.reserved"])
}

// Two who asked for the same hours are not both given them: who keeps second
// gets a later date or is told that it is gone, and both dates are kept.
func TestTwoWhoAskAtOnceAreNotPromisedTheSame(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	s := promiserSite(t, shop, nil)
	questions := []view.Question{askFor(t, s, 6, 25, ""), askFor(t, s, 6, 25, "")}
	require.Equal(t, questions[0].Answer.Earliest.Ship, questions[1].Answer.Earliest.Ship)
	codes := make([]int, len(questions))
	var wait sync.WaitGroup
	for i, q := range questions {
		wait.Go(func() {
			body := fmt.Sprintf(`{"ship_by":%q}`, time.Unix(int64(q.Answer.Earliest.Ship), 0).UTC().Format(time.RFC3339))
			codes[i] = s.send("/api/questions/"+q.ID+"/keep", body).Code
		})
	}
	wait.Wait()
	require.Contains(t, codes, http.StatusOK)
	given := 0
	for _, code := range codes {
		if code == http.StatusOK {
			given++
			continue
		}
		require.Equal(t, http.StatusConflict, code)
	}
	record := decoded[promise.Record](t, s.get("/api/promises"))
	require.Equal(t, given, record.Reserved)
	for _, e := range record.Entries {
		require.True(t, e.Kept, e.Promise)
	}
	p := shop.Picture()
	schedtest.RequireOK(t, p.State, p.Now, p.Plan)
}

func TestBadQuestionsAreExplainedAndChangeNothing(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	s := promiserSite(t, shop, nil)
	before := shop.Picture()
	good := fmt.Sprintf(`{"product":"HS-M","quantity":1,"wish":%q}`, wishOf(s, 20))
	for _, c := range [][3]string{
		{`"HS-M"`, `"bicycle"`, "the plant makes no such product"},
		{`"quantity":1`, `"quantity":0`, "allowed: 1 to 1000"},
		{`"quantity":1`, `"quantity":1000000`, "allowed: 1 to 1000"},
		{wishOf(s, 20), "2001-01-01", "is in the past"},
		{wishOf(s, 20), "soon", "cannot be read as a date"},
		{wishOf(s, 20), "2026-03-29 01:30", "the clocks go forward over this time"},
		{`"quantity":1`, `"quantity":1,"confidence":1`, "no plan is certain"},
		{`"quantity":1`, `"quantity":1,"hold_s":1`, `hold_s: out of range; found \"1 s\"; allowed: 300 s (5 min) to 1209600 s (14 days)`},
		{`"quantity":1`, `"quantity":1.5`, "quantity cannot be 1.5; it is a whole number"},
		{`"quantity":1`, `"quantity":"1"`, "quantity cannot be a string; it is a whole number"},
		{`"quantity":1`, `"quantity":1,"customer":" Ada"`, "customer: cannot be a name"},
		{`}`, ``, "it ends in the middle"},
		{`"quantity":1`, `"quantity":1,"price":1`, "unknown field"},
	} {
		w := s.send("/api/questions", strings.Replace(good, c[0], c[1], 1))
		require.Equal(t, http.StatusBadRequest, w.Code, c[1])
		require.Contains(t, w.Body.String(), c[2])
		require.NotContains(t, w.Body.String(), "json:")
	}
	much := s.send("/api/questions", strings.Replace(good, `"quantity":1`, `"quantity":900`, 1))
	require.Equal(t, http.StatusConflict, much.Code)
	require.Contains(t, much.Body.String(), "short of")
	require.Contains(t, much.Body.String(), "what is asked for")
	require.NotContains(t, much.Body.String(), "order asked")
	require.Contains(t, much.Body.String(), "Ask for less, or enter a receipt")
	require.Same(t, before, shop.Picture())
	require.Equal(t, http.StatusNotFound, s.get("/api/questions/none").Code)
	require.Equal(t, http.StatusConflict, s.send("/api/promises/none/confirm", `{}`).Code)
	require.Contains(t, s.get("/promise?question=none").Body.String(), "not remembered")
	nobody := demoSite(t)
	require.Equal(t, http.StatusNotFound, nobody.send("/api/questions", good).Code)
	require.Contains(t, nobody.get("/promise").Body.String(), "answers no questions")
}

func TestBrowserPromise(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Promise: &webtest.Promiser{Shop: shop, Replications: 30}})
	s := &site{shop: shop}
	b := openAt(t, base, 1440, 900)
	b.visit("/promise")
	b.run(chromedp.SetValue(chromedp.CSS("#ask-product"), "HS-M"), chromedp.SetValue(chromedp.CSS("#ask-quantity"), "3"),
		chromedp.SetValue(chromedp.CSS("#ask-wish"), wishOf(s, 5)), chromedp.SetValue(chromedp.CSS("#ask-by"), "Ada"),
		chromedp.SetValue(chromedp.CSS("#ask-kind"), "event"), chromedp.SetValue(chromedp.CSS("#ask-weight"), "5"),
		chromedp.SetValue(chromedp.CSS("#ask-customer"), "Straßenrennwagen-Entwicklungsgesellschaft Łódź & Søn Ærø"))
	require.Contains(t, b.text("#given-h + p"), "Nothing has been promised yet.")
	b.click(`#ask button`)
	b.until(`document.querySelector("#main").innerText.includes("3 × HS-M")`)
	require.Contains(t, b.text("#answer-h"), "event")
	b.until(`document.querySelector("#main").innerText.includes("of 30 histories")`)
	b.shoot("promise-answer-1440")
	b.click(`button[data-ship-by]`)
	b.until(`document.querySelector("#main").innerText.includes("kept as P-1")`)
	b.promisesFit(base)
	b.click(`button[data-promise="/api/promises/P-1/confirm"]`)
	b.until(`document.querySelector("#main").innerText.includes("order P-1")`)
	b.promisesFit(base)
	b.shoot("promise-confirmed-1440")
	line := shop.Picture().State.Lines["P-1/1"]
	require.Equal(t, scheduler.Confirmed, line.Promise.Status)
	require.Equal(t, resources.Event, line.Kind)
	require.EqualValues(t, 5, line.Weight)
}

// promisesFit sees that the tables of promises, or their cards on a small screen,
// show all of their text, however long a customer's name is.
func (b *tab) promisesFit(base string) {
	b.t.Helper()
	t := b.t
	small := openAt(t, base, 1366, 768)
	for _, size := range [][2]int64{{1366, 768}, {1024, 768}, {820, 1180}, {390, 844}} {
		small.run(chromedp.EmulateViewport(size[0], size[1]))
		small.visit("/promise")
		small.shoot(fmt.Sprintf("promise-%d", size[0]))
		cut, err := chromedp.Run(small.ctx, chromedp.Evaluate[string](`innerWidth >= 700 && innerWidth < 1000 ? "" : [...document.querySelectorAll(".wide")]
			.filter((e) => e.scrollWidth > e.clientWidth).map((e) => e.scrollWidth + " of " + e.clientWidth + ": " + e.innerText).join("\n")`))
		require.NoError(t, err)
		require.Empty(t, cut, "cut off at %d", size[0])
		over, err := chromedp.Run(small.ctx, chromedp.Evaluate[bool](`document.documentElement.scrollWidth > document.documentElement.clientWidth`))
		require.NoError(t, err)
		require.False(t, over)
	}
}

// The browser's Back brings an earlier answer, and the form that it was asked with;
// who asks stays.
func TestBrowserFormAndAnswerBelongTogether(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Promise: &webtest.Promiser{Shop: shop, Replications: 8}})
	b := openAt(t, base, 1440, 900)
	ask := func(product, quantity, wish, customer string) {
		t.Helper()
		b.run(chromedp.SetValue(chromedp.CSS("#ask-product"), product), chromedp.SetValue(chromedp.CSS("#ask-quantity"), quantity),
			chromedp.SetValue(chromedp.CSS("#ask-wish"), wish), chromedp.SetValue(chromedp.CSS("#ask-customer"), customer))
		b.run(chromedp.Focus(chromedp.CSS("#ask-quantity")), chromedp.KeyEvent("\r"))
	}
	form := func(product, quantity, wish, customer string) string {
		return fmt.Sprintf(`["ask-product", "ask-quantity", "ask-wish", "ask-customer", "ask-by"].map((id) => document.getElementById(id).value).join("|") === %q`,
			strings.Join([]string{product, quantity, wish, customer, "Ada"}, "|"))
	}
	s := &site{shop: shop}
	products := shop.Picture().State.Plant.Products
	first, other, soon, late := "HS-M", products[len(products)-1].ID, wishOf(s, 20), wishOf(s, 30)
	require.NotEqual(t, first, other)
	b.visit("/promise")
	b.run(chromedp.SendKeys(chromedp.CSS("#ask-by"), "Ada"))
	ask(first, "2", soon, "Early")
	b.until(`document.querySelector("#main").innerText.includes("2 × HS-M, wished")`)
	b.until(form(first, "2", soon, "Early"))
	b.until(`document.activeElement.id === "ask-quantity"`)
	ask(other, "3", late, "Later")
	b.until(`document.querySelector("#main").innerText.includes("3 × ` + other + `, wished")`)
	b.until(form(other, "3", late, "Later"))
	b.run(chromedp.Evaluate[chromedp.Void](`history.back()`))
	b.until(`document.querySelector("#main").innerText.includes("2 × HS-M, wished")`)
	b.until(form(first, "2", soon, "Early"))
	b.run(chromedp.Evaluate[chromedp.Void](`history.forward()`))
	b.until(form(other, "3", late, "Later"))
	require.Contains(t, b.text("#answer-h"), "3 × "+other)
	// A half-typed question is not told as that of the answer after another page.
	b.run(chromedp.SetValue(chromedp.CSS("#ask-quantity"), "7"))
	b.visit("/floor")
	b.run(chromedp.Evaluate[chromedp.Void](`history.back()`))
	b.until(`document.querySelector("#answer-h") !== null && document.querySelector("#ask-quantity").value === "3"`)
}

// slow answers when it is told to, with a refusal at first.
type slow struct {
	webtest.Promiser
	hold chan error
}

func (f *slow) Promise(ctx context.Context, ask promise.Ask) (*promise.Answer, error) {
	if err := <-f.hold; err != nil {
		return nil, err
	}
	return f.Promiser.Promise(ctx, ask)
}

// With the answer comes another form, so nothing is typed into the old one while it is
// looked for; what was typed before a refusal is still there.
func TestBrowserNothingTypedWhileItIsAskedIsLost(t *testing.T) {
	shop := fewOrders(t)
	f := &slow{Promiser: webtest.Promiser{Shop: shop, Replications: 8}, hold: make(chan error)}
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Promise: f})
	b := openAt(t, base, 1440, 900)
	b.expect("409") // the browser logs the refusal's status itself
	b.visit("/promise")
	b.run(chromedp.SetValue(chromedp.CSS("#ask-product"), "HS-M"), chromedp.SetValue(chromedp.CSS("#ask-wish"), wishOf(&site{shop: shop}, 20)))
	const quantity = `document.getElementById("ask-quantity").value === "%s"`
	press := func(key string) {
		b.run(chromedp.KeyEvent("\r"))
		b.until(`document.getElementById("ask").inert`)
		b.run(chromedp.KeyEvent(key))
	}
	b.run(chromedp.SetValue(chromedp.CSS("#ask-quantity"), "12"), chromedp.Focus(chromedp.CSS("#ask-quantity")))
	press("3")
	const asking = `document.getElementById("promise-asking").textContent === "%s"`
	b.until(fmt.Sprintf(asking, "Looking for the earliest shipment that breaks no promise …"))
	b.shoot("promise-asking-1440")
	f.hold <- &web.Refusal{Reason: "too many", Hint: "ask for less"}
	b.until(`document.getElementById("problem").textContent.includes("too many")`)
	b.until(`document.activeElement.id === "ask-quantity" && ` + fmt.Sprintf(quantity, "12") + " && " + fmt.Sprintf(asking, ""))
	b.run(chromedp.SetValue(chromedp.CSS("#ask-quantity"), "1"))
	press("4")
	f.hold <- nil
	b.until(`document.querySelector("#main").innerText.includes("1 × HS-M, wished")`)
	b.until(`document.activeElement.id === "ask-quantity" && !document.getElementById("ask").inert && ` + fmt.Sprintf(quantity, "1"))
}

// Who confirms a promise for nobody is asked for the customer, and may go back or
// leave it open; lists say that none is named.
func TestBrowserConfirmAsksForTheCustomer(t *testing.T) {
	shop, err := worked(2 * resources.Hour)
	require.NoError(t, err)
	p := &webtest.Promiser{Shop: shop, Replications: 8}
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Promise: p})
	s := siteWith(t, shop, p)
	for range 2 {
		q := decoded[view.Question](t, s.send("/api/questions", fmt.Sprintf(`{"product":"HS-M","quantity":1,"wish":%q}`, wishOf(s, 20))))
		decoded[web.KeptPromise](t, s.send("/api/questions/"+q.ID+"/keep", `{}`))
	}
	b := openAt(t, base, 1440, 900)
	b.visit("/promise")
	require.Contains(t, b.text(`tr[data-key="P-1"]`), "no customer named")
	const confirm = `tr[data-key="P-%d"] button[data-promise$="/confirm"]`
	status := func(promise string) scheduler.PromiseStatus {
		return shop.Picture().State.Lines[promise+"/1"].Promise.Status
	}
	// sure says yes, and sees that it is done and shown.
	sure := func(promise string) {
		b.click("#confirm .yes")
		b.run(chromedp.WaitNotVisible(chromedp.CSS("#confirm")))
		for until := time.Now().Add(time.Minute); status(promise) != scheduler.Confirmed; time.Sleep(20 * time.Millisecond) {
			if time.Now().After(until) {
				said, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.getElementById("problem").textContent`))
				require.Fail(t, "not confirmed", "the page says %q, %v", said, err)
			}
		}
		b.until(fmt.Sprintf(`!!document.querySelector('section[aria-labelledby="given-h"] a[href="/orders/%s"]')`, promise))
	}
	b.click(fmt.Sprintf(confirm, 1))
	b.click("#confirm .no")
	b.run(chromedp.WaitNotVisible(chromedp.CSS("#confirm")))
	require.Equal(t, scheduler.Reserved, status("P-1"), "who goes back confirms nothing")
	b.click(fmt.Sprintf(confirm, 1))
	require.Contains(t, b.text("#confirm-title"), "P-1")
	b.shoot("promise-confirm-1440")
	b.run(chromedp.SendKeys(chromedp.CSS("#confirm-customer"), "Ada Example"))
	sure("P-1")
	require.Equal(t, "Ada Example", shop.Picture().State.Lines["P-1/1"].Customer)
	b.click(fmt.Sprintf(confirm, 2))
	sure("P-2")
	require.Contains(t, s.get("/dates?q=P-2").Body.String(), "no customer named")
	require.NotContains(t, s.get("/dates?q=P-1").Body.String(), "no customer named")
	require.Contains(t, s.get("/orders/P-2").Body.String(), "no customer named")
	require.Contains(t, s.get("/api/dates?q=P-2").Body.String(), `"customer":""`)
}

// What is more than another plan goes to a what-if, with the asked order in it.
func TestBrowserAlternativeIsTriedAsAWhatIf(t *testing.T) {
	shop := fewOrders(t)
	base, _ := serve(t, shop, web.Options{Beat: 2 * time.Second, Promise: withAlternatives(shop), Trier: &webtest.Trier{Shop: shop, Replications: 8}})
	b := openAt(t, base, 1440, 900)
	b.visit("/promise")
	b.run(chromedp.SetValue(chromedp.CSS("#ask-product"), "HS-M"), chromedp.SetValue(chromedp.CSS("#ask-quantity"), "12"),
		chromedp.SetValue(chromedp.CSS("#ask-wish"), wishOf(&site{shop: shop}, 4)))
	b.click(`#ask button`)
	b.until(`!!document.querySelector("button[data-attempt]")`)
	b.shoot("promise-attempt-1440")
	b.click(`button[data-attempt]`)
	b.until(`location.pathname.startsWith("/whatif/") && document.querySelector("h1").innerText === "12 × HS-M: two shipments"`)
	b.until(`!!document.querySelector("#whatif-adopt")`)
	b.shoot("whatif-attempt-1440")
	b.adopt()
	p := shop.Picture()
	for _, line := range []string{"P-1/1", "P-1/2"} {
		require.NotNil(t, p.State.Lines[line], line)
		require.Equal(t, 6, p.State.Lines[line].Quantity)
	}
	said := promise.RecordOf(p.State, "P-1")
	require.Len(t, said, 2, "both shipments were promised")
	b.visit("/promise")
	require.Contains(t, b.text("section[aria-labelledby=given-h]"), "P-1/2")
	b.shoot("promise-given-1440")
	b.visit("/orders/P-1")
	b.shoot("order-promised-1440")
	require.Equal(t, 2, strings.Count(b.text("#main"), "given "))
}
