// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"time"

	"towpath/events"
	"towpath/resources"
)

// Instants an event may speak of: 1970 to 9999, what RFC 3339 can write.
const (
	firstInstant Tick = 1
	lastInstant  Tick = 253402300799
)

// TooFarAhead tells whether an event claims to have happened more than five
// minutes after now: a reporter's clock that is wrong by more than networks
// and people explain. The core has no clock, so whoever has one asks this
// before Apply.
func TooFarAhead(e events.Event, now Tick) bool {
	return e.At > now+Tick(5*resources.Minute)
}

// longestLate is how late a report may come, against the newest event taken.
// Nobody tells of work a year later: a time so old is that of a clock that has
// lost its date. Believed, it would stand in a plan that reaches too far back
// to be checked. Events are the only time the core has, so a log that is copied
// elsewhere folds as it did.
const longestLate = Tick(366 * resources.Day)

// Apply takes one event into the state. What it says is checked wholly before
// anything changes; the error, a *Refusal or ErrRebuild, means that nothing
// did. The notes say what the event meant beyond its words.
//
// The ID of an event counts once, ever; and an event with a sequence must be
// newer than the last applied. Reports may come late and out of order: the
// tables of Lifecycles say what is taken as implied and what is refused.
func (s *State) Apply(e events.Event) ([]Note, error) {
	if r := s.admit(&e); r != nil {
		return nil, r
	}
	if e.Kind == events.EventVoided {
		return nil, s.voidable(e)
	}
	t := s.begin()
	t.e = e
	if r := t.apply(); r != nil {
		return nil, r
	}
	t.install()
	s.witness(&e)
	return t.notes, nil
}

// admit looks at what every event has.
func (s *State) admit(e *events.Event) *Refusal {
	switch {
	case e.ID == "":
		return refuse(RefusedMalformed, "", "give it an ID of its own", "the event has no ID")
	case e.At < firstInstant || e.At > lastInstant:
		return refuse(RefusedMalformed, "", "set the clock of the machine that reports", "the event's time is no instant of the years 1970 to 9999")
	case e.At < s.At-longestLate:
		return refuse(RefusedMalformed, "", "set the clock of the machine that reports", "it is said to have happened on %s, more than a year before the newest report",
			time.Unix(int64(e.At), 0).UTC().Format(time.DateOnly))
	case e.Seq != 0 && e.Seq <= s.Seq:
		return refuse(RefusedRepeated, "", "", "number %d of the log was applied; the state is at %d", e.Seq, s.Seq)
	}
	if seq, ok := s.seen.seq(e.ID); ok {
		return refuse(RefusedRepeated, "", "it counts once; nothing to do", "event %s was applied already, as number %d", e.ID, seq)
	}
	if s.Plant == nil && e.Kind != events.PlantDeclared && e.Kind != events.EventVoided {
		return refuse(RefusedNotYet, "", "declare the plant first", "there is no plant yet")
	}
	return nil
}

// witness records that an event happened.
func (s *State) witness(e *events.Event) {
	s.At = max(s.At, e.At)
	s.Seq = max(s.Seq, e.Seq)
	s.fresh = append(s.fresh, s.seen.add(e.ID, e.Seq))
	switch e.Kind {
	case events.OrderAdded, events.OrderChanged, events.PromiseReserved, events.PlantDeclared:
		s.Claimed = max(s.Claimed, e.Seq)
		if e.Seq == 0 { // tried on a copy, before the log has numbered it
			s.Claimed = s.Seq + 1
		}
	}
}

// Applied is the sequence under which an event ID was taken, by Apply or as
// void; false when it never was.
func (s *State) Applied(id string) (uint64, bool) { return s.seen.seq(id) }

// VoidedBy is the event ID that voids an event; false when nothing does.
func (s *State) VoidedBy(id string) (string, bool) {
	by, ok := s.voided[id]
	return by, ok
}

