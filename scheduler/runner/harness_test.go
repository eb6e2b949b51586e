// SPDX-License-Identifier: Apache-2.0

package runner_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/runner"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// plantFile is a shop of two benches that are always open, and one oven.
// Invented.
const plantFile = `id: joinery
zone: UTC
freeze: 0m
calendars:
  - id: day
    shifts:
      - {days: daily, hours: 06:00-22:00}
crews:
  - id: joiners
    skills: [joining]
    shifts:
      - {calendar: day, heads: 1}
stations:
  - id: SAW
  - id: GLUE
  - id: OVEN
    batch: {capacity: {places: 4}}
products:
  - id: BOX
    routing:
      - id: saw
        stations: SAW
        run: 30m
      - id: glue
        stations: GLUE
        run: 1h
      - id: dry
        stations: OVEN
        run: 2h
        size: {places: 1}
`

// start is the shop's instant at the beginning of each test.
const start resources.Tick = 1_767_600_000 // 2026-01-05T08:00:00Z, a Monday

// fakeClock runs with the test's own time.
type fakeClock struct{ began time.Time }

func (c fakeClock) Now() resources.Tick {
	return start + resources.Tick(time.Since(c.began).Seconds())
}
func (c fakeClock) Speed() float64 { return 1 }

var errCrash = errors.New("crash")

// faults makes a call of a port fail, before or after it had its effect, as a
// crash at that instant would look to the next start: the nth call at a point,
// or, for any point, the nth call of all.
type faults struct {
	mu    sync.Mutex
	point string // "before append", …; empty: any
	nth   int    // counted down; 0: none
	hit   bool
}

func (f *faults) plan(point string, nth int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.point, f.nth, f.hit = point, nth, false
}

// reach is called before and after each effect.
func (f *faults) reach(point string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.nth == 0 || f.point != "" && f.point != point {
		return nil
	}
	if f.nth--; f.nth > 0 {
		return nil
	}
	f.hit = true
	return errCrash
}

// memLog is a log in memory: records as text, so that they are decoded again.
type memLog struct {
	faults *faults
	mu     sync.Mutex
	texts  [][]byte
	ids    map[string]uint64 // that the broker remembers
	reject map[uint64]runner.Reject
	news   chan struct{}

	followed []uint64 // from where it was read, each time
	gone     uint64   // records let go of
}

func newLog() *memLog {
	return &memLog{faults: &faults{}, ids: map[string]uint64{}, reject: map[uint64]runner.Reject{}, news: make(chan struct{})}
}

// publish puts a record at the end, as a station does.
func (l *memLog) publish(text []byte, id string) uint64 {
	l.mu.Lock()
	defer l.mu.Unlock()
	defer l.tell()
	return l.put(text, id)
}

func (l *memLog) put(text []byte, id string) uint64 {
	if seq := l.ids[id]; id != "" && seq != 0 {
		return seq
	}
	l.texts = append(l.texts, text)
	if id != "" {
		l.ids[id] = uint64(len(l.texts))
	}
	return uint64(len(l.texts))
}

// tell wakes those who follow.
func (l *memLog) tell() {
	close(l.news)
	l.news = make(chan struct{})
}

// forget empties the broker's window of known IDs.
func (l *memLog) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	clear(l.ids)
}

func (l *memLog) send(t *testing.T, e events.Event) uint64 {
	t.Helper()
	text, err := events.Encode(e)
	require.NoError(t, err)
	return l.publish(text, e.ID)
}

func (l *memLog) Append(_ context.Context, after uint64, batch []events.Event) ([]uint64, error) {
	if err := l.faults.reach("before append"); err != nil {
		return nil, err
	}
	seqs, err := l.add(after, batch)
	if err != nil {
		return nil, err
	}
	return seqs, l.faults.reach("after append")
}

func (l *memLog) add(after uint64, batch []events.Event) (seqs []uint64, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if after != runner.Anywhere && after != uint64(len(l.texts)) {
		return nil, fmt.Errorf("append: %w", runner.ErrStale)
	}
	defer l.tell()
	for _, e := range batch {
		text, err := events.Encode(e)
		if err != nil {
			return nil, err
		}
		seqs = append(seqs, l.put(text, e.ID))
	}
	return seqs, nil
}

func (l *memLog) Last(context.Context) (uint64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return uint64(len(l.texts)), nil
}

func (l *memLog) First(context.Context) (uint64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.gone + 1, nil
}

func (l *memLog) Trim(_ context.Context, through uint64) error {
	if err := l.faults.reach("before trim"); err != nil {
		return err
	}
	l.mu.Lock()
	l.gone = max(l.gone, min(through, uint64(len(l.texts))))
	l.mu.Unlock()
	return l.faults.reach("after trim")
}

