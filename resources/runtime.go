// SPDX-License-Identifier: Apache-2.0

package resources

// RunTime is how long the run of an operation takes for one piece on a
// station, without loading and unloading: the time stated for that station,
// else the cure recipe for the piece's time constant, else Run at the
// station's speed; rounded up. A station without a speed has speed 1. A
// recipe the plant does not know takes no time; a plant that was read has none.
func (p *Plant) RunTime(op *Operation, s *Station) Seconds {
	if t, ok := op.RunAt[s.ID]; ok {
		return t
	}
	if op.Recipe != "" {
		if r := p.Recipe(op.Recipe); r != nil {
			return r.Duration(op.Tau)
		}
		return 0
	}
	if s.Speed <= 0 || s.Speed == 1 {
		return op.Run
	}
	return roundUp(float64(op.Run) / s.Speed)
}
