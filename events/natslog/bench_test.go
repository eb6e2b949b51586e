// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkAppend counts durable events per second, each batch synced to disk
// before it is acknowledged.
func BenchmarkAppend(b *testing.B) {
	for _, size := range []int{1, 10, 100, 1000} {
		b.Run(fmt.Sprintf("batch=%d", size), func(b *testing.B) {
			l := open(b, b.TempDir())
			next := 0
			for b.Loop() {
				if _, err := l.Append(b.Context(), numbered("bench", next, size), uint64(next)); err != nil {
					b.Fatal(err)
				}
				next += size
			}
			b.ReportMetric(float64(next)/b.Elapsed().Seconds(), "events/s")
		})
	}
}

// BenchmarkReplay counts events read and decoded per second.
func BenchmarkReplay(b *testing.B) {
	l := open(b, b.TempDir())
	_, err := l.Append(b.Context(), numbered("bench", 0, 20_000), 0)
	require.NoError(b, err)
	read := 0
	for b.Loop() {
		read += len(readAll(b, l))
	}
	b.ReportMetric(float64(read)/b.Elapsed().Seconds(), "events/s")
}
