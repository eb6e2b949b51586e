// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/web"
	"towpath/web/shelf"
	"towpath/web/view"
	"towpath/web/webtest"
)

// shelvedSite is a site whose sets of changes are kept in a folder, until it is
// shut down.
func shelvedSite(t *testing.T, shop *webtest.Shop, dir string, hold chan struct{}) (s *site, shut func()) {
	t.Helper()
	kept, err := shelf.Open(dir)
	require.NoError(t, err)
	server, err := web.New(web.Options{Shop: shop, Shelf: kept, Trier: &webtest.Trier{Shop: shop, Hold: hold, Replications: 8}})
	require.NoError(t, err)
	return &site{shop: shop, server: server, handler: server.Handler()}, func() {
		server.Close()
		require.NoError(t, kept.Close())
	}
}

func TestWhatWasTriedOutlivesTheProgram(t *testing.T) {
	shop, dir := fewOrders(t), t.TempDir()
	hold := make(chan struct{}, 2)
	s, shut := shelvedSite(t, shop, dir, hold)
	hold <- struct{}{}
	w := settled(t, s, tryOf(t, s, "rush", rushOf(s, "X-1", 20)).ID)
	require.Equal(t, "done", w.State)
	require.Equal(t, http.StatusOK, s.call(http.MethodPatch, "/api/whatifs/"+w.ID, `{"name":"rush of Ada"}`).Code)
	hold <- struct{}{}
	gone := settled(t, s, tryOf(t, s, "never mind", rushOf(s, "X-2", 20)).ID)
	require.Equal(t, http.StatusOK, s.call(http.MethodDelete, "/api/whatifs/"+gone.ID, "").Code)
	cut := tryOf(t, s, "cut short", rushOf(s, "X-3", 20))
	require.True(t, cut.Open())
	shut()

	s, shut = shelvedSite(t, shop, dir, hold)
	defer shut()
	list := decoded[view.WhatIfList](t, s.get("/api/whatifs")).WhatIfs
	require.Len(t, list, 2, "the newest first")
	require.Equal(t, []string{"cut short", "rush of Ada"}, []string{list[0].Name, list[1].Name})
	require.Equal(t, "stopped", list[0].State)
	require.True(t, list[1].Ready && list[1].Shelved)

	again := decoded[view.WhatIf](t, s.get("/api/whatifs/"+w.ID))
	require.Equal(t, w.Comparison.Moved, again.Comparison.Moved)
	require.Equal(t, w.Comparison.After, again.Comparison.After)
	require.Equal(t, w.Comparison.Chances, again.Comparison.Chances)
	require.Equal(t, w.Changes, again.Changes)
	require.Contains(t, again.WhyNot, "try it again")
	page := s.get("/whatif/" + w.ID)
	require.Equal(t, http.StatusOK, page.Code)
	require.Contains(t, page.Body.String(), "Try it again to see them")
	require.Equal(t, http.StatusConflict, s.send("/api/whatifs/"+w.ID+"/adopt", `{}`).Code)
	require.Equal(t, http.StatusConflict, s.get("/api/whatifs/"+w.ID+"/lineups").Code)
	require.Equal(t, http.StatusConflict, s.get("/api/whatifs/compare?a="+w.ID+"&b="+cut.ID).Code)
	require.Equal(t, http.StatusOK, s.send("/api/whatifs/"+w.ID+"/stop", "").Code, "there is nothing to stop")

	hold <- struct{}{}
	fresh := settled(t, s, decoded[view.WhatIf](t, s.send("/api/whatifs", `{"name":"again","changes":[`+string(again.Rows[0])+`]}`)).ID)
	require.Empty(t, fresh.WhyNot)
}
