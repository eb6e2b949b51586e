// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
	"towpath/scheduler/promise"
	"towpath/scheduler/risk"
	"towpath/scheduler/whatif"
	"towpath/web"
	"towpath/web/view"
	"towpath/web/webtest"
)

// Each of these breaks an invariant in the background.
type (
	faultyPlay struct{}
	faultyLook struct{ *webtest.Promiser }
	faultyTry  struct{ *webtest.Trier }
)

func (faultyPlay) Play(context.Context, *web.Picture, risk.Options, func(done, most int)) (*risk.Report, error) {
	panic("no such piece")
}

func (faultyLook) Deepen(context.Context, *promise.Answer, func(promise.Progress)) (*promise.Answer, error) {
	panic("no such piece")
}

func (faultyTry) Try(context.Context, *whatif.Question, *scheduler.Plan, func(web.TryProgress)) (*web.Trial, error) {
	panic("no such piece")
}

// journal is a log that can be read while it is written.
type journal struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (j *journal) Write(b []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.text.Write(b)
}

func (j *journal) String() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.text.String()
}

// loggedSite is a site whose log can be read.
func loggedSite(t *testing.T, o web.Options) (*site, *journal) {
	t.Helper()
	log := &journal{}
	o.Logger = slog.New(slog.NewTextHandler(log, nil))
	server, err := web.New(o)
	require.NoError(t, err)
	t.Cleanup(server.Close)
	return &site{shop: o.Shop, server: server, handler: server.Handler()}, log
}

// A mistake in what is computed in the background ends neither the program nor the
// turn of the next who asks: the work has failed, and the log says where.
func TestWorkThatPanicsHasFailed(t *testing.T) {
	shop := fewOrders(t)
	s, log := loggedSite(t, web.Options{
		Shop: shop, Chances: faultyPlay{}, Promise: faultyLook{&webtest.Promiser{Shop: shop}}, Trier: faultyTry{&webtest.Trier{Shop: shop}},
	})
	for range 2 {
		require.Equal(t, http.StatusOK, s.send("/api/risk", `{}`).Code)
		require.Eventually(t, func() bool { return riskOf(t, s).State == "failed" }, patience, time.Millisecond)
		require.Equal(t, "It cannot be played: the program made a mistake of its own, and its log describes it", riskOf(t, s).Text)

		id := askFor(t, s, 1, 20, "").ID
		var q view.Question
		require.Eventually(t, func() bool {
			q = decoded[view.Question](t, s.get("/api/questions/"+id))
			return !q.Open()
		}, patience, time.Millisecond)
		require.Equal(t, "failed", q.State)
		require.Contains(t, q.Text, "a mistake of its own")
		require.NotNil(t, q.Answer, "the first answer stays")

		w := settled(t, s, tryOf(t, s, "rush", rushOf(s, "X-1", 20)).ID)
		require.Equal(t, "failed", w.State)
		require.Contains(t, w.Text, "a mistake of its own")
	}
	for _, where := range []string{"no such piece", "faultyPlay.Play", "faultyLook.Deepen", "faultyTry.Try"} {
		require.Contains(t, log.String(), where)
	}
}

// mistaken is a shop that breaks when it is looked at.
type mistaken struct{ web.Shop }

func (mistaken) Picture() *web.Picture { panic("no such shop") }

func TestTheLogSaysWhereAHandlerPanicked(t *testing.T) {
	s, log := loggedSite(t, web.Options{Shop: mistaken{}})
	w := s.get("/api/floor")
	require.Equal(t, http.StatusInternalServerError, w.Code)
	require.NotContains(t, w.Body.String(), "no such shop")
	require.Contains(t, log.String(), "no such shop")
	require.Contains(t, log.String(), "mistaken.Picture")
}
