// SPDX-License-Identifier: Apache-2.0

package station_test

import (
	"context"
	"fmt"
	"log"
	"net"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"towpath/events"
	"towpath/events/natslog"
	"towpath/events/station"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// now is 2026-03-02T06:00:00Z.
var now = time.Unix(1772431200, 0)

func openLog(t testing.TB, listen string) *natslog.Log {
	l, err := natslog.Open(t.Context(), natslog.Config{Plant: "demo", Dir: t.TempDir(), Listen: listen})
	require.NoError(t, err)
	t.Cleanup(l.Close)
	return l
}

func connect(t testing.TB, url string, c station.Config) *station.Client {
	client, err := station.Connect(url, c)
	require.NoError(t, err)
	t.Cleanup(client.Close)
	return client
}

func TestEveryReportReachesTheLog(t *testing.T) {
	l := openLog(t, "")
	c := connect(t, l.URL(), station.Config{Plant: "demo", Station: "OV1", By: "panel 3", Now: func() time.Time { return now }})
	op := events.OperationData{Piece: "P1", Operation: "wind"}
	load := events.LoadData{Load: "L1", Pieces: []events.LoadItem{{Piece: "P1", Operation: "cure"}}}
	mix := events.MixData{Mix: "M1", Resin: "R1", Grams: 500}
	piece := events.PieceData{Piece: "P1"}
	tool := events.ToolData{Unit: "T1"}
	var got []station.Receipt
	keep := func(r station.Receipt, err error) { require.NoError(t, err); got = append(got, r) }
	ctx := t.Context()
	keep(c.Start(ctx, op))
	keep(c.Pause(ctx, op))
	keep(c.Resume(ctx, op))
	keep(c.Finish(ctx, op))
	keep(c.CloseLoad(ctx, load))
	keep(c.StartLoad(ctx, load))
	keep(c.FinishLoad(ctx, load))
	keep(c.MakeMix(ctx, mix))
	keep(c.DiscardMix(ctx, mix))
	keep(c.Down(ctx, events.StationData{Why: "fan"}))
	keep(c.Up(ctx, events.StationData{}))
	keep(c.TakeToolOut(ctx, tool))
	keep(c.BringToolIn(ctx, tool))
	keep(c.Scrap(ctx, piece))
	keep(c.Hold(ctx, piece))
	keep(c.Release(ctx, piece))
	keep(c.HoldBatch(ctx, events.BatchData{Mix: "M1"}))
	keep(c.ReleaseBatch(ctx, events.BatchData{Mix: "M1"}))
	keep(c.Record(ctx, events.ResultData{Piece: "P1", Operation: "ring", Gate: "ring", Pass: true}))
	keep(c.Void(ctx, events.VoidData{Event: got[0].ID}))
	keep(c.Absent(ctx, events.AbsentData{Crew: "C1", People: 1}))
	keep(c.Present(ctx, events.PresentData{Crew: "C1"}))

	var want []events.Kind // all a station can report, in the vocabulary's order
	for _, k := range events.Kinds() {
		if noun, _, _ := strings.Cut(string(k), "."); noun != "plant" && noun != "order" && noun != "plan" && noun != "promise" {
			want = append(want, k)
		}
	}
	all := read(t, l, len(got))
	require.Len(t, want, len(all))
	for i, e := range all {
		require.NoError(t, e.Err)
		require.Equal(t, want[i], e.Event.Kind)
		require.Equal(t, got[i].ID, e.Event.ID)
		require.Equal(t, got[i].Seq, e.Seq)
		require.EqualValues(t, now.Unix(), e.Event.At)
		require.Equal(t, "panel 3", e.Event.By)
		require.Equal(t, "OV1", e.Event.Station)
		id, err := uuid.Parse(got[i].ID)
		require.NoError(t, err)
		require.Equal(t, uuid.Version(7), id.Version())
	}
}

func TestSameIDIsStoredOnce(t *testing.T) {
	l := openLog(t, "")
	c := connect(t, l.URL(), station.Config{Plant: "demo", Station: "W1"})
	first, err := c.Down(t.Context(), events.StationData{}, station.ID("stop-17"), station.At(now), station.By("B"))
	require.NoError(t, err)
	require.Equal(t, station.Receipt{ID: "stop-17", Seq: 1}, first)
	again, err := c.Down(t.Context(), events.StationData{}, station.ID("stop-17"), station.At(now))
	require.NoError(t, err)
	require.Equal(t, station.Receipt{ID: "stop-17", Seq: 1, Duplicate: true}, again)
	require.Equal(t, "B", read(t, l, 1)[0].Event.By)
}

func TestWrongReportsAreRefusedBeforeTheyLeave(t *testing.T) {
	l := openLog(t, "")
	c := connect(t, l.URL(), station.Config{Plant: "demo", Station: "W1"})
	_, err := c.Start(t.Context(), events.OperationData{Operation: "wind"})
	require.ErrorIs(t, err, events.ErrMissing)
	require.ErrorContains(t, err, "data.piece")
	_, err = c.Report(t.Context(), events.OrderCancelled, events.CancelData{Order: "1"})
	require.ErrorContains(t, err, "does not come from a station")
	_, err = station.New(l.Conn(), station.Config{Station: "W1"})
	require.ErrorIs(t, err, station.ErrConfig)
}

func TestOtherPlantHasNoLog(t *testing.T) {
	l := openLog(t, "")
	c := connect(t, l.URL(), station.Config{Plant: "elsewhere", Station: "W1"})
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	_, err := c.Down(ctx, events.StationData{})
	require.ErrorIs(t, err, station.ErrNotStored)
	require.ErrorIs(t, err, station.ErrNoLog)
	require.ErrorIs(t, err, context.DeadlineExceeded)
}

// A broker that comes later, or comes back, gets what was reported meanwhile.
func TestReportWaitsForTheBroker(t *testing.T) {
	free, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	address := free.Addr().String()
	require.NoError(t, free.Close())
	c := connect(t, "nats://"+address, station.Config{Plant: "demo", Station: "W1"})
	done := make(chan error, 1)
	go func() {
		_, err := c.Down(context.Background(), events.StationData{Why: "before the broker"})
		done <- err
	}()
	time.Sleep(100 * time.Millisecond) // let the first try fail; the outcome does not depend on it
	l := openLog(t, address)
	require.NoError(t, <-done)
	require.Len(t, read(t, l, 1), 1)
}

// Two operators pressing the same button are two events; both are kept, in
// some order, and whoever folds the log decides.
func TestManyStationsAtOnce(t *testing.T) {
	l := openLog(t, "")
	const stations, reports = 8, 25
	var wg sync.WaitGroup
	for s := range stations {
		c := connect(t, l.URL(), station.Config{Plant: "demo", Station: fmt.Sprintf("S%d", s)})
		wg.Go(func() {
			for i := range reports {
				if _, err := c.Start(context.Background(), events.OperationData{Piece: fmt.Sprint(i), Operation: "wind"}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	next := map[string]int{}
	for _, e := range read(t, l, stations*reports) {
		require.Equal(t, fmt.Sprint(next[e.Event.Station]), e.Event.Data.(events.OperationData).Piece)
		next[e.Event.Station]++
	}
}

func read(t testing.TB, l *natslog.Log, n int) []natslog.Entry {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	feed, err := l.Follow(ctx, 0)
	require.NoError(t, err)
	defer feed.Close()
	var all []natslog.Entry
	for len(all) < n {
		group, err := feed.Next(ctx)
		require.NoError(t, err)
		all = append(all, group...)
	}
	require.Len(t, all, n)
	return all
}

// A program beside winder W1 reports the start and the end of a winding.
func Example() {
	dir, err := os.MkdirTemp("", "towpath")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	// In a shop the planner has started the log; here it is started for the
	// example.
	ctx := context.Background()
	shop, err := natslog.Open(ctx, natslog.Config{Plant: "demo", Dir: dir})
	if err != nil {
		log.Fatal(err)
	}
	defer shop.Close()

	winder, err := station.Connect(shop.URL(), station.Config{Plant: "demo", Station: "W1", By: "winder program"})
	if err != nil {
		log.Fatal(err)
	}
	defer winder.Close()

	receipt, err := winder.Start(ctx, events.OperationData{
		Piece: "2601-1-01", Operation: "wind", Mix: "mix-1", Tools: []string{"M-76-1"},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("start stored as number", receipt.Seq)

	receipt, err = winder.Finish(ctx, events.OperationData{Piece: "2601-1-01", Operation: "wind"})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("end stored as number", receipt.Seq)
	// Output:
	// start stored as number 1
	// end stored as number 2
}
