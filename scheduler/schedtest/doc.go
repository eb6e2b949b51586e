// SPDX-License-Identifier: Apache-2.0

// Package schedtest helps tests of plans: small plants and states made in
// code, plans written down by hand, a state moved on as if a plan had happened,
// and assertions around the verifier. It makes no decisions of its own.
package schedtest
