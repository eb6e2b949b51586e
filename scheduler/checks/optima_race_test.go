// SPDX-License-Identifier: Apache-2.0

//go:build race

package checks_test

// every how many of the tiny shops one is planned. The race detector makes a
// search ten times as slow, and this one has no goroutines.
const every = 6
