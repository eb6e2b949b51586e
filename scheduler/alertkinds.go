// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"slices"

	"towpath/resources"
)

// AlertKind names what an alert is about.
type AlertKind string

// The kinds of alert, the most pressing first.
const (
	WaitEnding    AlertKind = "wait-ending"
	MixExpiring   AlertKind = "mix-expiring"
	LoadDue       AlertKind = "load-due"
	StopOpen      AlertKind = "stop-open"
	FinishMissing AlertKind = "finish-missing"
	StationSilent AlertKind = "station-silent"
	HoldUndecided AlertKind = "hold-undecided"
	PromiseAtRisk AlertKind = "promise-at-risk"
	MaterialShort AlertKind = "material-short"
)

// Alert asks somebody to act by an instant. It is there as long as its cause.
type Alert struct {
	Kind    AlertKind
	About   string   // station, load, mix, order, material, tool unit, crew, or operation that waits
	Station string   // where to act; empty: nowhere in particular
	Order   string   // that it is about; empty: several or none
	Crew    string   // of which people are away; empty: it is about something else
	Pieces  []string // serials it speaks of
	Text    string   // what is the matter
	Do      string   // what to do
	Who     string   // people or role that should act
	By      Tick     // until when acting helps most; past: it is overdue
	Since   Tick     // when it was first seen
}

// Key tells alerts apart over time.
func (a *Alert) Key() string { return string(a.Kind) + "/" + a.About }

// manager acts where the plant file names nobody.
const manager = "Production manager"

// When alerts come and go. What hangs on an estimate goes later than it comes,
// so that it does not flicker. The values are our own.
const (
	waitNear    = 15 * resources.Minute // before a maximum wait runs out, when the work should have started already
	waitMargin  = 5 * resources.Minute  // before it runs out in any case; and by which a plan must keep it again
	dueAhead    = 15 * resources.Minute // from when planned work is remembered
	mixNear     = 20 * resources.Minute // before a mix expires that somebody is still to draw from
	mixForgot   = 10 * resources.Minute // after its end, in which what is left should be reported discarded
	mixHarmless = resources.Day         // after its expiry a forgotten mix has set and is told of no more
	loadLate    = 15 * resources.Minute // by when a load without a maximum wait should run
	startLate   = 30 * resources.Minute // after which work that is due and ready was forgotten, or the station is silent
	endLate     = 30 * resources.Minute // after which a finish was forgotten
	stopUnsaid  = 15 * resources.Minute // in which somebody should say until when a station is down
	riskSure    = 2 * resources.Minute  // for which a promise is at risk before it is told: an improvement may save it
	riskNamed   = 3                     // orders at risk that get an alert of their own, those due first
	slackShort  = 4 * resources.Hour    // between planned completion and due
	slackEnough = 8 * resources.Hour
	stockAhead  = resources.Day      // in which a receipt is expected that the plan leans on
	stockShort  = 4 * resources.Hour // between a receipt and the work that needs it
	stockEnough = 8 * resources.Hour
	slid        = resources.Minute // planned for the plan's own now: it only waits for people
)

// AlertRule says in words when alerts of a kind come and go, who should act
// and by when.
type AlertRule struct {
	Kind   AlertKind
	Raised string
	Clears string
	Who    string
	By     string
}

// AlertRules is every kind of alert, the most pressing first.
func AlertRules() []AlertRule { return slices.Clone(alertRules) }

var alertRules = []AlertRule{
	{WaitEnding, "the plan cannot keep a maximum wait that runs (wet hold, prepared end), it ends within " + resources.Spell(waitMargin) + ", or within " + resources.Spell(waitNear) + " and the work is overdue, or it is over",
		"the work has started, or the plan keeps the wait with " + resources.Spell(waitMargin) + " to spare",
		"people of the operation; once it is over, who judges the piece", "the end of the first such wait"},
	{MixExpiring, "somebody is to draw from a mix within " + resources.Spell(mixNear) + " of its end, a winding will not be through by then, or resin is left in it " + resources.Spell(mixForgot) + " after that",
		"it is used up or reported discarded, or " + resources.Spell(mixHarmless) + " after its end", "people of the winding; for discarding, of the mix room", "the end of its pot life"},
	{LoadDue, "a load of a station that runs recipes is due by the plan, everything in it is ready, and it has not started",
		"it is reported started, or a new plan has it later for another reason than the clock", "people of the load", "the first maximum wait in it, else " + resources.Spell(loadLate) + " after it was due"},
	{StopOpen, "a station is down, or people are away, for " + resources.Spell(stopUnsaid) + " and nobody has said until when, or a station or tool is not back when it was expected",
		"somebody says until when, or it is back", "the production manager", "when it was expected, or " + resources.Spell(stopUnsaid) + " after the stop"},
	{FinishMissing, "work should have ended " + resources.Spell(endLate) + " ago", "it is reported finished or paused, or its station down", "people of the operation", resources.Spell(endLate) + " after its planned end"},
	{StationSilent, "work is ready and was due " + resources.Spell(startLate) + " ago, the station is free, and nothing has been heard from it for as long",
		"anything is reported there, or a new plan has the work later for another reason than the clock", "people of the operation", resources.Spell(startLate) + " after it was due, or after the last report"},
	{HoldUndecided, "a piece of an open order is on hold", "all its pieces are released or scrapped", "people of the gate that failed, else the production manager",
		"due less the plain time of the work left"},
	{PromiseAtRisk, "an order would be complete after its date, or less than " + resources.Spell(slackShort) + " before it, for " + resources.Spell(riskSure) + " on end; of many, the three due first have an alert each", "it has more than " + resources.Spell(slackEnough) + " to spare, or is complete",
		"the production manager", "the next step of it that is not frozen: after that less can be changed"},
	{MaterialShort, "open work needs more of a material than there is and is expected, or needs a receipt of the next " + resources.Spell(stockAhead) + " within " + resources.Spell(stockShort) + " of its arrival",
		"more is entered, work is cancelled, or there are " + resources.Spell(stockEnough) + " between the two", "the production manager", "the first work that would lack it"},
}

// AlertKinds lists the kinds of alert.
func AlertKinds() []AlertKind {
	kinds := make([]AlertKind, len(alertRules))
	for i := range alertRules {
		kinds[i] = alertRules[i].Kind
	}
	return kinds
}
