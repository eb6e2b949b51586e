// SPDX-License-Identifier: Apache-2.0

package natslog_test

import (
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/nats-io/nats.go"
	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/events/natslog"
)

// machine is a client of an independent MQTT library.
func machine(t *testing.T, url string) mqtt.Client {
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(url).SetClientID("winder-1").SetProtocolVersion(4))
	token := c.Connect()
	require.True(t, token.WaitTimeout(20*time.Second))
	require.NoError(t, token.Error())
	t.Cleanup(func() { c.Disconnect(100) })
	return c
}

func publish(t *testing.T, c mqtt.Client, e events.Event) {
	text, err := events.Encode(e)
	require.NoError(t, err)
	token := c.Publish(events.Topic(e), 1, false, text)
	require.True(t, token.WaitTimeout(20*time.Second))
	require.NoError(t, token.Error())
}

// An event published by MQTT is the event published by NATS, bit for bit, on
// the same subject.
func TestMQTTAndNATSGiveTheSameEvent(t *testing.T) {
	l := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir(), Listen: natslog.InProcess, MQTT: "127.0.0.1:0"})
	require.NotEmpty(t, l.MQTT())
	c := machine(t, l.MQTT())
	a, b := event("a"), event("b")
	b.Station = "mix room 1.2" // names are tokens in topics as in subjects
	for _, e := range []events.Event{a, b} {
		publish(t, c, e)
		text, err := events.Encode(e)
		require.NoError(t, err)
		ack, err := l.Conn().RequestMsg(&nats.Msg{Subject: events.Subject(e), Data: text}, 20*time.Second)
		require.NoError(t, err)
		require.Contains(t, string(ack.Data), `"seq"`)
	}
	require.Eventually(t, func() bool { last, err := l.Last(t.Context()); return err == nil && last == 4 }, 20*time.Second, 20*time.Millisecond)
	all := readAll(t, l)
	bySubject := map[string][]natslog.Entry{}
	for _, e := range all {
		require.NoError(t, e.Err)
		bySubject[e.Subject] = append(bySubject[e.Subject], e)
	}
	for _, e := range []events.Event{a, b} {
		two := bySubject[events.Subject(e)]
		require.Len(t, two, 2)
		for _, got := range two {
			e.Seq = got.Seq
			require.Equal(t, e, got.Event)
		}
	}
}

func TestMQTTMisfitsStopNothing(t *testing.T) {
	l := openWith(t, natslog.Config{Plant: "demo", Dir: t.TempDir(), Listen: natslog.InProcess, MQTT: "127.0.0.1:0"})
	c := machine(t, l.MQTT())
	text, err := events.Encode(event("a"))
	require.NoError(t, err)
	for topic, payload := range map[string][]byte{
		"towpath/demo/station/W1/operation/started": []byte("not JSON"),
		"towpath/demo/station/W9/operation/started": text, // another station's topic
		"towpath/demo": nil,
	} {
		token := c.Publish(topic, 1, false, payload)
		require.True(t, token.WaitTimeout(20*time.Second))
		require.NoError(t, token.Error())
	}
	publish(t, c, event("good"))
	require.Eventually(t, func() bool { last, err := l.Last(t.Context()); return err == nil && last >= 3 }, 20*time.Second, 20*time.Millisecond)
	good := 0
	for _, e := range readAll(t, l) {
		if e.Err == nil {
			good++
			require.Equal(t, "good", e.Event.ID)
		}
	}
	require.Equal(t, 1, good)
}

func TestMQTTConfig(t *testing.T) {
	for _, c := range []natslog.Config{
		{Plant: "demo", Dir: t.TempDir(), MQTT: "nowhere"},
		{Plant: "demo", URL: "nats://127.0.0.1:1", MQTT: "127.0.0.1:0"},
	} {
		_, err := natslog.Open(t.Context(), c)
		require.ErrorIs(t, err, natslog.ErrConfig)
	}
}
