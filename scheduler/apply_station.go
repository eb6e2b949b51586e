// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/events"

func stationCondition(down bool) string {
	if down {
		return "down"
	}
	return "up"
}

// station finds the reporting station, as a copy.
func (t *change) station() (*StationState, *Refusal) {
	if t.e.Station == "" {
		return nil, refuse(RefusedMalformed, "station", "say which", "the report names no station")
	}
	s := t.editStation(t.e.Station)
	if s == nil {
		return nil, refuse(RefusedUnknown, "station "+t.e.Station, "check the name", "the plant has no such station")
	}
	return s, nil
}

// sender refuses a report from a station that the plant does not have. A
// report need not come from a station.
func (t *change) sender() *Refusal {
	if t.e.Station != "" && t.plant.Station(t.e.Station) == nil {
		return refuse(RefusedUnknown, "station "+t.e.Station, "check the name", "the plant has no such station")
	}
	return nil
}

// superseded refuses a report about a condition that has been changed by a
// report of something later.
func (t *change) superseded(about string, since Tick, condition string) *Refusal {
	return refuse(RefusedSuperseded, about, "nothing to do; the later report counts", "it was reported %s at %s, after this", condition, t.s.clock(since))
}

func (t *change) stationDown(d events.StationData) *Refusal {
	s, r := t.station()
	if r != nil {
		return r
	}
	about, condition := "station "+t.e.Station, stationCondition(s.Down)
	switch m := stationLife.move(condition, events.StationDown, never); {
	case d.Until != 0 && d.Until <= t.e.At || d.Until > lastInstant:
		return refuse(RefusedMalformed, about, "leave it out if nobody knows", "the expected end lies before the stop")
	case m.To == condition && d.Until == s.Until && d.Why == s.Why:
		return refuse(RefusedAlready, about, "nothing to do", "it is down already since %s%s", t.s.clock(s.Since), because(s.Why))
	case m.To == condition:
		s.Until, s.Why = d.Until, d.Why
		return nil
	case t.e.At < s.Since:
		return t.superseded(about, s.Since, "up")
	}
	s.Down, s.Since, s.Until, s.Why = true, t.e.At, d.Until, d.Why
	return nil
}

func (t *change) stationUp(events.StationData) *Refusal {
	s, r := t.station()
	if r != nil {
		return r
	}
	about := "station " + t.e.Station
	if m := stationLife.move(stationCondition(s.Down), events.StationUp, never); m.Refuse != "" {
		return refuse(m.Refuse, about, "nothing to do", "it is not reported down")
	}
	if t.e.At < s.Since {
		return t.superseded(about, s.Since, "down")
	}
	s.Down, s.Since, s.Until, s.Why = false, t.e.At, 0, ""
	return nil
}

func toolCondition(out bool) string {
	if out {
		return "out"
	}
	return "in"
}

// unit finds a tool unit, as a copy.
func (t *change) unit(mark string) (*ToolState, *Refusal) {
	tool := t.tools.edit(mark)
	if tool == nil {
		return nil, refuse(RefusedUnknown, "tool "+mark, "check the mark", "the plant has no such tool unit")
	}
	return tool, nil
}

func (t *change) toolOut(d events.ToolData) *Refusal {
	tool, r := t.unit(d.Unit)
	if r != nil {
		return r
	}
	about, condition := "tool "+d.Unit, toolCondition(tool.Out)
	switch m := toolUseLife.move(condition, events.ToolOut, never); {
	case d.Until != 0 && d.Until <= t.e.At || d.Until > lastInstant:
		return refuse(RefusedMalformed, about, "leave it out if nobody knows", "the expected return lies before it was taken out")
	case m.To == condition && d.Until == tool.Until && d.Why == tool.Why:
		return refuse(RefusedAlready, about, "nothing to do", "it is out already since %s%s", t.s.clock(tool.Since), because(tool.Why))
	case m.To == condition:
		tool.Until, tool.Why = d.Until, d.Why
		return nil
	case t.e.At < tool.Since:
		return t.superseded(about, tool.Since, "in")
	}
	tool.Out, tool.Since, tool.Until, tool.Why = true, t.e.At, d.Until, d.Why
	if tool.Holder != "" {
		t.note(d.Unit, "taken out while %s has it", tool.Holder)
	}
	return nil
}

func (t *change) toolIn(d events.ToolData) *Refusal {
	tool, r := t.unit(d.Unit)
	if r != nil {
		return r
	}
	about := "tool " + d.Unit
	if m := toolUseLife.move(toolCondition(tool.Out), events.ToolIn, never); m.Refuse != "" {
		return refuse(m.Refuse, about, "nothing to do", "it is not reported out")
	}
	if t.e.At < tool.Since {
		return t.superseded(about, tool.Since, "out")
	}
	tool.Out, tool.Since, tool.Until, tool.Why = false, t.e.At, 0, ""
	return nil
}
