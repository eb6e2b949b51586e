// SPDX-License-Identifier: Apache-2.0

package view

import (
	"slices"
	"strings"

	"towpath/resources"
	"towpath/scheduler"
)

// Alert asks somebody to act by an instant. It is there as long as its cause.
type Alert struct {
	Key     string         `json:"key" doc:"tells alerts apart; the same as long as this one lasts"`
	Kind    string         `json:"kind" doc:"what it is about; program: Towpath itself" enum:"alert_kind"`
	About   string         `json:"about" doc:"station, load, mix, order, material, tool unit, crew or operation; clock or plan of the program"`
	Station string         `json:"station" doc:"where to act; empty: nowhere in particular"`
	Order   string         `json:"order" doc:"order it concerns; empty: several or none"`
	Crew    string         `json:"crew" doc:"crew of which people are away; empty: it is about something else"`
	Pieces  []string       `json:"pieces" doc:"serials it speaks of"`
	Text    string         `json:"text" doc:"what is the matter"`
	Do      string         `json:"do" doc:"what to do"`
	Who     string         `json:"who" doc:"people or role that should act"`
	By      resources.Tick `json:"by" doc:"until when acting helps most; past: it is overdue"`
	Since   resources.Tick `json:"since" doc:"when it was first seen"`

	Conflict *Conflict `json:"conflict" doc:"why there is no feasible plan; null: it is about something else"`
}

// ofProgram is the kind of an alert about the program itself.
const ofProgram = "program"

// ProgramAlert is a condition of the program itself, such as a clock that
// jumps or planning that fails.
func ProgramAlert(key, text string, since resources.Tick) Alert {
	return Alert{
		Key: ofProgram + "/" + key, Kind: ofProgram, About: key, Pieces: []string{}, Text: text,
		Do: "see the program's own log", Who: "Whoever looks after this program", By: since, Since: since,
	}
}

// FloorAlert is one that the floor gives rise to.
func FloorAlert(a *scheduler.Alert) Alert {
	return Alert{
		Key: a.Key(), Kind: string(a.Kind), About: a.About, Station: a.Station, Order: a.Order, Crew: a.Crew, Pieces: append([]string{}, a.Pieces...),
		Text: a.Text, Do: a.Do, Who: a.Who, By: a.By, Since: a.Since,
	}
}

// AlertKinds lists the kinds of alert.
func AlertKinds() []string {
	out := []string{ofProgram}
	for _, k := range scheduler.AlertKinds() {
		out = append(out, string(k))
	}
	return out
}

var alertWords = map[string]string{
	ofProgram:                       "Towpath itself",
	string(scheduler.WaitEnding):    "Wait runs out",
	string(scheduler.MixExpiring):   "Mix expires",
	string(scheduler.LoadDue):       "Load is due",
	string(scheduler.StopOpen):      "Stop without an end",
	string(scheduler.FinishMissing): "Finish not reported",
	string(scheduler.StationSilent): "Station silent",
	string(scheduler.HoldUndecided): "Hold to decide",
	string(scheduler.PromiseAtRisk): "Promise at risk",
	string(scheduler.MaterialShort): "Material short",
}

// Word is the kind as pages say it.
func (a Alert) Word() string { return alertWords[a.Kind] }

// Brief is what to show first: of a condition of the program the first clause.
func (a Alert) Brief() string {
	if a.Kind != ofProgram {
		return a.Text
	}
	brief, _, _ := strings.Cut(a.Text, ": ")
	return brief
}

// Rest is what Brief leaves out.
func (a Alert) Rest() string {
	if a.Kind != ofProgram {
		return ""
	}
	_, rest, _ := strings.Cut(a.Text, ": ")
	return rest
}

// What the strip on other pages shows: the first of those that cannot wait
// until tomorrow. A wall shows more, as nobody turns its pages.
const (
	stripMost  = 4
	wallMost   = 6
	stripAhead = resources.Tick(resources.Day)
)

// AlertStrip is the alerts at the top of a page.
type AlertStrip struct {
	First []Alert
	More  int
}

// Strip picks alerts for the top of a page, or of a screen on the wall, at an
// instant; the others are counted.
func (h Head) Strip(now resources.Tick, wall bool) AlertStrip {
	n, most := 0, stripMost
	if wall {
		most = wallMost
	}
	for n < len(h.Alerts) && n < most && h.Alerts[n].By <= now+stripAhead {
		n++
	}
	return AlertStrip{First: h.Alerts[:n], More: len(h.Alerts) - n}
}

// AlertsQuery picks alerts.
type AlertsQuery struct {
	Station string // empty: all
	Order   string // empty: all
}

// AlertList is the alerts there are, the first to act first.
type AlertList struct {
	Alerts []Alert `json:"alerts" doc:"the one that wants acting first first"`
	Total  int     `json:"total" doc:"alerts there are, asked for or not"`
}

// Alerts lists the alerts that fit.
func (v *View) Alerts(q AlertsQuery) AlertList {
	l := AlertList{Alerts: []Alert{}, Total: len(v.Picture.Alerts)}
	for _, a := range v.Picture.Alerts {
		if (q.Station == "" || a.Station == q.Station) && (q.Order == "" || a.Order == q.Order || v.isOf(a, q.Order)) {
			l.Alerts = append(l.Alerts, a)
		}
	}
	return l
}

// isOf says whether an alert speaks of a piece of an order.
func (v *View) isOf(a Alert, order string) bool {
	return slices.ContainsFunc(a.Pieces, func(serial string) bool {
		p := v.piece(serial)
		return p != nil && p.Order == order
	})
}
