// SPDX-License-Identifier: Apache-2.0

package main

import (
	"context"
	"flag"
	"fmt"
	"log/slog"
	"os"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/resources"
	"towpath/resources/quality"
	"towpath/scheduler/runner"
)

var yearEvents = flag.Int("year-events", 2_000_000, "events of the year in BenchmarkYear")

// year tells the demo plant's life without a planner: order after order of
// tubes that pass their whole routing, machine by machine, loads and mixes
// included, spread evenly over a year.
type year struct {
	plant *resources.Plant
	text  []byte
	at    resources.Tick
	step  float64 // seconds from one event to the next
	n     int     // events told
	batch []events.Event
	flush func([]events.Event)
	limit int
}

const perOrder = 4

func (y *year) tell(kind events.Kind, station string, data any) {
	if y.n >= y.limit {
		return
	}
	y.n++
	y.batch = append(y.batch, events.Event{
		ID: fmt.Sprintf("year-%07d", y.n), Kind: kind, Plant: y.plant.ID, Station: station, By: "history",
		At: y.at + resources.Tick(float64(y.n)*y.step), Data: data,
	})
	if len(y.batch) == 1000 || y.n == y.limit {
		y.flush(y.batch)
		y.batch = nil
	}
}

func (y *year) now() resources.Tick { return y.at + resources.Tick(float64(y.n)*y.step) }

func (y *year) live() {
	y.tell(events.PlantDeclared, "", events.PlantData{File: string(y.text)})
	product := y.plant.Product("HS-M")
	for order := 0; y.n < y.limit; order++ {
		id := fmt.Sprintf("Y%05d", order)
		due := y.now() + 30*86400
		y.tell(events.OrderAdded, "", events.OrderData{
			Order: id, Line: "1", Customer: "somebody", Product: product.ID, Quantity: perOrder, ShipBy: due, Due: due, Weight: 1, Kind: "firm",
		})
		for k := range product.Routing {
			y.operation(id, k, &product.Routing[k])
		}
	}
}

// operation takes an order's pieces through one operation.
func (y *year) operation(order string, k int, o *resources.Operation) {
	station := o.Stations[0]
	serial := func(i int) string { return fmt.Sprintf("%s-1-%02d", order, i+1) }
	group := 1
	if y.plant.Station(station).Batch != nil {
		group = 4
	}
	mix := ""
	for i := 0; i < perOrder; i += group {
		if o.Mix != nil && i == 0 {
			mix = fmt.Sprintf("%s-X%02d", order, i/8)
			y.tell(events.MixMade, "MIX", events.MixData{Mix: mix, Resin: o.Mix.Resin, Grams: 4000})
		}
		if group > 1 {
			y.load(order, fmt.Sprintf("%s-%d-%02d", order, k, i/group), station, o.ID, i, group, serial, mix)
		} else {
			d := events.OperationData{Piece: serial(i), Operation: o.ID, Mix: mix}
			y.tell(events.OperationStarted, station, d)
			y.tell(events.OperationFinished, station, d)
		}
		if o.Gate != "" {
			for j := i; j < i+group; j++ {
				y.tell(events.ResultRecorded, station, events.ResultData{
					Piece: serial(j), Operation: o.ID, Gate: o.Gate, Decision: string(quality.Pass), Pass: true, Why: "history",
				})
			}
		}
		if mix != "" && i+group == perOrder {
			y.tell(events.MixDiscarded, "MIX", events.MixData{Mix: mix, Grams: 100})
		}
	}
}

func (y *year) load(order, id, station, operation string, first, n int, serial func(int) string, mix string) {
	d := events.LoadData{Load: id, Mix: mix}
	closed := d
	for j := first; j < first+n; j++ {
		closed.Pieces = append(closed.Pieces, events.LoadItem{Piece: serial(j), Operation: operation})
	}
	y.tell(events.LoadClosed, station, closed)
	y.tell(events.LoadStarted, station, d)
	y.tell(events.LoadFinished, station, d)
}

// BenchmarkYear stores a year of a busy shop in a real log, then measures a
// start from nothing but that log, and a start from the projection it left.
//
//	go test ./cmd/towpath -run none -bench Year -benchtime 1x -timeout 30m
func BenchmarkYear(b *testing.B) {
	dir := b.TempDir()
	text, err := os.ReadFile("../../testdata/demo/plant.yaml")
	require.NoError(b, err)
	plant, findings := resources.ReadPlant("plant.yaml", text)
	require.NotNil(b, plant, findings)
	log, err := natslog.Open(b.Context(), natslog.Config{Plant: plant.ID, Dir: dir, Listen: natslog.InProcess})
	require.NoError(b, err)
	defer log.Close()

	y := &year{plant: plant, text: text, at: 1772438400, step: 365 * 86400 / float64(*yearEvents), limit: *yearEvents}
	last := uint64(0)
	y.flush = func(batch []events.Event) {
		done, err := log.Append(b.Context(), batch, last)
		require.NoError(b, err)
		last = done.Last
	}
	began := time.Now()
	y.live()
	b.Logf("stored %d events in %v", y.n, time.Since(began).Round(time.Second))

	for b.Loop() {
		b.StopTimer()
		folder := b.TempDir()
		took, rejected := startOnce(b, log, folder, y.now())
		b.ReportMetric(float64(y.n)/took.Seconds(), "replayed/s")
		b.ReportMetric(float64(rejected), "rejected")
		b.StartTimer()
		took, _ = startOnce(b, log, folder, y.now())
		b.ReportMetric(took.Seconds(), "open-s")
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/(1<<20), "MiB")
}

type stopped resources.Tick

func (c stopped) Now() resources.Tick { return resources.Tick(c) }
func (stopped) Speed() float64        { return 1 }

// startOnce runs a shop until its state is there.
func startOnce(b *testing.B, log *natslog.Log, folder string, now resources.Tick) (time.Duration, int) {
	store, err := openStore(folder, log.Identity(), slog.New(slog.DiscardHandler))
	require.NoError(b, err)
	defer store.Close()
	began := time.Now()
	r, err := runner.New(runner.Options{Log: busLog{log}, Store: store, Clock: stopped(now), Planner: runner.Engine{}, Budget: -1})
	require.NoError(b, err)
	ctx, cancel := context.WithCancel(b.Context())
	ended := make(chan error, 1)
	go func() { ended <- r.Run(ctx) }()
	select {
	case <-r.Ready():
	case err := <-ended:
		b.Fatal(err)
	}
	took := time.Since(began)
	for i, x := range r.Picture().Rejects {
		if i < 5 {
			b.Logf("rejected %d %s: %s", x.Seq, x.Kind, x.Reason)
		}
	}
	rejected := len(r.Picture().Rejects)
	cancel()
	require.NoError(b, <-ended)
	return took, rejected
}
