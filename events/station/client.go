// SPDX-License-Identifier: Apache-2.0

// Package station is the client for programs at a station: it puts what
// happened there into the plant's log and waits until the log has it.
//
// An acknowledged report is stored, on the disk, once; whether it is believed
// is decided by whoever folds the log, and shown among the rejects if not.
package station

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
	"towpath/resources"
)

var (
	// ErrNotStored means that no acknowledgement came before the time was up.
	// The report may be stored all the same: send it again with the same ID,
	// which the error text names.
	ErrNotStored = errors.New("the log did not acknowledge")
	// ErrNoLog means that the broker keeps no log for this plant.
	ErrNoLog = errors.New("no log takes reports of this plant")
	// ErrConfig wraps what is wrong with a Config.
	ErrConfig = errors.New("station configuration")
)

// Config says who reports.
type Config struct {
	Plant   string           // the plant's name, as in its plant file; required
	Station string           // the station's ID; empty for an office program
	By      string           // person or program; may be empty
	Now     func() time.Time // clock for reports without At; nil: time.Now
}

// Client reports for one station. Its methods may be called from several
// goroutines; reports of one goroutine are stored in the order of its calls.
type Client struct {
	conf  Config
	conn  *nats.Conn
	js    jetstream.JetStream
	owned bool
}

// Receipt says where the log has a report.
type Receipt struct {
	ID        string
	Seq       uint64
	Duplicate bool // the log had this ID already and stored nothing
}

// patience is how long a report is tried when the context has no deadline.
const patience = time.Minute

// Connect makes a client with a connection of its own, e.g. to
// "nats://planner:4222"; Close ends it. A broker that is not there yet is
// waited for by the first report.
func Connect(url string, c Config, options ...nats.Option) (*Client, error) {
	options = append([]nats.Option{nats.Name("station " + c.Station), nats.MaxReconnects(-1), nats.RetryOnFailedConnect(true)}, options...)
	conn, err := nats.Connect(url, options...)
	if err != nil {
		return nil, fmt.Errorf("connect to broker %s: %w", url, err)
	}
	client, err := New(conn, c)
	if err != nil {
		conn.Close()
		return nil, err
	}
	client.owned = true
	return client, nil
}

// New makes a client on a connection that stays the caller's.
func New(conn *nats.Conn, c Config) (*Client, error) {
	if !events.ValidName(c.Plant) || c.Station != "" && !events.ValidName(c.Station) {
		return nil, fmt.Errorf("%w: plant %q, station %q: give the names as the plant file has them", ErrConfig, c.Plant, c.Station)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	js, err := jetstream.New(conn)
	if err != nil {
		return nil, fmt.Errorf("connect to log: %w", err)
	}
	return &Client{conf: c, conn: conn, js: js}, nil
}

// Close ends the connection if Connect made it.
func (c *Client) Close() {
	if c.owned {
		c.conn.Close()
	}
}

// Option changes one report.
type Option func(*events.Event)

// At says when it happened; without it, the client's clock does.
func At(t time.Time) Option {
	return func(e *events.Event) { e.At = resources.Tick(t.Unix()) }
}

// ID sets the report's ID, to send a report again that may be stored already.
// It must not be used for anything else, ever.
func ID(id string) Option { return func(e *events.Event) { e.ID = id } }

// By says who reports this one.
func By(who string) Option { return func(e *events.Event) { e.By = who } }

// Report sends one event: kind and payload as package events has them. It
// returns when the log has it on the disk. While the broker does not answer,
// it is sent again with the same ID, until ctx ends or, without a deadline,
// for a minute.
func (c *Client) Report(ctx context.Context, k events.Kind, data any, options ...Option) (Receipt, error) {
	e := events.Event{Kind: k, Plant: c.conf.Plant, Station: c.conf.Station, By: c.conf.By, Data: data}
	for _, o := range options {
		o(&e)
	}
	if e.At == 0 {
		e.At = resources.Tick(c.conf.Now().Unix())
	}
	if e.ID == "" {
		id, err := uuid.NewV7()
		if err != nil {
			return Receipt{}, fmt.Errorf("make an event ID: %w", err)
		}
		e.ID = id.String()
	}
	return c.Send(ctx, e)
}

// Send is Report for an event that is complete.
func (c *Client) Send(ctx context.Context, e events.Event) (Receipt, error) {
	text, err := events.Encode(e)
	if err != nil {
		return Receipt{}, fmt.Errorf("report %s: %w", e.Kind, err)
	}
	if _, ok := ctx.Deadline(); !ok {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, patience)
		defer cancel()
	}
	msg := &nats.Msg{Subject: events.Subject(e), Data: text, Header: nats.Header{"Content-Type": {"application/cloudevents+json"}}}
	for wait := firstWait; ; wait = min(2*wait, longestWait) {
		seq, duplicate, err := c.publish(ctx, msg, e.ID)
		if err == nil {
			return Receipt{ID: e.ID, Seq: seq, Duplicate: duplicate}, nil
		}
		if !passing(err) {
			return Receipt{ID: e.ID}, fmt.Errorf("report %s, id %s: %w", e.Kind, e.ID, err)
		}
		select {
		case <-ctx.Done():
			return Receipt{ID: e.ID}, fmt.Errorf("report %s, id %s: %w: %w", e.Kind, e.ID, lasting(err), ctx.Err())
		case <-time.After(wait):
		}
	}
}

// Waits between two tries, and for the answer to one.
const (
	firstWait   = 50 * time.Millisecond
	longestWait = 2 * time.Second
	answerWait  = 5 * time.Second
)

func (c *Client) publish(ctx context.Context, msg *nats.Msg, id string) (uint64, bool, error) {
	ctx, cancel := context.WithTimeout(ctx, answerWait)
	defer cancel()
	ack, err := c.js.PublishMsg(ctx, msg, jetstream.WithMsgID(id), jetstream.WithRetryAttempts(0))
	if err != nil {
		return 0, false, err
	}
	return ack.Sequence, ack.Duplicate, nil
}

// passing tells faults that another try may mend.
func passing(err error) bool {
	for _, e := range []error{
		context.DeadlineExceeded, context.Canceled, nats.ErrTimeout, nats.ErrNoResponders, jetstream.ErrNoStreamResponse,
		nats.ErrDisconnected, nats.ErrConnectionReconnecting, nats.ErrReconnectBufExceeded, nats.ErrStaleConnection,
		nats.ErrHeadersNotSupported, // what a connection says before its first broker has answered
	} {
		if errors.Is(err, e) {
			return true
		}
	}
	var api *jetstream.APIError
	return errors.As(err, &api) && api.Code >= 500 // the broker's side: no leader yet, no room
}

// lasting names a fault that no try mended.
func lasting(err error) error {
	if errors.Is(err, jetstream.ErrNoStreamResponse) || errors.Is(err, nats.ErrNoResponders) {
		return fmt.Errorf("%w: %w (is the plant's name right and its planner running?)", ErrNotStored, ErrNoLog)
	}
	return ErrNotStored
}
