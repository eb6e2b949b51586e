// SPDX-License-Identifier: Apache-2.0

//go:build !race

package web_test

// screens is on how many sizes of screen a page is looked at, at most.
const screens = 100
