// SPDX-License-Identifier: Apache-2.0

// Package natslog keeps the log of facts in a NATS JetStream stream, on a
// broker inside this process or on one elsewhere.
//
// The stream is the truth: what Append or a station's publish has been
// acknowledged for survives a crash of the process and of the machine, in
// order and once. Two streams belong to a plant:
//
//	TOWPATH_<PLANT>           subjects towpath.<PLANT>.>, never changed; Trim alone lets the oldest go
//	TOWPATH_<PLANT>_REJECTED  subjects towpath-rejected.<PLANT>.<SEQ>, what could not be understood or believed
//
// and a key in the bucket TOWPATH_LEASES says which program plans it (Lease),
// where <PLANT> is events.Token of the plant's name. A message's ID is the
// CloudEvents id, so a repeat within the window is dropped by the broker; one
// that comes later must be recognised by whoever folds the log.
package natslog
