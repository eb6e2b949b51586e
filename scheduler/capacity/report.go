// SPDX-License-Identifier: Apache-2.0

package capacity

// Kind says what sort of resource a row is.
type Kind string

// The kinds of rows, in their order.
const (
	Station Kind = "station"
	Crew    Kind = "crew"
	Skill   Kind = "skill"
	Tool    Kind = "tool"
	Recipe  Kind = "recipe"
)

// Kinds lists them.
func Kinds() []Kind { return []Kind{Station, Crew, Skill, Tool, Recipe} }

// Report is a season's work against the shop's hours.
type Report struct {
	Now         Tick             `json:"now" doc:"instant it is computed for"`
	Weeks       []Week           `json:"weeks" doc:"columns"`
	Rows        []Row            `json:"rows" doc:"resources, in the order of the plant file, kind by kind"`
	Bottlenecks []Bottleneck     `json:"bottlenecks" doc:"the bottleneck of each week"`
	Demand      []Demand         `json:"demand" doc:"pieces by product and week"`
	Forecast    Coverage         `json:"forecast" doc:"which weeks a forecast speaks of"`
	Dates       []LastDate       `json:"last_dates" doc:"until when an order is safely taken, by race weekend and product"`
	Figures     []StationFigures `json:"figures" doc:"key figures by ISO 22400-2"`
	Planned     int              `json:"planned_weeks" doc:"how many weeks the finite plan reaches into"`
}

// Coverage is the weeks of a forecast.
type Coverage struct {
	First string `json:"first" doc:"first week; empty: there is no forecast"`
	Last  string `json:"last" doc:"last week"`
}

// Row is one resource over the weeks.
type Row struct {
	Key   string  `json:"key" doc:"kind and ID, e.g. station:W1"`
	Kind  Kind    `json:"kind" doc:"station, crew, skill, tool or recipe"`
	ID    string  `json:"id" doc:"its ID"`
	Name  string  `json:"name" doc:"its name"`
	Units int     `json:"units" doc:"places, heads or tool units; ovens that run a recipe"`
	Cells []Cell  `json:"cells" doc:"one for each week"`
	Peak  float64 `json:"peak" doc:"greatest load ratio"`
}

// Cell is one resource in one week. Hours are of all its units.
type Cell struct {
	Asked       float64 `json:"asked" doc:"hours asked, changeovers included"`
	Setup       float64 `json:"setup" doc:"of these, changeovers"`
	There       float64 `json:"there" doc:"hours there"`
	Ratio       float64 `json:"ratio" doc:"asked / there; 0 when there are no hours"`
	Closed      bool    `json:"closed" doc:"work is asked and there are no hours at all"`
	Loads       float64 `json:"loads" doc:"loads asked; batch stations and recipes"`
	Pieces      float64 `json:"pieces" doc:"operations asked; stations"`
	Wait        float64 `json:"wait" doc:"hours of being open for which work is expected to wait, by queueing; -1: it grows without end; stations and skills"`
	WaitCycle   float64 `json:"wait_cycle" doc:"the same when the station is loaded every cycle with whatever waits; batch stations"`
	Planned     float64 `json:"planned" doc:"hours in the finite plan"`
	PlannedWait float64 `json:"planned_wait" doc:"hours a piece waits in the finite plan, mean; stations"`
}

// Bottleneck is what holds a week back most.
type Bottleneck struct {
	Week  string  `json:"week" doc:"ISO 8601 week"`
	Key   string  `json:"key" doc:"key of the row; empty: nothing is asked"`
	Name  string  `json:"name" doc:"its name"`
	Ratio float64 `json:"ratio" doc:"its load ratio"`
	Over  int     `json:"over" doc:"how many rows are asked for more hours than there are"`
}

// Row finds a row by its key; nil when there is none.
func (r *Report) Row(key string) *Row {
	for i := range r.Rows {
		if r.Rows[i].Key == key {
			return &r.Rows[i]
		}
	}
	return nil
}

// finish works out ratios, peaks and bottlenecks once the hours are there.
func (r *Report) finish() {
	for i := range r.Rows {
		row := &r.Rows[i]
		for w := range row.Cells {
			c := &row.Cells[w]
			c.Ratio = over(c.Asked, c.There)
			c.Closed = c.There <= 0 && c.Asked > 1e-9
			row.Peak = max(row.Peak, c.Ratio)
		}
	}
	for w := range r.Weeks {
		limit := Bottleneck{Week: r.Weeks[w].Week}
		for i := range r.Rows {
			row := &r.Rows[i]
			c := &row.Cells[w]
			if c.Ratio > 1 || c.Closed {
				limit.Over++
			}
			// A recipe is part of its ovens' work; its ratio is never the greater.
			if row.Kind != Recipe && c.Ratio > limit.Ratio {
				limit.Key, limit.Name, limit.Ratio = row.Key, row.Name, c.Ratio
			}
		}
		r.Bottlenecks = append(r.Bottlenecks, limit)
	}
}
