// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/stretchr/testify/require"

	"towpath/web/view"
)

func feedOf(t *testing.T, s *site, path string) *ics.Calendar {
	t.Helper()
	w := s.get(path)
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	require.Equal(t, "text/calendar; charset=utf-8", w.Header().Get("Content-Type"))
	text := w.Body.String()
	require.True(t, strings.HasSuffix(text, "END:VCALENDAR\r\n"))
	for line := range strings.Lines(text) { // RFC 5545, section 3.1
		require.True(t, strings.HasSuffix(line, "\r\n"), line)
		require.LessOrEqual(t, len(line)-2, 75, line)
	}
	cal, err := ics.ParseCalendar(strings.NewReader(text))
	require.NoError(t, err)
	return cal
}

// A calendar program finds each open order when its carrier leaves, with how it
// stands, and may be given a part of them.
func TestDatesAsACalendar(t *testing.T) {
	site := demoSite(t)
	var dates view.Dates
	require.NoError(t, json.Unmarshal(site.get("/api/dates").Body.Bytes(), &dates))
	require.NotEmpty(t, dates.Orders)
	cal := feedOf(t, site, "/api/dates.ics")
	require.Len(t, cal.Events(), len(dates.Orders))
	seen := map[string]bool{}
	for i, e := range cal.Events() {
		o := &dates.Orders[i]
		require.False(t, seen[e.Id()])
		seen[e.Id()] = true
		start, err := e.GetStartAt()
		require.NoError(t, err)
		require.Equal(t, time.Unix(int64(o.Due), 0).UTC(), start.UTC())
		summary := e.GetProperty(ics.ComponentPropertySummary).Value
		require.True(t, strings.HasPrefix(summary, o.Standing.Word()), summary)
		require.Contains(t, ics.FromText(summary), o.ID+", "+o.Customer)
		require.Equal(t, "http://example.com/orders/"+o.ID, e.GetProperty(ics.ComponentPropertyUrl).Value)
		about := ics.FromText(e.GetProperty(ics.ComponentPropertyDescription).Value)
		require.Contains(t, about, o.Lines[0].Name)
		require.Contains(t, about, "Complete by the plan: ")
	}
	some := dates.Orders[0].Customer
	require.Less(t, len(feedOf(t, site, "/api/dates.ics?q="+strings.Fields(some)[0]).Events()), len(dates.Orders))
	require.Empty(t, feedOf(t, site, "/api/dates.ics?show=complete").Events())
	require.Equal(t, http.StatusBadRequest, site.get("/api/dates.ics?show=nonsense").Code)
	require.Contains(t, site.get("/dates?show=trouble&q=a").Body.String(), `href="/api/dates.ics?q=a&amp;show=trouble"`)
}
