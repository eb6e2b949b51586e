// SPDX-License-Identifier: Apache-2.0

// Package capacity sets what a season asks of a shop against the hours that
// are there: by week, for every station, crew, skill, tool pool and cure
// recipe. It names the bottleneck of each week, says what waiting a queueing
// view expects beside what the finite plan has, what one more of a thing is
// worth, and until when an order for a race weekend is safely taken.
//
// It is pure: state, plan, forecast and now in, numbers out. README.md says
// how each number is made and what it leaves out.
package capacity
