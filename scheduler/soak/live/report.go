// SPDX-License-Identifier: Apache-2.0

package live

// Report is what a trial found. A text list names the first few of what a
// number counts.
type Report struct {
	Days   int    `json:"days"`
	Seed   uint64 `json:"seed"`
	Events int    `json:"events"`   // records in the log, plans among them
	Deeds  int    `json:"deeds"`    // things really done on the floor
	Reject int    `json:"rejected"` // records that were not believed

	Lost             int  `json:"lost"`      // deeds told and not believed in the end, and acknowledged records the log lacks
	Doubled          int  `json:"doubled"`   // deeds that count more than once
	Overtaken        int  `json:"overtaken"` // stops, and ends of stops, told after a later one or work that began there
	Corrected        int  `json:"corrected"`
	Away             int  `json:"absences_told"`      // times that a crew went and somebody told
	Changed          int  `json:"plant_changes"`      // sets of changes put on top of the plant file, or taken off
	Kept             int  `json:"plant_changes_kept"` // those refused because what they take away is in use
	StateEqualsAudit bool `json:"state_equals_audit"`
	StateIsReplay    bool `json:"state_equals_replay"`
	StateIsModel     bool `json:"state_equals_model"`

	PlansPublished  int   `json:"plans_published"`
	PlansUnverified int   `json:"plans_unverified"`
	PlanningFailed  int   `json:"planning_failures"`
	NextJobChanges  int   `json:"next_job_changes"`
	Unexplained     int   `json:"unexplained_next_job_changes"`
	RepairP99MS     int64 `json:"repair_p99_ms"`
	ImproveRuns     int   `json:"improve_runs"`
	Orders          int   `json:"orders"`
	OrdersDone      int   `json:"orders_done"`
	OrdersLost      int   `json:"orders_lost"` // event orders not complete when their date came
	ElapsedMS       int64 `json:"elapsed_ms"`

	Findings []string `json:"findings,omitempty"`
}

// Sound says whether everything that must hold did.
func (r *Report) Sound() bool {
	return r.Lost == 0 && r.Doubled == 0 && r.PlansUnverified == 0 && r.Unexplained == 0 &&
		r.StateEqualsAudit && r.StateIsReplay && r.StateIsModel
}

// Stored adds whether the store has kept the state.
func (r *Report) Stored(same bool) {
	if r.StateIsReplay = r.StateIsReplay && same; !same {
		r.find("store", []string{"it has kept another state"})
	}
}

// maxFindings of each sort are told.
const maxFindings = 10

func (r *Report) find(what string, list []string) {
	for i, text := range list {
		if i == maxFindings {
			break
		}
		r.Findings = append(r.Findings, what+": "+text)
	}
}
