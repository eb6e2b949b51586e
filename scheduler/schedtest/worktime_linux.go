// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"time"

	"golang.org/x/sys/unix"
)

// WorkTime is how long this thread has computed, waits for a busy machine left
// out. The goroutine must stay on its thread. The clock of the thread is asked, to the
// microsecond: what getrusage tells moves on in steps of some milliseconds.
func WorkTime() time.Duration {
	var now unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &now); err != nil {
		return time.Duration(time.Now().UnixNano())
	}
	return time.Duration(now.Nano())
}
