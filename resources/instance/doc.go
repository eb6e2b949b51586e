// SPDX-License-Identifier: Apache-2.0

// Package instance turns published scheduling problems into a plant and its
// order lines, built in memory. The engine then plans them like any shop, as
// special cases, so that published optima test the code that plans the plant.
//
// How the criteria of the literature are cast, with one unit of a problem's
// time as one minute and its time 0 at Start:
//
//	makespan              one firm order, a line per job, all due at Start:
//	                      its tardiness is the makespan
//	largest lateness      the same, each line due at its date less the latest
//	                      date of all: the tardiness is Lmax plus that date
//	weighted completion   a firm order per job, due at Start
//	weighted tardiness    a firm order per job, due at its date
//	number of late jobs   an event order per job, due at its date: late is lost
//	batch machines        a station that runs loads, jobs with a size
//	resources of projects crews with as many heads, needed during the run
//	maximum time lags     waits with a maximum, from start to start
//	tours                 one station, every city an operation, distances are
//	                      changeovers
//	ovens                 stations that run loads, availability as a calendar,
//	                      attributes as what a load agrees in and a
//	                      changeover is keyed by
//
// Case.Value reads the published figure back from a plan's objective levels.
// Nothing here solves anything.
package instance
