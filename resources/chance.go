// SPDX-License-Identifier: Apache-2.0

package resources

// Shape is the form of a spread.
type Shape uint8

// The shapes. Unsaid stands for what the plant says of such work in general,
// and where it says nothing for DefaultChance.
const (
	Unsaid Shape = iota
	Lognormal
	Gamma
	Triangular
	Pert // beta law on low, likely, high (Malcolm, Roseboom, Clark and Fazar 1959)
	FixedShape
	Empirical
)

// Spread is how a time varies around the time stated: the law of the factor it
// is multiplied by.
type Spread struct {
	Shape             Shape
	Mean              float64   // lognormal and gamma: mean factor; 0 means 1
	CV                float64   // lognormal and gamma: standard deviation over mean
	Low, Likely, High float64   // triangular and pert
	Values            []float64 // empirical: factors seen, all equally likely, in any order
}

// Chance is how the shop's times vary where nothing more is said.
type Chance struct {
	Hands   Spread // loading, unloading, and runs that people attend
	Machine Spread // runs without people
	Cure    Spread // runs of a cure recipe
	Setup   Spread // changeovers and mixing
}

// DefaultChance is used where a plant file says nothing. The numbers are our
// own assumption, without a source; a shop's own history is better.
func DefaultChance() Chance {
	return Chance{
		Hands:   Spread{Shape: Lognormal, CV: 0.20},
		Machine: Spread{Shape: Lognormal, CV: 0.05},
		Cure:    Spread{Shape: Lognormal, CV: 0.02},
		Setup:   Spread{Shape: Lognormal, CV: 0.30},
	}
}

// Or is c with what it leaves unsaid taken from d.
func (c Chance) Or(d Chance) Chance {
	return Chance{Hands: c.Hands.Or(d.Hands), Machine: c.Machine.Or(d.Machine), Cure: c.Cure.Or(d.Cure), Setup: c.Setup.Or(d.Setup)}
}

// Or is s, or d where s is unsaid.
func (s Spread) Or(d Spread) Spread {
	if s.Shape == Unsaid {
		return d
	}
	return s
}

// Breakdowns of a station. The running time between them is exponential;
// repair goes on by the wall clock, and the work then goes on where it stopped.
type Breakdowns struct {
	Every  Seconds // mean running time between them
	Repair Seconds // mean time to repair
	Spread Spread  // of the repair; unsaid: exponential
}

// Floor is how people follow a plan when things come late.
type Floor struct {
	LoadWait   Seconds // a load waits so long past its time for a late piece, unless a wet one would spoil; then it closes without it
	TurnWait   Seconds // a station waits so long past its time for the next piece in turn; then a later one that is ready goes first
	BeginEarly Seconds // work may begin so much before its published time when all is ready
}

// DefaultFloor is used where a plant file says nothing; common practice, no
// source.
func DefaultFloor() Floor {
	return Floor{LoadWait: 30 * Minute, TurnWait: 15 * Minute}
}
