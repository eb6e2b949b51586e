// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/web"
	"towpath/web/webtest"
)

// starting is a shop that still reads its log.
type starting struct{ web.Shop }

func (starting) Picture() *web.Picture { return &web.Picture{Starting: true} }

// While the log is being read there is nothing to answer with: an empty answer
// would be taken for an empty shop.
func TestNothingIsAnsweredWhileTheLogIsRead(t *testing.T) {
	shop := starting{webtest.Empty(resources.Tick(1772438400))}
	s := newSite(t, shop)
	for _, e := range web.Endpoints() {
		if e.Path == "/api/sign" {
			require.Equal(t, http.StatusOK, s.get(e.Path).Code)
			continue
		}
		path := strings.NewReplacer(":order", "A", ":station", "W1", ":whatif", "x", ":question", "x", ":promise", "P-1", ":set", "s").Replace(e.Path)
		w := s.call(e.Method, path, `{}`)
		require.Equal(t, http.StatusServiceUnavailable, w.Code, "%s %s: %s", e.Method, path, w.Body)
		require.Equal(t, "starting", faultIn(t, w).Code, path)
		require.NotEmpty(t, w.Header().Get("Retry-After"), path)
	}
	for _, path := range []string{"/floor", "/trace", "/learn"} {
		w := s.get(path)
		require.Equal(t, http.StatusOK, w.Code, path)
		require.Contains(t, w.Body.String(), "reading its log", path)
	}
}
