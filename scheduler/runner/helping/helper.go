// SPDX-License-Identifier: Apache-2.0

package helping

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"sync"
	"time"

	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

const (
	// answerIn is how long a desk may take to answer. One that does not is gone.
	answerIn = 10 * time.Second
	// forget is how long after its last offer a job is forgotten.
	forget = time.Minute
)

// Helper does shares of the work of desks.
type Helper struct {
	bus     Bus
	program string
	who     string
	log     *slog.Logger

	mu   sync.Mutex
	free int                  // cores
	on   map[string]time.Time // jobs under way, or of no use, and when they were last heard of
}

// NewHelper is a helper with so many cores. who is its name in logs.
func NewHelper(bus Bus, program, who string, cores int, log *slog.Logger) *Helper {
	return &Helper{bus: bus, program: program, who: who, log: log, free: cores, on: map[string]time.Time{}}
}

// Run helps until ctx ends.
func (h *Helper) Run(ctx context.Context) error {
	offers := make(chan offer, 16)
	stop, err := h.bus.Hear(subjectOffer, func(data []byte) []byte {
		var o offer
		if json.Unmarshal(data, &o) != nil {
			return nil // it is no word of ours
		}
		select {
		case offers <- o:
		default: // it will be said again
		}
		return nil
	})
	if err != nil {
		return err
	}
	defer stop()
	var wait sync.WaitGroup
	defer wait.Wait()
	other := ""
	for {
		select {
		case <-ctx.Done():
			return nil
		case o := <-offers:
			switch {
			case o.Program == h.program:
				if cores := h.take(o.Job); cores > 0 {
					wait.Go(func() { h.join(ctx, o.Job, cores) })
				}
			case o.Program != other:
				other = o.Program
				h.log.Warn("a shop has work, but another version of the program", "its", o.Program, "ours", h.program)
			}
		}
	}
}

// take is all free cores, for a job that is new.
func (h *Helper) take(name string) int {
	h.mu.Lock()
	defer h.mu.Unlock()
	now := time.Now()
	maps.DeleteFunc(h.on, func(_ string, heard time.Time) bool { return now.Sub(heard) > forget })
	if _, known := h.on[name]; known || h.free == 0 {
		if known {
			h.on[name] = now
		}
		return 0
	}
	cores := h.free
	h.free, h.on[name] = 0, now
	return cores
}

func (h *Helper) give(cores int) {
	h.mu.Lock()
	h.free += cores
	h.mu.Unlock()
}

// join does shares of a job, on so many cores, until there are none.
func (h *Helper) join(ctx context.Context, name string, cores int) {
	defer h.give(cores)
	work, err := h.fetch(ctx, name)
	if err != nil && ctx.Err() == nil {
		h.log.Warn("a job cannot be done", "err", err)
	}
	if err != nil || work == nil {
		return
	}
	began := time.Now()
	var wait sync.WaitGroup
	var mu sync.Mutex
	shares := 0
	for range cores {
		wait.Go(func() {
			n, err := h.shares(ctx, name, work.worker())
			if err != nil && ctx.Err() == nil {
				h.log.Debug("a job is over, or its shop is gone", "job", name, "err", err)
			}
			mu.Lock()
			shares += n
			mu.Unlock()
		})
	}
	wait.Wait()
	h.log.Info("helped", "with", work.kind(), "shares", shares, "took", time.Since(began).Round(time.Millisecond))
}

// fetch is a job from its desk; nil: it is over.
func (h *Helper) fetch(ctx context.Context, name string) (w work, err error) {
	got, err := h.ask(ctx, name, &ask{Join: true})
	if err != nil || got.Job == nil {
		return nil, err
	}
	err = runner.Guarded(func() (err error) {
		w, err = got.Job.open()
		return err
	})
	return w, err
}

// shares does one share after another; how many it did.
func (h *Helper) shares(ctx context.Context, name string, do func(context.Context, share, *ask) error) (n int, err error) {
	brings := &ask{}
	for {
		got, err := h.ask(ctx, name, brings)
		if err != nil || got.Over || brings.Failed != "" {
			return n, err
		}
		brings = &ask{}
		if err := runner.Guarded(func() error { return do(ctx, got.Share, brings) }); err != nil {
			h.log.Warn("a share of the work failed", "err", err)
			brings = &ask{Failed: err.Error()}
		}
		n++
	}
}

func (h *Helper) ask(ctx context.Context, name string, a *ask) (got answer, err error) {
	ctx, cancel := context.WithTimeout(ctx, answerIn)
	defer cancel()
	a.Helper = h.who
	text, err := pack(a)
	if err != nil {
		return got, err
	}
	if len(text) > h.bus.Most() {
		if text, err = pack(&ask{Helper: h.who, Failed: "what was found is too large to be told"}); err != nil {
			return got, err
		}
	}
	reply, err := h.bus.Ask(ctx, subjectJob+name, text)
	if err != nil {
		return got, err
	}
	return got, unpack(reply, &got)
}

// work is a job that can be done.
type work interface {
	kind() string
	// worker is what one core does shares with: it puts what comes of one into
	// the next thing to ask.
	worker() func(context.Context, share, *ask) error
}

// open makes a job that came from elsewhere ready.
func (j *job) open() (work, error) {
	switch {
	case j.Search != nil:
		return j.Search, nil
	case j.Play != nil:
		return j.Play.lay()
	}
	return nil, errors.New("a job of a kind that this program does not know")
}

func (*searching) kind() string { return "a search" }

func (s *searching) worker() func(context.Context, share, *ask) error {
	return func(ctx context.Context, x share, brings *ask) error {
		began := time.Now()
		r, err := search.Improve(&s.Problem, search.Options{Seed: x.Seed, Start: s.From, Progress: func() float64 {
			if ctx.Err() != nil {
				return 1
			}
			return float64(time.Since(began)) / float64(max(1, x.Time))
		}})
		if err != nil {
			return err
		}
		brings.Found = &solved{Plan: *r.Plan, Cost: r.Cost, Iterations: r.Iterations, Optimal: r.Optimal}
		return nil
	}
}

// laid is a plan laid out for playing.
type laid struct {
	program *risk.Program
	seed    uint64
}

func (p *playing) lay() (*laid, error) {
	s, err := scheduler.LoadEntities(maps.All(p.Things))
	if err != nil {
		return nil, err
	}
	if s.Plan == nil {
		return nil, errors.New("a shop without a plan")
	}
	g, err := risk.Compile(s, p.Now, s.Plan)
	return &laid{g, p.Seed}, err
}

func (*laid) kind() string { return "histories" }

func (l *laid) worker() func(context.Context, share, *ask) error {
	y := l.program.NewPlayer()
	return func(_ context.Context, x share, brings *ask) error {
		if x.From < 0 || x.To <= x.From || x.To-x.From > risk.MaxReplications {
			return fmt.Errorf("histories %d to %d cannot be", x.From, x.To-1)
		}
		part := y.PlayPart(l.seed, x.From, x.To)
		brings.Played = &part
		return nil
	}
}
