// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/web/view"
	"towpath/web/webtest"
)

// crew is a crew as the people page has it.
func crew(t *testing.T, s *site, id string) view.CrewSheet {
	t.Helper()
	w := s.get("/api/people")
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	var p view.People
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &p))
	for _, c := range p.Crews {
		if c.ID == id {
			return c
		}
	}
	t.Fatalf("no crew %s", id)
	return view.CrewSheet{}
}

// press sends what an action of a page reports.
func press(t *testing.T, s *site, a view.Action) {
	t.Helper()
	body, err := json.Marshal(map[string]any{"by": "KM", "reports": a.Reports})
	require.NoError(t, err)
	w := s.post(string(body), "application/json")
	require.Equal(t, http.StatusOK, w.Code, w.Body)
}

// What the page offers is believed as it stands, and is seen at once.
func TestPeopleAreReportedAwayAndBack(t *testing.T) {
	s := fresh(t)
	was := crew(t, s, "winders")
	require.Empty(t, was.Absences)
	require.Contains(t, s.get("/people").Body.String(), "Nobody is reported away")
	press(t, s, was.Report)
	is := crew(t, s, "winders")
	require.Equal(t, was.There-1, is.There)
	require.Equal(t, was.Of, is.Of)
	require.Len(t, is.Absences, 1)
	require.Equal(t, "KM", is.Absences[0].By)
	require.Contains(t, s.get("/people").Body.String(), "nobody knows until when")
	require.Contains(t, s.get("/station/W1").Body.String(), "Winders 1 of 3, nobody knows until when")
	require.NotContains(t, s.get("/station/PACK").Body.String(), "Winders")
	w := s.post(`{"reports":[{"kind":"crew.absent","data":{"crew":"winders","people":7}}]}`, "application/json")
	require.Equal(t, http.StatusConflict, w.Code)
	require.Contains(t, w.Body.String(), "count those of it who are away")
	w = s.post(`{"reports":[{"kind":"crew.absent","data":{"crew":"winders","people":2,"calendar":"early"}}]}`, "application/json")
	require.Contains(t, w.Body.String(), "2 of its shift early are away, and it has 1")
	press(t, s, is.Absences[0].Actions[0])
	require.Empty(t, crew(t, s, "winders").Absences)
	require.Equal(t, was.There, crew(t, s, "winders").There)
}

// An alert about people leads to the page on which they are reported.
func TestAlertOfPeopleLeadsToThem(t *testing.T) {
	shop := demo(t)
	s := newSite(t, shop)
	press(t, s, crew(t, s, "winders").Report)
	shop.Pass(2 * resources.Hour)
	require.Contains(t, s.get("/alerts").Body.String(), `href="/people#crew-winders"`)
}

// put puts a value into a field of the dialog as a person does.
func (b *tab) put(field, value string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`(() => {
		const input = document.querySelector('#ask [name="%s"]');
		if (!input) return false;
		input.value = %q;
		input.dispatchEvent(new Event("input", { bubbles: true }));
		return true;
	})()`, field, value))
}

func (b *tab) ask(selector string) {
	b.t.Helper()
	b.click(selector)
	b.run(chromedp.WaitVisible(chromedp.CSS("#ask")))
}

func (b *tab) yes() {
	b.t.Helper()
	b.click("#ask .yes")
	b.run(chromedp.WaitVisible(chromedp.CSS("#outcome")))
	require.Contains(b.t, b.text("#outcome p"), "✓ Recorded")
}

// A winder does not come; later it is known until when; then they are back.
func TestBrowserReportsPeopleAway(t *testing.T) {
	shop := demo(t)
	b := open(t, shop, 1440, 900)
	b.visit("/people")
	b.shoot("people-nobody-1440")
	b.ask(`#crew-winders .does button`)
	require.Equal(t, "early", b.value("blank-calendar"), "of the shift that is on")
	b.put("by", "KM")
	b.shoot("people-ask-1440")
	b.yes()
	b.until(`(document.querySelector("[data-key='away-winders']") || document.body).innerText.includes("nobody knows until when")`)
	b.shoot("people-away-1440")
	absence := only(t, shop)
	require.Equal(t, "early", absence.Calendar)
	require.Zero(t, absence.Until)

	b.ask(`[data-key="away-winders"] button:nth-of-type(2)`)
	require.Equal(t, "1", b.value("blank-people"))
	b.put("blank-until", "2026-03-04T06:00")
	b.run(chromedp.Click(chromedp.Search(`//dialog[@id="ask"]//span[text()="Training"]`), chromedp.NodeVisible))
	b.shoot("people-change-1440")
	b.yes()
	b.until(`document.querySelector("[data-key='away-winders']").innerText.includes("until Wed 06:00")`)
	changed := only(t, shop)
	require.Equal(t, absence.From, changed.From, "what was left alone is as it was")
	require.Equal(t, "Training", changed.Why)
	require.Equal(t, shop.Picture().Now+2*resources.Tick(resources.Day), changed.Until)

	b.ask(`[data-key="away-winders"] button:nth-of-type(2)`)
	require.Equal(t, "2026-03-04T06:00", b.value("blank-until"))
	b.until(`document.querySelector('#ask [name=reason]:checked').value === "Training"`)
	b.click("#ask .no")
	b.run(chromedp.WaitNotVisible(chromedp.CSS("#ask")))

	b.ask(`[data-key="away-winders"] button:nth-of-type(1)`)
	b.yes()
	b.until(`!document.querySelector("[data-key='away-winders']")`)
	require.Empty(t, shop.Picture().State.Absences)
	b.click("#outcome [data-back]") // they were not back
	b.until(`document.querySelector("[data-key='away-winders']") !== null`)
	require.Equal(t, changed, only(t, shop))
}

