// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/schedtest"
	"towpath/scheduler/whatif"
	demofiles "towpath/testdata/demo"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// fewOrders is the demo plant with a few orders, two hours into its work: small
// enough to be planned often.
func fewOrders(t testing.TB) *webtest.Shop {
	t.Helper()
	all := demo(t).Picture().State
	shop, err := webtest.OfPlant(all.Plant, whatif.Lines(all)[:8], all.Plant.StartsAt)
	require.NoError(t, err)
	require.NoError(t, shop.Advance(all.Plant.StartsAt+2*resources.Tick(resources.Hour), resources.Hour))
	return shop
}

// triedSite makes a site over a shop in which changes can be tried.
func triedSite(t testing.TB, shop *webtest.Shop, hold chan struct{}) *site {
	t.Helper()
	server, err := web.New(web.Options{Shop: shop, Trier: &webtest.Trier{Shop: shop, Hold: hold, Replications: 8}})
	require.NoError(t, err)
	t.Cleanup(server.Close)
	return &site{shop: shop, server: server, handler: server.Handler()}
}

func (s *site) call(method, path, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	return s.do(r)
}

func rushOf(s *site, order string, days int) string {
	return fmt.Sprintf(`{"add_order":{"order":%q,"product":"HS-M","quantity":2,"ship_by":%q,"kind":"event","weight":5}}`, order, wishOf(s, days))
}

// tryOf begins to try changes; until waits until a set is no longer open.
func tryOf(t *testing.T, s *site, name string, changes ...string) view.WhatIf {
	t.Helper()
	return decoded[view.WhatIf](t, s.send("/api/whatifs", fmt.Sprintf(`{"name":%q,"changes":[%s]}`, name, strings.Join(changes, ","))))
}

func settled(t *testing.T, s *site, id string) (w view.WhatIf) {
	t.Helper()
	require.Eventually(t, func() bool {
		w = decoded[view.WhatIf](t, s.get("/api/whatifs/"+id))
		return !w.Open()
	}, wait, 2*time.Millisecond)
	return w
}

func faultIn(t *testing.T, w *httptest.ResponseRecorder) (f web.Fault) {
	t.Helper()
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f), w.Body)
	return f
}

func TestChangesAreTriedAndAdoptedOnce(t *testing.T) {
	shop := fewOrders(t)
	hold := make(chan struct{})
	s := triedSite(t, shop, hold)
	before := shop.Picture()
	hash := before.State.Hash()
	w := tryOf(t, s, "rush and stop", rushOf(s, "X-1", 20), `{"down":{"station":"W1","for":"3h","why":"bearing"}}`)
	require.True(t, w.Open())
	require.Empty(t, w.OfPlant)
	require.Len(t, w.Changes, 2)
	require.Equal(t, http.StatusConflict, s.send("/api/whatifs/"+w.ID+"/adopt", `{}`).Code, "nothing is compared yet")
	hold <- struct{}{}
	w = settled(t, s, w.ID)
	require.Equal(t, "done", w.State)
	require.Len(t, w.Comparison.Added, 1)
	require.Equal(t, before.Score.Orders+1, w.Comparison.After.Orders)
	require.Equal(t, 8, w.Comparison.Chances.Replications)
	for i := 1; i < len(w.Comparison.Moved); i++ {
		a, b := w.Comparison.Moved[i-1].By, w.Comparison.Moved[i].By
		require.GreaterOrEqual(t, max(a, -a), max(b, -b), "the biggest move first")
	}
	require.Empty(t, w.WhyNot)
	require.Same(t, before, shop.Picture(), "trying changes nothing")
	require.Equal(t, hash, before.State.Hash())

	// Of several who adopt it at once, one does.
	codes := make([]int, 4)
	var wait sync.WaitGroup
	for i := range codes {
		wait.Go(func() { codes[i] = s.send("/api/whatifs/"+w.ID+"/adopt", `{"by":"Ada"}`).Code })
	}
	wait.Wait()
	won := 0
	for _, code := range codes {
		if code == http.StatusOK {
			won++
			continue
		}
		require.Equal(t, http.StatusConflict, code)
	}
	require.Equal(t, 1, won)
	p := shop.Picture()
	require.Equal(t, 2, p.State.Lines["X-1/1"].Quantity)
	require.True(t, p.State.Stations["W1"].Down)
	schedtest.RequireOK(t, p.State, p.Now, p.Plan)
	again := s.send("/api/whatifs/"+w.ID+"/adopt", `{"by":"Bob"}`)
	require.Equal(t, http.StatusConflict, again.Code)
	require.Contains(t, faultIn(t, again).Message, "adopted already, by Ada")
	require.Same(t, p, shop.Picture())
	w = settled(t, s, w.ID)
	require.Equal(t, "Ada", w.Adopted.By)
	require.Contains(t, w.WhyNot, "adopted already")
}

