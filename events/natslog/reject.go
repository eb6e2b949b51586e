// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
	"towpath/resources"
)

// rejectedRoot is outside towpath.>, so that a reject never becomes an event.
const rejectedRoot = "towpath-rejected"

// Reject is a message that could not be understood, or an event that cannot
// be true, with the reason. Seq is its place in the log, where it stays; ID,
// Kind, At, About and By are empty when it could not even be read.
type Reject struct {
	Seq    uint64         `json:"sequence"`
	ID     string         `json:"id,omitempty"`
	Kind   events.Kind    `json:"kind,omitempty"`
	At     resources.Tick `json:"at,omitempty"`
	About  string         `json:"about,omitempty"` // serial, station, order, … it speaks of
	By     string         `json:"by,omitempty"`
	Reason string         `json:"reason"`

	// Reject fills these in from the log.
	Stored  time.Time `json:"stored"`
	Subject string    `json:"subject"`
	Size    int       `json:"size"`          // of the message, bytes
	Raw     string    `json:"raw,omitempty"` // its beginning, broken characters replaced
}

// rawBytes of a message are kept beside the reason; the log has the rest.
const rawBytes = 8 << 10

// maxReason bounds the reason, in bytes.
const maxReason = 16 << 10

// Reject keeps r in the rejected stream. The same Seq again, after a crash or
// a replay, is kept once, and the first reason stays.
func (l *Log) Reject(ctx context.Context, r Reject) error {
	ctx, cancel := withDeadline(ctx)
	defer cancel()
	msg, err := l.stream.GetMsg(ctx, r.Seq)
	if err != nil {
		return explain(fmt.Sprintf("reject message %d", r.Seq), err)
	}
	r.Stored, r.Subject, r.Size = msg.Time, msg.Subject, len(msg.Data)
	r.Raw = head(msg.Data, rawBytes)
	r.Reason = head([]byte(r.Reason), maxReason)
	text, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("reject message %d: %w", r.Seq, err)
	}
	// Nothing else of that subject: the first stays.
	_, err = l.js.Publish(ctx, l.rejectedSubject(r.Seq), text, jetstream.WithExpectLastSequencePerSubject(0))
	if wrongLast(err) {
		return nil
	}
	return explain(fmt.Sprintf("reject message %d", r.Seq), err)
}

func (l *Log) rejectedSubject(seq uint64) string {
	return rejectedRoot + "." + events.Token(l.conf.Plant) + "." + strconv.FormatUint(seq, 10)
}

// head is the first most bytes of a text, cut between characters.
func head(text []byte, most int) string {
	if len(text) > most {
		text = text[:most]
		for i := 0; i < utf8.UTFMax && len(text) > 0; i++ {
			if r, _ := utf8.DecodeLastRune(text); r != utf8.RuneError {
				break
			}
			text = text[:len(text)-1]
		}
	}
	return strings.ToValidUTF8(string(text), "\uFFFD")
}

// Rejects lists the newest rejects, the newest first, at most limit.
func (l *Log) Rejects(ctx context.Context, limit int) ([]Reject, error) {
	info, err := l.rejected.Info(ctx)
	if err != nil {
		return nil, explain("list rejects", err)
	}
	var list []Reject
	for seq := info.State.LastSeq; seq >= info.State.FirstSeq && seq > 0 && len(list) < limit; seq-- {
		msg, err := l.rejected.GetMsg(ctx, seq)
		if errors.Is(err, jetstream.ErrMsgNotFound) {
			continue
		}
		if err != nil {
			return nil, explain("list rejects", err)
		}
		var r Reject
		if err := json.Unmarshal(msg.Data, &r); err != nil {
			r = Reject{Reason: "this reject cannot be read: " + err.Error(), Subject: msg.Subject, Stored: msg.Time}
		}
		list = append(list, r)
	}
	return slices.Clip(list), nil
}
