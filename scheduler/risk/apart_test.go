// SPDX-License-Identifier: Apache-2.0

package risk

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
)

// What two players write lies in different lines of the cache, in pairs.
func TestPlayersShareNoLine(t *testing.T) {
	s, plan := shop(t, 1, nil)
	g := program(t, s, plan)
	of := map[uintptr]int{}
	for k := range 2 {
		y := g.NewPlayer()
		y.play(newLuck(1, k, false))
		claim := func(v reflect.Value) {
			if v.Kind() != reflect.Slice || v.Cap() == 0 {
				return
			}
			from, size := v.Pointer(), v.Type().Elem().Size()*uintptr(v.Cap())
			for line := from / shared; line <= (from+size-1)/shared; line++ {
				owner, known := of[line]
				require.False(t, known && owner != k, "%s", v.Type())
				of[line] = k
			}
		}
		v := reflect.ValueOf(y).Elem()
		for i := range v.NumField() {
			claim(v.Field(i))
		}
		for i := range y.stations {
			claim(reflect.ValueOf(y.stations[i].shelf))
			claim(reflect.ValueOf(y.stations[i].extras))
		}
		for i := range y.owed {
			claim(reflect.ValueOf(y.owed[i]))
		}
		claim(reflect.ValueOf(y.looks.at))
		claim(reflect.ValueOf(y.onCrew))
	}
}
