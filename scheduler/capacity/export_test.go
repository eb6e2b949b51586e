// SPDX-License-Identifier: Apache-2.0

package capacity

// BusiestShare shares jobs out and returns the greatest load.
func BusiestShare(can [][]int, hours, there []float64) float64 {
	var portions []*portion
	for i, on := range can {
		p := &portion{on: on}
		for range on {
			p.hours = append(p.hours, hours[i])
		}
		portions = append(portions, p)
	}
	shareOut(portions, there)
	busy := make([]float64, len(there))
	for _, p := range portions {
		for k, r := range p.on {
			busy[r] += p.share[k] * p.hours[k]
		}
	}
	greatest := 0.0
	for r := range busy {
		greatest = max(greatest, busy[r]/there[r])
	}
	return greatest
}
