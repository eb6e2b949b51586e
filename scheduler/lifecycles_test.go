// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"flag"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"towpath/scheduler"
)

var rewrite = flag.Bool("rewrite", false, "write golden files anew")

const (
	tablesBegin = "<!-- tables -->\n"
	tablesEnd   = "<!-- end of tables -->\n"
)

// TestLifecyclesAreDocumented keeps LIFECYCLES.md equal to the tables in the
// code.
func TestLifecyclesAreDocumented(t *testing.T) {
	documented(t, "LIFECYCLES.md", drawn())
}

// TestLifecyclesAreWhole: every state can be reached, and no state leaves the
// answer to an event open that another state has.
func TestLifecyclesAreWhole(t *testing.T) {
	for _, life := range scheduler.Lifecycles() {
		states, on := statesOf(life), map[string]bool{}
		answered := map[[2]string]bool{}
		reached := map[string]bool{life.First: true}
		for _, m := range life.Moves {
			require.True(t, (m.To == "") != (m.Refuse == ""), "%s: %+v leads somewhere or is refused", life.Thing, m)
			if m.To != "" && !strings.Contains(m.On, " ") {
				on[m.On] = true
			}
			if m.To != "" {
				reached[m.To] = true
			}
			if m.If == "" {
				answered[[2]string{m.From, m.On}] = true
			}
		}
		for _, state := range states {
			require.True(t, reached[state], "%s: nothing leads to %q", life.Thing, state)
			for event := range on {
				if life.Thing == "operation" && strings.HasPrefix(event, "load.") || life.Thing == "tool unit, who has it" {
					continue // members of a load are asked through it; who has a tool is never reported
				}
				require.True(t, answered[[2]string{state, event}], "%s: no row for %s in state %q", life.Thing, event, state)
			}
		}
	}
}

func statesOf(life *scheduler.Lifecycle) []string {
	states := []string{life.First}
	for _, m := range life.Moves {
		for _, s := range []string{m.From, m.To} {
			if s != "" && !slices.Contains(states, s) {
				states = append(states, s)
			}
		}
	}
	return states
}

// drawn is the generated part of the document.
func drawn() string {
	var b strings.Builder
	for _, life := range scheduler.Lifecycles() {
		fmt.Fprintf(&b, "\n## %s%s\n\n%s\n\n```mermaid\nstateDiagram-v2\n", strings.ToUpper(life.Thing[:1]), life.Thing[1:], life.About)
		states := statesOf(life)
		name := func(state string) string { return strings.ReplaceAll(state, " ", "_") }
		for _, s := range states {
			if name(s) != s {
				fmt.Fprintf(&b, "    state %q as %s\n", s, name(s))
			}
		}
		fmt.Fprintf(&b, "    [*] --> %s\n", name(life.First))
		var edges []string
		labels := map[string][]string{}
		for _, m := range life.Moves {
			if m.To == "" {
				continue
			}
			edge := name(m.From) + " --> " + name(m.To)
			if _, ok := labels[edge]; !ok {
				edges = append(edges, edge)
			}
			if !slices.Contains(labels[edge], m.On) {
				labels[edge] = append(labels[edge], m.On)
			}
		}
		for _, edge := range edges {
			fmt.Fprintf(&b, "    %s: %s\n", edge, strings.Join(labels[edge], " / "))
		}
		b.WriteString("```\n\n| in state | what happens | if | then | and |\n|---|---|---|---|---|\n")
		for _, m := range life.Moves {
			then := m.To
			if m.Refuse != "" {
				then = "**refused**: " + string(m.Refuse)
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", m.From, m.On, m.If, then, m.Does)
		}
	}
	b.WriteString("\n")
	return b.String()
}
