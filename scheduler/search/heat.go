// SPDX-License-Identifier: Apache-2.0

package search

import "slices"

// fewLessons is how often a level must have become worse before its heat is known.
const fewLessons = 10

// levelled says whether each level has a heat of its own. One for all would be that
// of a lost order, in which a day's tardiness is as nothing: the search would wander
// where it never comes back from. A small problem has its own prices, and a search
// that is focused on one level has no other before it.
func (s *annealer) levelled() bool { return s.short == nil && s.focus == 0 }

// heatFor is the heat to take a solution at that is so much worse, when heat is that
// for all levels.
func (s *annealer) heatFor(v *value, worse, heat float64) float64 {
	if !s.levelled() {
		return heat
	}
	level := 0
	for i := range v.cost {
		if v.cost[i] > s.nowValue.cost[i] {
			level = i
			break
		}
	}
	l := s.levelLesson[level]
	if len(l) < lessons {
		at, _ := slices.BinarySearch(l, worse)
		s.levelLesson[level] = slices.Insert(l, at, worse)
	}
	return s.levelHeat(level, heat)
}

// levelHeat is the heat for solutions that are worse at a level: as heat is to the
// lesson of all moves, so it is to that of the level. Where lost orders come before all
// dates none is lost on the way to something better, unless no plan yet keeps them all:
// then another may have to be lost first.
func (s *annealer) levelHeat(level int, heat float64) float64 {
	l, goal := s.levelLesson[level], &s.d.m.p.Goal
	dear := goal.Lost.Weight > 0 && level == levelOf(goal.Lost) && goal.Tardiness.Level > goal.Lost.Level
	if heat == 0 || len(l) < fewLessons || dear && s.bestValue.cost[level] == 0 {
		return 0
	}
	all := s.lesson[0]
	return heat * l[len(l)/2] / all[len(all)/2]
}

// hottest is the heat above which no solution is taken.
func (s *annealer) hottest(heat float64) float64 {
	if !s.levelled() {
		return heat
	}
	hottest := 0.0
	for level := range s.levelLesson {
		hottest = max(hottest, s.levelHeat(level, heat))
	}
	return hottest
}
