// SPDX-License-Identifier: Apache-2.0

package soak

import (
	"towpath/resources"
	"towpath/scheduler/chance"
)

// Slips say how badly people report: chances for each deed.
type Slips struct {
	Late      float64           // it is reported later than it was done
	LateLong  resources.Seconds // by this much on average
	Forgotten float64           // a start is not reported; the finish says when it was
	Doubled   float64           // it is sent twice; the log knows the ID and stores it once
	Stored    float64           // it is sent twice without an ID that the log looks at, as MQTT does; both are stored
	Told      float64           // two people report it
	Sister    float64           // the serial of a sister piece is scanned at a start, and taken back later
	Unknown   float64           // a serial that does not exist is scanned
	MendAfter resources.Seconds // a wrong scan is noticed after this much on average
}

// Ordinary is a shop floor with a good share of every slip. The numbers are
// invented.
func Ordinary() Slips {
	return Slips{
		Late: 0.08, LateLong: 25 * resources.Minute, Forgotten: 0.02, Doubled: 0.02, Stored: 0.01, Told: 0.01,
		Sister: 0.015, Unknown: 0.01, MendAfter: 30 * resources.Minute,
	}
}

// wait is exponential with a mean, at most eight times that.
func wait(luck chance.Seed, mean resources.Seconds, name ...any) resources.Tick {
	w := luck.Exponential(name...) * float64(mean)
	return resources.Tick(min(w, 8*float64(mean)))
}
