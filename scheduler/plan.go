// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/resources"

// Tick and Seconds are the engine's time, whole seconds UTC.
type (
	Tick    = resources.Tick
	Seconds = resources.Seconds
)

// Plan is times and resources for every operation of every open piece. It
// names everything as people do, so that a plan file can be read, checked and
// argued with on its own.
type Plan struct {
	Version    int64  `json:"version"`
	Made       Tick   `json:"made"`       // the now it was made for
	Base       uint64 `json:"base"`       // sequence of the state it was made from
	Seed       uint64 `json:"seed"`       // with Iterations: how to make it again
	Iterations int64  `json:"iterations"` // of the search
	Work       []Work `json:"work"`       // by Start, then piece, then operation
	Loads      []Load `json:"loads"`      // by Start, then ID
	Mixes      []Mix  `json:"mixes"`      // by Start, then ID
	// Breaches are maximum waits that facts, not the plan, have made
	// impossible to keep: the earlier end has already happened.
	Breaches []Breach `json:"breaches,omitempty"`
	// Gaps say how far from the best possible the plan may be, part by part of
	// the objective; none: nobody has looked. Optimal: no plan is better.
	Gaps    []Gap `json:"gaps,omitempty"`
	Optimal bool  `json:"optimal,omitempty"`
	// Churn is what it changes against the plan published before it; nil when
	// there is none, or before it is published.
	Churn *Churn `json:"churn,omitempty"`
}

// Work is one operation of one piece. Setup ≤ Start ≤ Run ≤ RunEnd ≤ Unload ≤
// End. The changeover takes [Setup, Start), loading [Start, Run), the run
// [Run, RunEnd) with pauses, then perhaps a wait inside until Unload, then
// unloading [Unload, End). Members of a load share all six.
type Work struct {
	Order     string      `json:"order"`
	Line      string      `json:"line"`
	Piece     string      `json:"piece"`
	Operation string      `json:"operation"`
	Station   string      `json:"station"`
	Place     int         `json:"place"` // from 1
	Setup     Tick        `json:"setup"`
	Start     Tick        `json:"start"`
	Run       Tick        `json:"run"`
	RunEnd    Tick        `json:"run_end"`
	Unload    Tick        `json:"unload"`
	End       Tick        `json:"end"`
	Load      string      `json:"load,omitempty"`
	Mix       string      `json:"mix,omitempty"`
	Tools     []string    `json:"tools,omitempty"` // unit marks taken here, in the order of Operation.Takes
	People    []PeopleUse `json:"people,omitempty"`
	Status    Status      `json:"status"` // as of Made: planned, started or done
}

// PeopleUse is a crew serving one need of an operation. In a load the needs
// are met once for all members and are listed on the first of them.
type PeopleUse struct {
	Part  resources.Part `json:"part"`
	Skill string         `json:"skill"`
	Crew  string         `json:"crew"`
	Share int64          `json:"share"` // thousandths of a person
}

// Status of an operation.
type Status uint8

// An operation is planned, then started (perhaps paused), then done. Only
// planned ones may be moved.
const (
	Planned Status = iota
	Started
	Paused
	Done
)

// Load is a set of pieces run together on a batch station.
type Load struct {
	ID      string   `json:"id"`
	Station string   `json:"station"`
	Recipe  string   `json:"recipe,omitempty"`
	Members []Member `json:"members"`
	Setup   Tick     `json:"setup"`
	Start   Tick     `json:"start"`
	Run     Tick     `json:"run"`
	RunEnd  Tick     `json:"run_end"`
	Unload  Tick     `json:"unload"`
	End     Tick     `json:"end"`
	Status  Status   `json:"status"`
}

// Member is one piece at one operation.
type Member struct {
	Piece     string `json:"piece"`
	Operation string `json:"operation"`
}

// Mix is one batch of mixed resin, made in [Start, End), usable until Expiry.
type Mix struct {
	ID      string   `json:"id"`
	Resin   string   `json:"resin"`
	Station string   `json:"station"`
	Place   int      `json:"place"`
	Start   Tick     `json:"start"`
	End     Tick     `json:"end"`
	Expiry  Tick     `json:"expiry"`
	Grams   int64    `json:"grams"` // drawn plus the heel
	Crew    string   `json:"crew,omitempty"`
	Users   []Member `json:"users"`
	Status  Status   `json:"status"`
}

// Breach is a maximum wait broken by facts.
type Breach struct {
	From Member  `json:"from"`
	To   Member  `json:"to"`
	By   Seconds `json:"by"`
}
