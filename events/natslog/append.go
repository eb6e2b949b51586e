// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"errors"
	"fmt"
	"math"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nuid"
	"github.com/synadia-io/orbit.go/jetstreamext"

	"towpath/events"
)

// AnyLast as the expected last sequence appends wherever the log ends.
const AnyLast = uint64(math.MaxUint64)

// Limits of one atomic batch: the broker's number of messages, and bytes that
// do not swamp a connection.
const (
	batchEvents = 1000
	batchBytes  = 16 << 20
)

// Appended says what became of a batch.
type Appended struct {
	Last       uint64   // sequence of the batch's last event, new or old
	Seqs       []uint64 // of each event
	Duplicates []bool   // of each event: its ID was in the log already, nothing was stored
}

// Append stores events in order and returns when they are on the disk. With an
// expected last sequence other than AnyLast it answers ErrConflict when the
// log's last sequence is another.
//
// Up to 1000 events and 16 MiB are stored wholly or not at all; more is cut
// into such batches, and an error, ErrConflict too, may leave the earlier ones
// stored. An event whose ID the broker remembers is not stored again. After
// ErrUnavailable, or when ctx ends, append the same events again: what was
// stored is recognised.
// An event that Encode refuses is an error before anything is stored.
func (l *Log) Append(ctx context.Context, batch []events.Event, expectedLast uint64) (Appended, error) {
	msgs, err := messages(batch)
	if err != nil {
		return Appended{}, err
	}
	ctx, cancel := withDeadline(ctx)
	defer cancel()
	var all Appended
	for len(msgs) > 0 {
		n := chunk(msgs)
		part, stored, err := l.appendChunk(ctx, msgs[:n], expectedLast)
		if err != nil {
			return all, explain(fmt.Sprintf("append %d events", len(batch)), err)
		}
		all.Last = part.Last
		all.Seqs = append(all.Seqs, part.Seqs...)
		all.Duplicates = append(all.Duplicates, part.Duplicates...)
		if expectedLast != AnyLast && stored > 0 {
			expectedLast = stored
		}
		msgs = msgs[n:]
	}
	return all, nil
}

func withDeadline(ctx context.Context) (context.Context, context.CancelFunc) {
	if _, ok := ctx.Deadline(); ok {
		return ctx, func() {}
	}
	return context.WithTimeout(ctx, answerTimeout)
}

// messages encodes a batch; within it an ID may stand once.
func messages(batch []events.Event) ([]*nats.Msg, error) {
	msgs := make([]*nats.Msg, len(batch))
	seen := make(map[string]int, len(batch))
	for i, e := range batch {
		if j, twice := seen[e.ID]; twice {
			return nil, fmt.Errorf("event %d of the batch has the id of event %d, %s: every event needs its own", i+1, j+1, e.ID)
		}
		seen[e.ID] = i
		text, err := events.Encode(e)
		if err != nil {
			return nil, fmt.Errorf("event %d of the batch, %s: %w", i+1, e.ID, err)
		}
		msgs[i] = &nats.Msg{Subject: events.Subject(e), Data: text, Header: nats.Header{
			jetstream.MsgIDHeader: {e.ID},
			"Content-Type":        {"application/cloudevents+json"},
		}}
	}
	return msgs, nil
}

// chunk is how many of the messages go into one atomic batch.
func chunk(msgs []*nats.Msg) int {
	size := 0
	for i, m := range msgs {
		size += len(m.Data)
		if i == batchEvents || i > 0 && size > batchBytes {
			return i
		}
	}
	return len(msgs)
}

// appendChunk stores one chunk; stored is the log's last sequence after it, 0
// when all were duplicates.
func (l *Log) appendChunk(ctx context.Context, msgs []*nats.Msg, expectedLast uint64) (a Appended, stored uint64, err error) {
	if len(msgs) == 1 {
		return l.appendOne(ctx, msgs[0], expectedLast)
	}
	last, err := l.publishBatch(ctx, msgs, expectedLast)
	if isCode(err, codeBatchHasDuplicate) {
		return l.appendOthers(ctx, msgs, expectedLast)
	}
	if err != nil {
		return Appended{}, 0, err
	}
	a = Appended{Last: last, Seqs: make([]uint64, len(msgs)), Duplicates: make([]bool, len(msgs))}
	for i := range msgs {
		a.Seqs[i] = last - uint64(len(msgs)-1-i) // a batch is stored without gaps
	}
	return a, last, nil
}

