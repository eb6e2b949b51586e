// SPDX-License-Identifier: Apache-2.0

package promise

import (
	"fmt"

	"towpath/resources"
)

// How long capacity may be kept for a promise that is not confirmed;
// DefaultHold is meant where nothing is asked. Longer is an order.
const (
	LeastHold   = 5 * resources.Minute
	MostHold    = 14 * resources.Day
	DefaultHold = 2 * resources.Hour
)

// HoldOf is how long capacity is kept where that long is asked, or the Fault
// of asking it.
func HoldOf(asked resources.Seconds) (resources.Seconds, error) {
	switch {
	case asked == 0:
		return DefaultHold, nil
	case asked < LeastHold || asked > MostHold:
		return 0, &Fault{[]resources.Finding{{
			Field: "hold_s", Text: "out of range", Found: fmt.Sprintf("%d s", asked), Allowed: fmt.Sprintf("%d s (5 min) to %d s (14 days)", LeastHold, MostHold),
		}}}
	}
	return asked, nil
}
