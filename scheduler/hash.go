// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"math"

	"towpath/resources"
	"towpath/resources/quality"
)

// Hash is the same for equal states and only for them: a SHA-256 over every
// exported field of everything in it, the IDs of all events applied and
// voided, and the sequence. Two folds of one log, whatever way they took, have
// equal hashes. The sequences of single events are not part of it.
func (s *State) Hash() string {
	c := newCanon()
	c.num(int64(s.Seq))
	c.num(int64(s.Claimed))
	s.facts(c)
	return c.sum()
}

// Facts is Hash without the sequence: equal for logs that tell the same in
// another order, where the order does not matter.
func (s *State) Facts() string {
	c := newCanon()
	s.facts(c)
	return c.sum()
}

func (s *State) facts(c *canon) {
	c.num(int64(s.At))
	c.flag(s.Plant != nil)
	if s.Plant != nil {
		c.text(s.Plant.Name)
	}
	c.text(s.PlantFile)
	for i := range s.Adopted {
		c.num(int64(s.Adopted[i].At))
		c.text(s.Adopted[i].Text)
	}
	c.texts(s.plants)
	each(c, s.Lines, c.line)
	each(c, s.Pieces, c.piece)
	each(c, s.Loads, c.load)
	each(c, s.Mixes, c.mix)
	each(c, s.Stations, c.station)
	each(c, s.Tools, c.tool)
	each(c, s.Batches, c.batch)
	each(c, s.Absences, c.absence)
	c.num(int64(s.seen.size()))
	for _, lane := range s.seen.sum {
		c.num(int64(lane))
	}
	c.pairs(s.voided)
	c.flag(s.Plan != nil)
	if p := s.published(); p != nil {
		_, sum, err := p.packed()
		if err != nil {
			panic("plan cannot be written: " + err.Error())
		}
		c.bytes(sum[:])
	}
}

// canon writes values so that different ones never look alike: numbers with a
// fixed width, texts and lists after their length, maps sorted.
type canon struct {
	h hash.Hash
	b []byte
}

func newCanon() *canon { return &canon{h: sha256.New(), b: make([]byte, 0, 64<<10)} }

func (c *canon) sum() string {
	c.h.Write(c.b)
	return hex.EncodeToString(c.h.Sum(nil))
}

func (c *canon) bytes(p []byte) {
	if len(c.b)+len(p) > cap(c.b) {
		c.h.Write(c.b)
		c.b = c.b[:0]
	}
	c.b = append(c.b, p...)
}

func (c *canon) num(n int64) {
	var p [8]byte
	binary.LittleEndian.PutUint64(p[:], uint64(n))
	c.bytes(p[:])
}

func (c *canon) text(s string) {
	c.num(int64(len(s)))
	if len(c.b)+len(s) > cap(c.b) {
		c.bytes([]byte(s))
		return
	}
	c.b = append(c.b, s...)
}

func (c *canon) flag(b bool) {
	if b {
		c.num(1)
	} else {
		c.num(0)
	}
}

// flags packs up to 64 of them into one number.
func (c *canon) flags(all ...bool) {
	var n int64
	for i, b := range all {
		if b {
			n |= 1 << i
		}
	}
	c.num(n)
}

func (c *canon) texts(list []string) {
	c.num(int64(len(list)))
	for _, s := range list {
		c.text(s)
	}
}

func (c *canon) pairs(m map[string]string) {
	c.num(int64(len(m)))
	for _, key := range sortedKeys(m) {
		c.text(key)
		c.text(m[key])
	}
}

func (c *canon) members(list []Member) {
	c.num(int64(len(list)))
	for _, m := range list {
		c.text(m.Piece)
		c.text(m.Operation)
	}
}

func each[V any](c *canon, m map[string]*V, write func(*V)) {
	c.num(int64(len(m)))
	for _, key := range sortedKeys(m) {
		c.text(key)
		write(m[key])
	}
}

func (c *canon) line(l *Line) {
	c.orderLine(&l.OrderLine)
	c.flag(l.Cancelled)
	c.texts(l.Pieces)
	c.num(int64(l.Highest))
	c.flag(l.Promise != nil)
	if p := l.Promise; p != nil {
		for _, s := range []string{string(p.Status), p.By, p.Closer, p.Why} {
			c.text(s)
		}
		for _, n := range []int64{int64(p.Made), int64(p.Wish), int64(p.ShipBy), int64(p.Due), int64(p.Quantity), int64(p.Expires), p.Plan, p.PerMille, int64(p.Closed)} {
			c.num(n)
		}
	}
}

func (c *canon) orderLine(l *resources.OrderLine) {
	for _, s := range []string{l.Order, l.Line, l.Customer, l.Product, l.Note} {
		c.text(s)
	}
	for _, n := range []int64{int64(l.Quantity), int64(l.ShipBy), int64(l.Due), l.Weight, int64(l.Kind), int64(l.EarliestStart)} {
		c.num(n)
	}
}

