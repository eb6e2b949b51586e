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
		s.tellAdopted(state, "the new plant file stands alone; what was adopted on top of the one before is not in force any more, unless it is written there")
	} else {
		s.tellAdopted(state, "adopted on top of the plant file")
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

// tellAdopted logs the sets of changes that stood on top of the plant file.
func (s *openedShop) tellAdopted(state *scheduler.State, words string) {
	for i := range state.Adopted {
		s.conf.logger.Warn(words, "set", state.Adopted[i].Name())
	}
}

func (s *openedShop) event(kind events.Kind, data any) events.Event {
	return events.Event{Kind: kind, Plant: s.conf.plant.ID, By: "towpath", Data: data}
}
