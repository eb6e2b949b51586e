// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"time"
)

// PlannedStops lists when the station is planned to stand still between from
// and to (a survey, maintenance): sorted, apart, clipped to [from, to). In
// these stretches nothing runs, not even unattended work. The errors are those
// of Calendar.Windows.
func (s *Station) PlannedStops(zone *time.Location, from, to Tick) ([]Interval, error) {
	if len(s.Stops) == 0 {
		return nil, nil
	}
	c := Calendar{ID: s.ID, Exceptions: s.Stops}
	stops, err := c.Windows(zone, from, to)
	if err != nil {
		return nil, fmt.Errorf("planned stops of station %s: %w", s.ID, err)
	}
	return stops, nil
}