// What happens in the shop between comparing and adopting is told, and nothing
// of the set is made.
func TestAComparisonThatNoLongerHoldsIsNotAdopted(t *testing.T) {
	shop := fewOrders(t)
	s := triedSite(t, shop, nil)
	w := settled(t, s, tryOf(t, s, "rush", rushOf(s, "X-2", 20)).ID)
	require.Empty(t, w.WhyNot)
	order := shop.Picture().Plan.Work[0].Order
	require.Equal(t, http.StatusOK, s.send("/api/report", fmt.Sprintf(`{"reports":[{"kind":"order.cancelled","data":{"order":%q}}]}`, order)).Code)
	p := shop.Picture()
	w = settled(t, s, w.ID)
	require.Contains(t, w.WhyNot, "the shop has moved on")
	refused := s.send("/api/whatifs/"+w.ID+"/adopt", `{}`)
	require.Equal(t, http.StatusConflict, refused.Code)
	require.Contains(t, faultIn(t, refused).Message, order)
	require.Same(t, p, shop.Picture())
	require.Nil(t, shop.Picture().State.Lines["X-2/1"])
	require.Nil(t, settled(t, s, w.ID).Adopted)
}

// Where the plant did not come from a file there is nothing for its changes to
// stand on top of.
func TestChangesOfAPlantWithoutAFileAreNotAdopted(t *testing.T) {
	shop := fewOrders(t)
	s := triedSite(t, shop, make(chan struct{}))
	w := tryOf(t, s, "a mandrel", `{"tool":{"id":"M-36","count":8}}`, rushOf(s, "X-3", 20))
	require.True(t, w.Open())
	require.Equal(t, []string{"tool M-36: 8 of them"}, w.OfPlant)
	s = triedSite(t, shop, nil)
	w = settled(t, s, tryOf(t, s, "a mandrel", `{"tool":{"id":"M-36","count":8}}`).ID)
	refused := s.send("/api/whatifs/"+w.ID+"/adopt", `{}`)
	require.Equal(t, http.StatusConflict, refused.Code)
	require.Contains(t, faultIn(t, refused).Message, "change the plant file and declare it")
}

// filed is a shop with a few orders whose plant was declared from its file.
func filed(t testing.TB) *webtest.Shop {
	t.Helper()
	shop := fewOrders(t)
	_, err := shop.Report(context.Background(), events.Event{
		ID: "the-file", Kind: events.PlantDeclared, Plant: "tallowmere", At: shop.Picture().Now, Data: events.PlantData{File: string(demofiles.Plant)},
	})
	require.NoError(t, err)
	return shop
}

