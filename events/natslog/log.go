// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strconv"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
)

// Log is one plant's log. Its methods may be called from several goroutines.
type Log struct {
	conf     Config
	broker   *broker // nil: external
	conn     *nats.Conn
	js       jetstream.JetStream
	stream   jetstream.Stream
	rejected jetstream.Stream
}

// rejectedBytes bounds the rejected stream; the oldest go first. The messages
// themselves stay in the log.
const rejectedBytes = 256 << 20

// answerTimeout is how long a broker may take to answer when the caller's
// context has no deadline.
const answerTimeout = 30 * time.Second

// Open starts the embedded broker or connects to the external one and makes
// sure that the plant's streams are there. Close must be called.
func Open(ctx context.Context, c Config) (*Log, error) {
	c, err := c.complete()
	if err != nil {
		return nil, err
	}
	l := &Log{conf: c}
	if c.URL == "" {
		if l.broker, err = startBroker(c); err != nil {
			return nil, err
		}
	}
	if err := l.open(ctx); err != nil {
		l.Close()
		return nil, err
	}
	return l, nil
}

func (l *Log) open(ctx context.Context) error {
	opts := append([]nats.Option{nats.Name("towpath log"), nats.MaxReconnects(-1)}, l.conf.Options...)
	if l.broker != nil {
		opts = append(opts, nats.InProcessServer(l.broker.server))
	}
	var err error
	if l.conn, err = nats.Connect(l.conf.URL, opts...); err != nil {
		return explain("connect to broker "+l.conf.URL, err)
	}
	if l.js, err = jetstream.New(l.conn, jetstream.WithDefaultTimeout(answerTimeout)); err != nil {
		return explain("connect to broker", err)
	}
	if !atLeast(l.conn.ConnectedServerVersion(), 2, 12) {
		return fmt.Errorf("broker %s has version %s: %w", l.conf.URL, l.conn.ConnectedServerVersion(), ErrOldBroker)
	}
	if l.conn.MaxPayload() < MaxPayload {
		return fmt.Errorf("%w: broker %s takes messages of %d bytes at most; set its max_payload to %d or more, plans are large",
			ErrConfig, l.conf.URL, l.conn.MaxPayload(), MaxPayload)
	}
	return l.openStreams(ctx)
}

func (l *Log) openStreams(ctx context.Context) error {
	token := events.Token(l.conf.Plant)
	var err error
	if l.conf.Replicas, err = l.replicas(ctx); err != nil {
		return openError(l.conf, err)
	}
	l.stream, err = l.js.CreateOrUpdateStream(ctx, streamConfig(l.conf))
	if err != nil {
		return openError(l.conf, err)
	}
	l.rejected, err = l.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name: "TOWPATH_" + token + "_REJECTED", Description: "what could not be understood or believed at plant " + l.conf.Plant,
		Subjects: []string{rejectedRoot + "." + token + ".*"},
		Storage:  jetstream.FileStorage, Replicas: l.conf.Replicas, MaxBytes: rejectedBytes, AllowDirect: true,
	})
	if err != nil {
		return openError(l.conf, err)
	}
	return nil
}

// replicas is how many there shall be of each stream: what is asked for, or as
// it is.
func (l *Log) replicas(ctx context.Context) (int, error) {
	if l.conf.Replicas > 0 {
		return l.conf.Replicas, nil
	}
	is, err := l.js.Stream(ctx, streamConfig(l.conf).Name)
	switch {
	case errors.Is(err, jetstream.ErrStreamNotFound):
		return 1, nil
	case err != nil:
		return 0, err
	}
	return max(1, is.CachedInfo().Config.Replicas), nil
}

// streamConfig is the plant's stream, without limits.
func streamConfig(c Config) jetstream.StreamConfig {
	token := events.Token(c.Plant)
	return jetstream.StreamConfig{
		Name: "TOWPATH_" + token, Description: "events of plant " + c.Plant,
		Subjects: []string{events.Root + "." + token + ".>"},
		Storage:  jetstream.FileStorage, Replicas: c.Replicas, Duplicates: c.Window,
		DenyDelete: true, DenyPurge: true, AllowDirect: true, AllowAtomicPublish: true,
	}
}

func openError(c Config, err error) error {
	if errors.Is(err, jetstream.ErrJetStreamNotEnabled) || errors.Is(err, jetstream.ErrJetStreamNotEnabledForAccount) ||
		errors.Is(err, nats.ErrNoResponders) {
		return fmt.Errorf("streams of plant %s: %w", c.Plant, ErrOldBroker)
	}
	return explain("streams of plant "+c.Plant, err)
}

// atLeast compares the first two numbers of a version like "2.12.3".
func atLeast(version string, major, minor int) bool {
	var a, b int
	if _, err := fmt.Sscanf(version, "%d.%d", &a, &b); err != nil {
		return false
	}
	return a > major || a == major && b >= minor
}

// URL is where stations reach the broker; empty when it does not listen.
func (l *Log) URL() string {
	switch {
	case l.broker == nil:
		return l.conn.ConnectedUrl()
	case l.conf.Listen == InProcess:
		return ""
	default:
		return l.broker.server.ClientURL()
	}
}

// MQTT is where stations that speak MQTT 3.1.1 reach the embedded broker, e.g.
// "tcp://127.0.0.1:1883"; empty when it does not listen for them.
func (l *Log) MQTT() string {
	if l.broker == nil || l.conf.MQTT == "" {
		return ""
	}
	o := &l.broker.opts.MQTT // the server has written the port it took
	return "tcp://" + net.JoinHostPort(o.Host, strconv.Itoa(o.Port))
}

// Conn is the log's connection, for programs in this process that report.
func (l *Log) Conn() *nats.Conn { return l.conn }

// Last is the sequence of the newest message of the log; 0: it is empty.
func (l *Log) Last(ctx context.Context) (uint64, error) {
	info, err := l.stream.Info(ctx)
	if err != nil {
		return 0, explain("end of the log", err)
	}
	return info.State.LastSeq, nil
}

// Identity names this very stream: it changes when a stream is deleted and
// made again, whose sequences then mean something else.
func (l *Log) Identity() string {
	info := l.stream.CachedInfo()
	return info.Config.Name + "@" + info.Created.UTC().Format(time.RFC3339Nano)
}

// Health is nil when the broker answers and the streams are there.
func (l *Log) Health(ctx context.Context) error {
	if s := l.conn.Status(); s != nats.CONNECTED {
		return fmt.Errorf("broker connection is %s: %w", s, ErrUnavailable)
	}
	if _, err := l.Last(ctx); err != nil {
		return err
	}
	_, err := l.rejected.Info(ctx)
	return explain("rejected stream", err)
}

// drainTimeout bounds how long Close waits for what is under way.
const drainTimeout = 10 * time.Second

// Close lets what is under way finish, disconnects and stops the embedded
// broker. It may be called twice.
func (l *Log) Close() {
	if l.conn != nil && !l.conn.IsClosed() {
		_ = l.conn.FlushTimeout(drainTimeout)
		l.conn.Close()
	}
	if l.broker != nil {
		l.broker.stop()
		l.broker = nil
	}
}
