// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// Monday is 2026-03-02 06:00 UTC, a Monday, when most tests begin.
const Monday resources.Tick = 1772431200

// Plant fills in what a plant written as a literal leaves out, as the reader
// of plant files does: UTC, a horizon of 26 weeks, the default objective, one
// place and speed 1 for each station, and, for an operation whose After is nil,
// a link from the operation before it.
func Plant(p resources.Plant) *resources.Plant {
	if p.Zone == nil {
		p.Zone = time.UTC
	}
	if p.Horizon == 0 {
		p.Horizon = 26 * 7 * resources.Day
	}
	if p.Objective == (resources.Objective{}) {
		p.Objective = resources.DefaultObjective()
	}
	for i := range p.Stations {
		s := &p.Stations[i]
		s.Places = max(1, s.Places)
		if s.Speed == 0 {
			s.Speed = 1
		}
	}
	for i := range p.Products {
		routing := p.Products[i].Routing
		for j := range routing {
			if j > 0 && routing[j].After == nil {
				routing[j].After = []resources.Link{{Operation: routing[j-1].ID}}
			}
		}
	}
	return &p
}

// State is a fresh state with these order lines and the pieces they ask for.
// It is written apart from scheduler.StateOf, so that one can check the other.
func State(p *resources.Plant, lines ...resources.OrderLine) *scheduler.State {
	s := &scheduler.State{
		Plant:    p,
		Lines:    map[string]*scheduler.Line{},
		Pieces:   map[string]*scheduler.Piece{},
		Loads:    map[string]*scheduler.LoadRun{},
		Mixes:    map[string]*scheduler.MixRun{},
		Stations: map[string]*scheduler.StationState{},
		Tools:    map[string]*scheduler.ToolState{},
		Absences: map[string]*scheduler.Absence{},
	}
	for i := range p.Stations {
		s.Stations[p.Stations[i].ID] = &scheduler.StationState{}
	}
	for i := range p.Tools {
		for _, unit := range p.Tools[i].Units {
			s.Tools[unit] = &scheduler.ToolState{Pool: p.Tools[i].ID}
		}
	}
	for _, l := range lines {
		addLine(s, l)
	}
	return s
}

func addLine(s *scheduler.State, l resources.OrderLine) {
	line := &scheduler.Line{OrderLine: l}
	s.Lines[scheduler.LineKey(l.Order, l.Line)] = line
	product := s.Plant.Product(l.Product)
	n := l.Quantity + product.Samples
	split := 0
	for i := range product.Routing {
		split = max(split, product.Routing[i].Split)
	}
	add := func(piece scheduler.Piece) {
		piece.Order, piece.Line, piece.Product = l.Order, l.Line, l.Product
		piece.Ops = passes(product, &piece, split > 0)
		s.Pieces[piece.Serial] = &piece
		line.Pieces = append(line.Pieces, piece.Serial)
	}
	tube := func(i int) string { return fmt.Sprintf("%s-%s-%02d", l.Order, l.Line, i+1) }
	if split == 0 {
		for i := range n {
			add(scheduler.Piece{Serial: tube(i), Sample: i >= l.Quantity, Number: i + 1})
		}
		return
	}
	for i := range (n + split - 1) / split {
		add(scheduler.Piece{Serial: tube(i), Number: i + 1})
		for k := i * split; k < min(n, (i+1)*split); k++ {
			slot := k - i*split + 1
			add(scheduler.Piece{
				Serial: fmt.Sprintf("%s.%d", tube(i), slot), Shaft: true, Parent: tube(i),
				Sample: k >= l.Quantity, Number: i + 1, Slot: slot,
			})
		}
	}
}

// passes lists the operations a piece goes through.
func passes(product *resources.Product, piece *scheduler.Piece, split bool) []scheduler.OpState {
	var ops []scheduler.OpState
	for i := range product.Routing {
		op := &product.Routing[i]
		mine := !split || piece.Shaft == (op.Per != resources.PerTube)
		if op.Per == resources.PerSample {
			mine = mine && piece.Sample
		}
		if mine && !(op.SkipSample && piece.Sample) {
			ops = append(ops, scheduler.OpState{Operation: op.ID, Index: i})
		}
	}
	return ops
}

// Op is the state of one operation of a piece; the test fails if there is none.
func Op(t testing.TB, s *scheduler.State, piece, operation string) *scheduler.OpState {
	t.Helper()
	p := s.Pieces[piece]
	require.NotNil(t, p, "no piece %s", piece)
	for i := range p.Ops {
		if p.Ops[i].Operation == operation {
			return &p.Ops[i]
		}
	}
	require.Fail(t, "no such operation", "piece %s has no operation %s", piece, operation)
	return nil
}
