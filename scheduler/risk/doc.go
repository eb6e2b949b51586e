// SPDX-License-Identifier: Apache-2.0

// Package risk plays a plan forward under random times, breakdowns, absences,
// failures and repeats, keeping the plan's decisions and reacting as people on
// the floor would, and counts what becomes of each order's date.
//
// What stays as planned: which station and load a piece goes to, the order of
// work there, which mix it draws from. What gives way, by rules that README.md
// lists: when things begin, who does them, which of equal tools is taken, and
// who goes first when the next in turn is not there.
//
// Chance is keyed, not drawn in a row: a step of a piece has the same luck in
// replication 17 whatever else the plan holds, so that two plans are compared
// on the same histories (common random numbers; Law, Simulation Modeling and
// Analysis, from memory). The package is pure: the caller may share out
// ranges of replications among cores and merge them in any order.
package risk
