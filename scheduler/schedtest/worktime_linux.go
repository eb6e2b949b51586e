// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"syscall"
	"time"
	"unsafe"
)

// WorkTime is how long this thread has computed, waits for a busy machine left
// out. The goroutine must stay on its thread. The clock of the thread is asked, to the
// microsecond: what getrusage tells moves on in steps of some milliseconds.
func WorkTime() time.Duration {
	const clockOfThread = 3 // CLOCK_THREAD_CPUTIME_ID, clock_gettime(2)
	var now syscall.Timespec
	if _, _, failed := syscall.Syscall(syscall.SYS_CLOCK_GETTIME, clockOfThread, uintptr(unsafe.Pointer(&now)), 0); failed != 0 {
		return time.Duration(time.Now().UnixNano())
	}
	return time.Duration(now.Nano())
}
