// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"strings"

	"towpath/events"
	"towpath/scheduler"
)

// PlanChange is what the published plan changed against the one before it, of
// the operations that both plan and that had not begun.
type PlanChange struct {
	Against  int64     `json:"against" doc:"version of the plan before"`
	Compared int       `json:"compared" doc:"operations compared"`
	Moved    int       `json:"moved" doc:"of those, with another start or station"`
	Station  int       `json:"station" doc:"of the moved, on another station"`
	Near     int       `json:"near" doc:"of the moved, published for the frozen window or the four hours after it"`
	Frozen   int       `json:"frozen" doc:"of those compared, published for the frozen window"`
	Slipped  int       `json:"slipped" doc:"of the frozen, moved all the same because facts had pushed them"`
	Next     []NextRow `json:"next" doc:"stations whose next job became another one"`
}

// NextRow is a station whose next job became another one.
type NextRow struct {
	Station string `json:"station" doc:"station's ID"`
	Was     string `json:"was" doc:"what people had been told: operation and piece"`
	Is      string `json:"is" doc:"what they were told instead; empty: nothing"`
}

// Change is what the published plan changed; nil for a first one.
func (v *View) Change() *PlanChange {
	if v.Picture.Plan == nil || v.Picture.Plan.Churn == nil {
		return nil
	}
	c := v.Picture.Plan.Churn
	x := &PlanChange{
		Against: c.Against, Compared: c.Compared, Moved: c.Moved, Station: c.Station, Near: c.Near,
		Frozen: c.Frozen, Slipped: c.Slipped, Next: []NextRow{},
	}
	for _, n := range c.Next {
		x.Next = append(x.Next, NextRow{Station: n.Station, Was: v.jobName(n.Was), Is: v.jobName(n.Is)})
	}
	return x
}

func (v *View) jobName(m scheduler.Member) string {
	if m.Piece == "" {
		return ""
	}
	return v.opName(m.Piece, m.Operation) + ", " + m.Piece
}

// askedWords says what a plan with another order of things was looked for.
func askedWords(a *events.PlanAsked) string {
	if a == nil {
		return "times put right"
	}
	why := a.Why
	if k := events.Kind(why); EventWord(k) != "" && EventWord(k) != why {
		why = EventWord(k)
	}
	return fmt.Sprintf("improved (%s)", why)
}

// churnWords says what a plan changed in one line of the log.
func churnWords(c *events.PlanChurn) string {
	switch {
	case c == nil:
		return ""
	case c.Moved == 0 && len(c.Next) == 0:
		return "nothing moved"
	}
	text := Count(c.Moved, "operation") + " moved"
	if c.Near > 0 {
		text += fmt.Sprintf(", %d near now", c.Near)
	}
	if len(c.Next) > 0 {
		text += "; another next job at " + strings.Join(c.Next, ", ")
	}
	return text
}
