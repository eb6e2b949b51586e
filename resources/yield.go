// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"errors"
	"fmt"
	"math"
)

// MostStarts is the most pieces Starts answers with.
const MostStarts = 1_000_000

// ErrStarts says that no number of pieces started gives what is asked.
var ErrStarts = errors.New("cannot say how many to start")

// Starts is how many pieces to start so that, with at least the given
// confidence, good of them are there for the customer besides those destroyed
// in tests. Each piece comes out good with chance yield, whatever the others
// do; a piece is destroyed only when it is good, so that the test says
// something of the lot.
//
// It is the smallest n with P(Binomial(n, yield) ≥ good + destroyed) ≥
// confidence, found by adding up the negative binomial law of the number of
// pieces until that many are good. Dividing by the yield and rounding up, as is
// often done, gives a confidence of little more than one half.
func Starts(good int, yield, confidence float64, destroyed int) (int, error) {
	switch {
	case good < 0 || destroyed < 0 || good > MostStarts || destroyed > MostStarts:
		return 0, fmt.Errorf("%w: %d good and %d destroyed; give 0 to %d of each", ErrStarts, good, destroyed, MostStarts)
	case !(yield > 0 && yield <= 1):
		return 0, fmt.Errorf("%w: a yield of %v; give more than 0 and at most 1", ErrStarts, yield)
	case !(confidence > 0 && confidence < 1):
		return 0, fmt.Errorf("%w: a confidence of %v; give more than 0 and less than 1, as no number of starts is certain", ErrStarts, confidence)
	}
	need := good + destroyed
	if need == 0 || yield == 1 {
		return need, nil
	}
	// In logarithms, because yield^need is far too small for large needs.
	bad := math.Log1p(-yield)
	log := float64(need) * math.Log(yield) // of the chance that piece n is the last one needed
	sum, lost := 0.0, 0.0                  // compensated, as there may be many terms
	for n := need; n <= MostStarts; n++ {
		term := math.Exp(log) - lost
		next := sum + term
		sum, lost = next, next-sum-term
		if sum >= confidence {
			return n, nil
		}
		log += bad + math.Log(float64(n)/float64(n-need+1))
	}
	return 0, fmt.Errorf("%w: %d good ones at a yield of %v take more than %d starts", ErrStarts, need, yield, MostStarts)
}
