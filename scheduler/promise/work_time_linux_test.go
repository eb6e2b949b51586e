// SPDX-License-Identifier: Apache-2.0

package promise_test

import (
	"syscall"
	"time"
)

// workTime is how long this thread has computed, waits for a busy machine left
// out. The goroutine must stay on its thread.
func workTime() time.Duration {
	const thisThread = 1
	var u syscall.Rusage
	if err := syscall.Getrusage(thisThread, &u); err != nil {
		return time.Duration(time.Now().UnixNano())
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
