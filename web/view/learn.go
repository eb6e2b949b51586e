// SPDX-License-Identifier: Apache-2.0

package view

import (
	"fmt"
	"strings"

	"towpath/resources"
	"towpath/scheduler/learn"
)

// LearnPage is the page of what was learned: proposals first, then what agrees
// with the plant file, then what was seen too seldom.
type LearnPage struct {
	Report *learn.Report
	Groups []LearnGroup
	Few    int  // comparisons with too few observations, not shown
	Any    bool // something is proposed
}

// LearnGroup is one table of the page.
type LearnGroup struct {
	Key, Title string
	Rows       []LearnRow
}

// LearnRow is one comparison in words.
type LearnRow struct {
	Key      string // names the proposal
	What     string
	Of       string
	N        int
	From, To resources.Tick
	Plant    string
	Seen     string
	Interval string
	Estimate string
	Spread   string // plant, seen and estimate of the spread; empty: none
	Why      string
	Changes  []string
}

// NewLearnPage arranges a report.
func NewLearnPage(r *learn.Report) LearnPage {
	page := LearnPage{Report: r, Groups: []LearnGroup{
		{Key: "proposed", Title: "Proposed"}, {Key: "agree", Title: "Not proposed"},
	}}
	for i := range r.Proposals {
		p := &r.Proposals[i]
		switch {
		case len(p.Revisions) > 0:
			page.Any = true
			page.Groups[0].Rows = append(page.Groups[0].Rows, learnRow(p))
		case p.About == learn.Repair || p.N >= r.Least:
			page.Groups[1].Rows = append(page.Groups[1].Rows, learnRow(p))
		default:
			page.Few++
		}
	}
	return page
}

func learnRow(p *learn.Proposal) LearnRow {
	row := LearnRow{
		Key: p.Key(), What: learnWords[p.About], Of: strings.Join(strings.Fields(p.Product+" "+p.Operation+" "+p.Station), " "),
		N: p.N, From: p.From, To: p.To, Plant: learnAmount(p, p.Plant), Seen: learnAmount(p, p.Seen), Interval: "–",
		Estimate: learnAmount(p, p.Estimate), Why: p.Why,
	}
	if p.Low > 0 && p.High > 0 {
		row.Interval = learnAmount(p, p.Low) + " to " + learnAmount(p, p.High)
	} else if p.Low > 0 {
		row.Interval = "more than " + learnAmount(p, p.Low)
	}
	if p.About == learn.Time || p.About == learn.Changeover {
		row.Spread = fmt.Sprintf("%.0f %%, seen %.0f %%, estimate %.0f %%", 100*p.PlantCV, 100*p.SeenCV, 100*p.EstimateCV)
	}
	for _, v := range p.Revisions {
		row.Changes = append(row.Changes, v.Key+": "+v.Text)
	}
	return row
}

var learnWords = map[string]string{
	learn.Time: "time", learn.Changeover: "changeovers", learn.Yield: "first-pass yield", learn.Breakdowns: "running time between breakdowns", learn.Repair: "time to repair",
}

// learnAmount is a share in percent or a time; – for nothing.
func learnAmount(p *learn.Proposal, x float64) string {
	switch {
	case p.About == learn.Yield:
		return fmt.Sprintf("%.1f %%", 100*x)
	case x == 0:
		return "–"
	case x < 120*60:
		return fmt.Sprintf("%.1f min", x/60)
	}
	return fmt.Sprintf("%.1f h", x/3600)
}
