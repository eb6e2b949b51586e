// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
	"github.com/nats-io/nats-server/v2/server"
)

// broker is a NATS server inside this process, with its folder locked.
type broker struct {
	server *server.Server
	opts   *server.Options
	lock   *flock.Flock
}

// startTimeout bounds the recovery of the streams when the broker starts.
const startTimeout = 2 * time.Minute

func startBroker(c Config) (*broker, error) {
	if err := os.MkdirAll(c.Dir, 0o750); err != nil {
		return nil, fmt.Errorf("log folder: %w", err)
	}
	// The server itself does not notice a second one on the same files.
	lock := flock.New(filepath.Join(c.Dir, "lock"))
	switch ours, err := lock.TryLock(); {
	case err != nil:
		return nil, fmt.Errorf("lock log folder %s: %w", c.Dir, err)
	case !ours:
		return nil, fmt.Errorf("%s: %w", c.Dir, ErrInUse)
	}
	s, opts, fatal, err := newServer(c)
	if err != nil {
		_ = lock.Unlock()
		return nil, err
	}
	b := &broker{server: s, opts: opts, lock: lock}
	s.Start()
	if err := waitReady(s, fatal); err != nil {
		b.stop()
		return nil, fmt.Errorf("broker in %s, listening on %s, did not start: %w", c.Dir, c.Listen, err)
	}
	return b, nil
}

// waitReady waits for the recovery of the streams, but not once the server
// has given up: it says so only in its log.
func waitReady(s *server.Server, fatal <-chan string) error {
	const step = 20 * time.Millisecond
	for waited := time.Duration(0); waited < startTimeout; waited += step {
		if s.ReadyForConnections(step) {
			return nil
		}
		select {
		case why := <-fatal:
			return errors.New(why)
		default:
		}
	}
	return fmt.Errorf("not ready after %v", startTimeout)
}

func newServer(c Config) (*server.Server, *server.Options, <-chan string, error) {
	opts := &server.Options{
		ServerName: "towpath",
		JetStream:  true,
		StoreDir:   filepath.Join(c.Dir, "nats"),
		// An acknowledgement otherwise comes before the data is on the disk.
		SyncAlways:             true,
		MaxPayload:             MaxPayload,
		NoSigs:                 true,
		NoLog:                  true,
		DisableJetStreamBanner: true,
	}
	if c.Listen == InProcess {
		opts.DontListen = true
	} else {
		host, port, err := hostPort(c.Listen)
		if err != nil {
			return nil, nil, nil, err
		}
		if opts.Host, opts.Port = host, port; port == 0 {
			opts.Port = server.RANDOM_PORT
		}
	}
	if c.MQTT != "" {
		host, port, err := hostPort(c.MQTT)
		if err != nil {
			return nil, nil, nil, err
		}
		if opts.MQTT.Host, opts.MQTT.Port = host, port; port == 0 {
			opts.MQTT.Port = server.RANDOM_PORT
		}
	}
	s, err := server.NewServer(opts)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("broker: %w", err)
	}
	out := c.Logger
	if out == nil {
		out = slog.New(slog.DiscardHandler)
	}
	fatal := make(chan string, 1)
	s.SetLoggerV2(brokerLogger{out.With("part", "broker"), fatal}, false, false, false)
	return s, opts, fatal, nil
}

// stop ends the server; everything acknowledged is on the disk already.
func (b *broker) stop() {
	b.server.Shutdown()
	b.server.WaitForShutdown()
	_ = b.lock.Unlock()
}

// brokerLogger passes on what an operator should see.
type brokerLogger struct {
	log   *slog.Logger
	fatal chan string // the first reason for which the server gave up
}

func (l brokerLogger) Noticef(f string, v ...any) { l.log.Debug(fmt.Sprintf(f, v...)) }
func (l brokerLogger) Warnf(f string, v ...any)   { l.log.Warn(fmt.Sprintf(f, v...)) }
func (l brokerLogger) Errorf(f string, v ...any)  { l.log.Error(fmt.Sprintf(f, v...)) }
func (l brokerLogger) Fatalf(f string, v ...any) {
	select {
	case l.fatal <- fmt.Sprintf(f, v...):
	default:
	}
	l.log.Error(fmt.Sprintf(f, v...))
}
func (l brokerLogger) Debugf(string, ...any) {}
func (l brokerLogger) Tracef(string, ...any) {}
