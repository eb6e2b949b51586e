// SPDX-License-Identifier: Apache-2.0

package view

// ScoreRow is one number the plan is judged by.
type ScoreRow struct {
	Name  string  `json:"name" doc:"what is counted"`
	Value float64 `json:"value" doc:"how much of it"`
	Unit  string  `json:"unit" doc:"unit; empty for a plain count"`
}

// Score is what the plan is worth, in the order it is weighed; empty without a
// plan.
func (v *View) Score() []ScoreRow {
	if v.Picture.Plan == nil {
		return []ScoreRow{}
	}
	x := &v.Picture.Score
	return []ScoreRow{
		{Name: "event orders lost", Value: float64(x.Lost)},
		{Name: "firm orders late", Value: float64(x.Late)},
		{Name: "weighted tardiness", Value: tenths(x.WeightedTardinessHours()), Unit: "h"},
		{Name: "operations moved near now", Value: float64(x.Churn)},
		{Name: "oven loads ahead", Value: float64(x.Loads)},
		{Name: "mean fill of a load", Value: tenths(100 * x.MeanLoadFill), Unit: "%"},
		{Name: "oven time ahead", Value: tenths(float64(x.OvenSeconds) / 3600), Unit: "h"},
		{Name: "changeovers ahead", Value: float64(x.Changeovers)},
		{Name: "resin thrown away", Value: tenths(float64(x.DiscardedGrams) / 1000), Unit: "kg"},
		{Name: "longest waits that facts have broken", Value: float64(x.Breaches)},
	}
}

func tenths(x float64) float64 { return float64(int64(x*10+0.5)) / 10 }
