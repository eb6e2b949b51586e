// SPDX-License-Identifier: Apache-2.0

package runner

import "context"

// reading is the log read ahead from a place to another, so that records are
// decoded while those before them are applied. A nil reading is closed.
type reading struct {
	next    uint64 // sequence it goes on with
	last    uint64
	batches chan []Entry // closed at the end
	err     error        // why it ended early; to be read after that
	rest    []Entry      // read and not asked for yet
	stop    context.CancelFunc
}

// readAhead is how many batches wait to be folded.
const readAhead = 16

// at is a reading that goes on after a sequence: this one when it stands
// there, else another, and this one is closed.
func (s *reading) at(r *Runner, ctx context.Context, after, last uint64) *reading {
	if s != nil && s.next == after+1 && s.last == last {
		return s
	}
	s.close()
	ctx, stop := context.WithCancel(ctx)
	s = &reading{next: after + 1, last: last, batches: make(chan []Entry, readAhead), stop: stop}
	if after >= last {
		close(s.batches)
		return s
	}
	go s.read(ctx, r.opt.Log, after)
	return s
}

func (s *reading) read(ctx context.Context, log Log, after uint64) {
	defer close(s.batches)
	feed, err := log.Follow(ctx, after)
	if err != nil {
		s.err = err
		return
	}
	defer feed.Close()
	for read := after; read < s.last; {
		batch, err := feed.Next(ctx)
		if err != nil {
			s.err = err
			return
		}
		if len(batch) == 0 {
			continue
		}
		read = batch[len(batch)-1].Seq
		select {
		case s.batches <- batch:
		case <-ctx.Done():
			s.err = ctx.Err()
			return
		}
	}
}

// upTo takes the records up to a sequence.
func (s *reading) upTo(seq uint64) ([]Entry, error) {
	var taken []Entry
	for s.next <= seq {
		if len(s.rest) == 0 {
			batch, more := <-s.batches
			if !more { // of the last records nothing may be left
				return taken, s.err
			}
			s.rest = batch
			continue
		}
		n := 0
		for n < len(s.rest) && s.rest[n].Seq <= seq {
			n++
		}
		if n > 0 {
			taken = append(taken, s.rest[:n]...)
			s.next, s.rest = s.rest[n-1].Seq+1, s.rest[n:]
		}
		if len(s.rest) > 0 { // the log has no record of the sequence itself
			s.next = max(s.next, seq+1)
		}
	}
	return taken, nil
}

// close stops the reading; it may be called twice.
func (s *reading) close() {
	if s == nil {
		return
	}
	s.stop()
	for range s.batches { // until the reader has ended
	}
}
