// SPDX-License-Identifier: Apache-2.0

package runner

import (
	"slices"

	"towpath/scheduler"
)

// Checkpoints in memory: how many, and the least number of records between the
// newest two.
const (
	maxCheckpoints  = 16
	checkpointEvery = 256
)

// checkpoints are copies of the state as it was on the way, oldest first, the
// older the farther apart. A void folds again from the newest one before what
// it strikes out. Copies share what did not change, so they cost little.
type checkpoints struct {
	list []*scheduler.State
}

// passed looks at the state after a group of records.
func (c *checkpoints) passed(s *scheduler.State) {
	if n := len(c.list); n > 0 && s.Seq < c.list[n-1].Seq+checkpointEvery {
		return
	}
	c.list = append(c.list, s.Clone())
	if len(c.list) > maxCheckpoints {
		c.thin()
	}
}

// thin drops the one whose absence makes the least difference for its age.
func (c *checkpoints) thin() {
	newest := c.list[len(c.list)-1].Seq
	drop, least := 1, 0.0
	for i := 1; i < len(c.list)-1; i++ {
		gap := float64(c.list[i+1].Seq - c.list[i-1].Seq)
		if worth := gap / float64(newest-c.list[i].Seq+1); i == 1 || worth < least {
			drop, least = i, worth
		}
	}
	c.list = slices.Delete(c.list, drop, drop+1)
}

// before is the newest one that is older than a sequence; nil when there is
// none.
func (c *checkpoints) before(seq uint64) *scheduler.State {
	for _, s := range slices.Backward(c.list) {
		if s.Seq < seq {
			return s
		}
	}
	return nil
}

// cut drops those from a sequence on: a void has made them untrue.
func (c *checkpoints) cut(seq uint64) {
	c.list = slices.DeleteFunc(c.list, func(s *scheduler.State) bool { return s.Seq >= seq })
}
