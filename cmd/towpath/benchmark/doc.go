// SPDX-License-Identifier: Apache-2.0

// Package benchmark measures the planner on published and on given problems: it
// plans a problem with the code that plans a shop, has the plan verified, and
// scores what it says of the problem again from the written solution alone. It
// looks at the clock; it reads and writes no file.
package benchmark
