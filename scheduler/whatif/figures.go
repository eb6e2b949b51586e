// SPDX-License-Identifier: Apache-2.0

package whatif

import (
	"slices"

	"towpath/resources"
	"towpath/scheduler"
)

// Figures are what a plan is worth and what it takes, in numbers to be held
// against those of another.
type Figures struct {
	Orders    int     `json:"orders" doc:"orders that are not cancelled"`
	OnTime    int     `json:"on_time" doc:"orders complete by their due instant"`
	Late      int     `json:"late" doc:"firm orders that are not"`
	Lost      int     `json:"lost" doc:"event orders that are not"`
	Waiting   int     `json:"waiting" doc:"orders nobody can date"`
	Tardiness float64 `json:"weighted_tardiness_hours" doc:"sum over orders of weight × hours late"`

	LastEnd         Tick    `json:"last_end" doc:"when the last work ends"`
	PersonHours     float64 `json:"person_hours" doc:"people's hours of work still to do"`
	OvenHours       float64 `json:"oven_hours" doc:"runs of loads on stations that run cure recipes; where none does, of all that run loads"`
	Energy          float64 `json:"oven_energy_kwh" doc:"power in the plant file × oven_hours; 0 where it is not known"`
	EnergyKnown     bool    `json:"oven_energy_known" doc:"false: the plant file does not say the power of every oven that runs"`
	Loads           int     `json:"loads" doc:"loads to run or running"`
	Fill            float64 `json:"mean_load_fill" doc:"of those loads, 0 to 1, in the dimension that is fullest"`
	Changeovers     int     `json:"changeovers" doc:"planned changeovers"`
	ChangeoverHours float64 `json:"changeover_hours" doc:"time of them"`
	Mixed           float64 `json:"resin_mixed_kg" doc:"resin still to be mixed"`
	Discarded       float64 `json:"resin_discarded_kg" doc:"resin that will be thrown away"`
}

// Row is one figure on both sides.
type Row struct {
	What   string
	Was    float64
	Is     float64
	Digits int // behind the point
	Better int // 1: more of it is better; -1: less is; 0: neither
}

// Rows lists the figures of both sides, for people.
func (c *Comparison) Rows() []Row {
	a, b := &c.Before, &c.After
	whole := func(what string, was, is, better int) Row { return Row{what, float64(was), float64(is), 0, better} }
	rows := []Row{
		whole("orders", a.Orders, b.Orders, 0),
		whole("on time", a.OnTime, b.OnTime, 1),
		whole("late", a.Late, b.Late, -1),
		whole("event orders lost", a.Lost, b.Lost, -1),
		whole("waiting", a.Waiting, b.Waiting, -1),
		{"weighted tardiness, h", a.Tardiness, b.Tardiness, 1, -1},
		{"people's hours", a.PersonHours, b.PersonHours, 1, -1},
		{"oven hours", a.OvenHours, b.OvenHours, 1, -1},
	}
	if a.EnergyKnown && b.EnergyKnown {
		rows = append(rows, Row{"oven energy, kWh", a.Energy, b.Energy, 0, -1})
	}
	return append(rows,
		whole("oven loads", a.Loads, b.Loads, -1),
		Row{"mean load fill, %", 100 * a.Fill, 100 * b.Fill, 0, 1},
		whole("changeovers", a.Changeovers, b.Changeovers, -1),
		Row{"changeover hours", a.ChangeoverHours, b.ChangeoverHours, 1, -1},
		Row{"resin mixed, kg", a.Mixed, b.Mixed, 1, 0},
		Row{"resin discarded, kg", a.Discarded, b.Discarded, 1, -1},
	)
}

// figuresOf measures a plan.
func figuresOf(s *scheduler.State, now Tick, p *scheduler.Plan) Figures {
	x := scheduler.Measure(s, p)
	f := Figures{
		Orders: x.Orders, OnTime: x.OnTime, Late: x.Late, Lost: x.Lost, Waiting: x.Waiting, Tardiness: x.WeightedTardinessHours(),
		LastEnd: p.Made + Tick(x.MakespanSeconds), Loads: x.Loads, Fill: x.MeanLoadFill,
		Changeovers: x.Changeovers, ChangeoverHours: hours(x.ChangeoverSeconds), Discarded: float64(x.DiscardedGrams) / 1000,
	}
	var shares int64 // thousandths of a person times seconds
	for i := range p.Work {
		shares += peopleFor(s, now, &p.Work[i])
	}
	for i := range p.Mixes {
		m := &p.Mixes[i]
		if m.Status != scheduler.Planned || s.Mixes[m.ID] != nil {
			continue
		}
		f.Mixed += float64(m.Grams) / 1000
		if resin := s.Plant.Resin(m.Resin); resin != nil {
			shares += resin.Share * int64(m.End-m.Start)
		}
	}
	f.ovens(s, p)
	f.PersonHours = float64(shares) / 1000 / 3600
	return f
}

// ovens adds up the runs of loads under way and to come on the stations whose
// loads are counted: those that run cure recipes, or where none does, all that
// run loads. With one of which nobody knows the power the energy is not known.
func (f *Figures) ovens(s *scheduler.State, p *scheduler.Plan) {
	cures := slices.ContainsFunc(s.Plant.Stations, func(st resources.Station) bool { return st.Batch != nil && len(st.Recipes) > 0 })
	f.EnergyKnown = true
	for i := range p.Loads {
		l := &p.Loads[i]
		oven := s.Plant.Station(l.Station)
		if l.Status == scheduler.Done || oven == nil || oven.Batch == nil || cures && len(oven.Recipes) == 0 {
			continue
		}
		run := hours(Seconds(l.RunEnd - l.Run))
		f.OvenHours += run
		f.Energy += float64(oven.Watts) / 1000 * run
		f.EnergyKnown = f.EnergyKnown && oven.Watts > 0
	}
	if !f.EnergyKnown {
		f.Energy = 0
	}
}

func hours(d Seconds) float64 { return float64(d) / 3600 }

// peopleFor is what one operation still takes of people's time. Of a run that
// pauses over night only the working part counts.
func peopleFor(s *scheduler.State, now Tick, w *scheduler.Work) int64 {
	if w.Status == scheduler.Done {
		return 0
	}
	var sum int64
	for _, u := range w.People {
		span := part(w, u.Part)
		long := max(0, span.End-max(span.Start, now))
		if u.Part == resources.PartRun {
			long = min(long, worked(s, w))
		}
		sum += u.Share * int64(long)
	}
	return sum
}

func part(w *scheduler.Work, p resources.Part) resources.Interval {
	switch p {
	case resources.PartSetup:
		return resources.Interval{Start: w.Setup, End: w.Start}
	case resources.PartLoad:
		return resources.Interval{Start: w.Start, End: w.Run}
	case resources.PartRun:
		return resources.Interval{Start: w.Run, End: w.RunEnd}
	}
	return resources.Interval{Start: w.Unload, End: w.End}
}

// worked is how long a run takes while somebody is at it.
func worked(s *scheduler.State, w *scheduler.Work) Tick {
	long := w.RunEnd - w.Run
	piece, station := s.Pieces[w.Piece], s.Plant.Station(w.Station)
	if piece == nil || station == nil {
		return long
	}
	product := s.Plant.Product(piece.Product)
	if product == nil {
		return long
	}
	if op := product.Operation(w.Operation); op != nil && op.MayPause {
		return min(long, Tick(s.Plant.RunTime(op, station)))
	}
	return long
}
