// SPDX-License-Identifier: Apache-2.0

//go:build race

package web_test

// screens is on how many sizes of screen a page is looked at, at most. How wide a page
// is has nothing to do with races, and the race detector makes all of it several times as slow.
const screens = 1
