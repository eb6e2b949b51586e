// SPDX-License-Identifier: Apache-2.0

// Package runner is the one place with a clock, goroutines and an order of
// input and output: it keeps a shop's state and plan true while facts come in.
//
// Runner's own comment is the contract. It stands on four small ports, Log,
// Store, Clock and Planner, which programs give it; Engine is the Planner that
// shops use. Plan is the search of several workers side by side, for programs
// that plan from files.
//
// What can go wrong and what happens then:
//
//   - A record that cannot be read or believed is rejected with a reason, kept,
//     shown, and stops nothing.
//   - The log or the store fails: Run ends with the error. Everything that was
//     acknowledged is there at the next start.
//   - The feed breaks off: it is opened again where it was.
//   - A search fails or panics: the last published plan stands, an alert says
//     so, and planning is tried again after a rest. The log line has the
//     state's sequence (rev) and the seed, which make it happen again.
//   - A search gives a plan that fails verification: it is not published.
//   - The clock jumps: see guard. A leap ahead is followed only when it lasts.
package runner
