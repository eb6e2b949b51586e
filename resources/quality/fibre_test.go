// SPDX-License-Identifier: Apache-2.0

package quality_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources/quality"
)

// Formulas: ASTM D3171-15, procedure I. Numbers: R. F. Gibson, Principles of
// Composite Material Mechanics, the worked example of a 2.54 × 2.54 × 0.3 cm
// specimen of 2.98 g with 1.863 g of fibre (from memory, arithmetic done
// again): ρc = 1.54, Vf = 0.507, Vm = 0.481, voids 1.2 %.
func TestConstituentsByDigestion(t *testing.T) {
	density := 2.98 / (2.54 * 2.54 * 0.3)
	require.InDelta(t, 1.54, density, 0.001)
	c, err := quality.Specimen{Mass: 2.98, FibreMass: 1.863, Density: density, Fibre: 1.9, Matrix: 1.2}.Constituents()
	require.NoError(t, err)
	require.InDelta(t, 0.507, c.Fibre, 0.0005)
	require.InDelta(t, 0.481, c.Matrix, 0.0005)
	require.InDelta(t, 0.012, c.Void, 0.0006)
	require.False(t, c.Doubtful())
	// The other way to weigh, ASTM D2734-16, agrees.
	fibre := 100 * 1.863 / 2.98
	void, err := quality.VoidContent(density, 100-fibre, 1.2, fibre, 1.9)
	require.NoError(t, err)
	require.InDelta(t, 100*c.Void, void, 1e-9)
}

// Source: A. K. Kaw, Mechanics of Composite Materials, 2nd ed. (2006),
// glass/epoxy with Vf = 0.7, 2500 and 1200 kg/m³ (from memory, arithmetic done
// again): 2110 kg/m³, mass fractions 0.8294 and 0.1706.
func TestMassFractions(t *testing.T) {
	mass, density, err := quality.FibreMassFraction(0.7, 2500, 1200)
	require.NoError(t, err)
	require.InDelta(t, 2110, density, 1e-9)
	require.InDelta(t, 0.8294, mass, 5e-5)
	c, err := quality.Specimen{Mass: 1, FibreMass: mass, Density: density, Fibre: 2500, Matrix: 1200}.Constituents()
	require.NoError(t, err)
	require.InDelta(t, 0.7, c.Fibre, 1e-12)
	require.InDelta(t, 0, c.Void, 1e-12)
}

// Density methods can give negative void contents (J. E. Little et al., NDT &
// E International 46, 2012, p. 122): told, not hidden and no crash.
func TestNegativeVoidsAreDoubtful(t *testing.T) {
	c, err := quality.Specimen{Mass: 2.98, FibreMass: 1.863, Density: 1.60, Fibre: 1.9, Matrix: 1.2}.Constituents()
	require.NoError(t, err)
	require.Less(t, c.Void, 0.0)
	require.True(t, c.Doubtful())
	void, err := quality.VoidContent(1.60, 37.5, 1.2, 62.5, 1.9)
	require.NoError(t, err)
	require.Less(t, void, 0.0)
}

// Bare fibre is a weighing like others: nothing burns off.
func TestAllOfItIsFibre(t *testing.T) {
	c, err := quality.Specimen{Mass: 2, FibreMass: 2, Density: 1.8, Fibre: 1.8, Matrix: 1.2}.Constituents()
	require.NoError(t, err)
	require.Equal(t, quality.Constituents{Fibre: 1}, c)
}

func TestWeighingsThatCannotBe(t *testing.T) {
	for _, s := range []quality.Specimen{{}, {1, 2, 1, 1, 1}, {1, -1, 1, 1, 1}, {1, 1, 0, 1, 1}, {1, 1, 1, 0, 1}, {1, 1, 1, 1, 0}} {
		_, err := s.Constituents()
		require.Error(t, err)
	}
	_, err := quality.VoidContent(0, 40, 1.2, 60, 1.9)
	require.Error(t, err)
	_, err = quality.VoidContent(1.5, 0, 1.2, 0, 1.9)
	require.Error(t, err)
	_, _, err = quality.FibreMassFraction(1.1, 2500, 1200)
	require.Error(t, err)
}
