// SPDX-License-Identifier: Apache-2.0

package main

import (
	"strings"
	"time"

	"towpath/resources"
)

// momentForms are what --now and the like accept besides RFC 3339, read in the
// plant's zone.
var momentForms = []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02"}

// parseMoment reads an instant: RFC 3339 with its zone, or local to the plant.
func parseMoment(flag, text string, zone *time.Location) (resources.Tick, error) {
	text = strings.TrimSpace(text)
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return resources.Tick(t.Unix()), nil
	}
	for _, form := range momentForms {
		if t, err := time.ParseInLocation(form, text, zone); err == nil {
			return resources.Tick(t.Unix()), nil
		}
	}
	return 0, usage("write 2026-03-02T06:00 in the plant's zone, or 2026-03-02T06:00:00+01:00",
		"--%s %q is no instant", flag, text)
}

// nowOf is the instant a command plans for: as given, else where the plant
// says its clock begins, else the machine's clock.
func nowOf(given string, plant *resources.Plant) (resources.Tick, error) {
	switch {
	case given != "":
		return parseMoment("now", given, plant.Zone)
	case plant.StartsAt != 0:
		return plant.StartsAt, nil
	}
	return resources.Tick(time.Now().Unix()), nil
}

// moment writes an instant for people of the plant.
func moment(t resources.Tick, zone *time.Location) string {
	if zone == nil {
		zone = time.UTC
	}
	return time.Unix(int64(t), 0).In(zone).Format("Mon 2 Jan 2006 15:04 MST")
}
