// SPDX-License-Identifier: Apache-2.0

package capacity

// Times are the time elements and counts of one work unit by ISO 22400-2:2014.
// Times are in hours.
type Times struct {
	PBT  float64 `json:"pbt" doc:"planned busy time: hours there"`
	AUBT float64 `json:"aubt" doc:"actual unit busy time: hours occupied"`
	AUPT float64 `json:"aupt" doc:"actual unit processing time: production and setup"`
	AUST float64 `json:"aust" doc:"actual unit setup time"`
	APT  float64 `json:"apt" doc:"actual production time"`
	ADET float64 `json:"adet" doc:"actual unit delay time: occupied, but neither set up nor producing"`
	AOET float64 `json:"aoet" doc:"actual order execution time: from the first start to the last end here"`
	PRI  float64 `json:"pri" doc:"planned run time per item, mean"`
	PQ   float64 `json:"pq" doc:"produced quantity"`
	GQ   float64 `json:"gq" doc:"good quantity"`
	SQ   float64 `json:"sq" doc:"scrap quantity"`
	IP   float64 `json:"ip" doc:"inspected parts"`
	GP   float64 `json:"gp" doc:"good parts at their first inspection"`
}

// Figures are key performance indicators of one work unit by ISO 22400-2:2014.
// One whose denominator is 0 is 0.
type Figures struct {
	Availability          float64 `json:"availability" doc:"APT / PBT"`
	Effectiveness         float64 `json:"effectiveness" doc:"PRI × PQ / APT"`
	QualityRatio          float64 `json:"quality_ratio" doc:"GQ / PQ"`
	OEE                   float64 `json:"oee_index" doc:"availability × effectiveness × quality ratio"`
	NEE                   float64 `json:"nee_index" doc:"AUPT / PBT × effectiveness × quality ratio"`
	AllocationEfficiency  float64 `json:"allocation_efficiency" doc:"AUBT / PBT"`
	UtilizationEfficiency float64 `json:"utilization_efficiency" doc:"APT / AUBT"`
	TechnicalEfficiency   float64 `json:"technical_efficiency" doc:"APT / (APT + ADET)"`
	SetupRatio            float64 `json:"setup_ratio" doc:"AUST / AUPT"`
	ThroughputRate        float64 `json:"throughput_rate" doc:"PQ / AOET, pieces an hour"`
	ScrapRatio            float64 `json:"scrap_ratio" doc:"SQ / PQ"`
	FirstPassYield        float64 `json:"first_pass_yield" doc:"GP / IP"`
}

// Figures computes the indicators by their definitions.
func (t Times) Figures() Figures {
	f := Figures{
		Availability:          over(t.APT, t.PBT),
		Effectiveness:         over(t.PRI*t.PQ, t.APT),
		QualityRatio:          over(t.GQ, t.PQ),
		AllocationEfficiency:  over(t.AUBT, t.PBT),
		UtilizationEfficiency: over(t.APT, t.AUBT),
		SetupRatio:            over(t.AUST, t.AUPT),
		TechnicalEfficiency:   over(t.APT, t.APT+t.ADET),
		ThroughputRate:        over(t.PQ, t.AOET),
		ScrapRatio:            over(t.SQ, t.PQ),
		FirstPassYield:        over(t.GP, t.IP),
	}
	f.OEE = f.Availability * f.Effectiveness * f.QualityRatio
	f.NEE = over(t.AUPT, t.PBT) * f.Effectiveness * f.QualityRatio
	return f
}

func over(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}
