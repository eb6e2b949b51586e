// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// season is a state with this many tubes of the product LOT in lines of 99 and
// the sample, and the events that start, pause, resume and finish one operation
// of each: events of the plainest kind.
func season(b testing.TB, tubes int) (*scheduler.State, []events.Event) {
	var lines []resources.OrderLine
	var log []events.Event
	for i := range tubes / 100 {
		order := fmt.Sprintf("O%d", i)
		lines = append(lines, resources.OrderLine{Order: order, Line: "1", Product: "LOT", Quantity: 99, ShipBy: mins(99999)})
		for k := 1; k <= 100; k++ {
			d := events.OperationData{Piece: fmt.Sprintf("%s-1-%02d", order, k), Operation: "make"}
			for step, kind := range []events.Kind{events.OperationStarted, events.OperationPaused, events.OperationResumed, events.OperationFinished} {
				log = append(log, events.Event{
					ID: fmt.Sprint("e", len(log)), Kind: kind, Plant: "lathe", Station: "BENCH", At: mins(len(log) + step), By: "ann", Data: d, Seq: uint64(len(log) + 1),
				})
			}
		}
	}
	s, err := scheduler.StateOf(kiln(b), lines)
	require.NoError(b, err)
	return s, log
}

func BenchmarkApply(b *testing.B) {
	fresh, log := season(b, 5000)
	s, at := fresh.Clone(), 0
	for b.Loop() {
		if at == len(log) {
			b.StopTimer()
			s, at = fresh.Clone(), 0
			b.StartTimer()
		}
		if _, err := s.Apply(log[at]); err != nil {
			b.Fatal(err)
		}
		at++
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "events/s")
}

func BenchmarkHash20000Operations(b *testing.B) {
	s, log := season(b, 10000) // two operations each
	for _, e := range log {
		if _, err := s.Apply(e); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		_ = s.Hash()
	}
}

func BenchmarkClone(b *testing.B) {
	s, log := season(b, 10000)
	for _, e := range log {
		if _, err := s.Apply(e); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		_ = s.Clone()
	}
}

func BenchmarkFold(b *testing.B) {
	_, log := season(b, 5000)
	whole := []events.Event{{ID: "plant", Kind: events.PlantDeclared, At: six, Data: events.PlantData{File: kilnFile(b)}}}
	for i := range 50 {
		d := ordered(fmt.Sprintf("O%d", i), "LOT", 99)
		whole = append(whole, events.Event{ID: fmt.Sprint("o", i), Kind: events.OrderAdded, At: six, Data: d})
	}
	whole = append(whole, log...)
	for b.Loop() {
		if _, rejected := scheduler.Fold(slices.Values(whole)); len(rejected) > 0 {
			b.Fatal(rejected[0].Err)
		}
	}
	b.ReportMetric(float64(len(whole)*b.N)/b.Elapsed().Seconds(), "events/s")
}

func BenchmarkEncodeEntity(b *testing.B) {
	s, _ := season(b, 1000)
	for b.Loop() {
		if _, ok := s.EncodeEntity("piece/O1-1-07"); !ok {
			b.Fatal("no piece")
		}
	}
}