// Changes of the plant stand on top of its file when they are adopted, told with
// the file, until they are taken off.
func TestChangesOfThePlantAreAdoptedOnTopOfItsFile(t *testing.T) {
	shop := filed(t)
	s := triedSite(t, shop, nil)
	mandrels := func() int { return len(shop.Picture().State.Plant.Tool("M-36").Units) }
	was := mandrels()
	one := settled(t, s, tryOf(t, s, "one mandrel more", fmt.Sprintf(`{"tool":{"id":"M-36","count":%d}}`, was+1), rushOf(s, "X-4", 20)).ID)
	require.Empty(t, one.WhyNot)
	require.Equal(t, http.StatusOK, s.send("/api/whatifs/"+one.ID+"/adopt", `{"by":"Ada"}`).Code)
	require.Equal(t, was+1, mandrels())
	require.NotNil(t, shop.Picture().State.Lines["X-4/1"])
	require.Empty(t, scheduler.Check(shop.Picture().State, shop.Picture().Plan.Made, shop.Picture().Plan))
	two := settled(t, s, tryOf(t, s, "two more", fmt.Sprintf(`{"tool":{"id":"M-36","count":%d}}`, was+3)).ID)
	require.Equal(t, http.StatusOK, s.send("/api/whatifs/"+two.ID+"/adopt", `{"by":"Ada"}`).Code)
	require.Equal(t, was+3, mandrels())

	x := decoded[view.OnTop](t, s.get("/api/plant/adopted"))
	require.Len(t, x.Sets, 2)
	require.Equal(t, "one mandrel more", x.Sets[0].Name)
	require.NotContains(t, x.Sets[0].Text, "X-4", "an order is not of the plant")
	require.Contains(t, s.get("/whatif").Body.String(), "one mandrel more")
	file := s.get("/api/plant.yaml").Body.String()
	require.True(t, strings.HasPrefix(file, string(demofiles.Plant)))
	require.Contains(t, file, "# name: one mandrel more")
	plant, findings := resources.ReadPlant("plant.yaml", []byte(file))
	require.NotNil(t, plant, "%v", findings)

	x = decoded[view.OnTop](t, s.send("/api/plant/adopted/"+x.Sets[0].Key+"/off", `{"by":"Bob"}`))
	require.Len(t, x.Sets, 1)
	require.Equal(t, was+3, mandrels(), "the other set still says how many there are")
	require.Equal(t, http.StatusConflict, s.send("/api/plant/adopted/000000000000/off", `{}`).Code)
	decoded[view.OnTop](t, s.send("/api/plant/adopted/"+x.Sets[0].Key+"/off", `{"by":"Bob"}`))
	require.Equal(t, was, mandrels())
	require.Equal(t, string(demofiles.Plant), s.get("/api/plant.yaml").Body.String())
	require.NotNil(t, shop.Picture().State.Lines["X-4/1"], "the order stays")
}

func TestWhatIfsAreStoppedRenamedAndDropped(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	s := triedSite(t, shop, make(chan struct{}))
	first, second := tryOf(t, s, "first", rushOf(s, "X-4", 20)), tryOf(t, s, "second", rushOf(s, "X-5", 20))
	for _, w := range []view.WhatIf{second, first} { // the second waits for the first
		require.Equal(t, http.StatusOK, s.send("/api/whatifs/"+w.ID+"/stop", "").Code)
		require.Equal(t, "stopped", settled(t, s, w.ID).State)
	}
	require.Contains(t, faultIn(t, s.send("/api/whatifs/"+first.ID+"/adopt", `{}`)).Message, "it was not compared")
	require.Equal(t, "the rush", decoded[view.WhatIf](t, s.call(http.MethodPatch, "/api/whatifs/"+first.ID, `{"name":" the rush "}`)).Name)
	for _, name := range []string{"", "  ", strings.Repeat("x", 81), "two\nlines", "a\ttab", "a\u2028line"} {
		quoted, err := json.Marshal(name)
		require.NoError(t, err)
		refused := s.call(http.MethodPatch, "/api/whatifs/"+first.ID, fmt.Sprintf(`{"name":%s}`, quoted))
		require.Equal(t, http.StatusBadRequest, refused.Code, name)
		require.Contains(t, faultIn(t, refused).Hint, "1 to 80 characters on one line")
		if name == "" {
			continue // the name in the text
		}
		refused = s.send("/api/whatifs", fmt.Sprintf(`{"name":%s,"changes":[%s]}`, quoted, rushOf(s, "X-7", 20)))
		require.Equal(t, http.StatusBadRequest, refused.Code, name)
		require.Contains(t, refused.Body.String(), "1 to 80 characters on one line")
	}
	l := decoded[view.WhatIfList](t, s.get("/api/whatifs"))
	require.Equal(t, 20, l.Most)
	require.Equal(t, []string{"second", "the rush"}, []string{l.WhatIfs[0].Name, l.WhatIfs[1].Name})
	require.Len(t, decoded[view.WhatIfList](t, s.call(http.MethodDelete, "/api/whatifs/"+second.ID, "")).WhatIfs, 1)
	require.Equal(t, http.StatusNotFound, s.get("/api/whatifs/"+second.ID).Code)
	for range 20 {
		tryOf(t, s, "more", rushOf(s, "X-6", 20))
	}
	require.Equal(t, http.StatusNotFound, s.get("/api/whatifs/"+first.ID).Code, "the oldest has gone")
	require.Len(t, decoded[view.WhatIfList](t, s.get("/api/whatifs")).WhatIfs, 20)
}

