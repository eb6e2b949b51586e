// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"

	"towpath/resources"
)

// StationStatus is a station's condition as pages say it.
type StationStatus string

// Conditions of a station, the ones that need somebody first.
const (
	StationDown    StationStatus = "down"
	StationOver    StationStatus = "over"    // its job should have ended
	StationWaiting StationStatus = "waiting" // its next job should have started
	StationPaused  StationStatus = "paused"
	StationRunning StationStatus = "running"
	StationClosed  StationStatus = "closed"
	StationFree    StationStatus = "free"
)

// Word is the condition as pages say it.
func (s StationStatus) Word() string {
	switch s {
	case StationOver:
		return "over time"
	case StationWaiting:
		return "start is due"
	}
	return string(s)
}

// Grace is how far behind the plan a job may be before pages say so.
const Grace = 2 * resources.Minute

// Floor is every station now.
type Floor struct {
	Head     Head           `json:"head" doc:"orders counted by standing"`
	Stations []FloorStation `json:"stations" doc:"in the order of the plant file"`
}

// FloorStation is one station now and next.
type FloorStation struct {
	ID      string            `json:"id" doc:"station's ID"`
	Name    string            `json:"name" doc:"station's name"`
	Kind    string            `json:"kind" doc:"kind of station, as the plant file says"`
	Status  StationStatus     `json:"status" doc:"its condition" enum:"station_status"`
	Why     string            `json:"why" doc:"why it is down; empty: not said"`
	Since   resources.Tick    `json:"since" doc:"down since"`
	Until   resources.Tick    `json:"until" doc:"expected end of the stop, or next opening; empty: not known"`
	Places  int               `json:"places" doc:"pieces it works on side by side; 1 for a plain station or a batch station"`
	Batch   bool              `json:"batch" doc:"true: it runs loads"`
	Now     []*Job            `json:"now" doc:"running or paused, by place"`
	Next    *Job              `json:"next" doc:"planned next; null: nothing"`
	Waiting int               `json:"waiting" doc:"planned jobs in the next 24 hours"`
	Behind  resources.Seconds `json:"behind_s" doc:"how far behind the plan, seconds; 0: not"`
}

// Bad says whether somebody should look at it.
func (f FloorStation) Bad() bool {
	return f.Status == StationDown || f.Status == StationOver || f.Status == StationWaiting
}

// Floor computes the floor page.
func (v *View) Floor() Floor {
	f := Floor{Head: v.Head(), Stations: []FloorStation{}}
	for i := range v.plant.Stations {
		f.Stations = append(f.Stations, v.floorStation(&v.plant.Stations[i]))
	}
	return f
}

func (v *View) floorStation(st *resources.Station) FloorStation {
	f := FloorStation{
		ID: st.ID, Name: cmp.Or(st.Name, st.ID), Kind: st.Kind, Places: max(1, st.Places), Batch: st.Batch != nil, Now: []*Job{},
	}
	now, next := v.lineOf(st.ID)
	f.Now = append(f.Now, now...)
	if len(next) > 0 {
		f.Next = next[0]
	}
	for _, j := range next {
		if j.Start < v.zone.Now+resources.Tick(resources.Day) {
			f.Waiting++
		}
	}
	v.condition(&f, st)
	return f
}

// condition decides the one word for a station: what needs somebody wins.
func (v *View) condition(f *FloorStation, st *resources.Station) {
	now := v.zone.Now
	var over, due resources.Seconds
	paused := false
	for _, j := range f.Now {
		over = max(over, j.Overdue(now))
		paused = paused || j.Status == JobPaused
	}
	free := f.Places - len(f.Now)
	if f.Batch && len(f.Now) > 0 {
		free = 0
	}
	if f.Next != nil && free > 0 {
		due = f.Next.Overdue(now)
	}
	opens, open := v.opens(st)
	state := v.Picture.State.Stations[st.ID]
	switch {
	case state != nil && state.Down:
		f.Status, f.Why, f.Since, f.Until = StationDown, state.Why, state.Since, state.Until
	case over > Grace:
		f.Status, f.Behind = StationOver, over
	case due > Grace && open:
		f.Status, f.Behind = StationWaiting, due
	case paused:
		f.Status = StationPaused
	case len(f.Now) > 0:
		f.Status = StationRunning
	case !open:
		f.Status, f.Until = StationClosed, opens
	default:
		f.Status = StationFree
	}
}

// opens says whether a station's calendar is open now, and if not when it
// opens next within two weeks; 0 when it does not.
func (v *View) opens(st *resources.Station) (resources.Tick, bool) {
	if st.Calendar == "" {
		return 0, true
	}
	now := v.zone.Now
	windows, err := v.plant.Calendar(st.Calendar).Windows(v.plant.Zone, now, now+resources.Tick(14*resources.Day))
	if err != nil || len(windows) == 0 {
		return 0, false
	}
	return windows[0].Start, windows[0].Start == now
}
