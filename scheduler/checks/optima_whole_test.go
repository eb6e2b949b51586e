// SPDX-License-Identifier: Apache-2.0

//go:build !race

package checks_test

// every how many of the tiny shops one is planned.
const every = 1
