// SPDX-License-Identifier: Apache-2.0

package helping

import (
	"context"
	"errors"
	"sync"
)

var errNobody = errors.New("nobody hears it")

// room is a bus within the test. Each that listens is called once at a time.
type room struct {
	most int

	mu    sync.Mutex
	ears  map[string][]*ear
	asked map[string]int // by subject
}

type ear struct {
	words chan word
	gone  chan struct{}
}

type word struct {
	data  []byte
	reply chan []byte // nil: nobody waits
}

func newRoom() *room {
	return &room{most: 8 << 20, ears: map[string][]*ear{}, asked: map[string]int{}}
}

func (r *room) Most() int { return r.most }

func (r *room) Hear(subject string, f func([]byte) []byte) (func(), error) {
	e := &ear{words: make(chan word), gone: make(chan struct{})}
	r.mu.Lock()
	r.ears[subject] = append(r.ears[subject], e)
	r.mu.Unlock()
	go func() {
		for {
			select {
			case w := <-e.words:
				if answer := f(w.data); w.reply != nil {
					w.reply <- answer
				}
			case <-e.gone:
				return
			}
		}
	}()
	return sync.OnceFunc(func() { close(e.gone) }), nil
}

func (r *room) hears(subject string) []*ear {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]*ear(nil), r.ears[subject]...)
}

func (r *room) Say(subject string, data []byte) error {
	for _, e := range r.hears(subject) {
		select {
		case e.words <- word{data: data}:
		case <-e.gone:
		}
	}
	return nil
}

func (r *room) Ask(ctx context.Context, subject string, data []byte) ([]byte, error) {
	r.mu.Lock()
	r.asked[subject]++
	r.mu.Unlock()
	for _, e := range r.hears(subject) {
		w := word{data: data, reply: make(chan []byte, 1)}
		select {
		case e.words <- w:
		case <-e.gone:
			continue
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		select {
		case answer := <-w.reply:
			return answer, nil
		case <-e.gone:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	return nil, errNobody
}

// of is how often something was asked of any job.
func (r *room) of() (n int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, k := range r.asked {
		n += k
	}
	return n
}

// deaf is a bus that does not hear of an end: all that is said still arrives.
type deaf struct {
	*room
	subject string // last listened to
}

func (d *deaf) Hear(subject string, f func([]byte) []byte) (func(), error) {
	d.subject = subject
	_, err := d.room.Hear(subject, f)
	return func() {}, err
}
