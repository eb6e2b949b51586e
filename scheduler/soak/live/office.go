// SPDX-License-Identifier: Apache-2.0

package live

import (
	"context"
	"errors"
	"fmt"

	"towpath/resources"
	"towpath/scheduler/runner"
	"towpath/scheduler/whatif"
)

// rearrange has the office change the plant as a planner does, on a floor where
// nothing is left to be told: what is in use is not known before. That a tool or a
// place of a station is in use is a refusal like any other, and is tried no more.
func (t *trial) rearrange(ctx context.Context, day int, now resources.Tick) error {
	text := t.bureau.Change(t.floor.Plant, day, now)
	if text == "" {
		return nil
	}
	if err := t.flush(ctx, now); err != nil {
		return err
	}
	s := t.runner.Picture().State
	set, found := resources.ReadChanges("changes.yaml", []byte(text), s.Plant, whatif.Lines(s), now)
	if set == nil {
		return fmt.Errorf("the office cannot read its own changes: %v", found)
	}
	q, err := whatif.Ask(s, now, set)
	if err != nil {
		return fmt.Errorf("the office changes what is not there: %w", err)
	}
	out, err := t.runner.Adopt(ctx, q, fmt.Sprintf("day-%d", day+1), "office")
	if err := t.declared(ctx, out, err); err != nil {
		return err
	}
	if on := t.runner.Picture().State.Adopted; t.bureau.TakesOff(len(on)) {
		out, err := t.runner.TakeOff(ctx, on[0].Key(), "office")
		return t.declared(ctx, out, err)
	}
	return nil
}

// declared has the floor hear of another plant, as the log tells it.
func (t *trial) declared(ctx context.Context, out runner.Outcome, err error) error {
	var refused *runner.Refusal
	if errors.As(err, &refused) {
		t.report.Kept++
		return nil
	}
	if err != nil {
		return fmt.Errorf("change of the plant: %w", err)
	}
	list, err := read(ctx, t.o.Log, out.Seq-1, out.Seq)
	if err != nil {
		return err
	}
	for _, e := range list {
		e.Seq = 0 // the floor keeps no log
		if _, err := t.floor.Apply(e); err != nil {
			return fmt.Errorf("the floor and the office disagree: %w", err)
		}
	}
	t.sent = max(t.sent, out.Seq)
	t.report.Changed += len(list)
	return nil
}
