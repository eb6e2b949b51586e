// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

// sphere is the time constant of a sphere, where V/A = D/6.
func sphere(density, heat, diameter, film float64) float64 {
	volume := math.Pi / 6 * math.Pow(diameter, 3)
	return resources.TimeConstant(density, heat, volume, film, math.Pi*diameter*diameter)
}

// Source: Y. A. Çengel, Heat Transfer: A Practical Approach, example 4-1
// (thermocouple junction, 1 mm sphere): 1/τ = 0.462 1/s, 99 % after 10 s.
func TestLumpedHeatingOfThermocouple(t *testing.T) {
	tau := sphere(8500, 320, 0.001, 210)
	require.InDelta(t, 0.462, 1/tau, 0.002)
	require.InDelta(t, 10, resources.StepTime(tau, 0.99), 0.1)
}

// Source: F. P. Incropera, D. P. DeWitt, Fundamentals of Heat and Mass
// Transfer, example 5.1 (junction with τ = 1 s: D = 7.06e-4 m; from 25 °C in
// gas of 200 °C it reads 199 °C after 5.2 s). Values from memory, arithmetic
// done again.
func TestLumpedHeatingOfJunctionInGas(t *testing.T) {
	require.InDelta(t, 1, sphere(8500, 400, 7.06e-4, 400), 0.001)
	require.InDelta(t, 5.2, resources.StepTime(1, (199.0-25)/(200-25)), 0.05)
}

// Source: J. H. Lienhard IV and V, A Heat Transfer Textbook, example 1.4
// (1 mm bead, τ = 1.116 s, 95 % of a step within 3τ). Properties from memory.
func TestLumpedHeatingOfBead(t *testing.T) {
	tau := sphere(9300, 180, 0.001, 250)
	require.InDelta(t, 1.116, tau, 0.0005)
	require.InDelta(t, 3*tau, resources.StepTime(tau, 0.95), 0.01*tau)
}

// The lag of a first-order body behind a ramp grows to rate·τ. Worked out from
// the solution of the lag equation: τ = 20 min, 2 °C/min from 25 to 120 °C;
// the air arrives after 47.5 min, the part is then at 83.7 °C.
func TestRampLag(t *testing.T) {
	require.InDelta(t, 83.7, resources.RampTemperature(25, 2, 20, 47.5), 0.05)
	require.InDelta(t, 2*20, 25+2*1000-resources.RampTemperature(25, 2, 20, 1000), 1e-9)
	require.Equal(t, 25+2*47.5, resources.RampTemperature(25, 2, 0, 47.5), "without a lag the part is as the air")
}

// A second opinion on the closed form: many small steps of the lag equation.
func TestRampLagAgreesWithSmallSteps(t *testing.T) {
	const tau, rate, step = 20.0, 1.5, 1e-4
	part := 25.0
	for i := range 400_000 {
		air := 25 + rate*step*float64(i)
		part += step * (air - part) / tau
	}
	require.InDelta(t, part, resources.RampTemperature(25, rate, tau, 40), 0.001)
}
