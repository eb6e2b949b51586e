// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"fmt"
	"slices"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/scheduler/chance"
)

// Reporter is the people who tell the shop what they did. Each deed is told
// until it is believed: what is refused is told again, and a wrong report that
// is believed is taken back.
type Reporter struct {
	luck  chance.Seed
	slips Slips
	all   []*deed
	open  []*deed // of all, those not believed yet, in the order they were done
	extra []Sending
	begun map[job]*deed // starts that nobody will report, by what began
	ended map[job]bool  // done once
}

// deed is something done and what became of telling it.
type deed struct {
	event  events.Event
	in     string   // deeds with the same are told one after the other; empty: in any order
	pieces []string // it speaks of
	after  bool     // it is told after everything earlier about its pieces
	covers []*deed  // starts that it tells too
	ends   *deed    // people who went, of whom it tells that they are back

	due   resources.Tick
	ids   []string // under which it was told; any of them may be believed
	as    string   // that of them which was believed when people looked
	tries int
	sent  bool          // the answer is awaited
	bait  *events.Event // to be told first, by mistake
	slips []string      // IDs of mistakes that were refused
	wrong string        // ID of the mistake that is believed
	mends int           // tries to take it back
	void  string        // ID of a void sent alone
	done  bool
	// overtaken: something later was known first, so that nobody asks for it
	overtaken bool
	hush      bool // its finish will tell it
}

// Sending is one report on its way.
type Sending struct {
	Event  events.Event
	Mends  string // ID of a mistake that it replaces: report the void of that together with it
	Twice  bool   // send it a second time
	Stored bool   // the second time without an ID that the log looks at

	due resources.Tick
}

// NewReporter is people whose slips the seed decides.
func NewReporter(seed uint64, s Slips) *Reporter {
	return &Reporter{luck: chance.Seed(seed), slips: s, begun: map[job]*deed{}, ended: map[job]bool{}}
}

// Took notes what was done. The state is that of the floor as it is after the
// deed.
func (r *Reporter) Took(e events.Event, s *scheduler.State) {
	d := &deed{event: e, due: e.At}
	d.describe(s)
	if back, is := e.Data.(events.PresentData); is {
		if k := slices.IndexFunc(r.all, func(gone *deed) bool { return gone.event.ID == back.Absence }); k >= 0 {
			d.ends = r.all[k]
		}
	}
	r.all = append(r.all, d)
	if r.happens("late", e.ID, r.slips.Late) && e.Kind != events.LoadClosed {
		d.due += wait(r.luck, r.slips.LateLong, "late long", e.ID)
	}
	op, single := e.Data.(events.OperationData)
	at := job{op.Piece, op.Operation}
	if single && r.ended[at] {
		d.after = true // nobody is offered it again before it is known how it went
	}
	r.ended[at] = r.ended[at] || single && e.Kind == events.OperationFinished
	switch {
	case single && e.Kind == events.OperationStarted:
		if r.happens("forgotten", e.ID, r.slips.Forgotten) {
			d.hush, r.begun[at] = true, d
			return
		}
		r.slip(d, op, s)
	case single && e.Kind == events.OperationFinished && r.begun[at] != nil:
		start := r.begun[at]
		delete(r.begun, at)
		d.covers = []*deed{start}
		data := start.event.Data.(events.OperationData)
		data.Started = start.event.At
		d.event.Data = data
	}
	r.open = append(r.open, d)
}

// happens says whether what has a chance befalls a deed.
func (r *Reporter) happens(what, id string, chance float64) bool {
	return r.luck.Uniform(what, id) < chance
}

// slip chooses a wrong serial now and then.
func (r *Reporter) slip(d *deed, op events.OperationData, s *scheduler.State) {
	wrong := d.event
	wrong.ID += "-w"
	switch {
	case r.happens("unknown", d.event.ID, r.slips.Unknown):
		op.Piece += "-X"
	case r.happens("sister", d.event.ID, r.slips.Sister):
		if op.Piece = r.sister(s, op, d.event.ID); op.Piece == "" {
			return
		}
	default:
		return
	}
	wrong.Data = op
	d.bait = &wrong
}

