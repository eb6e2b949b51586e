// SPDX-License-Identifier: Apache-2.0

// Package helping has other machines take a share of long computing: searching
// for a better plan, and playing histories of it.
//
// A Desk has work to share out. It tells all who hear it that there is a job;
// a Helper with a core to spare fetches the job, then one share of it after
// another, and brings each back as it asks for the next. Nothing is kept on the
// bus. A helper that is slow, gone or wrong costs the desk nothing: it does the
// same work itself meanwhile, and what comes first counts.
//
// Only a helper that runs the same program is given work, as only that is sure
// to reckon the same.
package helping

import "context"

// Bus carries words between programs. What is said is heard by those who listen
// then, and kept nowhere.
type Bus interface {
	// Say tells all who hear a subject.
	Say(subject string, data []byte) error
	// Ask says something to the one who hears a subject, and waits for the
	// answer.
	Ask(ctx context.Context, subject string, data []byte) ([]byte, error)
	// Hear calls f, once at a time, for what is said on a subject, until stop is
	// called, and for what was said before; what f returns goes to who asks.
	Hear(subject string, f func(data []byte) []byte) (stop func(), err error)
	// Most is how many bytes may be said at once.
	Most() int
}
