// SPDX-License-Identifier: Apache-2.0

package resources

import "strings"

// suggest finds the name nearest to a misspelt one, for "did you mean": at
// most one slip per three letters, and never all of them, case aside; the first
// of equally near ones. Empty when nothing is near.
func suggest(misspelt string, names []string) string {
	const longest = 64 // longer text is no slip of a name
	if misspelt == "" || len(misspelt) > longest {
		return ""
	}
	lower := strings.ToLower(misspelt)
	best, bestSlips := "", min(max(1, len(misspelt)/3)+1, len(misspelt))
	for _, name := range names {
		if len(name) > longest {
			continue
		}
		if n := slips(lower, strings.ToLower(name)); n < bestSlips {
			best, bestSlips = name, n
		}
	}
	return best
}

// slips counts the insertions, deletions, substitutions and swaps of
// neighbours that turn a into b (optimal string alignment; F. J. Damerau 1964,
// Communications of the ACM 7(3):171-176).
func slips(a, b string) int {
	before := make([]int, len(b)+1)
	last := make([]int, len(b)+1)
	row := make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// hint turns a suggestion into words.
func hint(misspelt string, names []string) string {
	if s := suggest(misspelt, names); s != "" {
		return "did you mean " + s + "?"
	}
	return ""
}

// list names what is allowed, shortened when there is much of it.
func list(names []string) string {
	const most = 12
	if len(names) == 0 {
		return "none are defined"
	}
	if len(names) > most {
		return strings.Join(names[:most], ", ") + ", …"
	}
	return strings.Join(names, ", ")
}
