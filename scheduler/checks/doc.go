// SPDX-License-Identifier: Apache-2.0

// Package checks tests the verifier and the engine against published values.
// Every problem is cast as a plant (package resources/instance) and goes
// through the same compile, search and check as a shop does. The package has
// no code of its own; README.md lists each check with its source and what the
// engine reaches.
package checks