// Whatever is reported of people makes no page wider than its screen.
func TestBrowserPeopleAtSizes(t *testing.T) {
	shop := demo(t)
	now := shop.Picture().Now
	away := func(id string, d events.AbsentData) {
		_, err := shop.Report(t.Context(), events.Event{ID: id, Kind: events.CrewAbsent, Plant: "tallowmere", At: now, By: "KM", Data: d})
		require.NoError(t, err)
	}
	away("one", events.AbsentData{Crew: "winders", People: 1, Calendar: "early", Why: strings.Repeat("elsewhere", 12)})
	away("two", events.AbsentData{Crew: "winders", People: 1, Calendar: "late", From: now + 86400, Until: now + 3*86400, Why: "Training"})
	away("three", events.AbsentData{Crew: "tester", People: 1, Until: now + 6*3600, Why: "Not in today"})
	away("four", events.AbsentData{Crew: "finishers", People: 2, From: now + 2*86400, Until: now + 9*86400, Why: "Holiday"})
	for _, size := range some([][2]int64{{1920, 1080}, {1440, 900}, {820, 1180}, {390, 844}, {360, 740}}) {
		b := open(t, shop, size[0], size[1])
		for name, path := range map[string]string{"people": "/people", "wall": "/people?wall=1", "station": "/station/W1"} {
			b.visit(path)
			b.shoot(fmt.Sprintf("away-%s-%d", name, size[0]))
			wide, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](tooWide))
			require.NoError(t, err)
			require.Empty(t, wide, "%s is wider than a screen of %d", path, size[0])
		}
		b.visit("/people")
		b.ask(`#crew-winders .does button`)
		b.shoot(fmt.Sprintf("away-ask-%d", size[0]))
		over, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`(({ scrollWidth, clientWidth }) => scrollWidth > clientWidth)(document.querySelector("#ask"))`))
		require.NoError(t, err)
		require.False(t, over, "the dialog is wider than a screen of %d", size[0])
		bare, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`[...document.querySelectorAll("#ask :is(input, select)")].filter((e) => !e.labels.length).map((e) => e.name).join(", ")`))
		require.NoError(t, err)
		require.Empty(t, bare, "each input has a label")
	}
}

// A day and a time are meant by the plant's clock, whatever the device's is.
func TestBrowserReadsTimesByThePlantsClock(t *testing.T) {
	b := open(t, demo(t), 820, 1180)
	b.visit("/people")
	for _, c := range []struct{ zone, field, instant string }{
		{"Europe/London", "2026-03-04T06:00", "2026-03-04T06:00:00Z"},
		{"Europe/London", "2026-07-04T06:00", "2026-07-04T05:00:00Z"},
		{"Europe/London", "2026-03-29T00:59", "2026-03-29T00:59:00Z"},
		{"Europe/London", "2026-03-29T02:00", "2026-03-29T01:00:00Z"},
		{"Europe/London", "2026-10-25T01:30", "2026-10-25T00:30:00Z"}, // comes twice: the first
		{"Europe/London", "2026-10-25T02:00", "2026-10-25T02:00:00Z"},
		{"America/New_York", "2026-03-02T06:00", "2026-03-02T11:00:00Z"},
		{"Asia/Kathmandu", "2026-03-02T00:00", "2026-03-01T18:15:00Z"},
		{"Pacific/Auckland", "2026-04-05T02:30", "2026-04-04T13:30:00Z"}, // comes twice: the first
	} {
		b.until(fmt.Sprintf(`(async () => {
			const { fieldOf, instantOf } = await import(document.querySelector('script[src*="live.js"]').src.replace("live.js", "clock.js"));
			document.getElementById("main").dataset.zone = %[1]q;
			const at = instantOf(%[2]q);
			window.read = new Date(at * 1000).toISOString().replace(".000", "") + " " + fieldOf(at);
			return true;
		})()`, c.zone, c.field))
		read, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`window.read`))
		require.NoError(t, err)
		require.Equal(t, c.instant+" "+c.field, read, c.zone)
	}
	b.until(`(async () => {
		const { instantOf } = await import(document.querySelector('script[src*="live.js"]').src.replace("live.js", "clock.js"));
		document.getElementById("main").dataset.zone = "Europe/London";
		window.read = new Date(instantOf("2026-03-29T01:30") * 1000).toISOString();
		return true;
	})()`)
	gap, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`window.read`))
	require.NoError(t, err)
	require.Equal(t, "2026-03-29T01:30:00.000Z", gap, "a time that is left out is read as before the change")
}

// value is what a field of the dialog holds.
func (b *tab) value(field string) string {
	b.t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](fmt.Sprintf(`document.querySelector('#ask [name="%s"]').value`, field)))
	require.NoError(b.t, err)
	return out
}

// only is the one absence there is.
func only(t *testing.T, shop *webtest.Shop) scheduler.Absence {
	t.Helper()
	all := shop.Picture().State.Absences
	require.Len(t, all, 1)
	for _, a := range all {
		return *a
	}
	return scheduler.Absence{}
}
