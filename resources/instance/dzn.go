// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"bytes"
	"fmt"
	"strconv"
	"unicode/utf8"
)

// dzn is the value of one assignment in a MiniZinc data file: a number, a list
// of numbers, a list of sets, or rows of numbers. An empty list is of numbers
// and of sets.
type dzn struct {
	line    int
	number  *int64
	list    []int64
	isList  bool
	sets    [][]int64
	isSets  bool
	rows    [][]int64
	isRows  bool
	started []int // line of each entry, set or row
}

// dznScanner reads assignments "name = value;" of a data file: white space,
// % comments and /* comments */ aside, in any order. After a fault it goes on
// behind the next semicolon, so that all faults of a file are found at once.
type dznScanner struct {
	text   []byte
	at     int
	line   int
	ranged int64 // numbers that ranges such as 1..3 stood for
}

// maxRanged keeps a short file from standing for more numbers than fit.
const maxRanged = 1_000_000

// dznError is a fault in the form of a file.
type dznError struct {
	line                       int
	field, found, wanted, text string
}

// isText says whether what has been read can be a text file at all.
func isText(text []byte) bool { return utf8.Valid(text) && bytes.IndexByte(text, 0) < 0 }

// blank skips white space and comments.
func (s *dznScanner) blank() {
	for ; s.at < len(s.text); s.at++ {
		switch c := s.text[s.at]; c {
		case '\n':
			s.line++
		case ' ', '\t', '\r', '\f', '\v':
		case '%':
			for s.at+1 < len(s.text) && s.text[s.at+1] != '\n' {
				s.at++
			}
		case '/':
			if s.at+1 >= len(s.text) || s.text[s.at+1] != '*' {
				return
			}
			end := bytes.Index(s.text[s.at+2:], []byte("*/"))
			if end < 0 {
				end = len(s.text) - s.at - 3
			}
			s.line += bytes.Count(s.text[s.at:s.at+2+end], []byte{'\n'})
			s.at += end + 3
		default:
			return
		}
	}
}

// take consumes c, after white space, if it comes next.
func (s *dznScanner) take(c byte) bool {
	s.blank()
	if s.at < len(s.text) && s.text[s.at] == c {
		s.at++
		return true
	}
	return false
}

// fail is a fault at the scanner's place.
func (s *dznScanner) fail(field, wanted string) *dznError {
	s.blank()
	if s.at >= len(s.text) {
		return &dznError{line: s.line, field: field, wanted: wanted, text: "the file is cut short"}
	}
	end := s.at
	for n := 0; end < len(s.text) && n < 20 && s.text[end] != '\n'; n++ {
		_, size := utf8.DecodeRune(s.text[end:])
		end += size
	}
	return &dznError{line: s.line, field: field, found: string(bytes.TrimSpace(s.text[s.at:end])), wanted: wanted, text: "cannot be read"}
}

// word reads an identifier, empty if none comes next.
func (s *dznScanner) word() string {
	s.blank()
	from := s.at
	for s.at < len(s.text) {
		c := s.text[s.at]
		letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_'
		if !letter && (s.at == from || c < '0' || c > '9') {
			break
		}
		s.at++
	}
	return string(s.text[from:s.at])
}

// int reads a whole number.
func (s *dznScanner) int(field string) (int64, *dznError) {
	s.blank()
	from := s.at
	if s.at < len(s.text) && (s.text[s.at] == '-' || s.text[s.at] == '+') {
		s.at++
	}
	for s.at < len(s.text) && s.text[s.at] >= '0' && s.text[s.at] <= '9' {
		s.at++
	}
	n, err := strconv.ParseInt(string(s.text[from:s.at]), 10, 64)
	// 1.5 and 1e3 are no whole numbers, 1..3 is a range.
	if err == nil && s.at < len(s.text) {
		c := s.text[s.at]
		point := c == '.' && (s.at+1 == len(s.text) || s.text[s.at+1] != '.')
		if point || c == 'e' || c == 'E' {
			err = strconv.ErrSyntax
		}
	}
	if err != nil {
		s.at = from
		return 0, s.fail(field, "a whole number")
	}
	return n, nil
}

// assignments reads the whole file. A name whose value could not be read is
// there without one.
func (s *dznScanner) assignments() (map[string]*dzn, []dznError) {
	s.line = 1
	s.text = bytes.TrimPrefix(s.text, []byte("\xef\xbb\xbf"))
	all := map[string]*dzn{}
	var errs []dznError
	for {
		s.blank()
		if s.at >= len(s.text) {
			return all, errs
		}
		line := s.line
		name, v, err := s.assignment()
		if err == nil && all[name] != nil {
			err = &dznError{line: line, field: name, found: "a second value", wanted: "one value for each name", text: "cannot be read"}
			v = all[name]
		}
		if v == nil {
			v = &dzn{}
		}
		if v.line == 0 {
			v.line = line
		}
		if name != "" {
			all[name] = v
		}
		if err != nil {
			errs = append(errs, *err)
			s.skip(all)
		}
	}
}

// assignment reads one of them, to its semicolon if it is all right.
func (s *dznScanner) assignment() (string, *dzn, *dznError) {
	name := s.word()
	if name == "" || !s.take('=') {
		return name, nil, s.fail(name, "an assignment \"name = value;\"")
	}
	v, err := s.value(name)
	if err != nil {
		return name, nil, err
	}
	if !s.take(';') {
		// The value may be cut short, so it does not count.
		return name, nil, s.fail(name, "\";\" after the value")
	}
	return name, v, nil
}

