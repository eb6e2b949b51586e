// SPDX-License-Identifier: Apache-2.0

// Package quality turns what was measured at a gate into numbers and a
// verdict: fibre and void content of a ring sample, spring rate and torque of
// a torsion test, residual unbalance, sizes and runout. Each formula names its
// source. Pure.
//
// A verdict sorts pieces for planning. Whether a part is safe to use is for
// qualified people, with the site's own procedures and the standards' text.
package quality
