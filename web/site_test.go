// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/web"
	"towpath/web/webtest"
)

// patience is how long a test waits for what is done beside it: only what hangs
// takes so long, on a slow machine with the race detector too.
const patience = 10 * time.Minute

// site is a server over a shop in memory.
type site struct {
	shop    web.Shop
	server  *web.Server
	handler http.Handler
}

func newSite(t testing.TB, shop web.Shop) *site {
	t.Helper()
	server, err := web.New(web.Options{Shop: shop, Version: "test"})
	require.NoError(t, err)
	return &site{shop: shop, server: server, handler: server.Handler()}
}

var demoOnce = sync.OnceValues(func() (*webtest.Shop, error) { return worked(26 * resources.Hour) })

// worked is the demo shop after a stretch of simulated work.
func worked(after resources.Seconds) (*webtest.Shop, error) {
	shop, err := webtest.Demo()
	if err != nil {
		return nil, err
	}
	return shop, shop.Advance(shop.Picture().Now+resources.Tick(after), 3*resources.Hour)
}

// demoSite is the demo on its second day. It is shared: tests that report
// make their own.
func demoSite(t testing.TB) *site {
	t.Helper()
	shop, err := demoOnce()
	require.NoError(t, err)
	return newSite(t, shop)
}

func (s *site) get(path string) *httptest.ResponseRecorder {
	return s.do(httptest.NewRequest(http.MethodGet, path, nil))
}

func (s *site) post(body, contentType string, headers ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, "/api/report", strings.NewReader(body))
	r.Header.Set("Content-Type", contentType)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	return s.do(r)
}

func (s *site) do(r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.handler.ServeHTTP(w, r)
	return w
}
