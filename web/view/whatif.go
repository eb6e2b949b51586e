// SPDX-License-Identifier: Apache-2.0

package view

import (
	"encoding/json"

	"towpath/resources"
	"towpath/scheduler/whatif"
)

// WhatIf is a set of changes that was tried on a copy of the shop, or is being
// tried.
type WhatIf struct {
	WhatIfBrief
	Note       string             `json:"note" doc:"what it is for"`
	Doing      string             `json:"doing" doc:"what is under way, in words; empty: nothing"`
	Done       int                `json:"done" doc:"steps of it done"`
	Most       int                `json:"most" doc:"steps of it; 0: not known"`
	Before     int                `json:"before" doc:"sets that are tried before it, the one under way included; 0: its turn has come"`
	Text       string             `json:"text" doc:"why it failed; empty: it did not"`
	Changes    []string           `json:"changes" doc:"the changes in words"`
	OfPlant    []string           `json:"of_plant" doc:"those of them that are of the plant; adopted, they stand on top of its file until another file is declared"`
	Rows       []json.RawMessage  `json:"rows" doc:"changes as they were given"`
	Source     string             `json:"source" doc:"changes as they were given in text; empty: there were none"`
	WhyNot     string             `json:"why_not" doc:"why it cannot be adopted as the shop is now; empty: it can"`
	Comparison *whatif.Comparison `json:"comparison" doc:"the shop with the changes beside the shop as it is, and when it was given up, of the best plans until then; null: not known yet"`
}

// WhatIfBrief is a line of the list of what was tried.
type WhatIfBrief struct {
	ID      string         `json:"id" doc:"its ID; it is kept until newer ones take its place or it is dropped"`
	Name    string         `json:"name" doc:"what it is called"`
	State   string         `json:"state" doc:"waiting, running, done, stopped or failed"`
	Asked   resources.Tick `json:"asked" doc:"the shop's instant it is tried for"`
	Plan    int64          `json:"plan" doc:"version of the plan in force then; 0: none"`
	Ready   bool           `json:"ready" doc:"true: there is a comparison"`
	Shelved bool           `json:"shelved" doc:"true: it was tried before the program was started anew; there are only figures, and it is to be tried again"`
	Won     int            `json:"won" doc:"orders in time with the changes and not without"`
	Lost    int            `json:"lost" doc:"orders in time without the changes and not with them"`
	Moved   int            `json:"moved" doc:"orders complete at another time"`
	Adopted *Adoption      `json:"adopted" doc:"who adopted it; null: nobody"`
}

// Adoption is when a set of changes became the shop's own.
type Adoption struct {
	By  string         `json:"by" doc:"who; may be empty"`
	At  resources.Tick `json:"at" doc:"the shop's instant"`
	Seq uint64         `json:"seq" doc:"place of its last event in the log"`
}

// Open tells whether it is still to be tried or being tried.
func (w WhatIfBrief) Open() bool { return w.State == "waiting" || w.State == "running" }

// WhatIfList is what was tried, the newest first.
type WhatIfList struct {
	Most    int           `json:"most" doc:"how many are kept; the oldest goes for a new one"`
	WhatIfs []WhatIfBrief `json:"whatifs" doc:"what was tried, the newest first"`
}

// WhatIfPair is two sets of changes held against each other.
type WhatIfPair struct {
	A          WhatIfBrief        `json:"a" doc:"the first set"`
	B          WhatIfBrief        `json:"b" doc:"the second set"`
	Together   bool               `json:"together" doc:"true: both were tried on the same state at the same instant; false: what happened in between is in the difference too"`
	Comparison *whatif.Comparison `json:"comparison" doc:"before is the shop with the changes of the first set, after with those of the second; won, lost, added, dropped and moved are from the first to the second; changes are those of the second; chances are null"`
	RiskA      *whatif.Outlook    `json:"risk_a" doc:"what may become of the first plan, played forward; null: not played"`
	RiskB      *whatif.Outlook    `json:"risk_b" doc:"what may become of the second; null: not played"`
	Few        bool               `json:"-"` // one of the searches could hardly try anything
}
