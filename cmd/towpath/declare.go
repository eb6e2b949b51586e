// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"

	"towpath/events"
	"towpath/scheduler"
)

// ordersAtOnce is how many order lines are reported together.
const ordersAtOnce = 500

// declare brings the files into the shop: the plant when its text is not the
// one in force, and order lines the shop does not know. Lines it knows stay as
// the log has them; an orders file is a beginning, not a second truth.
func (s *openedShop) declare(ctx context.Context) error {
	state := s.runner.Picture().State
	if state.PlantFile != string(s.conf.text) {
		_, err := s.runner.Report(ctx, s.event(events.PlantDeclared, events.PlantData{File: string(s.conf.text)}))
		if err != nil {
			return trouble("finish or cancel what needs the old plant first, or begin a new data folder", "the plant cannot be taken over: %v", err)
		}
	}
	var fresh []events.Event
	for _, line := range s.conf.lines {
		known := state.Lines[scheduler.LineKey(line.Order, line.Line)]
		if known == nil {
			fresh = append(fresh, s.event(events.OrderAdded, events.OrderDataOf(&line)))
		} else if known.OrderLine != line {
			s.conf.logger.Warn("order line differs from the file; the shop's own stays", "order", line.Order, "line", line.Line)
		}
	}
	for len(fresh) > 0 {
		n := min(len(fresh), ordersAtOnce)
		if _, err := s.runner.Report(ctx, fresh[:n]...); err != nil {
			return trouble("", "orders cannot be taken over: %v", err)
		}
		fresh = fresh[n:]
	}
	return nil
}

func (s *openedShop) event(kind events.Kind, data any) events.Event {
	return events.Event{Kind: kind, Plant: s.conf.plant.ID, By: "towpath", Data: data}
}
