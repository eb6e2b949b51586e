// SPDX-License-Identifier: Apache-2.0

package search

// RepairNear is the repair that leaves what is far as it is; nil when it has to
// be looked at too.
var RepairNear = repairNear
