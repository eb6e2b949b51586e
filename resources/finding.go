// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Severity says whether a finding stops a file from being used.
type Severity uint8

// An Error means the file cannot be used; a Warning is legal but suspicious.
const (
	Error Severity = iota
	Warning
)

// String is "error" or "warning".
func (s Severity) String() string {
	if s == Warning {
		return "warning"
	}
	return "error"
}

// Finding is one thing wrong or suspicious in an input file, with everything
// a person needs to put it right. Empty parts are left out of the text.
type Finding struct {
	Severity Severity
	File     string
	Line     int    // from 1; 0: the file as a whole
	Field    string // path, e.g. "stations[W1].calendar", or a column's name
	Found    string // what the file says, shortened
	Allowed  string // what it may say
	Hint     string // what to do, e.g. "did you mean early?"
	Text     string // what is wrong, a sentence without full stop
}

// String is the finding on one line: place, severity, field, what is wrong,
// then what was found, what is allowed and what to do.
func (f Finding) String() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File)
		b.WriteByte(':')
	}
	if f.Line > 0 {
		fmt.Fprintf(&b, "%d:", f.Line)
	}
	if b.Len() > 0 {
		b.WriteByte(' ')
	}
	b.WriteString(f.Severity.String())
	b.WriteString(": ")
	if f.Field != "" {
		b.WriteString(f.Field)
		b.WriteString(": ")
	}
	b.WriteString(f.Text)
	if f.Found != "" {
		fmt.Fprintf(&b, "; found %q", f.Found)
	}
	if f.Allowed != "" {
		b.WriteString("; allowed: ")
		b.WriteString(f.Allowed)
	}
	if f.Hint != "" {
		b.WriteString("; ")
		b.WriteString(f.Hint)
	}
	return b.String()
}

// HasErrors tells whether any finding stops the file from being used.
func HasErrors(findings []Finding) bool {
	return slices.ContainsFunc(findings, func(f Finding) bool { return f.Severity == Error })
}

// SortFindings orders findings as a person reads the file: by line, errors
// before warnings on the same line, else as found.
func SortFindings(findings []Finding) {
	slices.SortStableFunc(findings, func(a, b Finding) int {
		if c := cmp.Compare(a.Line, b.Line); c != 0 {
			return c
		}
		return cmp.Compare(a.Severity, b.Severity)
	})
}
