// SPDX-License-Identifier: Apache-2.0

// Package view computes what pages show from a picture of the shop: state,
// plan and instant in, plain models out. It is pure; the models are the JSON
// of the API as well, so that a page and a program see the same thing. A View
// may be read by several requests at once.
package view

import (
	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
)

// Picture is the shop at one instant. Nobody changes it or what it points to.
type Picture struct {
	Starting bool // the log is still being read; State may be nil
	Version  uint64
	Now      resources.Tick
	State    *scheduler.State
	Plan     *scheduler.Plan
	Planning string          // "idle", "repairing" or "improving"
	Recent   []Recent        // records of the log, newest last
	Rejects  []Reject        // newest last
	Notes    []Noted         // newest last
	Alerts   []Alert         // what wants a person, until it is over; the first to act first
	Score    scheduler.Score // of Plan, when there is one
	Gaps     []scheduler.Gap // of Plan, when they are known
	Optimal  bool            // no plan is better, proven
}

// Recent is a record of the log and whether it was believed.
type Recent struct {
	Event    events.Event
	Believed bool
}

// Reject is a record the shop could not believe.
type Reject struct {
	Seq    uint64
	ID     string
	Kind   events.Kind
	At     resources.Tick
	About  string
	By     string
	Reason string
}

// Noted is something the engine said when it applied a record.
type Noted struct {
	Seq  uint64
	At   resources.Tick
	Note scheduler.Note
}
