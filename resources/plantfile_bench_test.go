// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
)

func BenchmarkReadPlant(b *testing.B) {
	text, err := os.ReadFile(demoPlant)
	require.NoError(b, err)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if p, _ := resources.ReadPlant("plant.yaml", text); p == nil {
			b.Fatal("the demo plant does not read")
		}
	}
}
