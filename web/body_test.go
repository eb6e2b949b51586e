// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A body that is not said to be JSON is not read, whatever is in it: a form of
// another site's page can send text, but cannot say that it is JSON.
func TestBodiesAreJSON(t *testing.T) {
	s := demoSite(t)
	send := func(kind, body string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodPost, "/api/questions", strings.NewReader(body))
		if kind != "" {
			r.Header.Set("Content-Type", kind)
		}
		return s.do(r)
	}
	for _, kind := range []string{"", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "application/jsonp", "application/json;;", ";"} {
		w := send(kind, `{"product":"HS-M"}`)
		require.Equal(t, http.StatusUnsupportedMediaType, w.Code, "%q: %s", kind, w.Body)
		require.Contains(t, w.Body.String(), "application/json", kind)
	}
	for _, kind := range []string{"application/json", "Application/JSON; charset=utf-8"} {
		require.Equal(t, http.StatusBadRequest, send(kind, `{"produce":"HS-M"}`).Code, "%q is read", kind)
	}
	require.NotEqual(t, http.StatusUnsupportedMediaType, send("text/plain", "").Code, "there is nothing to read")
}
