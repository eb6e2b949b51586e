// SPDX-License-Identifier: Apache-2.0

package resources

// Any stands for every value of an attribute in a SetupRule.
const Any = "*"

// Changeover is the time and the cost of setting the station up for an
// operation with attributes to, after one with attributes from. A nil from is
// an unknown state and costs nothing, and so does an attribute that either
// side does not have. Of the lines of the setup table that fit an attribute
// the most specific counts, of equally specific ones the first: both values
// named, then To, then From, then neither. An attribute that stays as it is
// costs nothing unless a line names that very pair. With SetupSum the
// attributes' times and costs add up; otherwise the longest time and the
// highest cost count.
func (s *Station) Changeover(from, to map[string]string) (Seconds, int64) {
	if from == nil {
		return 0, 0
	}
	var time Seconds
	var cost int64
	for i := range s.Setups {
		attribute := s.Setups[i].Attribute
		if s.namedBefore(i, attribute) {
			continue
		}
		rule := s.setupRule(attribute, from[attribute], to[attribute])
		switch {
		case rule == nil:
		case s.SetupSum:
			time += rule.Time
			cost += rule.Cost
		default:
			time = max(time, rule.Time)
			cost = max(cost, rule.Cost)
		}
	}
	return time, cost
}

// namedBefore keeps an attribute with many lines from being counted once per line.
func (s *Station) namedBefore(i int, attribute string) bool {
	for j := range i {
		if s.Setups[j].Attribute == attribute {
			return true
		}
	}
	return false
}

func (s *Station) setupRule(attribute, from, to string) *SetupRule {
	if from == "" || to == "" {
		return nil
	}
	var best *SetupRule
	bestRank := 0
	for i := range s.Setups {
		r := &s.Setups[i]
		if r.Attribute != attribute {
			continue
		}
		if rank := r.rank(from, to); rank > bestRank {
			best, bestRank = r, rank
		}
	}
	return best
}

// rank is how specifically the line fits the change, 0 when it does not.
func (r *SetupRule) rank(from, to string) int {
	switch {
	case r.From == from && r.To == to:
		return 4
	case from == to:
		return 0
	case r.From == Any && r.To == to:
		return 3
	case r.From == from && r.To == Any:
		return 2
	case r.From == Any && r.To == Any:
		return 1
	}
	return 0
}
