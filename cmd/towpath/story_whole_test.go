// SPDX-License-Identifier: Apache-2.0

//go:build !race

package main

// storyLength is how many of the story's commands are run.
const storyLength = 100
