// SPDX-License-Identifier: Apache-2.0

package simulate

import (
	"towpath/resources"
	"towpath/scheduler"
)

// ready says whether people would begin a planned step at an instant: what
// goes before is done, its waits are over, and the tools are on the bench.
// The plan may be a moment behind reality; then they wait for the next one.
func (s *Shop) ready(w *scheduler.Work, at resources.Tick) bool {
	piece, op := s.state.Pieces[w.Piece], s.operation(w.Piece, w.Operation)
	if piece == nil || op == nil || piece.Scrapped || piece.Held {
		return false
	}
	for _, link := range op.After {
		for _, other := range s.sources(piece, op, link.Operation) {
			before := find(other, link.Operation)
			if before == nil {
				continue
			}
			from := before.Ended
			if link.FromStart {
				from = before.Started
			}
			if before.Status < scheduler.Started || !link.FromStart && before.Status != scheduler.Done {
				return false
			}
			if from+resources.Tick(link.Min) > at {
				return false
			}
		}
	}
	for _, unit := range w.Tools {
		tool := s.state.Tools[unit]
		if tool == nil || tool.Out || tool.Free > at || tool.Holder != "" && tool.Holder != w.Piece {
			return false
		}
	}
	if w.Mix == "" {
		return true
	}
	mix := s.state.Mixes[w.Mix]
	return mix != nil && !mix.Discarded && !s.state.OnHold("mix/"+w.Mix) && mix.Expiry > at
}

// sources are the pieces on which an earlier operation has to be over.
func (s *Shop) sources(piece *scheduler.Piece, op *resources.Operation, earlier string) []*scheduler.Piece {
	from := s.operation(piece.Serial, earlier)
	if from == nil {
		return nil
	}
	var out []*scheduler.Piece
	add := func(want func(p *scheduler.Piece) bool) {
		line := s.state.Lines[scheduler.LineKey(piece.Order, piece.Line)]
		if line == nil {
			return
		}
		for _, serial := range line.Pieces {
			if p := s.state.Pieces[serial]; p != nil && !p.Scrapped && want(p) {
				out = append(out, p)
			}
		}
	}
	switch {
	case from.Per == resources.PerSample && !piece.Sample:
		add(func(p *scheduler.Piece) bool { return p.Sample })
	case from.Per == resources.PerTube && piece.Shaft:
		out = append(out, s.state.Pieces[piece.Parent])
	case from.Per != resources.PerTube && op.Per == resources.PerTube && !piece.Shaft && find(piece, earlier) == nil:
		add(func(p *scheduler.Piece) bool { return p.Parent == piece.Serial })
	default:
		out = append(out, piece)
	}
	return out
}

func find(p *scheduler.Piece, operation string) *scheduler.OpState {
	if p == nil {
		return nil
	}
	for i := range p.Ops {
		if p.Ops[i].Operation == operation {
			return &p.Ops[i]
		}
	}
	return nil
}

func (s *Shop) opState(piece, operation string) *scheduler.OpState {
	return find(s.state.Pieces[piece], operation)
}

func (s *Shop) operation(piece, operation string) *resources.Operation {
	p := s.state.Pieces[piece]
	if p == nil {
		return nil
	}
	product := s.state.Plant.Product(p.Product)
	if product == nil {
		return nil
	}
	return product.Operation(operation)
}
