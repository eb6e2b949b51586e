// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/resources"
	"towpath/scheduler/learn"
)

// webHistory lets the page of what was learned read the log.
type webHistory struct{ log *natslog.Log }

// Stops are those the log still has.
func (h webHistory) Stops(ctx context.Context) ([]learn.Stop, resources.Tick, error) {
	return stopsIn(ctx, h.log)
}

// stopsIn reads from a log when stations stood still, and when it begins.
func stopsIn(ctx context.Context, log *natslog.Log) ([]learn.Stop, resources.Tick, error) {
	found, since, err := log.Select(ctx, events.StationDown, events.StationUp, events.EventVoided)
	if err != nil {
		return nil, 0, err
	}
	return learn.Stops(found), since, nil
}