// skip goes on after a fault: behind the next semicolon, or where another
// assignment begins on a line of its own.
func (s *dznScanner) skip(known map[string]*dzn) {
	for s.at < len(s.text) {
		switch s.text[s.at] {
		case ';':
			s.at++
			return
		case '\n':
			s.line++
			s.at++
			at, line := s.at, s.line
			name := s.word()
			begins := name != "" && known[name] == nil && s.take('=')
			s.at, s.line = at, line
			if begins {
				return
			}
		default:
			s.at++
		}
	}
}

func (s *dznScanner) value(name string) (*dzn, *dznError) {
	s.blank()
	at, line := s.at, s.line
	switch form := s.word(); form {
	case "array1d", "array2d":
		return s.shaped(name, form == "array2d")
	}
	s.at, s.line = at, line
	if !s.take('[') {
		n, err := s.int(name)
		return &dzn{number: &n}, err
	}
	if s.take('|') {
		return s.table(name)
	}
	return s.entries(name)
}

// shaped reads the rest of array1d(1..n, […]) and of array2d(1..n, 1..k, […]).
func (s *dznScanner) shaped(name string, rows bool) (*dzn, *dznError) {
	if !s.take('(') {
		return nil, s.fail(name, "\"(\"")
	}
	width := int64(0)
	for dims := 1; ; dims++ {
		from, err := s.int(name)
		if err != nil {
			return nil, err
		}
		if first := s.take('.'); !first || !s.take('.') {
			return nil, s.fail(name, "an index range such as 1..3")
		}
		to, err := s.int(name)
		if err != nil {
			return nil, err
		}
		if from != 1 || to > limit {
			return nil, &dznError{line: s.line, field: name, found: fmt.Sprintf("%d..%d", from, to), wanted: "an index range from 1", text: "cannot be read"}
		}
		width = max(0, to)
		if !s.take(',') {
			return nil, s.fail(name, "\",\"")
		}
		if !rows || dims == 2 {
			break
		}
	}
	if !s.take('[') {
		return nil, s.fail(name, "\"[\"")
	}
	v, err := s.entries(name)
	if err != nil {
		return nil, err
	}
	if !s.take(')') {
		return nil, s.fail(name, "\")\"")
	}
	if !rows {
		return v, nil
	}
	n := int64(len(v.list))
	if !v.isList || width == 0 && n > 0 || width > 0 && n%width != 0 {
		return nil, &dznError{line: s.line, field: name, found: fmt.Sprintf("%d numbers", n), wanted: fmt.Sprintf("rows of %d", width), text: "cannot be read"}
	}
	t := &dzn{isRows: true}
	for at := int64(0); at < n; at += width {
		t.rows = append(t.rows, v.list[at:at+width])
		t.started = append(t.started, v.started[at])
	}
	return t, nil
}

// entries reads the rest of [1, 2], or of [{1}, 2..3].
func (s *dznScanner) entries(name string) (*dzn, *dznError) {
	v := &dzn{}
	if s.take(']') {
		v.isList, v.isSets = true, true
		return v, nil
	}
	for {
		s.blank()
		v.started = append(v.started, s.line)
		if err := s.entry(fmt.Sprintf("%s[%d]", name, len(v.started)), v); err != nil {
			return nil, err
		}
		if s.take(']') {
			return v, nil
		}
		if !s.take(',') {
			return nil, s.fail(name, "\",\" or \"]\"")
		}
		if s.take(']') {
			return v, nil
		}
	}
}

// entry reads one number or one set of a list; a list has only one of both.
func (s *dznScanner) entry(field string, v *dzn) *dznError {
	if s.take('{') {
		if v.isList {
			return s.fail(field, "a whole number like the entries before")
		}
		v.isSets = true
		set, err := s.set(field)
		v.sets = append(v.sets, set)
		return err
	}
	n, err := s.int(field)
	if err != nil {
		return err
	}
	if s.take('.') {
		if v.isList || !s.take('.') {
			return s.fail(field, "a whole number, or a set such as 1..3")
		}
		v.isSets = true
		to, err := s.int(field)
		if err != nil {
			return err
		}
		if n < -limit || to > limit || to < n || s.ranged+to-n >= maxRanged {
			return s.fail(field, "a range from a smaller to a larger number, a million numbers in all ranges at most")
		}
		s.ranged += to - n + 1
		var set []int64
		for ; n <= to; n++ {
			set = append(set, n)
		}
		v.sets = append(v.sets, set)
		return nil
	}
	if v.isSets {
		return s.fail(field, "a set like the entries before")
	}
	v.isList = true
	v.list = append(v.list, n)
	return nil
}

// set reads the rest of {1, 2}.
func (s *dznScanner) set(field string) ([]int64, *dznError) {
	var set []int64
	for !s.take('}') {
		if len(set) > 0 && !s.take(',') {
			return nil, s.fail(field, "\",\" or \"}\"")
		}
		n, err := s.int(field)
		if err != nil {
			return nil, err
		}
		set = append(set, n)
	}
	return set, nil
}

// table reads the rest of [|1, 2|3, 4|].
func (s *dznScanner) table(name string) (*dzn, *dznError) {
	v := &dzn{isRows: true}
	for !s.take(']') {
		s.blank()
		v.started = append(v.started, s.line)
		var row []int64
		for !s.take('|') {
			if len(row) > 0 && !s.take(',') {
				return nil, s.fail(name, "\",\" or \"|\"")
			}
			if len(row) > 0 && s.take('|') {
				break
			}
			n, err := s.int(fmt.Sprintf("%s, row %d", name, len(v.rows)+1))
			if err != nil {
				return nil, err
			}
			row = append(row, n)
		}
		v.rows = append(v.rows, row)
	}
	return v, nil
}