func (l *memLog) Reject(_ context.Context, r runner.Reject) error {
	if err := l.faults.reach("before reject"); err != nil {
		return err
	}
	l.mu.Lock()
	if _, known := l.reject[r.Seq]; !known {
		l.reject[r.Seq] = r
	}
	l.mu.Unlock()
	return l.faults.reach("after reject")
}

func (l *memLog) Follow(_ context.Context, after uint64) (runner.Feed, error) {
	l.mu.Lock()
	l.followed = append(l.followed, after)
	l.mu.Unlock()
	return &memFeed{log: l, next: after}, nil
}

// memFeed hands over what there is, at most three records at once, so that
// groups are cut in many ways.
type memFeed struct {
	log  *memLog
	next uint64
}

func (f *memFeed) Next(ctx context.Context) ([]runner.Entry, error) {
	for {
		f.log.mu.Lock()
		f.next = max(f.next, f.log.gone)
		texts, news := f.log.texts[min(f.next, uint64(len(f.log.texts))):], f.log.news
		var batch []runner.Entry
		for _, text := range texts[:min(3, len(texts))] {
			f.next++
			e, err := events.Decode(text)
			batch = append(batch, runner.Entry{Seq: f.next, Event: e, Err: err})
		}
		f.log.mu.Unlock()
		if len(batch) > 0 {
			return batch, nil
		}
		select {
		case <-news:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

func (f *memFeed) Close() {}

// memStore keeps entities as text; a Save is one transaction.
type memStore struct {
	faults *faults
	mu     sync.Mutex
	kept   map[string][]byte
	saves  int

	every     uint64 // records between two copies of the state; 0: none are kept
	snapshots []memSnapshot
	loaded    []uint64 // sequences of those that were asked for
	locked    error    // not nil: none can be opened
}

// memSnapshot is a copy of what was kept.
type memSnapshot struct {
	seq  uint64
	at   resources.Tick
	kept map[string][]byte
}

func (s *memStore) Load() (*scheduler.State, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.kept) == 0 {
		return nil, runner.ErrNoState
	}
	return loadMap(s.kept)
}

func loadMap(kept map[string][]byte) (*scheduler.State, error) {
	return scheduler.LoadEntities(func(yield func(string, []byte) bool) {
		for key, text := range kept {
			if !yield(key, text) {
				return
			}
		}
	})
}

func (s *memStore) Before(seq uint64) (*scheduler.State, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range slices.Backward(s.snapshots) {
		if x.seq < seq && s.locked != nil {
			return nil, s.locked
		}
		if x.seq < seq {
			s.loaded = append(s.loaded, x.seq)
			return loadMap(x.kept)
		}
	}
	return nil, runner.ErrNoState
}

func (s *memStore) Taken(by resources.Tick) (seq uint64, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.snapshots {
		if x.at <= by {
			seq = x.seq
		}
	}
	return seq, nil
}

func (s *memStore) Cut(seq uint64) error {
	return s.drop("cut", func(x memSnapshot) bool { return x.seq >= seq })
}

func (s *memStore) Prune(seq uint64) error {
	return s.drop("prune", func(x memSnapshot) bool { return x.seq < seq })
}

func (s *memStore) drop(name string, which func(memSnapshot) bool) error {
	if err := s.faults.reach("before " + name); err != nil {
		return err
	}
	s.mu.Lock()
	s.snapshots = slices.DeleteFunc(s.snapshots, which)
	s.mu.Unlock()
	return s.faults.reach("after " + name)
}

// copied keeps a copy of the state now and then.
func (s *memStore) copied(state *scheduler.State) {
	last := uint64(0)
	if n := len(s.snapshots); n > 0 {
		last = s.snapshots[n-1].seq
	}
	if s.every > 0 && state.Seq >= last+s.every {
		s.snapshots = append(s.snapshots, memSnapshot{state.Seq, state.At, maps.Clone(s.kept)})
	}
}

func (s *memStore) Save(state *scheduler.State) error {
	return s.write("save", state, func() {
		for _, key := range state.TakeChanged() {
			if text, ok := state.EncodeEntity(key); ok {
				s.kept[key] = text
			} else {
				delete(s.kept, key)
			}
		}
	})
}

func (s *memStore) Replace(state *scheduler.State) error {
	return s.write("replace", state, func() {
		state.TakeChanged()
		s.kept = map[string][]byte{}
		for key, text := range state.Entities() {
			s.kept[key] = text
		}
	})
}

func (s *memStore) write(name string, state *scheduler.State, f func()) error {
	if err := s.faults.reach("before " + name); err != nil {
		return err
	}
	s.mu.Lock()
	if s.kept == nil {
		s.kept = map[string][]byte{}
	}
	f()
	s.saves++
	s.copied(state)
	s.mu.Unlock()
	return s.faults.reach("after " + name)
}

// shop is a runner with its fakes.
type shop struct {
	t      *testing.T
	log    *memLog
	store  *memStore
	runner *runner.Runner
	stop   context.CancelFunc
	ended  chan error
	began  time.Time
	skip   uint64 // a record that folded leaves out
}

// newShop starts a runner; call it inside synctest.
func newShop(t *testing.T, change ...func(*runner.Options)) *shop {
	t.Helper()
	log := newLog()
	s := &shop{t: t, log: log, store: &memStore{faults: log.faults}, began: time.Now()}
	s.start(change...)
	return s
}

// start makes a runner on the log and store there are, as a restart does.
func (s *shop) start(change ...func(*runner.Options)) {
	s.t.Helper()
	o := runner.Options{
		Log: s.log, Store: s.store, Clock: fakeClock{s.began}, Planner: runner.Engine{},
		Seed: 1, Workers: 1, Budget: -1, Logger: slog.New(slog.DiscardHandler),
	}
	for _, f := range change {
		f(&o)
	}
	var err error
	s.runner, err = runner.New(o)
	require.NoError(s.t, err)
	ctx, cancel := context.WithCancel(context.Background())
	s.stop, s.ended = cancel, make(chan error, 1)
	r, ended := s.runner, s.ended
	go func() { ended <- r.Run(ctx) }()
	synctest.Wait()
}

// end stops the runner in order.
func (s *shop) end() {
	s.t.Helper()
	s.stop()
	require.NoError(s.t, <-s.ended)
}

// settle lets everything happen that is on its way: until the picture shows
// the end of the log twice, or the runner is dead or stuck.
func (s *shop) settle() {
	var before uint64
	for range 60 {
		time.Sleep(time.Second)
		synctest.Wait()
		last, _ := s.log.Last(context.Background())
		if seen := s.runner.Picture().Seq; seen == last && seen == before {
			return
		}
		before = last
	}
}

func (s *shop) report(batch ...events.Event) (runner.Outcome, error) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	return s.runner.Report(ctx, batch...)
}

func (s *shop) must(batch ...events.Event) runner.Outcome {
	s.t.Helper()
	out, err := s.report(batch...)
	require.NoError(s.t, err)
	return out
}

// open declares the plant and one order of n boxes.
func (s *shop) open(n int) {
	s.t.Helper()
	s.must(declared(), added("A", n))
	s.settle()
}

// folded is the state that the log alone gives, and the numbers of what is not
// believed in it.
func (s *shop) folded() (*scheduler.State, []uint64) {
	s.log.mu.Lock()
	texts := slices.Clone(s.log.texts)
	s.log.mu.Unlock()
	var bad []uint64
	state, refused := scheduler.Fold(func(yield func(events.Event) bool) {
		bad = nil
		for i, text := range texts {
			e, err := events.Decode(text)
			if e.Seq = uint64(i + 1); err != nil {
				bad = append(bad, e.Seq)
			} else if e.Seq != s.skip && !yield(e) {
				return
			}
		}
	})
	for _, r := range refused {
		bad = append(bad, r.Event.Seq)
	}
	state.Skip(uint64(len(texts)))
	slices.Sort(bad)
	return state, bad
}

// agree asks that the runner, its store and a replay from nothing hold the
// same state, and that what was rejected is what a replay rejects.
func (s *shop) agree() {
	s.t.Helper()
	want, _ := s.folded()
	got := s.runner.Picture().State
	if want.Hash() != got.Hash() {
		require.Equal(s.t, entities(want), entities(got))
	}
	require.Equal(s.t, want.Hash(), got.Hash(), "picture")
	kept, err := s.store.Load()
	require.NoError(s.t, err)
	require.Equal(s.t, want.Hash(), kept.Hash(), "store")
}

// entities is a state as text, to see where two differ.
func entities(s *scheduler.State) map[string]string {
	all := map[string]string{}
	for key, text := range s.Entities() {
		if key != "plan" && key != "plant" {
			all[key] = string(text)
		}
	}
	return all
}

func declared() events.Event {
	return events.Event{ID: "plant-1", Kind: events.PlantDeclared, Plant: "joinery", At: start, Data: events.PlantData{File: plantFile}}
}

func added(order string, n int) events.Event {
	return events.Event{ID: "add-" + order, Kind: events.OrderAdded, Plant: "joinery", At: start, Data: events.OrderData{
		Order: order, Line: "1", Product: "BOX", Quantity: n, ShipBy: start + 7*86400, Due: start + 7*86400, Weight: 1, Kind: "firm",
	}}
}

// op is a report about an operation.
func op(id string, kind events.Kind, station, piece, operation string, after resources.Seconds) events.Event {
	return events.Event{
		ID: id, Kind: kind, Plant: "joinery", Station: station, At: start + resources.Tick(after),
		Data: events.OperationData{Piece: piece, Operation: operation},
	}
}
