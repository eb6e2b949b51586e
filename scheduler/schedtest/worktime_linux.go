// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"syscall"
	"time"
)

// WorkTime is how long this thread has computed, waits for a busy machine left
// out. The goroutine must stay on its thread.
func WorkTime() time.Duration {
	const thisThread = 1
	var u syscall.Rusage
	if err := syscall.Getrusage(thisThread, &u); err != nil {
		return time.Duration(time.Now().UnixNano())
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
