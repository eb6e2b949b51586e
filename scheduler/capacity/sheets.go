// SPDX-License-Identifier: Apache-2.0

package capacity

import (
	"math"

	"towpath/resources"
)

// Sheets are the report as tables: hours by row and week, load ratios as a
// picture has them, demand, bottlenecks, last dates, key figures and what
// additions are worth.
func (r *Report) Sheets(worths []Worth) []resources.Sheet {
	out := []resources.Sheet{r.hoursSheet(), r.ratioSheet(), r.demandSheet(), r.limitSheet(), r.datesSheet(), r.figuresSheet()}
	if len(worths) > 0 {
		out = append(out, worthSheet(worths))
	}
	return out
}

func round3(x float64) float64 { return math.Round(x*1000) / 1000 }

func (r *Report) hoursSheet() resources.Sheet {
	rows := [][]any{{"kind", "id", "name", "units", "week", "asked_hours", "setup_hours", "hours_there", "load_ratio", "loads", "operations", "planned_hours", "expected_wait_hours", "expected_wait_hours_cycle", "planned_wait_hours"}}
	for i := range r.Rows {
		row := &r.Rows[i]
		for w := range row.Cells {
			c := &row.Cells[w]
			rows = append(rows, []any{
				string(row.Kind), row.ID, row.Name, row.Units, r.Weeks[w].Week, round3(c.Asked), round3(c.Setup), round3(c.There), round3(c.Ratio),
				round3(c.Loads), round3(c.Pieces), round3(c.Planned), endless(c.Wait), endless(c.WaitCycle), round3(c.PlannedWait),
			})
		}
	}
	return resources.Sheet{Name: "hours", Rows: rows}
}

// endless writes a wait that grows without end as a word.
func endless(x float64) any {
	if x == Endless {
		return "endless"
	}
	return round3(x)
}

func (r *Report) header(first ...any) []any {
	for i := range r.Weeks {
		first = append(first, r.Weeks[i].Week)
	}
	return first
}

func (r *Report) ratioSheet() resources.Sheet {
	rows := [][]any{r.header("kind", "id", "name")}
	for i := range r.Rows {
		row := []any{string(r.Rows[i].Kind), r.Rows[i].ID, r.Rows[i].Name}
		for w := range r.Rows[i].Cells {
			row = append(row, round3(r.Rows[i].Cells[w].Ratio))
		}
		rows = append(rows, row)
	}
	return resources.Sheet{Name: "load ratio", Rows: rows}
}

func (r *Report) demandSheet() resources.Sheet {
	rows := [][]any{r.header("product", "source")}
	for i := range r.Demand {
		ordered, forecast := []any{r.Demand[i].Product, "ordered"}, []any{r.Demand[i].Product, "forecast"}
		for w := range r.Weeks {
			ordered, forecast = append(ordered, r.Demand[i].Ordered[w]), append(forecast, r.Demand[i].Forecast[w])
		}
		rows = append(rows, ordered, forecast)
	}
	return resources.Sheet{Name: "demand", Rows: rows}
}

func (r *Report) limitSheet() resources.Sheet {
	rows := [][]any{{"week", "bottleneck", "name", "load_ratio", "rows_over_their_hours"}}
	for _, l := range r.Bottlenecks {
		rows = append(rows, []any{l.Week, l.Key, l.Name, round3(l.Ratio), l.Over})
	}
	return resources.Sheet{Name: "bottlenecks", Rows: rows}
}

func (r *Report) datesSheet() resources.Sheet {
	rows := [][]any{{"event", "due", "product", "quantity", "last_safe_date", "latest_by_routing", "held_back_by"}}
	for _, d := range r.Dates {
		rows = append(rows, []any{d.Event, d.Due, d.Product, d.Quantity, d.Safe, d.Latest, d.By})
	}
	return resources.Sheet{Name: "last dates", Rows: rows}
}

func (r *Report) figuresSheet() resources.Sheet {
	rows := [][]any{{"station", "basis", "PBT_h", "AUBT_h", "AUPT_h", "AUST_h", "APT_h", "ADET_h", "AOET_h", "PRI_h", "PQ", "GQ", "SQ",
		"availability", "effectiveness", "quality_ratio", "OEE_index", "NEE_index", "allocation_efficiency", "utilization_efficiency", "technical_efficiency", "setup_ratio", "throughput_rate", "scrap_ratio", "first_pass_yield"}}
	for i := range r.Figures {
		x, t, f := &r.Figures[i], &r.Figures[i].Times, &r.Figures[i].Figures
		row := []any{x.Station, string(x.Basis)}
		for _, v := range []float64{t.PBT, t.AUBT, t.AUPT, t.AUST, t.APT, t.ADET, t.AOET, t.PRI, t.PQ, t.GQ, t.SQ, f.Availability, f.Effectiveness, f.QualityRatio, f.OEE, f.NEE,
			f.AllocationEfficiency, f.UtilizationEfficiency, f.TechnicalEfficiency, f.SetupRatio, f.ThroughputRate, f.ScrapRatio, f.FirstPassYield} {
			row = append(row, round3(v))
		}
		rows = append(rows, row)
	}
	return resources.Sheet{Name: "key figures", Rows: rows}
}

func worthSheet(worths []Worth) resources.Sheet {
	rows := [][]any{{"key", "kind", "addition", "orders_saved", "weight_saved", "weighted_tardiness_hours_less", "lost_with_it", "peak_load_ratio"}}
	for _, w := range worths {
		rows = append(rows, []any{w.Key, w.Kind, w.Name, w.Saved, w.Heavy, round3(w.Tardiness), w.With.Lost, round3(w.Peak)})
	}
	return resources.Sheet{Name: "worth of one more", Rows: rows}
}
