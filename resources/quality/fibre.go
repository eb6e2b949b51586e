// SPDX-License-Identifier: Apache-2.0

package quality

import "errors"

var errNotPositive = errors.New("masses and densities must be above 0, and the fibre no heavier than the specimen")

// Constituents are the volume fractions of a composite, each 0 to 1. Fibre and
// matrix come from weighing, the voids are what they leave over. A density a
// little off gives negative voids; that is kept, because it tells that the
// measurement is no good, not that the part is (see Doubtful).
type Constituents struct {
	Fibre  float64
	Matrix float64
	Void   float64
}

// Doubtful tells that the fractions cannot be true, so that the densities or
// weighings want a second look before anybody relies on them.
func (c Constituents) Doubtful() bool {
	return !(c.Void >= 0 && c.Fibre >= 0 && c.Fibre <= 1 && c.Matrix >= 0 && c.Matrix <= 1)
}

// Specimen is what a ring sample weighed before and after its matrix was taken
// away: masses in one unit, densities in another.
type Specimen struct {
	Mass      float64 // of the specimen
	FibreMass float64 // of what was left
	Density   float64 // of the composite
	Fibre     float64 // density of the fibre
	Matrix    float64 // density of the cured matrix
}

// Constituents are the volume fractions by matrix digestion, ASTM D3171,
// procedure I: Vf = (Mf/Mi)(ρc/ρf), Vm = ((Mi−Mf)/Mi)(ρc/ρm), Vv = 1−Vf−Vm.
func (s Specimen) Constituents() (Constituents, error) {
	if !(s.Mass > 0 && s.FibreMass >= 0 && s.FibreMass <= s.Mass && s.Density > 0 && s.Fibre > 0 && s.Matrix > 0) {
		return Constituents{}, errNotPositive
	}
	fibre := s.FibreMass / s.Mass * s.Density / s.Fibre
	matrix := (s.Mass - s.FibreMass) / s.Mass * s.Density / s.Matrix
	return Constituents{fibre, matrix, 1 - fibre - matrix}, nil
}

// VoidContent is the void content in per cent by ASTM D2734: 100(Td−Md)/Td
// with the theoretical density Td = 100/(R/D + r/d), from the measured density
// of the composite, the resin and fibre contents in per cent by mass and their
// densities. Negative when the measured density is above the theoretical one.
func VoidContent(measured, resin, resinDensity, fibre, fibreDensity float64) (float64, error) {
	if !(measured > 0 && resin >= 0 && fibre >= 0 && resin+fibre > 0 && resinDensity > 0 && fibreDensity > 0) {
		return 0, errNotPositive
	}
	theory := 100 / (resin/resinDensity + fibre/fibreDensity)
	return 100 * (theory - measured) / theory, nil
}

// FibreMassFraction is the share of the mass of a composite without voids
// that its fibre makes up, from the fibre's share of the volume and the two
// densities; and the density of the composite.
func FibreMassFraction(volume, fibreDensity, matrixDensity float64) (mass, density float64, err error) {
	if !(volume >= 0 && volume <= 1 && fibreDensity > 0 && matrixDensity > 0) {
		return 0, 0, errNotPositive
	}
	density = volume*fibreDensity + (1-volume)*matrixDensity
	return volume * fibreDensity / density, density, nil
}
