// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler/runner"
)

// deafLog cannot be read while it is deaf; what is published is kept.
type deafLog struct {
	*memLog
	deaf atomic.Bool
}

var errDeaf = errors.New("the broker is away")

func (l *deafLog) Follow(ctx context.Context, after uint64) (runner.Feed, error) {
	if l.deaf.Load() {
		return nil, errDeaf
	}
	feed, err := l.memLog.Follow(ctx, after)
	return deafFeed{feed, l}, err
}

type deafFeed struct {
	runner.Feed
	log *deafLog
}

func (f deafFeed) Next(ctx context.Context) ([]runner.Entry, error) {
	batch, err := f.Feed.Next(ctx)
	if err == nil && f.log.deaf.Load() {
		return nil, errDeaf
	}
	return batch, err
}

// That the log cannot be read is told for as long as it lasts, as nothing that
// happens is seen then.
func TestALogThatCannotBeReadIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var text strings.Builder
		log := &deafLog{}
		s := newShop(t, func(o *runner.Options) {
			log.memLog = o.Log.(*memLog)
			o.Log, o.Logger = log, slog.New(slog.NewTextHandler(&text, nil))
		})
		s.open(1)
		log.deaf.Store(true)
		seq := s.log.send(t, events.Event{ID: "down", Kind: events.StationDown, Plant: "joinery", Station: "SAW", At: start + 1, Data: events.StationData{}})
		time.Sleep(10 * time.Second)
		synctest.Wait()
		p := s.runner.Picture()
		require.Less(t, p.Seq, seq)
		require.Len(t, p.Alerts, 1)
		require.Equal(t, "log", p.Alerts[0].Key)
		require.Contains(t, p.Alerts[0].Text, errDeaf.Error())

		log.deaf.Store(false)
		time.Sleep(5 * time.Second)
		synctest.Wait()
		p = s.runner.Picture()
		require.GreaterOrEqual(t, p.Seq, seq)
		require.Empty(t, p.Alerts)
		s.agree()
		s.end()
		require.Equal(t, 1, strings.Count(text.String(), "follow log; trying again"), "once, not every second")
	})
}