// sister is another piece of the line that waits for the same operation; empty
// when there is none.
func (r *Reporter) sister(s *scheduler.State, op events.OperationData, id string) string {
	p := s.Pieces[op.Piece]
	line := s.Lines[scheduler.LineKey(p.Order, p.Line)]
	if line == nil {
		return ""
	}
	var could []string
	for _, serial := range line.Pieces {
		if q := s.Pieces[serial]; serial != op.Piece && !q.Scrapped && !q.Held && slices.ContainsFunc(q.Ops, func(o scheduler.OpState) bool {
			return o.Operation == op.Operation && o.Status == scheduler.Planned
		}) {
			could = append(could, serial)
		}
	}
	if len(could) == 0 {
		return ""
	}
	return could[int(r.luck.Uniform("which", id)*float64(len(could)))]
}

// describe notes what a deed is about and what it must be told after.
func (d *deed) describe(s *scheduler.State) {
	family := func(serial string) {
		p := s.Pieces[serial]
		d.pieces = append(d.pieces, serial)
		if p == nil {
			return
		}
		if p.Parent != "" {
			d.pieces = append(d.pieces, p.Parent)
		}
		if line := s.Lines[scheduler.LineKey(p.Order, p.Line)]; line != nil {
			for _, other := range line.Pieces {
				if s.Pieces[other].Parent == serial {
					d.pieces = append(d.pieces, other)
				}
			}
		}
		// What may make a piece again is told in the order in which it was
		// found, so that the shop names the new ones as the floor does.
		d.in, d.after = "line "+scheduler.LineKey(p.Order, p.Line), true
	}
	switch x := d.event.Data.(type) {
	case events.OperationData:
		d.pieces = []string{x.Piece}
	case events.LoadData:
		d.in = "load " + x.Load
		for _, m := range x.Pieces {
			d.pieces = append(d.pieces, m.Piece)
		}
	case events.MixData:
		d.in = "mix " + x.Mix
	case events.StationData:
		d.in = "station " + d.event.Station
	case events.AbsentData:
		d.in = "crew " + x.Crew
	case events.PresentData:
		d.in = "crew " + x.Crew
	case events.ResultData:
		family(x.Piece)
	case events.PieceData:
		family(x.Piece)
	}
}

// Due is what is told until now, in order. Hurry: nobody puts anything off any
// more, and starts whose finish will not come are told.
func (r *Reporter) Due(now resources.Tick, hurry bool) []Sending {
	if hurry {
		r.unhush()
	}
	var out []Sending
	r.extra = slices.DeleteFunc(r.extra, func(x Sending) bool {
		if x.due <= now {
			out = append(out, x)
		}
		return x.due <= now
	})
	waits, about := map[string]bool{}, map[string]bool{}
	for _, d := range r.open {
		blocked := d.in != "" && waits[d.in] || d.after && slices.ContainsFunc(d.pieces, func(p string) bool { return about[p] })
		if !blocked && (d.due <= now || hurry) {
			out = append(out, d.send(r.luck, r.slips))
		}
		if d.in != "" {
			waits[d.in] = true
		}
		for _, p := range d.pieces {
			about[p] = true
		}
	}
	return out
}

func (r *Reporter) unhush() {
	for _, d := range r.all {
		if d.hush && r.begun[d.job()] == d {
			d.hush = false
			r.open = append(r.open, d)
		}
	}
	clear(r.begun)
}

func (d *deed) job() job {
	x, _ := d.event.Data.(events.OperationData)
	return job{x.Piece, x.Operation}
}

// send is the next report of a deed.
func (d *deed) send(luck chance.Seed, slips Slips) Sending {
	d.sent = true
	switch {
	case d.bait != nil:
		return Sending{Event: *d.bait}
	case d.wrong != "" && d.mends >= maxMends:
		// The right report cannot come together with the void: the void alone.
		d.void = fmt.Sprintf("%s-v%d", d.event.ID, d.mends)
		e := d.event
		e.ID, e.Kind, e.Data = d.void, events.EventVoided, events.VoidData{Event: d.wrong, Why: "wrong serial scanned"}
		return Sending{Event: e}
	}
	e := d.event
	if d.tries > 0 || d.wrong != "" {
		e.ID = fmt.Sprintf("%s-%d", e.ID, d.tries+d.mends+1)
	}
	if back, is := e.Data.(events.PresentData); is && d.ends != nil && d.ends.as != "" {
		back.Absence = d.ends.as
		e.Data = back
	}
	d.ids = append(d.ids, e.ID)
	out := Sending{Event: e, Mends: d.wrong}
	if d.tries == 0 && d.wrong == "" {
		out.Stored = luck.Uniform("stored", e.ID) < slips.Stored
		out.Twice = out.Stored || luck.Uniform("doubled", e.ID) < slips.Doubled
	}
	return out
}

// maxMends is how often a mistake is tried to be replaced before it is only
// taken back.
const maxMends = 4
