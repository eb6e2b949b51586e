// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/resources"
	"towpath/scheduler/runner"
)

// busLog lets the runner work on the JetStream log.
type busLog struct{ log *natslog.Log }

func (b busLog) Append(ctx context.Context, after uint64, batch []events.Event) ([]uint64, error) {
	if after == runner.Anywhere {
		after = natslog.AnyLast
	}
	done, err := b.log.Append(ctx, batch, after)
	if errors.Is(err, natslog.ErrConflict) {
		return nil, fmt.Errorf("%w: %w", runner.ErrStale, err)
	}
	return done.Seqs, err
}

func (b busLog) Follow(ctx context.Context, after uint64) (runner.Feed, error) {
	feed, err := b.log.Follow(ctx, after)
	if err != nil {
		return nil, err
	}
	return busFeed{feed}, nil
}

func (b busLog) Last(ctx context.Context) (uint64, error) { return b.log.Last(ctx) }

func (b busLog) First(ctx context.Context) (uint64, error) { return b.log.First(ctx) }

func (b busLog) Trim(ctx context.Context, through uint64) error { return b.log.Trim(ctx, through) }

func (b busLog) Reject(ctx context.Context, r runner.Reject) error {
	return b.log.Reject(ctx, natslog.Reject{
		Seq: r.Seq, ID: r.ID, Kind: r.Kind, At: r.At, About: r.About, By: r.By, Reason: r.Reason,
	})
}

// busFeed is a place in the JetStream log.
type busFeed struct{ feed *natslog.Feed }

func (f busFeed) Next(ctx context.Context) ([]runner.Entry, error) {
	got, err := f.feed.Next(ctx)
	if err != nil {
		return nil, err
	}
	entries := make([]runner.Entry, len(got))
	for i, e := range got {
		entries[i] = runner.Entry{Seq: e.Seq, Stored: resources.Tick(e.Stored.Unix()), Event: e.Event, Err: e.Err}
	}
	return entries, nil
}

func (f busFeed) Close() { f.feed.Close() }
