// SPDX-License-Identifier: Apache-2.0

package webtest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"towpath/resources"
	"towpath/resources/xlsx"
	"towpath/scheduler/capacity"
)

// Season is a season for pages in tests: the demo's forecast, and additions
// solved without effort.
type Season struct {
	Foreseen *resources.Forecast
	Hold     chan struct{} // additions are solved one by one as it is received from; nil: at once
}

// DemoSeason reads the demo's forecast.
func DemoSeason(p *resources.Plant) (*Season, error) {
	_, here, _, _ := runtime.Caller(0)
	text, err := os.ReadFile(filepath.Join(filepath.Dir(here), "..", "..", "testdata", "demo", "forecast.csv"))
	if err != nil {
		return nil, err
	}
	f, findings := resources.ReadForecast("forecast.csv", text, p)
	if f == nil {
		return nil, fmt.Errorf("demo forecast: %v", findings)
	}
	return &Season{Foreseen: f}, nil
}

// Forecast is the forecast.
func (s *Season) Forecast() *resources.Forecast { return s.Foreseen }

// Worth says of the first addition that it saves an order, of others nothing.
func (s *Season) Worth(ctx context.Context, _ capacity.Input, list []capacity.Addition, told func(capacity.Standing, []capacity.Worth)) error {
	base := capacity.Standing{Orders: 10, OnTime: 8, Lost: 2}
	var found []capacity.Worth
	told(base, nil)
	for i, a := range list {
		if s.Hold != nil {
			select {
			case <-s.Hold:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		w := capacity.Worth{Addition: a, With: base}
		if i == 0 {
			w.Saved = 1
		}
		found = append(found, w)
		told(base, slices.Clone(found))
	}
	return nil
}

// Workbook writes a workbook.
func (s *Season) Workbook(sheets []resources.Sheet, zone *time.Location) ([]byte, error) {
	return xlsx.Write(sheets, zone)
}
