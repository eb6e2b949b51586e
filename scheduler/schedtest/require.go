// SPDX-License-Identifier: Apache-2.0

package schedtest

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/resources"
	"towpath/scheduler"
)

// shown is how many violations a failing test prints.
const shown = 15

// RequireOK fails the test, with the first violations, unless the verifier
// accepts the plan.
func RequireOK(t testing.TB, s *scheduler.State, now resources.Tick, p *scheduler.Plan) {
	t.Helper()
	found := scheduler.Check(s, now, p)
	if len(found) == 0 {
		return
	}
	require.Failf(t, "the plan is not feasible", "%d violations\n%s", len(found), Text(found))
}

// RequireKind fails the test unless the verifier finds a violation of this
// kind.
func RequireKind(t testing.TB, s *scheduler.State, now resources.Tick, p *scheduler.Plan, kind scheduler.ViolationKind) {
	t.Helper()
	found := scheduler.Check(s, now, p)
	if !slices.Contains(Kinds(found), kind) {
		require.Failf(t, "not caught", "want a violation of kind %q; found %d others\n%s", kind, len(found), Text(found))
	}
}

// Kinds lists the kinds found, each once, sorted.
func Kinds(found []scheduler.Violation) []scheduler.ViolationKind {
	var kinds []scheduler.ViolationKind
	for _, x := range found {
		kinds = append(kinds, x.Kind)
	}
	slices.Sort(kinds)
	return slices.Compact(kinds)
}

// Text is the first violations, a line each.
func Text(found []scheduler.Violation) string {
	var lines []string
	for _, x := range found[:min(len(found), shown)] {
		lines = append(lines, x.String())
	}
	return strings.Join(lines, "\n")
}
