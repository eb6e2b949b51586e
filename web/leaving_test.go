// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler/learn"
	"towpath/scheduler/promise"
	"towpath/web"
	"towpath/web/webtest"
)

// logged is a history that is read from a log, as long as somebody waits for it.
type logged struct {
	unruly
	broken *bool
}

func (l logged) Stops(ctx context.Context) ([]learn.Stop, resources.Tick, error) {
	if ctx.Err() != nil {
		return nil, 0, ctx.Err()
	}
	if *l.broken {
		return nil, 0, errors.New("the bus is away")
	}
	return l.unruly.Stops(ctx)
}

// gone asks as somebody who has left.
func (s *site) gone(method, path, body string) *httptest.ResponseRecorder {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r := httptest.NewRequest(method, path, strings.NewReader(body)).WithContext(ctx)
	r.Header.Set("Content-Type", "application/json")
	return s.do(r)
}

// Whoever leaves before the log was read, and a log that cannot be read for a
// while, spoil nothing for those who ask later.
func TestWhatCouldNotBeReadIsReadAgain(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	broken := false
	s, log := loggedSite(t, web.Options{Shop: shop, History: logged{unruly{shop.Picture().State.Plant.StartsAt}, &broken}})
	s.gone(http.MethodGet, "/api/learn", "")
	require.Empty(t, log.String(), "nothing is wrong with the log")
	broken = true
	require.False(t, decoded[learn.Report](t, s.get("/api/learn")).Log)
	require.Contains(t, log.String(), "the bus is away")
	broken = false
	require.True(t, decoded[learn.Report](t, s.get("/api/learn")).Log)
	broken = true
	require.True(t, decoded[learn.Report](t, s.get("/api/learn")).Log, "what was read is kept")
}

// awaiting is a shop that answers nobody in time.
type awaiting struct{ web.Shop }

func (awaiting) Report(ctx context.Context, _ ...events.Event) (web.Outcome, error) {
	<-ctx.Done()
	return web.Outcome{}, ctx.Err()
}

// Whoever leaves is no fault of the program.
func TestWhoLeavesIsNoFault(t *testing.T) {
	shop, err := demoOnce()
	require.NoError(t, err)
	s, log := loggedSite(t, web.Options{Shop: awaiting{shop}})
	w := s.gone(http.MethodPost, "/api/report", `{"reports":[{"kind":"station.down","station":"W1","data":{"why":"belt"}}]}`)
	require.Equal(t, http.StatusServiceUnavailable, w.Code)
	require.Equal(t, "busy", faultIn(t, w).Code)
	require.Empty(t, log.String())
}

// hurried notes for how long it may look for an answer.
type hurried struct {
	*webtest.Promiser
	within *time.Duration
}

func (h hurried) note(ctx context.Context) error {
	until, bounded := ctx.Deadline()
	if bounded {
		*h.within = time.Until(until)
	}
	return context.DeadlineExceeded
}

func (h hurried) Promise(ctx context.Context, ask promise.Ask) (*promise.Answer, error) {
	if ask.Quantity == 2 {
		return nil, h.note(ctx)
	}
	return h.Promiser.Promise(ctx, ask)
}

func (h hurried) Keep(ctx context.Context, _ promise.Ask, _ web.Keep) (*promise.Held, error) {
	return nil, h.note(ctx)
}

// An answer for a date, and capacity that is kept, must come while a refusal can
// still be sent, which says what may have come of it.
func TestAskingAndKeepingEndInTime(t *testing.T) {
	shop, within := fewOrders(t), time.Duration(0)
	s, log := loggedSite(t, web.Options{Shop: shop, Promise: hurried{&webtest.Promiser{Shop: shop}, &within}})
	w := s.send("/api/questions", `{"product":"HS-M","quantity":2,"wish":"`+wishOf(s, 20)+`"}`)
	require.Equal(t, http.StatusServiceUnavailable, w.Code)
	require.Contains(t, w.Body.String(), "no answer in time")
	require.True(t, within > 0 && within <= 15*time.Second, within)

	id := askFor(t, s, 1, 20, "").ID
	within = 0
	w = s.send("/api/questions/"+id+"/keep", `{}`)
	require.Equal(t, http.StatusServiceUnavailable, w.Code)
	require.Contains(t, w.Body.String(), "may be kept all the same")
	require.True(t, within > 0 && within <= 15*time.Second, within)
	require.Empty(t, log.String())
}