// appendOne stores a single message. The broker looks at the expected sequence
// before it looks at the ID, so a conflict may be a repeat.
func (l *Log) appendOne(ctx context.Context, m *nats.Msg, expectedLast uint64) (Appended, uint64, error) {
	expect(m, expectedLast)
	ack, err := l.js.PublishMsg(ctx, m)
	if wrongLast(err) {
		if seq, known, probeErr := l.remembered(ctx, m); probeErr == nil && known {
			return Appended{Last: seq, Seqs: []uint64{seq}, Duplicates: []bool{true}}, 0, nil
		}
	}
	if err != nil {
		return Appended{}, 0, err
	}
	a := Appended{Last: ack.Sequence, Seqs: []uint64{ack.Sequence}, Duplicates: []bool{ack.Duplicate}}
	if ack.Duplicate {
		return a, 0, nil
	}
	return a, ack.Sequence, nil
}

// publishBatch commits the messages atomically; the broker writes them to the
// disk with one sync.
func (l *Log) publishBatch(ctx context.Context, msgs []*nats.Msg, expectedLast uint64) (uint64, error) {
	for i, m := range msgs {
		m.Reply = ""
		expect(m, AnyLast)
		if i == 0 {
			expect(m, expectedLast)
		}
	}
	ack, err := jetstreamext.PublishMsgBatch(ctx, l.js, msgs, jetstreamext.BatchFlowControl{})
	if err != nil {
		return 0, err
	}
	return ack.Sequence, nil
}

// appendOthers stores what is new of a batch that holds duplicates.
func (l *Log) appendOthers(ctx context.Context, msgs []*nats.Msg, expectedLast uint64) (a Appended, stored uint64, err error) {
	a = Appended{Seqs: make([]uint64, len(msgs)), Duplicates: make([]bool, len(msgs))}
	var fresh []*nats.Msg
	var at []int
	for i, m := range msgs {
		seq, known, err := l.remembered(ctx, m)
		if err != nil {
			return Appended{}, 0, err
		}
		if a.Seqs[i], a.Duplicates[i] = seq, known; !known {
			fresh, at = append(fresh, m), append(at, i)
		}
	}
	switch {
	case len(fresh) == len(msgs):
		// Forgotten since the broker complained. Appending again would do, but
		// only the caller knows whether the events are still meant.
		return Appended{}, 0, errors.New("the broker's memory of event IDs ended meanwhile; append again")
	case len(fresh) > 0:
		part, last, err := l.appendChunk(ctx, fresh, expectedLast)
		if err != nil {
			return Appended{}, 0, err
		}
		stored = last
		for j, i := range at {
			a.Seqs[i], a.Duplicates[i] = part.Seqs[j], part.Duplicates[j]
		}
	}
	a.Last = a.Seqs[len(a.Seqs)-1]
	return a, stored, nil
}

// remembered asks whether the broker knows a message's ID, without storing
// anything: published with an expected last message ID that no log has, a
// known one is answered as a duplicate, which the broker looks for first, and
// an unknown one is refused.
func (l *Log) remembered(ctx context.Context, m *nats.Msg) (uint64, bool, error) {
	probe := &nats.Msg{Subject: m.Subject, Header: nats.Header{
		jetstream.MsgIDHeader:             m.Header[jetstream.MsgIDHeader],
		jetstream.ExpectedLastMsgIDHeader: {"probe " + nuid.Next()},
	}}
	ack, err := l.js.PublishMsg(ctx, probe)
	switch {
	case isCode(err, codeWrongLastID):
		return 0, false, nil
	case err != nil:
		return 0, false, err
	case !ack.Duplicate:
		return 0, false, fmt.Errorf("the broker stored an empty message as %d although it expected another before it", ack.Sequence)
	}
	return ack.Sequence, true, nil
}

// expect sets or clears the expected last sequence of a message.
func expect(m *nats.Msg, last uint64) {
	m.Header.Del(jetstream.ExpectedLastSeqHeader)
	if last != AnyLast {
		m.Header.Set(jetstream.ExpectedLastSeqHeader, fmt.Sprint(last))
	}
}
