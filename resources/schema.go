// SPDX-License-Identifier: Apache-2.0

package resources

import (
	_ "embed"
	"slices"
)

//go:embed plant.schema.json
var plantSchema []byte

// Schema is the JSON Schema (draft 2020-12) of the plant file, for editors
// that complete and check as one types. It knows the form of the file; only
// ReadPlant knows whether the plant makes sense. The bytes belong to the
// caller.
func Schema() []byte { return slices.Clone(plantSchema) }
