// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func TestChangeover(t *testing.T) {
	table := []resources.SetupRule{
		{Attribute: "resin", From: "*", To: "*", Time: 80, Cost: 3},
		{Attribute: "resin", From: "A", To: "*", Time: 70, Cost: 2},
		{Attribute: "resin", From: "*", To: "B", Time: 60, Cost: 1},
		{Attribute: "resin", From: "A", To: "B", Time: 50, Cost: 9},
		{Attribute: "resin", From: "C", To: "C", Time: 5},
		{Attribute: "mandrel", From: "*", To: "*", Time: 40, Cost: 4},
	}
	type attrs = map[string]string
	tests := []struct {
		name     string
		from, to attrs
		longest  resources.Seconds
		highest  int64
		sum      resources.Seconds
		sumCost  int64
	}{
		{"unknown state is free", nil, attrs{"resin": "A"}, 0, 0, 0, 0},
		{"equal is free", attrs{"resin": "A"}, attrs{"resin": "A"}, 0, 0, 0, 0},
		{"equal but named", attrs{"resin": "C"}, attrs{"resin": "C"}, 5, 0, 5, 0},
		{"both named wins", attrs{"resin": "A"}, attrs{"resin": "B"}, 50, 9, 50, 9},
		{"to named before from named", attrs{"resin": "D"}, attrs{"resin": "B"}, 60, 1, 60, 1},
		{"from named", attrs{"resin": "A"}, attrs{"resin": "D"}, 70, 2, 70, 2},
		{"any", attrs{"resin": "D"}, attrs{"resin": "E"}, 80, 3, 80, 3},
		{"attribute missing on one side", attrs{}, attrs{"resin": "E"}, 0, 0, 0, 0},
		{"two attributes", attrs{"resin": "A", "mandrel": "36"}, attrs{"resin": "B", "mandrel": "60"}, 50, 9, 90, 13},
		{"attribute without lines", attrs{"program": "1"}, attrs{"program": "2"}, 0, 0, 0, 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			s := resources.Station{Setups: table}
			time, cost := s.Changeover(test.from, test.to)
			require.Equal(t, test.longest, time)
			require.Equal(t, test.highest, cost)
			s.SetupSum = true
			time, cost = s.Changeover(test.from, test.to)
			require.Equal(t, test.sum, time)
			require.Equal(t, test.sumCost, cost)
		})
	}
}
