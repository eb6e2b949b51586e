// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/web/view"
)

var rewrite = flag.Bool("rewrite", false, "write golden files anew")

// Each page's model of the fixture, whole. A difference is read as code.
func TestModelsOfTheSmallShop(t *testing.T) {
	v := view.New(small())
	down := view.New(small(events.Event{Kind: events.StationDown, Station: "W1", At: ten, Data: events.StationData{Why: "Tow broken", Until: at(45)}}))
	away := view.New(small(
		events.Event{Kind: events.CrewAbsent, At: at(-20), Data: events.AbsentData{Crew: "early", People: 1, Why: "Training"}},
		events.Event{Kind: events.CrewAbsent, At: at(-10), Data: events.AbsentData{Crew: "early", People: 2, From: at(24 * 60), Until: at(30 * 60)}}))
	for name, model := range map[string]any{
		"floor":        v.Floor(),
		"floor-down":   down.Floor().Stations[1],
		"dates":        v.Dates(view.DatesQuery{}),
		"order":        v.OrderSheet("A1"),
		"lineup":       v.Lineup(view.LineupQuery{}),
		"loads":        v.Loads(view.LoadsQuery{Cure: true}),
		"station":      v.StationSheet("W1"),
		"station-down": down.StationSheet("W1").Trouble,
		"station-mix":  v.StationSheet("MIX"),
		"people":       v.People(),
		"people-away":  away.People(),
		"log":          v.Log(view.LogQuery{}),
	} {
		t.Run(name, func(t *testing.T) {
			got, err := json.MarshalIndent(model, "", " ")
			require.NoError(t, err)
			path := filepath.Join("testdata", name+".json")
			if *rewrite {
				require.NoError(t, os.WriteFile(path, append(got, '\n'), 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Equal(t, string(want), string(got)+"\n")
		})
	}
}
