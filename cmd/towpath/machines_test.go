// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/events/station"
	"towpath/resources"
)

// Machines speak by NATS, by MQTT and by HTTP, and people press a button: the
// same event either way, and the same one by all ways, more than once, counts
// once.
func TestOneEventByEveryWay(t *testing.T) {
	p := begin(t, serveArgs(t.TempDir(), someOrders(t, 3), "--mqtt", "127.0.0.1:0")...)
	p.until("/api/dates", "A3")
	require.NotEmpty(t, p.mqtt)
	machine := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(p.mqtt).SetClientID("b1").SetProtocolVersion(4))
	token := machine.Connect()
	require.True(t, token.WaitTimeout(20*time.Second))
	require.NoError(t, token.Error())
	defer machine.Disconnect(100)
	bus, err := station.Connect(p.bus, station.Config{Plant: "bench"})
	require.NoError(t, err)
	defer bus.Close()

	ways := map[string]func(e events.Event){
		"mqtt": func(e events.Event) {
			text, err := events.Encode(e)
			require.NoError(t, err)
			token := machine.Publish(events.Topic(e), 1, false, text)
			require.True(t, token.WaitTimeout(20*time.Second))
			require.NoError(t, token.Error())
		},
		"nats": func(e events.Event) {
			_, err := bus.Send(t.Context(), e)
			require.NoError(t, err)
		},
		"http": func(e events.Event) {
			text, err := events.Encode(e)
			require.NoError(t, err)
			res, err := http.Post(p.addr+"/api/report", "application/cloudevents+json", bytes.NewReader(text))
			require.NoError(t, err)
			defer res.Body.Close()
			require.Equal(t, http.StatusOK, res.StatusCode)
		},
		"page": func(e events.Event) { // the form the station page sends
			body, err := json.Marshal(map[string]any{"by": e.By, "reports": []any{
				map[string]any{"id": e.ID, "kind": e.Kind, "station": e.Station, "at": time.Unix(int64(e.At), 0).UTC(), "data": e.Data},
			}})
			require.NoError(t, err)
			res, err := http.Post(p.addr+"/api/report", "application/json", bytes.NewReader(body))
			require.NoError(t, err)
			defer res.Body.Close()
			require.Equal(t, http.StatusOK, res.StatusCode)
		},
	}
	now := resources.Tick(time.Now().Unix())
	step := func(way string, n int, kind events.Kind, at resources.Tick) events.Event {
		return events.Event{
			ID: fmt.Sprintf("%s-%d", way, n), Kind: kind, Plant: "bench", Station: "B1", At: at, By: "someone",
			Data: events.OperationData{Piece: fmt.Sprintf("A%d-1-01", n), Operation: "join"},
		}
	}
	// Each way by itself does what every other does.
	p.until("/api/plan", "A1-1-01")
	for i, way := range []string{"mqtt", "nats", "http"} {
		n := i + 1
		for j, kind := range []events.Kind{events.OperationStarted, events.OperationFinished} {
			e := step(way, n, kind, now+resources.Tick(2*i+j))
			e.ID += string(kind)
			ways[way](e)
			p.until("/api/log?show=work", e.ID)
		}
	}
	// One event, sent twice by every way, counts once.
	one := step("all", 1, events.OperationStarted, now+9)
	one.Data = events.OperationData{Piece: "A1-1-02", Operation: "join"}
	for range 2 {
		for _, way := range []string{"mqtt", "page", "nats", "http"} {
			ways[way](one)
		}
	}
	last := step("last", 1, events.OperationFinished, now+10)
	last.Data = events.OperationData{Piece: "A1-1-02", Operation: "join"}
	ways["mqtt"](last)
	p.until("/api/log?show=work", last.ID)
	_, text := p.get("/api/log?show=work")
	var log struct {
		Rows []struct{ ID, Sort, Kind, By, Station, About string }
	}
	require.NoError(t, json.Unmarshal([]byte(text), &log))
	believed := 0
	for _, row := range log.Rows {
		if row.Sort != "event" {
			require.Equal(t, one.ID, row.ID, "only repeats are refused")
			continue
		}
		believed++
		require.Equal(t, "someone", row.By)
		require.Equal(t, "B1", row.Station)
	}
	require.Equal(t, 8, believed)
	require.Equal(t, 1, strings.Count(text, `"sort":"event","kind":"operation.started","word":"operation started","about":"A1-1-02"`))
	require.Zero(t, p.interrupt(), "%s", p.errs)
}
