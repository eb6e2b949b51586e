// SPDX-License-Identifier: Apache-2.0

package natslog

import (
	"context"
	"errors"
	"log/slog"
	"strings"
	"sync/atomic"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
)

// leases is the bucket of all plants' leases on a broker.
const leases = "TOWPATH_LEASES"

// defaultTerm is how long a lease outlasts its holder's last word.
const defaultTerm = 5 * time.Second

// Lease is the right to plan a plant, which of all programs on its log one has
// at a time: a key of the plant's that the broker forgets when its holder is
// silent for a term. It spares the others the work and is no lock: what keeps
// the log right is that Append names the sequence it expects.
type Lease struct {
	kv    jetstream.KeyValue
	key   string
	who   string
	term  time.Duration
	log   *slog.Logger
	rev   uint64       // of the key, when it is ours; 0: it is not
	other string       // who has it, as was last told
	until atomic.Int64 // ours until then, in nanoseconds since began
	began time.Time
}

// Lease makes the plant's lease known to the broker; Keep tries to get it. who
// tells programs apart, and is the same after a restart: then nobody else has to
// wait for the term to end.
func (l *Log) Lease(ctx context.Context, who string) (*Lease, error) {
	kv, err := l.js.CreateOrUpdateKeyValue(ctx, jetstream.KeyValueConfig{
		Bucket: leases, Description: "who plans each plant", TTL: l.conf.Term, Replicas: l.conf.Replicas,
		Storage: jetstream.MemoryStorage, // a broker that starts anew knows of nobody who plans
	})
	if err != nil {
		return nil, explain("lease", err)
	}
	log := l.conf.Logger
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return &Lease{
		kv: kv, key: strings.ReplaceAll(events.Token(l.conf.Plant), "%", "="), who: who, term: l.conf.Term, log: log, began: time.Now(),
	}, nil
}

// Held says whether the lease is this program's now.
func (x *Lease) Held() bool { return int64(time.Since(x.began)) < x.until.Load() }

// Keep gets the lease when it is free, and keeps it until ctx ends; then it gives
// it back. Call it once.
func (x *Lease) Keep(ctx context.Context) {
	tick := time.NewTicker(x.term / 5)
	defer tick.Stop()
	for {
		x.try(ctx)
		select {
		case <-ctx.Done():
			x.giveBack()
			return
		case <-tick.C:
		}
	}
}

// try takes the lease, or says that it is still ours.
func (x *Lease) try(ctx context.Context) {
	ctx, cancel := context.WithTimeout(ctx, x.term/5)
	defer cancel()
	asked, fresh := time.Since(x.began), !x.Held()
	rev, err := x.write(ctx)
	if errors.Is(err, jetstream.ErrKeyExists) {
		x.until.Store(0)
		if x.rev = x.look(ctx); x.rev == 0 {
			return
		}
		rev, err = x.write(ctx)
	}
	if err != nil {
		return // The broker does not answer. It may have heard; if not, the term ends.
	}
	x.rev, x.other = rev, ""
	x.until.Store(int64(asked + x.term))
	if fresh {
		x.log.Info("plans here", "who", x.who)
	}
}

// write stores our name under the key if it is free or ours.
func (x *Lease) write(ctx context.Context) (uint64, error) {
	if x.rev == 0 {
		return x.kv.Create(ctx, x.key, []byte(x.who))
	}
	rev, err := x.kv.Update(ctx, x.key, []byte(x.who), x.rev)
	if wrongLast(err) {
		err = jetstream.ErrKeyExists // the term ended, or it was written and we were not told
	}
	return rev, err
}

// look sees who has the lease. What has our name is ours, from before a restart or
// because a word of ours was heard and its answer was not: the revision of the key;
// else 0.
func (x *Lease) look(ctx context.Context) uint64 {
	has, err := x.kv.Get(ctx, x.key)
	if err != nil {
		return 0 // free by now, or nobody knows: the next try tells
	}
	who := string(has.Value())
	if who == x.who {
		return has.Revision()
	}
	if x.other != who {
		x.other = who
		x.log.Info("another program plans, this one follows", "who", who)
	}
	return 0
}

// giveBack lets another have the lease at once.
func (x *Lease) giveBack() {
	x.until.Store(0)
	if x.rev == 0 {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), x.term/5)
	defer cancel()
	// Without an answer it ends by itself.
	_ = x.kv.Delete(ctx, x.key, jetstream.LastRevision(x.rev))
	x.rev = 0
}
