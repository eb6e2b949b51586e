// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
)

func TestImprovementMustEarnItsChurn(t *testing.T) {
	score := func(lost, tardy int64, churn int, cost int64) scheduler.Score {
		return scheduler.Score{
			LostWeight: lost, WeightedTardinessSeconds: tardy, Churn: churn,
			Levels: [4]int64{lost, tardy, int64(churn), cost},
		}
	}
	was := score(2, 10000, 0, 500)
	tests := []struct {
		name string
		is   scheduler.Score
		want bool
	}{
		{"a saved event order always", score(1, 90000, 50, 900), true},
		{"a lost one never", score(3, 0, 0, 0), false},
		{"an hour for two moves", score(2, 6400, 2, 500), true},
		{"a minute for two moves", score(2, 9940, 2, 500), false},
		{"a minute for nothing", score(2, 9940, 0, 500), true},
		{"cost for a move", score(2, 10000, 1, 100), false},
		{"cost for nothing", score(2, 10000, 0, 100), true},
		{"nothing for nothing", was, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { require.Equal(t, tt.want, earns(tt.is, was)) })
	}
}

func TestForwardSeesEarlierWork(t *testing.T) {
	at := func(start scheduler.Tick) *scheduler.Plan {
		return &scheduler.Plan{Work: []scheduler.Work{{Piece: "P", Operation: "o", Start: start}}}
	}
	require.True(t, forward(at(1000), at(1000+sooner), 900))
	require.False(t, forward(at(1000), at(1001), 900), "too little to tell anybody")
	require.False(t, forward(at(900+soon+1), at(900+soon+9000), 900), "too far ahead to matter now")
}
