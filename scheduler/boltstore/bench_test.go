// SPDX-License-Identifier: Apache-2.0

package boltstore_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/scheduler"
)

// BenchmarkIngest is the way of events from the log into the store: decoded,
// applied, and in groups made durable. It counts events per second.
func BenchmarkIngest(b *testing.B) {
	shop := newStory(b)
	for _, group := range []int{1, 10, 100, 1000} {
		b.Run(fmt.Sprintf("group=%d", group), func(b *testing.B) {
			s := open(b, b.TempDir())
			defer s.Close()
			state := scheduler.NewState(nil)
			total := 0
			for b.Loop() {
				b.StopTimer()
				texts := encoded(b, shop, int(state.Seq)+1, group)
				b.StartTimer()
				for _, text := range texts {
					e, err := events.Decode(text)
					require.NoError(b, err)
					e.Seq = state.Seq + 1
					_, err = state.Apply(e)
					require.NoError(b, err)
				}
				require.NoError(b, s.Save(state))
				total += group
			}
			b.ReportMetric(float64(total)/b.Elapsed().Seconds(), "events/s")
		})
	}
}

func encoded(b *testing.B, shop *story, first, n int) [][]byte {
	texts := make([][]byte, n)
	for i := range texts {
		var err error
		texts[i], err = events.Encode(shop.event(first + i))
		require.NoError(b, err)
	}
	return texts
}

// BenchmarkLoad reads a store with 20,000 events applied.
func BenchmarkLoad(b *testing.B) {
	shop := newStory(b)
	s := open(b, b.TempDir())
	defer s.Close()
	require.NoError(b, s.Save(shop.tell(b, nil, 20_000)))
	for b.Loop() {
		_, err := s.Load()
		require.NoError(b, err)
	}
}
