// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"errors"
	"slices"
	"strings"
)

// ErrNothingPossible says that a state cannot be planned at all. The error that
// wraps it is an *Infeasible wherever a piece is to blame.
var ErrNothingPossible = errors.New("no feasible plan")

// Infeasible is the error of a state for which no plan was found: the piece and
// the operation that nobody can place, and a set of constraints that cannot
// hold together. Where the set comes from a search it is as small as could be
// found: with any one of them lifted, the rest can be kept.
type Infeasible struct {
	Piece     string   `json:"piece"`
	Operation string   `json:"operation"`
	Stations  []string `json:"stations"` // its routing names
	Reason    string   `json:"reason"`   // in one sentence
	Together  []Limit  `json:"together"` // what cannot hold together
	Proven    bool     `json:"proven"`   // there is no plan; false: none was found
}

// Limit is one of the constraints that cannot hold together.
type Limit struct {
	Kind LimitKind `json:"kind"`
	Name string    `json:"name"` // of the resource or the operation; empty: of no one in particular
	Text string    `json:"text"`
}

// LimitKind says what sort of constraint it is.
type LimitKind string

// The kinds, with what a person can do about each in remedies.
const (
	LimitStation    LimitKind = "station"    // none does it, or none runs the recipe
	LimitSize       LimitKind = "size"       // too large for the station, or for one load
	LimitHours      LimitKind = "hours"      // when the station is open, and that it is not down
	LimitPeople     LimitKind = "people"     // who has the skill, and when
	LimitTool       LimitKind = "tool"       // mandrels and fixtures in use
	LimitMaterial   LimitKind = "material"   // there or to come
	LimitResin      LimitKind = "resin"      // mass and life of a mix
	LimitWait       LimitKind = "wait"       // longest wait between two operations
	LimitWork       LimitKind = "work"       // what an operation takes at least
	LimitRun        LimitKind = "run"        // longest run of an operation
	LimitChangeover LimitKind = "changeover" // of a station
	LimitLoad       LimitKind = "load"       // members of a load that is closed or running
	LimitFrozen     LimitKind = "frozen"     // what people have been told for the frozen window
	LimitRelease    LimitKind = "release"    // when the order may start
)

var remedies = map[LimitKind]string{
	LimitStation: "name a station that does it", LimitSize: "name a station that takes it, or change the size",
	LimitHours: "open the station longer, or report it up", LimitPeople: "give people with the skill hours there",
	LimitTool: "bring a tool back into use, or add one", LimitMaterial: "enter a receipt, or cancel the line",
	LimitResin: "draw less, or another resin", LimitWait: "allow a longer wait", LimitWork: "shorten the work",
	LimitRun: "allow a longer run", LimitChangeover: "shorten the changeover", LimitLoad: "correct the load",
	LimitFrozen: "shorten the frozen window", LimitRelease: "let the order start earlier",
}

func (x *Infeasible) add(kind LimitKind, name, text string) {
	x.Together = append(x.Together, Limit{kind, name, text})
}

// Where names piece, operation and stations.
func (x *Infeasible) Where() string {
	text := "piece " + x.Piece + ", operation " + x.Operation
	if len(x.Stations) > 0 {
		text += " on " + strings.Join(x.Stations, " or ")
	}
	return text
}

// Hint is what a person can do: any one of the remedies for what cannot hold
// together.
func (x *Infeasible) Hint() string {
	var out []string
	for i := range x.Together {
		if r := remedies[x.Together[i].Kind]; r != "" && !slices.Contains(out, r) {
			out = append(out, r)
		}
	}
	return strings.Join(out, "; or ")
}

// Error says all of it in one line.
func (x *Infeasible) Error() string {
	text := ErrNothingPossible.Error() + ": " + x.Where() + ": " + x.Reason
	for i := range x.Together {
		sep := "; "
		if i == 0 {
			sep = ": "
		}
		text += sep + x.Together[i].Text
	}
	if hint := x.Hint(); hint != "" {
		text += "; " + hint
	}
	return text
}

// Unwrap makes it an ErrNothingPossible.
func (x *Infeasible) Unwrap() error { return ErrNothingPossible }
