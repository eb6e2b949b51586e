// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"fmt"
)

// trimMargin is how many messages Trim leaves before the place it is given: as
// many may be published while it works.
const trimMargin = 10_000

// First is the sequence of the oldest message the log still has; 1 for a log
// that is whole, or empty.
func (l *Log) First(ctx context.Context) (uint64, error) {
	info, err := l.stream.Info(ctx)
	if err != nil {
		return 0, explain("beginning of the log", err)
	}
	return max(1, info.State.FirstSeq), nil
}

// Trim lets go of the oldest messages, at most through a sequence and some ten
// thousand fewer, so that what is published meanwhile takes nothing else. It
// cannot be undone: a state from after that sequence must be kept elsewhere.
//
// Nobody may delete or purge messages of the stream; Trim sets a limit to their
// number for a moment. When this program dies in that moment, the limit stays
// until the next Open lifts it.
func (l *Log) Trim(ctx context.Context, through uint64) error {
	ctx, cancel := withDeadline(ctx)
	defer cancel()
	info, err := l.stream.Info(ctx)
	if err != nil {
		return explain("trim the log", err)
	}
	if through < info.State.FirstSeq+trimMargin || through > info.State.LastSeq {
		return nil // nothing to let go of
	}
	keep := info.State.LastSeq - through + trimMargin
	limited := streamConfig(l.conf)
	limited.MaxMsgs = int64(keep)
	_, err = l.js.UpdateStream(ctx, limited)
	// The limit is lifted in any case, and for that the caller's patience does
	// not count.
	lift, stop := context.WithTimeout(context.WithoutCancel(ctx), answerTimeout)
	defer stop()
	if _, again := l.js.UpdateStream(lift, streamConfig(l.conf)); again != nil && err == nil {
		err = again
	}
	return explain(fmt.Sprintf("trim the log through %d", through), err)
}
