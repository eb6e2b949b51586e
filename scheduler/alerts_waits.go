// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"fmt"

	"towpath/resources"
)

// waits are the maximum waits of one operation that are about to break, or
// have.
type waits struct {
	op           *resources.Operation
	ending, over []string // pieces
	by, since    Tick     // the first of each
	planned      Tick     // where the plan starts the first that it cannot keep; 0: it keeps all
	station      string
	after        string
	lead         *Work
}

// wait looks at a maximum wait that runs and ends at last.
func (l *look) wait(w *Work, p *Piece, op *resources.Operation, link *resources.Link, last Tick) {
	margin := Seconds(0)
	if l.watch.has(string(WaitEnding) + "/" + op.ID) {
		margin = waitMargin
	}
	near := waitMargin
	if l.firstDue(w) < l.now {
		near = waitNear // it should have started already
	}
	if last >= l.now && w.Start <= last-Tick(margin) && last-l.now > Tick(near) {
		return
	}
	x := l.waits[op.ID]
	if x == nil {
		x = &waits{op: op}
		l.waits[op.ID] = x
	}
	if last < l.now {
		x.over = append(x.over, p.Serial)
		if x.since == 0 || last < x.since {
			x.since = last
		}
		return
	}
	x.ending = append(x.ending, p.Serial)
	if x.by == 0 || last < x.by {
		x.by, x.station, x.after, x.lead, x.planned = last, w.Station, link.Operation, w, 0
		if w.Start > last {
			x.planned = w.Start
		}
	}
}

func (l *look) tellWaits() {
	for _, id := range sortedKeys(l.waits) {
		x := l.waits[id]
		if len(x.ending) > 0 {
			a := Alert{
				Kind: WaitEnding, About: id, Station: x.station, Order: l.onlyOrder(x.ending), Pieces: x.ending, By: x.by, Who: l.people(x.lead, x.op, x.station),
				Text: fmt.Sprintf("%s of %s must start by %s, the longest wait after %s", titled(x.op), names(x.ending), l.s.clock(x.by), x.after),
				Do:   "start it, or report why it cannot",
			}
			if x.planned != 0 {
				a.Text += fmt.Sprintf("; as things stand it can start only at %s", l.s.clock(x.planned))
				a.Do = "make room for it, or bring back a station that can take it"
			}
			l.tell(a)
		}
		if len(x.over) > 0 {
			l.tell(Alert{
				Kind: WaitEnding, About: id + ", over", Order: l.onlyOrder(x.over), Pieces: x.over, By: x.since, Who: l.judges(),
				Text: fmt.Sprintf("%s of %s had to start by %s", titled(x.op), names(x.over), l.s.clock(x.since)),
				Do:   "have a qualified person decide: go on, hold or scrap",
			})
		}
	}
}

// judges are those who decide about pieces: whoever has the skill of a gate
// that the plant's rules may put on hold, else the manager.
func (l *look) judges() string {
	for i := range l.s.Plant.Products {
		routing := l.s.Plant.Products[i].Routing
		for k := range routing {
			if routing[k].Gate != "" && len(routing[k].Needs) > 0 {
				return l.skilled(routing[k].Needs[0].Skill)
			}
		}
	}
	return manager
}

// mixUse is who still draws from a mix.
type mixUse struct {
	runs, waits []string // pieces that draw, or are planned to
	op          *resources.Operation
	lead        *Work
	late        bool // a winding will not be through by the end of the pot life
}

// draws notes that a step draws from a mix that was made, and when it is
// through.
func (l *look) draws(mix string, w *Work, op *resources.Operation, end Tick, begun bool) {
	run := l.s.Mixes[mix]
	if run == nil || run.Discarded {
		return
	}
	x := l.mixes[mix]
	if x == nil {
		x = &mixUse{op: op, lead: w}
		l.mixes[mix] = x
	}
	if begun {
		x.runs = append(x.runs, w.Piece)
		x.late = x.late || end > run.Expiry
		return
	}
	x.waits = append(x.waits, w.Piece)
}

func (l *look) tellMixes() {
	for _, id := range sortedKeys(l.s.Mixes) {
		run := l.s.Mixes[id]
		left := run.Grams - run.Drawn
		x := l.mixes[id]
		resin := l.s.Plant.Resin(run.Resin)
		if run.Discarded || resin == nil || run.Expiry+Tick(mixHarmless) < l.now {
			continue
		}
		a := Alert{Kind: MixExpiring, About: id, By: run.Expiry}
		switch {
		case run.Expiry+Tick(mixForgot) < l.now && left > 0:
			a.Station, a.Who = resin.Station, manager
			if resin.Skill != "" {
				a.Who = l.skilled(resin.Skill)
			}
			a.Text = fmt.Sprintf("Mix %s expired at %s with %d g left; it may heat up by itself", id, l.s.clock(run.Expiry), left)
			a.Do = "dispose of it as the supplier's data sheet and the site's rules say, and report it discarded"
		case x == nil || run.Expiry < l.now:
			continue
		case x.late:
			a.Pieces, a.Station, a.Who = x.runs, x.lead.Station, l.people(x.lead, x.op, x.lead.Station)
			a.Text = fmt.Sprintf("%s of %s will not be through when mix %s expires at %s", titled(x.op), names(x.runs), id, l.s.clock(run.Expiry))
			a.Do = "finish before it, or ask a qualified person what becomes of the piece"
		case len(x.waits) > 0 && run.Expiry-l.now <= Tick(mixNear):
			a.Pieces, a.Station, a.Who = x.waits, x.lead.Station, l.people(x.lead, x.op, x.lead.Station)
			a.Text = fmt.Sprintf("Mix %s expires at %s; %s of %s is still to draw from it", id, l.s.clock(run.Expiry), titled(x.op), names(x.waits))
			a.Do = "start it now, or discard the mix and report that"
		default:
			continue
		}
		a.Order = l.onlyOrder(a.Pieces)
		l.tell(a)
	}
}
