// SPDX-License-Identifier: Apache-2.0

package xlsx

import (
	"bytes"
	"fmt"
	"time"

	"github.com/xuri/excelize/v2"

	"towpath/resources"
)

// Write makes a workbook of sheets. The first row of each stays in view;
// instants are written as dates in the zone.
func Write(sheets []resources.Sheet, zone *time.Location) ([]byte, error) {
	book := excelize.NewFile()
	defer book.Close()
	date, err := book.NewStyle(&excelize.Style{NumFmt: 22}) // ISO/IEC 29500-1, 18.8.30: date and time
	if err != nil {
		return nil, fmt.Errorf("write workbook: %w", err)
	}
	for i := range sheets {
		if i == 0 {
			err = book.SetSheetName(book.GetSheetName(0), sheets[i].Name)
		} else {
			_, err = book.NewSheet(sheets[i].Name)
		}
		if err == nil {
			err = writeSheet(book, &sheets[i], zone, date)
		}
		if err != nil {
			return nil, fmt.Errorf("write sheet %s: %w", sheets[i].Name, err)
		}
	}
	var out bytes.Buffer
	if err := book.Write(&out); err != nil {
		return nil, fmt.Errorf("write workbook: %w", err)
	}
	return out.Bytes(), nil
}

func writeSheet(book *excelize.File, s *resources.Sheet, zone *time.Location, date int) error {
	w, err := book.NewStreamWriter(s.Name)
	if err != nil {
		return err
	}
	if err := w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	for i, row := range s.Rows {
		cells := make([]any, len(row))
		for k, v := range row {
			cells[k] = v
			if at, ok := v.(resources.Tick); ok {
				cells[k] = nil
				if at != 0 {
					local := time.Unix(int64(at), 0).In(zone)
					plain := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), local.Second(), 0, time.UTC)
					cells[k] = excelize.Cell{StyleID: date, Value: plain}
				}
			}
		}
		if err := w.SetRow(fmt.Sprintf("A%d", i+1), cells); err != nil {
			return err
		}
	}
	return w.Flush()
}
