// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"context"

	"towpath/resources"
)

// retainEvery is the shop time between two looks at the age of the history.
const retainEvery resources.Seconds = 3600

// retain lets go of history that is older than is to be kept and whose meaning
// a snapshot holds. It is never needed: what fails is told and tried again an
// hour later.
func (r *Runner) retain(ctx context.Context) {
	now := r.now()
	if r.opt.Keep <= 0 || r.looked <= now && now < r.looked+resources.Tick(retainEvery) {
		return
	}
	r.looked = now
	seq, err := r.opt.Store.Taken(now - resources.Tick(r.opt.Keep))
	if err != nil {
		r.opt.Logger.Warn("old history stays", "err", err)
	}
	if err != nil || seq <= r.retained {
		return
	}
	// The snapshot must be readable before what it stands for goes.
	if s, err := r.opt.Store.Before(seq + 1); err != nil || s.Seq != seq {
		r.opt.Logger.Warn("old history stays: its snapshot cannot be read", "seq", seq, "err", err)
		return
	}
	before, err := r.opt.Log.First(ctx)
	if err == nil && before <= seq {
		err = r.opt.Log.Trim(ctx, seq)
	}
	if err == nil {
		err = r.opt.Store.Prune(seq)
	}
	if err != nil {
		r.opt.Logger.Warn("old history stays", "through", seq, "err", err)
		return
	}
	r.retained = seq
	if first, err := r.opt.Log.First(ctx); err == nil && first > before {
		r.opt.Logger.Info("old history is let go of", "before", first, "through", seq)
	}
}
