// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"

	"github.com/nats-io/nats.go"
)

// Talk lets programs on one broker speak with each other beside the log. What is
// said is heard by those who listen then, and kept nowhere.
type Talk struct{ conn *nats.Conn }

// Talk is talk on the log's connection. It ends with the log.
func (l *Log) Talk() Talk { return Talk{l.conn} }

// Join connects a program that has no log to a broker, under its name there.
// Close must be called.
func Join(url, name string, options ...nats.Option) (Talk, error) {
	conn, err := nats.Connect(url, append([]nats.Option{nats.Name(name), nats.MaxReconnects(-1)}, options...)...)
	if err != nil {
		return Talk{}, explain("connect to broker "+url, err)
	}
	return Talk{conn}, nil
}

// Say tells all who hear a subject.
func (t Talk) Say(subject string, data []byte) error {
	return explain("say", t.conn.Publish(subject, data))
}

// Ask says something to the one who hears a subject, and waits for the answer
// until ctx ends. When nobody hears it, that is told at once.
func (t Talk) Ask(ctx context.Context, subject string, data []byte) ([]byte, error) {
	reply, err := t.conn.RequestWithContext(ctx, subject, data)
	if err != nil {
		return nil, explain("ask", err)
	}
	return reply.Data, nil
}

// Hear calls f, once at a time, for what is said on a subject, until stop is
// called. What f returns goes to who asks. Who asked before the broker knew of the
// end is answered too, so that nobody waits for what never comes.
func (t Talk) Hear(subject string, f func(data []byte) []byte) (stop func(), err error) {
	sub, err := t.conn.Subscribe(subject, func(m *nats.Msg) {
		if answer := f(m.Data); m.Reply != "" {
			// Who asks has gone when this cannot be said.
			_ = m.Respond(answer)
		}
	})
	if err != nil {
		return nil, explain("listen", err)
	}
	// Who speaks next on this connection is to be heard by whoever knows of it.
	if err := t.conn.Flush(); err != nil {
		_ = sub.Unsubscribe()
		return nil, explain("listen", err)
	}
	return func() { _ = sub.Drain() }, nil
}

// Most is how many bytes the broker takes at once.
func (t Talk) Most() int { return int(t.conn.MaxPayload()) }

// URL is where the broker was reached.
func (t Talk) URL() string { return t.conn.ConnectedUrl() }

// Close disconnects a program that has joined.
func (t Talk) Close() { t.conn.Close() }
