// SPDX-License-Identifier: Apache-2.0

//go:build !linux

package promise_test

import "time"

// workTime is the time by the clock where that of a thread is not to be had.
func workTime() time.Duration { return time.Duration(time.Now().UnixNano()) }
