// SPDX-License-Identifier: Apache-2.0

// Package relax finds what would save an order that is late or lost: it takes
// the chain its date hangs on, lifts what each step of it waited for by one
// change, and solves the shop with that change.
//
// It is pure: state, plan and now in, answers out. README.md says what is tried
// and what is not.
package relax
