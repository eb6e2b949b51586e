// SPDX-License-Identifier: Apache-2.0

// Package web is what people and programs see of the shop: pages for the
// production manager, the operator and the planner, the same as JSON, and live
// updates. It works without internet; everything it needs is in the binary.
package web

import (
	"context"

	"towpath/events"
	"towpath/resources"
	"towpath/scheduler"
	"towpath/web/view"
)

// Shop is what the pages stand on. Its methods may be called from any
// goroutine.
type Shop interface {
	// Picture is the latest picture; never nil. Nobody changes a picture or
	// what it points to, and a different picture is a different pointer.
	Picture() *Picture
	// Now is the shop's instant, and how many of its seconds pass in one
	// second of the wall.
	Now() (now resources.Tick, speed float64)
	// Subscribe tells through the channel that there is a new picture until
	// the context ends; signals nobody has taken are merged. The channel is
	// closed when the shop stops.
	Subscribe(ctx context.Context) <-chan struct{}
	// Report tells the shop facts, all of them or none; it returns when they
	// are safe. An ID that is known already counts once. An At of 0 means
	// now. Facts that cannot be are answered with a *Refusal.
	Report(ctx context.Context, batch ...events.Event) (Outcome, error)
}

// Picture is the shop at one instant; see the view package.
type (
	Picture = view.Picture
	Recent  = view.Recent
	Reject  = view.Reject
	Noted   = view.Noted
	Alert   = view.Alert
)

// Outcome is what a believed report did.
type Outcome struct {
	Seq    uint64           // of its last event in the log
	Notes  []scheduler.Note // what the engine says about it
	Repeat bool             // the shop knew these very events already
}

// Refusal is a report the shop does not believe. Seq is not 0 when it is kept
// in the log all the same, because another fact came first.
type Refusal struct {
	Seq    uint64
	Reason string // what is wrong, for the person who reported
	Hint   string // what to do; may be empty
}

func (r *Refusal) Error() string { return r.Reason }
