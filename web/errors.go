// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"towpath/events"
	"towpath/scheduler"
)

// Fault is what every error looks like from outside. Code is stable; Message
// says what is wrong and Hint what to do, for a person.
type Fault struct {
	Status  int    `json:"-"`
	Code    string `json:"code" doc:"stable code: bad_request, not_found, method, refused, too_large, busy, starting, cross_site, internal"`
	Message string `json:"message" doc:"what is wrong"`
	Hint    string `json:"hint" doc:"what to do; may be empty"`

	Rows []RowFault `json:"rows,omitempty" doc:"what is wrong with each change of a set; left out: it is not about changes"`
}

func (f *Fault) Error() string { return f.Message }

func fault(status int, code, message, hint string) *Fault {
	return &Fault{Status: status, Code: code, Message: message, Hint: hint}
}

// faultOf maps any error to a Fault; the second result says whether the
// details were hidden and belong in the program's own log.
func faultOf(err error) (*Fault, bool) {
	var known *Fault
	var refusal *Refusal
	var engine *scheduler.Refusal
	var tooLarge *http.MaxBytesError
	var route *echo.HTTPError
	switch {
	case errors.As(err, &known):
		return known, false
	case errors.As(err, &refusal):
		return fault(http.StatusConflict, "refused", refusal.Reason, refusal.Hint), false
	case errors.As(err, &engine):
		text := strings.TrimPrefix(engine.About+": "+engine.Text, ": ")
		return fault(http.StatusConflict, "refused", text, engine.Hint), false
	case len(events.Faults(err)) > 0:
		return fault(http.StatusUnprocessableEntity, "bad_request", "The report cannot be read: "+oneLine(err), "Compare it with the event's description in the API document."), false
	case errors.As(err, &tooLarge):
		return fault(http.StatusRequestEntityTooLarge, "too_large", "The request is larger than is accepted.", "Send fewer events at once."), false
	case errors.Is(err, context.DeadlineExceeded):
		return fault(http.StatusServiceUnavailable, "busy", "The shop did not answer in time; the report may have been stored.", "Send the same report again, with its id: it counts once."), false
	case errors.Is(err, context.Canceled): // whoever asked is gone, as a rule, or the program is being stopped
		return fault(http.StatusServiceUnavailable, "busy", "The request was given up before it was answered; a report may have been stored.", "Send the same again; a report counts once, with its id."), false
	case errors.As(err, &route):
		return routeFault(route), false
	}
	return fault(http.StatusInternalServerError, "internal", "Something went wrong inside the program.", "Try again; if it stays, give this number to whoever runs it: "+newID()[:8]), true
}

func routeFault(e *echo.HTTPError) *Fault {
	switch e.Code {
	case http.StatusNotFound:
		return fault(e.Code, "not_found", "There is no such page.", "Go to the floor, or check the address.")
	case http.StatusMethodNotAllowed:
		return fault(e.Code, "method", "This address does not take that kind of request.", "See /api/openapi.yaml for what it takes.")
	}
	return fault(e.Code, "bad_request", http.StatusText(e.Code), "")
}

// oneLine joins the faults of an unreadable report.
func oneLine(err error) string {
	var parts []string
	for _, f := range events.Faults(err) {
		parts = append(parts, f.Error())
	}
	return strings.Join(parts, "; ")
}

// handleError is the one place where errors become answers: JSON below /api,
// a page elsewhere.
func (s *Server) handleError(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	f, hidden := faultOf(err)
	if hidden {
		s.log.Error("request failed", "path", c.Request().URL.Path, "err", err, "hint", f.Hint)
	}
	if f.Status == http.StatusServiceUnavailable {
		c.Response().Header().Set("Retry-After", "5")
	}
	var sent error
	if path := c.Request().URL.Path; strings.HasPrefix(path, "/api/") || path == "/live" || c.Request().Method == http.MethodPost {
		sent = c.JSON(f.Status, f)
	} else {
		sent = s.page(c, f.Status, "fault", f.Message, "", f)
	}
	if sent != nil && !c.Response().Committed { // the page of the error is broken itself
		s.log.Error("error page failed", "err", sent)
		sent = c.String(f.Status, f.Message+"\n"+f.Hint+"\n")
	}
	if sent != nil {
		s.log.Debug("error answer not sent", "err", sent)
	}
}
