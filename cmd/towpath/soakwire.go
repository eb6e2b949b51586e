// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"text/tabwriter"

	"github.com/nats-io/nats.go/jetstream"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/events/station"
	"towpath/scheduler/soak/live"
)

// soakIn runs a trial on a bus and a store of its own in a folder, and opens
// the store again at the end to see what it has kept.
func soakIn(ctx context.Context, dir string, o live.Options) (*live.Report, error) {
	quiet := slog.New(slog.DiscardHandler)
	log, err := natslog.Open(context.WithoutCancel(ctx), natslog.Config{Plant: o.Plant.ID, Dir: filepath.Join(dir, "log"), Listen: natslog.InProcess, Logger: quiet})
	if err != nil {
		return nil, err
	}
	defer log.Close()
	bus, err := newSoakBus(log, o.Plant.ID)
	if err != nil {
		return nil, err
	}
	store, err := openStore(dir, log.Identity(), quiet)
	if err != nil {
		return nil, err
	}
	o.Log, o.Store, o.Bus = busLog{log}, store, bus
	report, state, err := live.Run(ctx, o)
	if closed := store.Close(); err == nil {
		err = closed
	}
	if report == nil {
		return nil, err
	}
	kept, again := openStore(dir, log.Identity(), quiet)
	if again != nil {
		return nil, errors.Join(err, again)
	}
	stored, again := kept.Load()
	if again = errors.Join(again, kept.Close()); again != nil {
		return nil, errors.Join(err, again)
	}
	report.Stored(stored.Hash() == state.Hash())
	return report, err
}

// soakBus reports as stations do.
type soakBus struct {
	client *station.Client
	js     jetstream.JetStream
}

func newSoakBus(log *natslog.Log, plant string) (*soakBus, error) {
	client, err := station.New(log.Conn(), station.Config{Plant: plant})
	if err != nil {
		return nil, err
	}
	js, err := jetstream.New(log.Conn())
	if err != nil {
		return nil, err
	}
	return &soakBus{client, js}, nil
}

func (b *soakBus) Send(ctx context.Context, e events.Event) (uint64, bool, error) {
	receipt, err := b.client.Send(ctx, e)
	return receipt.Seq, receipt.Duplicate, err
}

// SendUnmarked publishes as a machine that speaks MQTT does: no header.
func (b *soakBus) SendUnmarked(ctx context.Context, e events.Event) (uint64, error) {
	text, err := events.Encode(e)
	if err != nil {
		return 0, err
	}
	ack, err := b.js.Publish(ctx, events.Subject(e), text)
	if err != nil {
		return 0, err
	}
	return ack.Sequence, nil
}

func printSoak(out io.Writer, r *live.Report) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	says := map[bool]string{true: "yes", false: "NO"}
	for _, row := range []struct {
		what string
		text any
	}{
		{"days, seed", fmt.Sprintf("%d, %d", r.Days, r.Seed)},
		{"records in the log", r.Events},
		{"of them rejected", r.Reject},
		{"deeds on the floor", r.Deeds},
		{"deeds lost", r.Lost},
		{"stops told too late to count", r.Overtaken},
		{"deeds counted twice", r.Doubled},
		{"wrong reports corrected", r.Corrected},
		{"times people were told to be away", r.Away},
		{"changes of the plant, refused", fmt.Sprintf("%d, %d", r.Changed, r.Kept)},
		{"state is what a second reader of the log has", says[r.StateEqualsAudit]},
		{"state is what a replay gives", says[r.StateIsReplay]},
		{"state is what was really done", says[r.StateIsModel]},
		{"plans published", r.PlansPublished},
		{"plans that fail verification", r.PlansUnverified},
		{"searches that failed", r.PlanningFailed},
		{"next jobs changed by a plan", r.NextJobChanges},
		{"of them without a reason", r.Unexplained},
		{"99 % of repairs within", fmt.Sprintf("%d ms", r.RepairP99MS)},
		{"improvements", r.ImproveRuns},
		{"orders, done, event orders lost", fmt.Sprintf("%d, %d, %d", r.Orders, r.OrdersDone, r.OrdersLost)},
		{"took", fmt.Sprintf("%.1f s", float64(r.ElapsedMS)/1000)},
	} {
		fmt.Fprintf(w, "%s\t%v\n", row.what, row.text)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, text := range r.Findings {
		fmt.Fprintln(out, text)
	}
	return nil
}
