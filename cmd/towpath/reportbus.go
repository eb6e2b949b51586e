// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"

	"towpath/events"
	"towpath/events/station"
	"towpath/resources"
)

// reportToBus publishes facts one after the other, the void of a replaced one
// first, and waits until the log has them.
func reportToBus(ctx context.Context, o *reportOptions, batch ...events.Event) (string, error) {
	if o.plant == "" {
		return "", usage("it is the id in the plant file", "--plant is required with --nats")
	}
	for i := range batch {
		if batch[i].At == 0 {
			batch[i].At = resources.Tick(time.Now().Unix())
		}
		if err := events.Validate(batch[i]); err != nil {
			return "", usage("", "%v", err)
		}
	}
	client, err := station.Connect(o.nats, station.Config{Plant: o.plant, Station: o.station, By: o.by}, nats.Timeout(o.wait))
	if err != nil {
		return "", usage("e.g. --nats nats://127.0.0.1:4222", "%v", err)
	}
	defer client.Close()
	var receipt station.Receipt
	for _, e := range batch {
		if receipt, err = client.Send(ctx, e); err != nil {
			break
		}
	}
	switch {
	case errors.Is(err, station.ErrNoLog):
		return "", trouble("is the plant's id right, and is its towpath running?", "no log takes reports of plant %s", o.plant)
	case err != nil:
		return "", trouble("send it again with --id "+batch[len(batch)-1].ID+": it counts once", "%v", err)
	case receipt.Duplicate:
		return fmt.Sprintf("known already as number %d; nothing changed", receipt.Seq), nil
	}
	return fmt.Sprintf("stored as number %d, id %s; the log page shows whether it was believed", receipt.Seq, receipt.ID), nil
}
