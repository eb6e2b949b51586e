// SPDX-License-Identifier: Apache-2.0

package helping

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"log/slog"
	"maps"
	"sync"
	"time"

	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/risk"
	"towpath/scheduler/runner"
	"towpath/scheduler/search"
)

const (
	// offerEvery is how often a job is offered, for those that have become free.
	offerEvery = 200 * time.Millisecond
	// atOnce is how many histories a helper's core is given at once: long enough
	// that asking costs little, short enough that little is played twice at the
	// end.
	atOnce = 8
	// least is the shortest search worth a share.
	least = 200 * time.Millisecond
)

// Desk shares out work to helpers.
type Desk struct {
	bus     Bus
	program string
	log     *slog.Logger
}

// NewDesk shares out work on a bus to helpers that run the same program.
func NewDesk(bus Bus, program string, log *slog.Logger) *Desk {
	return &Desk{bus: bus, program: program, log: log.With("part", "helping")}
}

// Play has helpers play histories of a shop's plan, with a seed.
func (d *Desk) Play(s *scheduler.State, now resources.Tick, seed uint64) runner.Elsewhere {
	return func(ctx context.Context, lend func(n int) (from, to int), bring func(risk.Part) error) {
		shop := func() job { return job{Play: &playing{Things: maps.Collect(s.Standing()), Now: now, Seed: seed}} }
		end := d.offer(ctx, shop, func(a *ask) answer {
			if a.Failed != "" {
				return answer{Over: true}
			}
			if a.Played != nil {
				if err := bring(*a.Played); err != nil {
					d.log.Warn("what a helper brings is of no use", "helper", a.Helper, "err", err)
					return answer{Over: true}
				}
			}
			from, to := lend(atOnce)
			return answer{Over: from >= to, Share: share{From: from, To: to}}
		})
		<-ctx.Done()
		end()
	}
}

// Search has helpers search along with the workers of a budget.
func (d *Desk) Search(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b runner.Budget) (found func(wait bool) []search.Result) {
	s := &searches{until: time.Now().Add(b.Time), budget: b, all: make(chan struct{}, 1)}
	problem := func() job { return job{Search: &searching{Problem: *p, From: from}} }
	end := d.offer(ctx, problem, s.serve)
	return func(wait bool) []search.Result {
		if wait {
			s.wait(ctx)
		}
		end()
		return s.results()
	}
}

// searches are those of one budget that helpers do.
type searches struct {
	until  time.Time
	budget runner.Budget
	all    chan struct{} // told when the last that is out has come

	mu    sync.Mutex
	given int // shares
	out   int // of them, those not back
	found []search.Result
}

func (s *searches) serve(a *ask) answer {
	s.mu.Lock()
	defer s.mu.Unlock()
	if a.Found != nil || a.Failed != "" {
		s.out--
		if f := a.Found; f != nil {
			s.found = append(s.found, search.Result{Plan: &f.Plan, Cost: f.Cost, Iterations: f.Iterations, Optimal: f.Optimal})
		}
		if s.out <= 0 {
			select {
			case s.all <- struct{}{}:
			default:
			}
		}
	}
	left := time.Until(s.until)
	if left < least || a.Failed != "" || a.Found != nil && a.Found.Optimal {
		return answer{Over: true}
	}
	s.given++
	s.out++
	return answer{Share: share{Seed: s.budget.SeedOf(max(1, s.budget.Workers) + s.given - 1), Time: left}}
}

// wait is until all searches are back, and not much longer than their time.
func (s *searches) wait(ctx context.Context) {
	more := min(2*time.Second, max(least, s.budget.Time/10))
	limit := time.NewTimer(time.Until(s.until.Add(more)))
	defer limit.Stop()
	for {
		s.mu.Lock()
		out := s.out
		s.mu.Unlock()
		if out <= 0 {
			return
		}
		select {
		case <-s.all:
		case <-limit.C:
			return
		case <-ctx.Done():
			return
		}
	}
}

func (s *searches) results() []search.Result {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.found
}

// offer has a job, which is made when the first helper comes, done by those who
// come, until end is called. What cannot be said is not shared.
func (d *Desk) offer(ctx context.Context, lay func() job, serve func(*ask) answer) (end func()) {
	name := rand.Text()
	word, err := json.Marshal(offer{Program: d.program, Job: name})
	if err != nil {
		d.log.Warn("work is not shared", "err", err)
		return func() {}
	}
	packed := sync.OnceValues(func() ([]byte, error) {
		j := lay()
		return pack(answer{Job: &j})
	})
	ctx, cancel := context.WithCancel(ctx)
	stop, err := d.bus.Hear(subjectJob+name, func(data []byte) []byte {
		if ctx.Err() != nil {
			return d.say(answer{Over: true})
		}
		var a ask
		if err := unpack(data, &a); err != nil {
			d.log.Warn("what a helper says cannot be read", "err", err)
			return d.say(answer{Over: true})
		}
		if !a.Join {
			if a.Failed != "" {
				d.log.Warn("a helper failed", "helper", a.Helper, "why", a.Failed)
			}
			return d.say(serve(&a))
		}
		d.log.Debug("a helper comes", "helper", a.Helper, "job", name)
		text, err := packed()
		if err != nil || len(text) > d.bus.Most() {
			d.log.Warn("work is too large to be shared", "bytes", len(text), "most", d.bus.Most(), "err", err)
			return d.say(answer{Over: true})
		}
		return text
	})
	if err != nil {
		d.log.Warn("work is not shared", "err", err)
		cancel()
		return func() {}
	}
	var wait sync.WaitGroup
	wait.Go(func() { d.call(ctx, word) })
	return func() {
		cancel()
		wait.Wait()
		stop()
	}
}

// call tells of a job again and again until ctx ends.
func (d *Desk) call(ctx context.Context, word []byte) {
	tick := time.NewTicker(offerEvery)
	defer tick.Stop()
	for {
		// What the bus does not carry now it may the next time.
		_ = d.bus.Say(subjectOffer, word)
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

func (d *Desk) say(a answer) []byte {
	text, err := pack(a)
	if err != nil {
		d.log.Warn("an answer to a helper cannot be written", "err", err)
	}
	return text
}