// Every mistake is told at once, with the change and the field.
func TestBadChangesNameTheRow(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	s := triedSite(t, shop, nil)
	before := shop.Picture()
	w := s.send("/api/whatifs", `{"name":"bad","changes":[{"tool":{"id":"M-36","count":8}},{"tool":{"id":"M-37"}},{"drop_order":{"order":"9999"}},{"oven":{}}],
		"text":"# more\n- station: {id: o1, count: 2}\n- down: {station: W1}\n"}`)
	require.Equal(t, http.StatusBadRequest, w.Code)
	f := faultIn(t, w)
	var at []string
	for _, r := range f.Rows {
		at = append(at, r.Where())
		require.Contains(t, f.Message, r.Message)
	}
	require.Equal(t, []string{"change 2, tool.count", "change 3, drop_order.order", "change 4, oven", "text, line 3, down"}, at)
	require.Contains(t, f.Message, "names no open order")
	for body, say := range map[string]string{
		`[]`:            "The body cannot be read: it must be an object, with keys in braces; found an array.",
		`{"name": 5}`:   "The body cannot be read: name cannot be a number; it is a text.",
		`{"name": "x"`:  "The body cannot be read: it ends in the middle.",
		`{"nmae": "x"}`: `The body cannot be read: unknown field "nmae".`,
		`{"name": "x", "changes": [{"tool": {"id": "M-35", "count": 1}}]}`: "did you mean M-36?",
		`{"name":"x"}`: "give at least one change",
		`{"changes":[{"tool":{"id":"M-36","count":8}}]}`:                                                   "name: is missing",
		`{"name":"x","changes":[{"tool":{"id":"M-37","count":8}}]}`:                                        "change 1, tool.id: names no tool of the plant",
		`{"name":"x","changes":[{"tool":{"id":"M-36","count":8}},{"station":{"id":"BALANCE","count":0}}]}`: "in the changed plant",
		`{"name":"x","changes":[{}]}`:                                                                      "change 1: must be one change",
		`{"name":"x","changes":[7]}`:                                                                       "change 1",
		`{"name":"x","changes":[{"tool":{"id":"M-36","count":8}}],"text":"name: y\nchanges: []"}`:          "give one of both",
		`{"name":"` + strings.Repeat("x", 81) + `","changes":[{"tool":{"id":"M-36","count":8}}]}`:          "allowed: 1 to 80 characters on one line",
		`{"text":"name: y\nchanges:\n  - tool: {id: M-36}\n"}`:                                             "text, line 3, tool.count",
		`{"text":"{"}`: "text, line 1",
		`{"name":"x","changes":[{"down":{"station":"W1","for":"3h","from":"2001-01-01 06:00"}}]}`: "before now",
		`{"name":"x","changes":[{"absent":{"crew":"winders","people":9,"for":"3h"}}]}`:            "change 1, absent.people: are more than the crew has; found \"9\"",
		`{"name":"x","changes":[{"absent":{"crew":"winders"}}]}`:                                  "change 1, absent: must say how long, in one way",
		`{"name":"x","price":1}`: "unknown field",
	} {
		w := s.send("/api/whatifs", body)
		require.Equal(t, http.StatusBadRequest, w.Code, body)
		require.Contains(t, faultIn(t, w).Message, say, body)
		require.NotContains(t, faultIn(t, w).Message, "?.", body)
	}
	require.Same(t, before, shop.Picture())
	require.Empty(t, decoded[view.WhatIfList](t, s.get("/api/whatifs")).WhatIfs)
	for _, path := range []string{"/stop", "/adopt"} {
		require.Equal(t, http.StatusNotFound, s.send("/api/whatifs/none"+path, `{}`).Code)
	}
	require.Equal(t, http.StatusNotFound, s.call(http.MethodDelete, "/api/whatifs/none", "").Code)
	require.Equal(t, http.StatusNotFound, demoSite(t).send("/api/whatifs", `{}`).Code)
}

