// SPDX-License-Identifier: Apache-2.0

package view

import (
	"cmp"

	"towpath/resources"
	"towpath/scheduler"
)

// Conflict is why there is no feasible plan.
type Conflict struct {
	Piece     string          `json:"piece" doc:"serial of the piece that nobody can place"`
	Operation string          `json:"operation" doc:"its operation"`
	Stations  []string        `json:"stations" doc:"stations its routing names"`
	Reason    string          `json:"reason" doc:"in one sentence"`
	Together  []ConflictLimit `json:"together" doc:"what cannot hold together"`
	Proven    bool            `json:"proven" doc:"true: there is no plan; false: none was found"`
}

// ConflictLimit is one of the constraints that cannot hold together.
type ConflictLimit struct {
	Kind string `json:"kind" doc:"sort of constraint, e.g. wait, people, tool, material"`
	Name string `json:"name" doc:"resource or operation; empty: of no one in particular"`
	Text string `json:"text" doc:"in words"`
}

// PlanAlert is planning that fails: as ProgramAlert has it, or, where there is
// no feasible plan, with the piece to blame and what would help.
func PlanAlert(text string, since resources.Tick, x *scheduler.Infeasible, s *scheduler.State) Alert {
	a := ProgramAlert("plan", text, since)
	if x == nil {
		return a
	}
	c := &Conflict{
		Piece: x.Piece, Operation: x.Operation, Stations: append([]string{}, x.Stations...), Reason: x.Reason,
		Together: []ConflictLimit{}, Proven: x.Proven,
	}
	for i := range x.Together {
		l := &x.Together[i]
		c.Together = append(c.Together, ConflictLimit{Kind: string(l.Kind), Name: l.Name, Text: l.Text})
	}
	a.Conflict, a.Pieces = c, []string{x.Piece}
	a.Do, a.Who = cmp.Or(x.Hint(), a.Do), "Whoever plans"
	if s != nil && s.Pieces[x.Piece] != nil {
		a.Order = s.Pieces[x.Piece].Order
	}
	return a
}