func (t *change) apply() *Refusal {
	switch t.e.Kind {
	case events.PlantDeclared:
		return with(t, t.plantDeclared)
	case events.OrderAdded:
		return with(t, t.orderAdded)
	case events.OrderChanged:
		return with(t, t.orderChanged)
	case events.OrderCancelled:
		return with(t, t.orderCancelled)
	case events.PromiseReserved:
		return with(t, t.promiseReserved)
	case events.PromiseConfirmed:
		return with(t, t.promiseConfirmed)
	case events.PromiseReleased, events.PromiseExpired:
		return with(t, t.promiseClosed)
	case events.OperationStarted:
		return with(t, t.operationStarted)
	case events.OperationPaused:
		return with(t, t.operationPaused)
	case events.OperationResumed:
		return with(t, t.operationResumed)
	case events.OperationFinished:
		return with(t, t.operationFinished)
	case events.LoadClosed:
		return with(t, t.loadClosed)
	case events.LoadStarted:
		return with(t, t.loadStarted)
	case events.LoadFinished:
		return with(t, t.loadFinished)
	case events.MixMade:
		return with(t, t.mixMade)
	case events.MixDiscarded:
		return with(t, t.mixDiscarded)
	}
	return t.applyRest()
}

func (t *change) applyRest() *Refusal {
	switch t.e.Kind {
	case events.StationDown:
		return with(t, t.stationDown)
	case events.StationUp:
		return with(t, t.stationUp)
	case events.ToolOut:
		return with(t, t.toolOut)
	case events.ToolIn:
		return with(t, t.toolIn)
	case events.CrewAbsent:
		return with(t, t.crewAbsent)
	case events.CrewPresent:
		return with(t, t.crewPresent)
	case events.PieceScrapped:
		return with(t, t.pieceScrapped)
	case events.PieceHeld:
		return with(t, t.pieceHeld)
	case events.PieceReleased:
		return with(t, t.pieceReleased)
	case events.BatchHeld:
		return with(t, t.batchHeld)
	case events.BatchReleased:
		return with(t, t.batchReleased)
	case events.ResultRecorded:
		return with(t, t.resultRecorded)
	case events.PlanPublished:
		return with(t, t.planPublished)
	}
	return refuse(RefusedMalformed, "", "", "unknown kind of event %q", t.e.Kind)
}

// with hands the payload to its handler, if it is of the right type.
func with[D any](t *change, handle func(D) *Refusal) *Refusal {
	data, ok := t.e.Data.(D)
	if !ok {
		return refuse(RefusedMalformed, "", "", "the payload of %s is a %T", t.e.Kind, t.e.Data)
	}
	return handle(data)
}

// piece finds the piece an event speaks of, to be looked at.
func (t *change) piece(serial string) (*Piece, *Refusal) {
	p := t.pieces.look(serial)
	if p == nil {
		return nil, refuse(RefusedUnknown, "piece "+serial, "check the serial", "there is no such piece")
	}
	return p, nil
}

// scrapHint is what to do with a piece that is scrapped.
const scrapHint = "leave it aside; if it is no scrap, void the report that says so"

// step finds a piece that is not scrapped, and an operation of it.
func (t *change) step(serial, operation string) (*Piece, int, *Refusal) {
	p, r := t.piece(serial)
	if r != nil {
		return nil, 0, r
	}
	if p.Scrapped {
		return nil, 0, refuse(RefusedScrapped, "piece "+serial, scrapHint, "it was scrapped%s", because(p.Why))
	}
	k, r := step(p, operation)
	return p, k, r
}

// because adds a reason to a sentence, if there is one.
func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// step finds an operation of a piece by name.
func step(p *Piece, operation string) (int, *Refusal) {
	for i := range p.Ops {
		if p.Ops[i].Operation == operation {
			return i, nil
		}
	}
	var names []byte
	for i := range p.Ops {
		if i > 0 {
			names = append(names, ", "...)
		}
		names = append(names, p.Ops[i].Operation...)
	}
	return 0, refuse(RefusedUnknown, "piece "+p.Serial, "it passes "+string(names), "it does not pass %q", operation)
}
