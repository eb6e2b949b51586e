// SPDX-License-Identifier: Apache-2.0

package web

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/labstack/echo/v4"

	"towpath/events"
	"towpath/resources"
	"towpath/web/view"
)

// A calendar program asks again after this, if it follows RFC 7986.
const feedAgain = "PT15M"

// datesFeed answers with orders as a calendar (iCalendar, RFC 5545), for a
// calendar program to subscribe to: one entry an order, when its carrier leaves.
func (s *Server) datesFeed(c echo.Context) error {
	q, err := datesQuery(c)
	if err != nil {
		return err
	}
	v := s.view()
	base := url.URL{Scheme: c.Scheme(), Host: c.Request().Host, Path: "/orders/"}
	var b bytes.Buffer
	if err := calendarOf(v, v.Dates(q), base.String()).SerializeTo(&b, ics.WithNewLine("\r\n")); err != nil {
		return err
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.Blob(http.StatusOK, "text/calendar; charset=utf-8", b.Bytes())
}

// calendarOf has an entry for each order that has a date. Its identity stays when
// the order or the plan changes, so that the entry moves instead of being there
// twice. orders is where the pages of orders are.
func calendarOf(v *view.View, d view.Dates, orders string) *ics.Calendar {
	now := instant(v.Clock().Now)
	cal := ics.NewCalendar()
	cal.SetProductId("-//Towpath//ship dates//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetName("Ship dates, " + v.Plant())
	cal.SetRefreshInterval(feedAgain)
	for i := range d.Orders {
		o := &d.Orders[i]
		if o.Due == 0 {
			continue
		}
		e := cal.AddEvent(events.Token(o.ID) + "@" + events.Token(v.Picture.State.PlantName()))
		e.SetDtStampTime(now)
		e.SetStartAt(instant(o.Due))
		e.SetSequence(int(d.Head.Plan))
		e.SetSummary(standingWords(&o.Order) + ": " + strings.TrimSuffix(o.ID+", "+o.Customer, ", "))
		e.SetDescription(orderWords(v, o))
		e.SetURL(orders + url.PathEscape(o.ID))
		e.SetTimeTransparency(ics.TransparencyTransparent) // nobody is busy then
	}
	return cal
}

func instant(t resources.Tick) time.Time { return time.Unix(int64(t), 0).UTC() }

// standingWords begin with what wants a person.
func standingWords(o *view.Order) string {
	if o.Predicted != 0 && o.Slack < 0 {
		return fmt.Sprintf("%s, %s after its date", o.Standing.Word(), view.Span(-o.Slack))
	}
	return o.Standing.Word()
}

func orderWords(v *view.View, o *view.DateRow) string {
	var lines []string
	for i := range o.Lines {
		lines = append(lines, fmt.Sprintf("%d × %s", o.Lines[i].Quantity, o.Lines[i].Name))
	}
	lines = append(lines, "Last carrier that keeps the date: "+v.Clock().When(o.Due))
	if o.Predicted != 0 {
		lines = append(lines, "Complete by the plan: "+v.Clock().When(o.Predicted))
	}
	if o.Promised != 0 {
		lines = append(lines, "Promised: "+v.Clock().When(o.Promised))
	}
	if o.Why != "" {
		lines = append(lines, "Longest wait: "+o.Why)
	}
	return strings.Join(lines, "\n")
}
