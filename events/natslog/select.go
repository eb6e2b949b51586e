// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"strings"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
	"towpath/resources"
)

// Select reads the events of some kinds that the log holds now, in its order,
// without reading the rest. Since is when its first event happened, whatever
// its kind; 0 for an empty log. What cannot be understood is left out.
func (l *Log) Select(ctx context.Context, kinds ...events.Kind) (found []events.Event, since resources.Tick, err error) {
	ctx, cancel := withDeadline(ctx)
	defer cancel()
	info, err := l.stream.Info(ctx)
	if err != nil {
		return nil, 0, explain("read the log", err)
	}
	if info.State.Msgs == 0 {
		return nil, 0, nil
	}
	if msg, err := l.stream.GetMsg(ctx, info.State.FirstSeq); err == nil {
		since = resources.Tick(msg.Time.Unix())
		if e, err := understand(msg.Subject, msg.Data); err == nil {
			since = e.At
		}
	}
	consumer, err := l.stream.OrderedConsumer(ctx, jetstream.OrderedConsumerConfig{
		FilterSubjects: l.subjectsOf(kinds), DeliverPolicy: jetstream.DeliverAllPolicy, InactiveThreshold: time.Minute,
	})
	if err != nil {
		return nil, 0, explain("read the log", err)
	}
	if consumer.CachedInfo().NumPending == 0 {
		return nil, since, nil
	}
	messages, err := consumer.Messages(jetstream.PullMaxBytes(readAhead), jetstream.WithMessagesErrOnMissingHeartbeat(false))
	if err != nil {
		return nil, 0, explain("read the log", err)
	}
	feed := Feed{messages: messages}
	defer feed.Close()
	for {
		msg, err := messages.Next(jetstream.NextContext(ctx))
		if err != nil {
			return nil, 0, nextError(ctx, err)
		}
		entry, waiting, err := feed.read(msg)
		if err != nil {
			return nil, 0, err
		}
		if entry.Err == nil {
			found = append(found, entry.Event)
		}
		if waiting == 0 || entry.Seq >= info.State.LastSeq {
			return found, since, nil
		}
	}
}

// subjectsOf lists the subjects events of these kinds may have; see
// events.Subject.
func (l *Log) subjectsOf(kinds []events.Kind) []string {
	base := events.Root + "." + events.Token(l.conf.Plant) + "."
	var subjects []string
	for _, k := range kinds {
		noun, verb, _ := strings.Cut(string(k), ".")
		if noun == "station" {
			subjects = append(subjects, base+"station.*."+verb)
			continue
		}
		subjects = append(subjects, base+string(k), base+noun+".*."+verb, base+"station.*."+string(k))
	}
	return subjects
}
