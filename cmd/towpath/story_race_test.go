// SPDX-License-Identifier: Apache-2.0

//go:build race

package main

// storyLength is how many of the story's commands are run. The race detector
// makes a search ten times as slow, and searches are looked at by tests of
// their own.
const storyLength = 2
