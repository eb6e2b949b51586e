// SPDX-License-Identifier: Apache-2.0

package resources

import "maps"

// RecipeAttribute is the name under which a changeover table sees an
// operation's cure recipe.
const RecipeAttribute = "recipe"

// SetupAttributes are the attributes a station is set up for after this
// operation: its own, and its cure recipe. The map is not nil and belongs to
// the caller.
func (op *Operation) SetupAttributes() map[string]string {
	out := make(map[string]string, len(op.Attributes)+1)
	maps.Copy(out, op.Attributes)
	if op.Recipe != "" && out[RecipeAttribute] == "" {
		out[RecipeAttribute] = op.Recipe
	}
	return out
}
