// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler/runner"
)

// measuredLog takes a while to store a batch and knows how large the largest was.
type measuredLog struct {
	*memLog
	mu      sync.Mutex
	largest int
}

func (l *measuredLog) Append(ctx context.Context, after uint64, batch []events.Event) ([]uint64, error) {
	l.mu.Lock()
	l.largest = max(l.largest, len(batch))
	l.mu.Unlock()
	if len(batch) > 1 {
		time.Sleep(10 * time.Millisecond) // reports gather
	}
	return l.memLog.Append(ctx, after, batch)
}

// Reports that wait together are stored together only as far as all of them are
// stored or none.
func TestReportsAreJoinedUpToWhatIsStoredAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		log := &measuredLog{}
		s := newShop(t, func(o *runner.Options) {
			log.memLog = o.Log.(*memLog)
			o.Log = log
		})
		defer s.end()
		s.open(1)
		var wait sync.WaitGroup
		for report := range 5 {
			wait.Go(func() {
				var batch []events.Event
				for i := range 400 {
					batch = append(batch, events.Event{
						ID: fmt.Sprint(report, "-", i), Kind: events.StationDown, Station: "GLUE", Data: events.StationData{Why: fmt.Sprint("jam ", i)},
					})
				}
				_, err := s.report(batch...)
				require.NoError(t, err)
			})
		}
		wait.Wait()
		s.settle()
		s.agree()
		require.Equal(t, 800, log.largest, "two go together, three do not")
	})
}
