// SPDX-License-Identifier: Apache-2.0

//go:build !linux

package schedtest

import "time"

// WorkTime is the time by the clock where that of a thread is not to be had.
func WorkTime() time.Duration { return time.Duration(time.Now().UnixNano()) }
