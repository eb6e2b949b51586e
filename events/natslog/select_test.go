// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
)

// Select finds what reading everything finds, by whichever subject it came.
func TestSelectFindsEveryEventOfItsKinds(t *testing.T) {
	l := open(t, t.TempDir())
	kinds := []events.Kind{events.StationDown, events.StationUp, events.EventVoided}
	none, since, err := l.Select(t.Context(), kinds...)
	require.NoError(t, err)
	require.Empty(t, none)
	require.Zero(t, since)

	filled(t, l, 50)
	none, since, err = l.Select(t.Context(), kinds...)
	require.NoError(t, err)
	require.Empty(t, none)
	require.Equal(t, readAll(t, l)[0].Event.At, since)

	plant := readAll(t, l)[0].Event.Plant
	var batch []events.Event
	for i := range 2500 {
		e := events.Event{ID: fmt.Sprintf("s%d", i), Kind: events.StationDown, Plant: plant, Station: fmt.Sprintf("S %d", i%7), At: since + resources.Tick(i), By: "ann", Data: events.StationData{}}
		switch i % 5 {
		case 1:
			e.Kind = events.StationUp
		case 2:
			e.Kind, e.Station, e.Data = events.EventVoided, "", events.VoidData{Event: "s0"}
		case 3:
			e.Kind, e.Data = events.EventVoided, events.VoidData{Event: "s0"}
		case 4:
			e.Kind, e.Data = events.OperationStarted, events.OperationData{Piece: "P", Operation: "o"}
		}
		batch = append(batch, e)
	}
	_, err = l.Append(t.Context(), batch, 50)
	require.NoError(t, err)
	var want []events.Event
	for _, x := range readAll(t, l) {
		for _, k := range kinds {
			if x.Event.Kind == k {
				want = append(want, x.Event)
			}
		}
	}
	got, _, err := l.Select(t.Context(), kinds...)
	require.NoError(t, err)
	require.Len(t, got, 2000)
	require.Equal(t, want, got)
}
