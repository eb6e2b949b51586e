// SPDX-License-Identifier: Apache-2.0

// Package promise answers when an order that is only asked for could leave,
// without breaking the date of any order that has one. It is pure.
//
// A Present is the shop as it is: its state and a plan for it that passes
// scheduler.Check. Fit puts asked lines into that plan, first into what it
// leaves free, where nothing else is moved by a second, then, where that gives an
// earlier shipment, with others making way as far as their own dates allow. What
// it answers has been checked by the verifier and against every promised date.
//
// A line's promised date is its due instant; one that is late already must not
// become later.
package promise
