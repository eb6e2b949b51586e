// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"
	"errors"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/search"
)

// ErrStale is what Log.Append answers when the log has moved on since the
// caller looked; ErrNoState is what Store.Load answers when there is nothing
// usable to begin from, so that the log is replayed.
var (
	ErrStale   = errors.New("the log has moved on")
	ErrNoState = errors.New("no stored state")
)

// Anywhere as the expected last sequence lets Append add at whatever end the
// log has.
const Anywhere = ^uint64(0)

// AtOnce is how many events a Log stores wholly or not at all.
const AtOnce = 1000

// Entry is one record of the log. Err is not nil when the record cannot be
// read as an event. Stored is when the log took it; 0 when it does not say.
type Entry struct {
	Seq    uint64
	Stored resources.Tick
	Event  events.Event
	Err    error
}

// Reject is a record the shop could not believe, with the reason. ID, Kind and
// About are empty when the record could not even be read.
type Reject struct {
	Seq    uint64
	ID     string
	Kind   events.Kind
	At     resources.Tick
	About  string // station, piece or order it spoke of
	By     string
	Reason string
	Why    error // what Reason is the text of; nil when it comes from a store
}

// Log is the record of facts; it alone is the truth.
type Log interface {
	// Append stores the batch in order right after sequence after, or answers
	// ErrStale and stores nothing. It is durable when it returns the sequence
	// of each event. An event whose ID the log remembers is not stored again;
	// its sequence is the old one. Of a batch of more than AtOnce events an
	// error, ErrStale too, may leave the first ones stored; they come back from
	// the log like any other, and the rest may be appended then.
	Append(ctx context.Context, after uint64, batch []events.Event) (seqs []uint64, err error)
	// Follow delivers what comes after a sequence, in order and without end.
	Follow(ctx context.Context, after uint64) (Feed, error)
	// Last is the sequence of the newest record, 0 when there is none.
	Last(ctx context.Context) (uint64, error)
	// Reject keeps a record that was not believed; the same Seq twice is kept
	// once.
	Reject(ctx context.Context, r Reject) error
	// First is the sequence of the oldest record kept; 1 when all are, or none
	// has come.
	First(ctx context.Context) (uint64, error)
	// Trim may let go of records up to a sequence, the oldest first.
	Trim(ctx context.Context, through uint64) error
}

// Feed is a place in the log. Next waits for at least one record.
type Feed interface {
	Next(ctx context.Context) ([]Entry, error)
	Close()
}

// Store keeps the projection: the state and the last sequence applied, always
// of one transaction; and some states as they were on the way, so that a
// mistake found late does not cost a fold of the whole log. A State it returns
// belongs to the caller.
type Store interface {
	// Load answers ErrNoState when there is nothing, or nothing that can be
	// trusted.
	Load() (*scheduler.State, error)
	// Save makes what changed in the state since the last Save, and its Seq,
	// durable before it returns, in one transaction.
	Save(state *scheduler.State) error
	// Replace does the same for a state that was made anew, of which
	// everything may differ from what is stored.
	Replace(state *scheduler.State) error

	// Before is the newest state kept from before a sequence, or ErrNoState.
	Before(seq uint64) (*scheduler.State, error)
	// Cut drops the states kept from a sequence on, Prune those from before it.
	Cut(seq uint64) error
	Prune(seq uint64) error
	// Taken is the sequence of the newest state kept that knows of nothing
	// after an instant; 0 when there is none.
	Taken(by resources.Tick) (uint64, error)
}

// Planner is the computation behind the planning loop. All of it is pure but
// Improve, which stops early when its context ends.
type Planner interface {
	Compile(s *scheduler.State, now resources.Tick) (*scheduler.Problem, error)
	// Repair keeps the sequences and loads of a plan and moves times; from nil
	// it makes a first plan.
	Repair(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error)
	// RepairWhole does the same and leaves nothing out, however far away.
	RepairWhole(p *scheduler.Problem, from *scheduler.Plan) (*scheduler.Plan, error)
	Improve(ctx context.Context, p *scheduler.Problem, from *scheduler.Plan, b Budget) (*scheduler.Plan, error)
	Commit(s *scheduler.State, now resources.Tick, p *scheduler.Plan) (events.Event, []scheduler.Violation)
	Measure(s *scheduler.State, p *scheduler.Plan) scheduler.Score
	// Bounds says what no plan can go below.
	Bounds(p *scheduler.Problem) ([]search.PartBound, error)
}
