// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
)

// Entry is one message of the log. When it cannot be understood, Err says why
// and Event is zero.
type Entry struct {
	Seq     uint64
	Subject string
	Stored  time.Time // when the broker took it
	Event   events.Event
	Err     error
}

// Limits of what Next hands over at once.
const (
	groupEntries = 1000
	groupBytes   = 16 << 20
)

// readAhead bounds the bytes that wait in memory for Next; no message is
// larger.
const readAhead = 4 * MaxPayload

// groupWait is how long Next waits for messages the broker has announced
// before it hands over those that are there.
const groupWait = 100 * time.Millisecond

// Feed reads the log in order, first what is there and then what comes. It
// belongs to one goroutine at a time; Close may be called from another.
type Feed struct {
	messages jetstream.MessagesContext
	last     uint64
}

// Follow reads the log from the message after a sequence; 0 is the beginning.
// The reader keeps its own place: nothing is remembered on the broker.
func (l *Log) Follow(ctx context.Context, after uint64) (*Feed, error) {
	consumer, err := l.stream.OrderedConsumer(ctx, jetstream.OrderedConsumerConfig{
		DeliverPolicy: jetstream.DeliverByStartSequencePolicy, OptStartSeq: after + 1, InactiveThreshold: time.Minute,
	})
	if err != nil {
		return nil, explain("read the log", err)
	}
	messages, err := consumer.Messages(jetstream.PullMaxBytes(readAhead), jetstream.WithMessagesErrOnMissingHeartbeat(false))
	if err != nil {
		return nil, explain("read the log", err)
	}
	return &Feed{messages: messages, last: after}, nil
}

// Next waits for at least one message and returns it with those that wait
// behind it, so that they can share a transaction: at most 1000, about 16 MiB.
// It returns ctx's error when ctx ends and ErrClosed after Close.
func (f *Feed) Next(ctx context.Context) ([]Entry, error) {
	var group []Entry
	size := 0
	for {
		wait := jetstream.NextContext(ctx)
		if len(group) > 0 {
			wait = jetstream.NextMaxWait(groupWait)
		}
		msg, err := f.messages.Next(wait)
		if err != nil && len(group) > 0 {
			return group, nil // a lasting error comes again
		}
		if err != nil {
			return nil, nextError(ctx, err)
		}
		entry, waiting, err := f.read(msg)
		if err != nil {
			return group, err
		}
		group = append(group, entry)
		size += len(msg.Data())
		if waiting == 0 || len(group) == groupEntries || size >= groupBytes {
			return group, nil
		}
	}
}

func nextError(ctx context.Context, err error) error {
	if ctx.Err() != nil && (errors.Is(err, ctx.Err()) || errors.Is(err, nats.ErrTimeout)) {
		return ctx.Err()
	}
	return explain("read the log", err)
}

// read decodes one message; waiting is how many are stored behind it.
func (f *Feed) read(msg jetstream.Msg) (e Entry, waiting uint64, err error) {
	meta, err := msg.Metadata()
	if err != nil {
		return Entry{}, 0, fmt.Errorf("read the log: %w", err)
	}
	seq := meta.Sequence.Stream
	if seq <= f.last {
		return Entry{}, 0, fmt.Errorf("read the log: message %d came after %d", seq, f.last)
	}
	f.last = seq
	e = Entry{Seq: seq, Subject: msg.Subject(), Stored: meta.Timestamp}
	e.Event, e.Err = understand(msg.Subject(), msg.Data())
	e.Event.Seq = seq
	return e, meta.NumPending, nil
}

// understand decodes a message and checks that it came by its own subject.
func understand(subject string, data []byte) (events.Event, error) {
	e, err := events.Decode(data)
	if err != nil {
		return events.Event{}, err
	}
	if want := events.Subject(e); subject != want {
		return events.Event{}, &events.Fault{
			Err: events.ErrContradiction, Field: "message subject", Found: subject, Allowed: want,
			Hint: "publish on the subject that belongs to the event",
		}
	}
	return e, nil
}

// Close ends the feed; Next answers ErrClosed then.
func (f *Feed) Close() { f.messages.Stop() }
