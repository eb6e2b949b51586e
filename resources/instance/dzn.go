// SPDX-License-Identifier: Apache-2.0

package instance

import (
	"fmt"
	"strconv"
)

// dzn is the value of one assignment in a MiniZinc data file: a number, a list
// of numbers, a list of sets, or rows of numbers.
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

// dznScanner reads assignments "name = value;" of a data file, % comments
// aside.
type dznScanner struct {
	text   []byte
	at     int
	line   int
	ranged int64 // numbers that ranges such as 1..3 stood for
}

// maxRanged keeps a short file from standing for more numbers than fit.
const maxRanged = 1_000_000

// dznError is a fault that ends the reading of a file.
type dznError struct {
	line                 int
	field, found, wanted string
}

// blank skips white space and comments.
func (s *dznScanner) blank() {
	for ; s.at < len(s.text); s.at++ {
		switch c := s.text[s.at]; c {
		case '\n':
			s.line++
		case ' ', '\t', '\r':
		case '%':
			for s.at+1 < len(s.text) && s.text[s.at+1] != '\n' {
				s.at++
			}
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
	end := s.at
	for end < len(s.text) && end < s.at+20 && s.text[end] != '\n' {
		end++
	}
	found := string(s.text[s.at:end])
	if s.at >= len(s.text) {
		found = "end of file"
	}
	return &dznError{line: s.line, field: field, found: found, wanted: wanted}
}

// name reads an identifier, empty if none comes next.
func (s *dznScanner) name() string {
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
	if s.at < len(s.text) && s.text[s.at] == '-' {
		s.at++
	}
	for s.at < len(s.text) && s.text[s.at] >= '0' && s.text[s.at] <= '9' {
		s.at++
	}
	n, err := strconv.ParseInt(string(s.text[from:s.at]), 10, 64)
	if err != nil {
		s.at = from
		return 0, s.fail(field, "a whole number")
	}
	return n, nil
}

// assignments reads the whole file.
func (s *dznScanner) assignments() (map[string]*dzn, *dznError) {
	s.line = 1
	all := map[string]*dzn{}
	for {
		s.blank()
		if s.at == len(s.text) {
			return all, nil
		}
		line := s.line
		name := s.name()
		if name == "" || !s.take('=') {
			return nil, s.fail(name, "an assignment \"name = value;\"")
		}
		if all[name] != nil {
			return nil, &dznError{line: line, field: name, found: "a second value", wanted: "one value for each name"}
		}
		v, err := s.value(name)
		if err != nil {
			return nil, err
		}
		if !s.take(';') {
			return nil, s.fail(name, "\";\" after the value")
		}
		v.line = line
		all[name] = v
	}
}

func (s *dznScanner) value(name string) (*dzn, *dznError) {
	if !s.take('[') {
		n, err := s.int(name)
		return &dzn{number: &n}, err
	}
	if s.take('|') {
		return s.table(name)
	}
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
