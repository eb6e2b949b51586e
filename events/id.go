// SPDX-License-Identifier: Apache-2.0

package events

import (
	"strings"
	"unicode"
)

// MaxID is the longest event ID, in bytes.
const MaxID = 128

// MaxName is the longest name of a piece, order, station, …, in bytes.
const MaxName = 200

// MaxNote is the longest free text, in bytes.
const MaxNote = 4096

// ValidID reports whether s can be an event's ID: 1 to MaxID visible ASCII
// characters without space, so that it travels unchanged in a message header.
// It must differ from every other ID in the plant, ever: that is how a repeat
// is told from a second event. UUIDs do.
func ValidID(s string) bool {
	if s == "" || len(s) > MaxID {
		return false
	}
	for i := 0; i < len(s); i++ {
		if s[i] <= ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}

// ValidName reports whether s can name a thing: 1 to MaxName bytes of UTF-8
// without control characters, the replacement character or noncharacters
// (CloudEvents 1.0.2, section "Type System", String), and no space at an end.
func ValidName(s string) bool {
	return s != "" && len(s) <= MaxName && strings.TrimSpace(s) == s && printable(s, "")
}

// validNote reports whether s is free text of at most MaxNote bytes; it may
// have line breaks and tabs.
func validNote(s string) bool { return len(s) <= MaxNote && printable(s, "\n\r\t") }

func printable(s, also string) bool {
	for _, r := range s {
		switch {
		case strings.ContainsRune(also, r):
		case unicode.IsControl(r), r == unicode.ReplacementChar:
			return false // also what ranging over broken UTF-8 yields
		case r >= 0xFDD0 && r <= 0xFDEF, r&0xFFFE == 0xFFFE:
			return false
		}
	}
	return true
}
