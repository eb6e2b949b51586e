// SPDX-License-Identifier: Apache-2.0

package scheduler

import "towpath/resources"

// OnPlant is a state as it would be with another plant, by the rules for
// declaring one: what is in use must be in the new plant too. The state given
// stays as it is. The result has no plant file, and is for planning alone. The
// error is a *Refusal.
func (s *State) OnPlant(p *resources.Plant) (*State, error) {
	out := s.Clone()
	t := out.begin()
	t.e.At = s.At
	if r := t.replacePlant(p); r != nil {
		return nil, r
	}
	t.install()
	return out, nil
}
