// SPDX-License-Identifier: Apache-2.0

// Package soak is what a long trial of the shop is made of, and what it is
// judged by: the orders of as many weeks as asked for (Season); people who
// report what they did late, twice, in another order or with a wrong serial,
// and put it right later (Reporter); a small model of what was really done
// (Model), written apart from the projection in package scheduler and sharing
// no code with it; and an auditor that reads the log as a stranger would
// (Audit). It is pure: live runs it.
package soak
