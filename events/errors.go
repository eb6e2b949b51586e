// SPDX-License-Identifier: Apache-2.0

package events

import (
	"errors"
	"strings"
)

// What can be wrong with an event. Every error of Decode, Encode and Validate
// is one or more Faults that wrap one of these.
var (
	ErrSize          = errors.New("too large")
	ErrText          = errors.New("not UTF-8")
	ErrSyntax        = errors.New("not one JSON object")
	ErrRepeated      = errors.New("member repeated")
	ErrMissing       = errors.New("missing")
	ErrSpecVersion   = errors.New("unknown CloudEvents version")
	ErrKind          = errors.New("unknown kind of event")
	ErrUnknownField  = errors.New("unknown field")
	ErrValue         = errors.New("not a value this field takes")
	ErrTime          = errors.New("instant out of range")
	ErrContradiction = errors.New("two parts of the event disagree")
)

// Fault is one thing wrong with one field of an event, worded for the person
// who wrote the program that sent it.
type Fault struct {
	Err     error  // one of the errors above
	Field   string // e.g. "source", "data.pieces[2].piece"; empty: the whole event
	Found   string // what was there, shortened
	Allowed string // what may be there
	Hint    string // what to do; may be empty
}

// Error says field, fault, found, allowed and hint, as far as known.
func (f *Fault) Error() string {
	var b strings.Builder
	if f.Field != "" {
		b.WriteString(f.Field + ": ")
	}
	b.WriteString(f.Err.Error())
	if f.Found != "" {
		b.WriteString("; found " + f.Found)
	}
	if f.Allowed != "" {
		b.WriteString("; allowed: " + f.Allowed)
	}
	if f.Hint != "" {
		b.WriteString("; hint: " + f.Hint)
	}
	return b.String()
}

// Unwrap gives the sentinel, for errors.Is.
func (f *Fault) Unwrap() error { return f.Err }

// Faults lists the faults inside an error of this package, in the order they
// were found; nil for any other error.
func Faults(err error) []*Fault {
	var one *Fault
	if many, ok := err.(interface{ Unwrap() []error }); ok {
		var all []*Fault
		for _, e := range many.Unwrap() {
			all = append(all, Faults(e)...)
		}
		return all
	}
	if errors.As(err, &one) {
		return []*Fault{one}
	}
	return nil
}

// faults collects what is wrong, so that a sender sees all of it at once.
type faults []error

func (fs *faults) add(err error, field, found, allowed, hint string) {
	*fs = append(*fs, &Fault{Err: err, Field: field, Found: shorten(found), Allowed: allowed, Hint: hint})
}

func (fs faults) err() error { return errors.Join(fs...) }

// shorten keeps an error readable when the value is a whole file.
func shorten(s string) string {
	const most = 60
	s = strings.ToValidUTF8(s, "\uFFFD")
	if len(s) <= most {
		return s
	}
	cut := most
	for cut > 0 && s[cut]&0xC0 == 0x80 {
		cut--
	}
	return s[:cut] + "…"
}
