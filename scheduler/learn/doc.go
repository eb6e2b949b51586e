// SPDX-License-Identifier: Apache-2.0

// Package learn compares what the plant file says with what was done: how long
// operations take, how often stations break down and for how long, which share
// passes a gate. It answers with proposals, each with its evidence; it changes
// nothing by itself.
//
// It is pure: a state, the reports of stops and options in, proposals out.
// README.md says how it estimates and what it leaves out.
package learn