// Any file of changes is tried as it is, and a text of changes beside rows.
func TestChangesMayBeText(t *testing.T) {
	shop, err := webtest.Demo()
	require.NoError(t, err)
	s := triedSite(t, shop, make(chan struct{}))
	file, err := os.ReadFile("../testdata/changes/every-kind.yaml")
	require.NoError(t, err)
	body, err := json.Marshal(web.WhatIfBody{Text: string(file)})
	require.NoError(t, err)
	w := decoded[view.WhatIf](t, s.send("/api/whatifs", string(body)))
	require.Equal(t, "Every kind of change", w.Name)
	require.Len(t, w.Changes, 20)
	body, err = json.Marshal(web.WhatIfBody{
		Name: "both: \"quoted\" <b>", Note: "why \u2028 so", Changes: []json.RawMessage{json.RawMessage("{\n\"tool\": {\"id\":\"M-36\",\n\"count\": 8}}")}, Text: "- recipe: {id: B, fixed: 7h}",
	})
	require.NoError(t, err)
	w = decoded[view.WhatIf](t, s.send("/api/whatifs", string(body)))
	require.Equal(t, "both: \"quoted\" <b>", w.Name)
	require.Equal(t, "why \u2028 so", w.Note)
	require.Equal(t, []string{"tool M-36: 8 of them", "recipe B: fixed 7h"}, w.Changes)
	require.Len(t, w.Rows, 1)
}

// FuzzChangesAsked sends any row and any text: what cannot be tried is explained,
// and the shop stays as it is.
func FuzzChangesAsked(f *testing.F) {
	shop, err := webtest.Demo()
	require.NoError(f, err)
	s := triedSite(f, shop, make(chan struct{}))
	before := shop.Picture()
	hash := before.State.Hash()
	f.Add(`{"tool":{"id":"M-36","count":8}}`, "- recipe: {id: B, fixed: 7h}")
	f.Add(`{"down":{"station":"W1","for":"3h"}}`, "name: x\nchanges: []")
	f.Add(`{"absent":{"crew":"winders","people":2,"for":"2d"}}`, "- absent: {crew: winders, calendar: late, for: 1d}")
	f.Add(`{"crew":null}`, "- &a [*a]")
	f.Add(`{"a":"\u2028\n"}`, "---\n- x")
	f.Add(`[]`, "\t- \x00")
	f.Fuzz(func(t *testing.T, row, text string) {
		body := web.WhatIfBody{Name: "any", Text: text}
		if json.Valid([]byte(row)) {
			body.Changes = []json.RawMessage{json.RawMessage(row)}
		}
		sent, err := json.Marshal(body)
		require.NoError(t, err)
		w := s.send("/api/whatifs", string(sent))
		require.Contains(t, []int{http.StatusOK, http.StatusBadRequest, http.StatusConflict}, w.Code, w.Body)
		require.Same(t, before, shop.Picture())
		require.Equal(t, hash, before.State.Hash())
	})
}
