// SPDX-License-Identifier: Apache-2.0

package view_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/web/view"
)

func TestEveryKindOfAlertHasAWord(t *testing.T) {
	for _, k := range view.AlertKinds() {
		require.NotEmpty(t, view.Alert{Kind: k}.Word(), k)
	}
}

func TestAlertsOfAStationAndAnOrder(t *testing.T) {
	p := small()
	oven := view.FloorAlert(&scheduler.Alert{Kind: scheduler.LoadDue, About: "L1", Station: "O1", Pieces: []string{"A1-1-01"}, Text: "late", By: at(5)})
	late := view.FloorAlert(&scheduler.Alert{Kind: scheduler.PromiseAtRisk, About: "B2", Order: "B2", By: at(2 * 24 * 60)})
	clock := view.ProgramAlert("clock", "the clock went back: by 3 min", ten)
	p.Alerts = []view.Alert{clock, oven, late}
	v := view.New(p)

	require.Equal(t, 3, v.Alerts(view.AlertsQuery{}).Total)
	require.Equal(t, []view.Alert{oven}, v.Alerts(view.AlertsQuery{Station: "O1"}).Alerts)
	require.Equal(t, []view.Alert{oven}, v.Alerts(view.AlertsQuery{Order: "A1"}).Alerts, "by its piece")
	require.Equal(t, []view.Alert{late}, v.Alerts(view.AlertsQuery{Order: "B2"}).Alerts)
	require.Equal(t, []view.Alert{oven}, v.StationSheet("O1").Alerts)
	require.Empty(t, v.StationSheet("W1").Alerts)

	strip := v.Head().Strip(ten, false)
	require.Equal(t, []view.Alert{clock, oven}, strip.First)
	require.Equal(t, 1, strip.More, "the other can wait until tomorrow")
	require.Equal(t, "the clock went back", clock.Brief())
	require.Equal(t, "by 3 min", clock.Rest())
	require.Equal(t, "late", oven.Brief())
	require.Empty(t, oven.Rest())
}

func TestStripShowsTheFirstFew(t *testing.T) {
	h := view.Head{}
	for i := range 9 {
		h.Alerts = append(h.Alerts, view.Alert{By: ten + resources.Tick(i)})
	}
	require.Len(t, h.Strip(ten, false).First, 4)
	require.Equal(t, 5, h.Strip(ten, false).More)
	require.Len(t, h.Strip(ten, true).First, 6, "on the wall")
	require.Equal(t, 3, h.Strip(ten, true).More)
}
