// SPDX-License-Identifier: Apache-2.0

package web

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"
)

// Limits of one request.
const (
	maxBody      = 1 << 20
	requestTime  = 30 * time.Second // to read it, and to have written its answer
	answerWithin = 25 * time.Second // to find its answer: what took longer can still be said
	headerTime   = 10 * time.Second
	idleTime     = 2 * time.Minute
	maxHeaders   = 32 << 10
	reportWithin = 15 * time.Second
)

// policy forbids what the pages do not need: they have no inline script or
// style and load nothing from elsewhere.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// guard sets headers, refuses what another site's page sends, bounds the body
// and the time of a request: of its connection, and of the work for its answer.
func (s *Server) guard(next echo.HandlerFunc) echo.HandlerFunc {
	cross := http.NewCrossOriginProtection()
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		r := c.Request()
		if err := cross.Check(r); err != nil {
			return fault(http.StatusForbidden, "cross_site", "This request comes from another site's page and is not accepted.", "Report from Towpath's own pages, or from a program.")
		}
		r.Body = http.MaxBytesReader(c.Response(), r.Body, maxBody)
		if r.URL.Path != "/live" { // the stream sets its own deadlines
			deadline := time.Now().Add(requestTime)
			control := http.NewResponseController(c.Response())
			// A writer without deadlines (a test's recorder) has none to set.
			_ = control.SetWriteDeadline(deadline)
			_ = control.SetReadDeadline(deadline)
			ctx, cancel := context.WithTimeout(r.Context(), answerWithin)
			defer cancel()
			c.SetRequest(r.WithContext(ctx))
		}
		return next(c)
	}
}
