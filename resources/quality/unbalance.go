// SPDX-License-Identifier: Apache-2.0

package quality

import "math"

// PermissibleUnbalance is the permissible residual unbalance U_per in g·mm of
// a rigid rotor by ISO 21940-11: 1000·G/ω per kilogram, for a balance quality
// grade G in mm/s, a mass in kg and the highest service speed in r/min. A
// rotor that does not turn has no limit (+Inf).
func PermissibleUnbalance(grade, mass, speed float64) float64 {
	if speed <= 0 {
		return math.Inf(1)
	}
	return 1000 * grade / (speed * 2 * math.Pi / 60) * mass
}

// TwoPlanes allots a permissible unbalance to two bearing planes on either
// side of the centre of mass, at distances a and b from it (any one unit):
// each plane gets the share the other's distance has (ISO 21940-11). Equal
// distances, or none known, give halves.
func TwoPlanes(total, a, b float64) (planeA, planeB float64) {
	if !(a >= 0 && b >= 0 && a+b > 0) {
		return total / 2, total / 2
	}
	return total * b / (a + b), total * a / (a + b)
}
