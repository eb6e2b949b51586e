// SPDX-License-Identifier: Apache-2.0

package benchmark

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"towpath/resources"
)

// Published is what has been published of an instance: the best value, and the
// mean of repeated runs of the method that results are compared with. Either
// may be missing, then it is 0.
type Published struct {
	Best float64
	Mean float64
}

// Columns of a file of published values, by what they mean. The best value is
// the least of those there are; of the means the first one counts.
var (
	bestColumns = []string{"optimum", "upper", "ilp", "cp", "lns", "sa1_min", "sa5_min", "sa_min"}
	meanColumns = []string{"sa5_mean", "sa_mean"}
)

// ReadPublished reads a CSV file of published values. Its first row names the
// columns: "file" or "instance" say whose values a row has, by a file's name
// with or without its ending; the values are in columns such as optimum, upper,
// ilp, cp, lns, sa5_min (the best is the least of them) and sa5_mean. Other
// columns are not looked at; an empty cell says nothing.
func ReadPublished(file string, text []byte) (map[string]Published, []resources.Finding) {
	r := &publishedReader{file: file, out: map[string]Published{}}
	rows := csv.NewReader(bytes.NewReader(text))
	rows.FieldsPerRecord = -1
	rows.TrimLeadingSpace = true
	head, err := rows.Read()
	if err != nil {
		r.fail(1, "", "", "a first row with names of columns", "cannot be read")
		return nil, r.findings
	}
	r.head = head
	if r.column("file", head) == "" && r.column("instance", head) == "" {
		r.fail(1, "instance", strings.Join(head, ","), "a column file or instance", "no column says whose values these are")
		return nil, r.findings
	}
	for {
		cells, err := rows.Read()
		if cells == nil && err != nil && err.Error() == "EOF" {
			break
		}
		if err != nil {
			r.fail(0, "", "", "rows of comma-separated values", err.Error())
			return nil, r.findings
		}
		line, _ := rows.FieldPos(0)
		r.row(line, cells)
	}
	if len(r.findings) > 0 {
		return nil, r.findings
	}
	return r.out, nil
}

type publishedReader struct {
	file     string
	head     []string
	out      map[string]Published
	findings []resources.Finding
}

func (r *publishedReader) fail(line int, field, found, allowed, text string) {
	r.findings = append(r.findings, resources.Finding{
		File: r.file, Line: line, Field: field, Found: found, Allowed: allowed, Text: text,
	})
}

// column is the cell below a name, empty when there is none.
func (r *publishedReader) column(name string, cells []string) string {
	if i := slices.Index(r.head, name); i >= 0 && i < len(cells) {
		return strings.TrimSpace(cells[i])
	}
	return ""
}

func (r *publishedReader) row(line int, cells []string) {
	name := r.column("file", cells)
	if name == "" {
		name = r.column("instance", cells)
	}
	var p Published
	for _, column := range bestColumns {
		if v, ok := r.value(line, column, cells); ok && (p.Best == 0 || v < p.Best) {
			p.Best = v
		}
	}
	for _, column := range meanColumns {
		if v, ok := r.value(line, column, cells); ok && p.Mean == 0 {
			p.Mean = v
		}
	}
	r.out[InstanceName(name)] = p
}

func (r *publishedReader) value(line int, column string, cells []string) (float64, bool) {
	cell := r.column(column, cells)
	if cell == "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || v < 0 || v > 1e15 {
		r.fail(line, column, cell, "a number that is not negative", "not a value")
		return 0, false
	}
	return v, true
}

// InstanceName is the name of an instance: that of its file, without folder
// and ending.
func InstanceName(path string) string {
	base := filepath.Base(path)
	if name := strings.TrimSuffix(base, filepath.Ext(base)); name != "" {
		return name
	}
	return base
}

// Compare adds what has been published to a row.
func (s *Solved) Compare(p Published) {
	s.Published = p.Best
	if p.Best > 0 {
		s.Ratio = s.Value / p.Best
	}
}

// same is how much two values may differ, as a share, and still be one:
// published values are rounded.
const same = 1e-6

// Summary compares many rows with what has been published.
type Summary struct {
	Rows      int // with a published best value
	ratios    float64
	Worst     float64  // greatest ratio
	Equal     int      // as good as the best published, or better
	NewBest   []string // instances better than the best published
	Means     int      // rows with a published mean
	AtOrUnder int      // of those, at or below it
}

// Add takes a row into account.
func (s *Summary) Add(x *Solved, p Published) {
	if p.Best > 0 {
		s.Rows++
		s.ratios += x.Ratio
		s.Worst = max(s.Worst, x.Ratio)
		if x.Ratio <= 1+same {
			s.Equal++
		}
		if x.Ratio < 1-same {
			s.NewBest = append(s.NewBest, fmt.Sprintf("%s %v (published %v)", x.Instance, x.Cost, p.Best))
		}
	}
	if p.Mean > 0 {
		s.Means++
		if x.Value <= p.Mean*(1+same) {
			s.AtOrUnder++
		}
	}
}

// MeanRatio is the mean of cost by best published value.
func (s *Summary) MeanRatio() float64 { return s.ratios / float64(max(1, s.Rows)) }
