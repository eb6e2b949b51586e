// SPDX-License-Identifier: Apache-2.0

// Package whatif tries a set of changes on a copy of the shop: the state as it
// would be with them, and what a plan for that state is worth beside one for
// the shop as it is.
//
// It is pure: state, now and changes in, a changed state and a comparison out.
// The searches between the two are the caller's; README.md says what is
// compared and how.
package whatif
