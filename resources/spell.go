// SPDX-License-Identifier: Apache-2.0

package resources

import "fmt"

// Spell writes a length of time the way it is spoken: "45 s", "12 min",
// "3 h 20 min", "72 h".
func Spell(d Seconds) string {
	switch h, m := d/Hour, d%Hour/Minute; {
	case d > 0 && d < Minute:
		return fmt.Sprintf("%d s", d)
	case h > 0 && m > 0:
		return fmt.Sprintf("%d h %d min", h, m)
	case h > 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d min", m)
	}
}
