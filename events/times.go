// SPDX-License-Identifier: Apache-2.0

package events

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"towpath/resources"
)

// Instants in events lie in [FirstInstant, LastInstant]: 2000-01-01T00:00:00Z
// and 2199-12-31T23:59:59Z. A clock that was never set says 1970 or 1980.
const (
	FirstInstant resources.Tick = 946684800
	LastInstant  resources.Tick = 7258118399
)

// checkInstants looks at the event's time, which must be there, and at the
// instants in its payload, which may be 0.
func checkInstants(fs *faults, e Event) {
	if e.At == 0 {
		fs.add(ErrMissing, "time", "", "when it happened, RFC 3339, e.g. 2026-03-02T06:00:00Z", "")
	}
	fs.instant("time", e.At)
	switch d := e.Data.(type) {
	case PlantData:
		for i := range d.Adopted {
			fs.instant(fmt.Sprintf("data.adopted[%d].at", i), d.Adopted[i].At)
		}
	case OrderData:
		if d.ShipBy == 0 {
			fs.add(ErrMissing, "data.ship_by", "", "the instant to ship by, RFC 3339", "")
		}
		fs.instant("data.ship_by", d.ShipBy)
		fs.instant("data.due", d.Due)
		fs.instant("data.earliest_start", d.EarliestStart)
		if d.Asked != nil {
			fs.instant("data.asked.wish", d.Asked.Wish)
		}
	case ReserveData:
		if d.ShipBy == 0 {
			fs.add(ErrMissing, "data.ship_by", "", "the promised instant, RFC 3339", "")
		}
		if d.Expires == 0 {
			fs.add(ErrMissing, "data.expires", "", "the instant until which it is kept, RFC 3339", "")
		}
		fs.instant("data.ship_by", d.ShipBy)
		fs.instant("data.expires", d.Expires)
		fs.instant("data.wish", d.Wish)
		fs.instant("data.due", d.Due)
	case OperationData:
		fs.instant("data.started", d.Started)
		fs.instant("data.setup", d.Setup)
	case LoadData:
		fs.instant("data.setup", d.Setup)
	case StationData:
		fs.instant("data.until", d.Until)
	case ToolData:
		fs.instant("data.until", d.Until)
	case AbsentData:
		fs.instant("data.from", d.From)
		fs.instant("data.until", d.Until)
	}
}

func (fs *faults) instant(field string, at resources.Tick) {
	if at == 0 || at >= FirstInstant && at <= LastInstant {
		return
	}
	fs.add(ErrTime, field, instant(at), "2000-01-01T00:00:00Z to 2199-12-31T23:59:59Z", "set the clock of the machine that reports")
}

// instant writes a tick for an error text.
func instant(at resources.Tick) string {
	text, err := json.Marshal(at)
	if err != nil {
		return strconv.FormatInt(int64(at), 10) + " s since 1970"
	}
	return strings.Trim(string(text), `"`)
}