func (c *canon) piece(p *Piece) {
	c.text(p.Serial)
	c.text(p.Order)
	c.text(p.Line)
	c.text(p.Product)
	c.num(int64(p.Number))
	c.num(int64(p.Remake))
	c.num(int64(p.Slot))
	c.flags(p.Shaft, p.Sample, p.Scrapped, p.Held)
	c.text(p.Parent)
	c.text(p.Replaces)
	c.text(p.MadeFor)
	c.text(p.Why)
	c.num(int64(len(p.Detained)))
	for _, d := range p.Detained {
		c.text(d.By)
		c.text(d.Batch)
		c.text(d.Why)
		c.num(int64(d.At))
	}
	c.num(int64(len(p.Ops)))
	for i := range p.Ops {
		c.op(&p.Ops[i])
	}
	c.num(int64(len(p.Results)))
	for i := range p.Results {
		c.result(&p.Results[i])
	}
	c.num(int64(len(p.Earlier)))
	for i := range p.Earlier {
		c.op(&p.Earlier[i])
	}
}

func (c *canon) result(r *Result) {
	for _, s := range []string{r.Operation, r.Gate, string(r.Decision), string(r.Ruled), r.Why, r.Station, r.By, r.Event} {
		c.text(s)
	}
	c.num(int64(r.At))
	c.values(r.Values)
	c.values(r.Plain)
	c.num(int64(len(r.Measured)))
	for _, m := range r.Measured {
		c.text(m.Of)
		c.text(m.Unit)
		c.num(int64(len(m.Values)))
		for _, x := range m.Values {
			c.num(int64(math.Float64bits(x)))
		}
	}
}

func (c *canon) values(list []quality.Value) {
	c.num(int64(len(list)))
	for _, v := range list {
		c.text(v.Of)
		c.text(v.Unit)
		c.num(int64(math.Float64bits(v.Value)))
	}
}

func (c *canon) lots(list []Lot) {
	c.num(int64(len(list)))
	for _, l := range list {
		c.text(l.Material)
		c.text(l.Lot)
	}
}

func (c *canon) batch(b *BatchHold) {
	c.flag(b.Held)
	c.num(int64(b.At))
	c.num(int64(b.Released))
	for _, s := range []string{b.By, b.Why, b.Event, b.Releaser, b.Reason, b.Release} {
		c.text(s)
	}
}

func (c *canon) op(o *OpState) {
	c.text(o.Operation)
	c.num(int64(o.Index))
	c.num(int64(o.Status))
	c.text(o.Station)
	c.num(int64(o.Place))
	c.num(int64(o.Started))
	c.num(int64(o.SetupFrom))
	c.num(int64(o.Ended))
	c.num(int64(o.PausedAt))
	c.num(int64(o.PausedFor))
	c.text(o.Load)
	c.text(o.Mix)
	c.texts(o.Tools)
	c.flags(o.Passed, o.Failed, o.StartGuessed, o.EndGuessed)
	c.text(o.StartedBy)
	c.text(o.EndedBy)
	c.text(o.StartEvent)
	c.text(o.EndEvent)
	c.lots(o.Lots)
	c.num(int64(o.Reworks))
	c.num(int64(o.Redo))
}

func (c *canon) load(l *LoadRun) {
	c.text(l.ID)
	c.text(l.Station)
	c.members(l.Members)
	c.num(int64(l.Status))
	c.num(int64(l.Closed))
	c.num(int64(l.Started))
	c.num(int64(l.Ended))
	c.flag(l.StartGuessed)
	c.text(l.By)
	c.text(l.StartEvent)
	c.text(l.EndEvent)
}

func (c *canon) mix(m *MixRun) {
	c.text(m.ID)
	c.text(m.Resin)
	c.num(m.Grams)
	c.num(m.Drawn)
	c.num(int64(m.Made))
	c.num(int64(m.Expiry))
	c.flag(m.Discarded)
	c.num(int64(m.Ended))
	c.num(m.Left)
	c.lots(m.Lots)
	c.flag(m.Weighed)
	c.text(m.By)
	c.text(m.Event)
	c.text(m.EndEvent)
}

func (c *canon) station(s *StationState) {
	c.flag(s.Down)
	c.num(int64(s.Since))
	c.num(int64(s.Until))
	c.text(s.Why)
	c.flag(s.Setup != nil)
	c.pairs(s.Setup)
	c.num(int64(s.SetupAt))
	c.members(s.On)
	c.text(s.Load)
}

func (c *canon) tool(t *ToolState) {
	c.text(t.Pool)
	c.text(t.Holder)
	c.num(int64(t.Free))
	c.flag(t.Out)
	c.num(int64(t.Since))
	c.num(int64(t.Until))
	c.text(t.Why)
}

func (c *canon) absence(a *Absence) {
	c.text(a.Crew)
	c.num(int64(a.People))
	c.text(a.Calendar)
	c.num(int64(a.From))
	c.num(int64(a.Until))
	c.text(a.Why)
	c.text(a.By)
}
