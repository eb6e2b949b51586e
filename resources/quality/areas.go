// SPDX-License-Identifier: Apache-2.0

package quality

import "errors"

var errAreas = errors.New("areas must be above 0, and fibre and voids together no larger than the image")

// Areas are what an image of a polished section shows, in one unit (mm², or
// pixels): the whole, the fibre and the voids.
type Areas struct {
	Total float64
	Fibre float64
	Void  float64
}

// ByAreas are the volume fractions from images of polished sections: over all
// images the share of the area is the share of the volume, the rule of
// Delesse (1847) on which ISO 14127, method C (microscopy) rests; the matrix
// is what is left.
func ByAreas(images []Areas) (Constituents, error) {
	var sum Areas
	for _, a := range images {
		if !(a.Total > 0 && a.Fibre >= 0 && a.Void >= 0 && a.Fibre+a.Void <= a.Total) {
			return Constituents{}, errAreas
		}
		sum.Total += a.Total
		sum.Fibre += a.Fibre
		sum.Void += a.Void
	}
	if len(images) == 0 {
		return Constituents{}, errAreas
	}
	fibre, void := sum.Fibre/sum.Total, sum.Void/sum.Total
	return Constituents{Fibre: fibre, Matrix: 1 - fibre - void, Void: void}, nil
}
