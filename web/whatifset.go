// SPDX-License-Identifier: Apache-2.0

package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"towpath/resources"
	"towpath/scheduler/whatif"
)

// WhatIfBody is a set of changes to try.
type WhatIfBody struct {
	Name    string            `json:"name,omitempty" doc:"what it is called, at most 80 characters on one line; left out: the name in text"`
	Note    string            `json:"note,omitempty" doc:"what it is for"`
	Changes []json.RawMessage `json:"changes,omitempty" doc:"one change each, as in a file of changes, e.g. {\"tool\": {\"id\": \"M-36\", \"count\": 8}}"`
	Text    string            `json:"text,omitempty" doc:"YAML: more changes, each with a dash; or without changes beside it, a whole file of changes"`
}

// RowFault is what is wrong with one change of a set.
type RowFault struct {
	Row     int    `json:"row" doc:"number of the change, from 1; 0: not one of changes"`
	Line    int    `json:"line" doc:"of the text, from 1; 0: not in the text"`
	Field   string `json:"field" doc:"which field of it; empty: all of it"`
	Message string `json:"message" doc:"what is wrong, what was found and what is allowed"`
}

// Where says where a fault is, for people.
func (f RowFault) Where() string {
	place := f.Field
	switch {
	case f.Row > 0:
		place = strings.TrimSuffix(fmt.Sprintf("change %d, %s", f.Row, f.Field), ", ")
	case f.Line > 0:
		place = strings.TrimSuffix(fmt.Sprintf("text, line %d, %s", f.Line, f.Field), ", ")
	}
	return place
}

// setFile is a file of changes made of a body, so that what is asked on the page
// is read by the same reader, with the same errors, as any file.
type setFile struct {
	text  []byte
	rows  int // changes given one by one; each has a line of its own
	first int // line of the first of them; 0: the text is a whole file
	body  int // lines before the text
}

func newSetFile(b *WhatIfBody) (*setFile, error) {
	if !isList(b.Text) && strings.TrimSpace(b.Text) != "" {
		if len(b.Changes) > 0 {
			return nil, badSet(RowFault{Field: "text", Message: "is a whole set of changes, and there are changes beside it; give one of both, or begin each change in the text with a dash"})
		}
		return &setFile{text: []byte(b.Text)}, nil
	}
	var out bytes.Buffer
	f := &setFile{rows: len(b.Changes), first: 2}
	for _, key := range []struct{ name, value string }{{"name", b.Name}, {"note", b.Note}} {
		if key.value == "" {
			continue
		}
		f.first++
		quoted, err := json.Marshal(key.value) // JSON is YAML, and on one line
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&out, "%s: %s\n", key.name, quoted)
	}
	if len(b.Changes) == 0 && strings.TrimSpace(b.Text) == "" {
		return nil, badSet(RowFault{Field: "changes", Message: "there is none; give at least one change"})
	}
	out.WriteString("changes:\n")
	f.body = f.first + f.rows - 1
	for _, row := range b.Changes {
		out.WriteString("- ")
		if err := json.Compact(&out, row); err != nil {
			return nil, err
		}
		out.WriteByte('\n')
	}
	out.WriteString(b.Text)
	f.text = out.Bytes()
	return f, nil
}

// isList tells whether a text is a list of changes.
func isList(text string) bool {
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, " \r\n\t")
		if line == "" || strings.HasPrefix(strings.TrimSpace(line), "#") {
			continue
		}
		return strings.HasPrefix(line, "-") && line != "---"
	}
	return false
}

// place says which row or line of the text a line of the file is, and the field
// in it.
func (f *setFile) place(line int, field string) RowFault {
	if _, rest, ok := strings.Cut(field, "]"); ok && strings.HasPrefix(field, "changes[") {
		field = strings.TrimPrefix(rest, ".")
	}
	switch {
	case f.first == 0:
		return RowFault{Line: line, Field: field}
	case line >= f.first && line < f.first+f.rows:
		return RowFault{Row: line - f.first + 1, Field: field}
	case line > f.body:
		return RowFault{Line: line - f.body, Field: field}
	}
	return RowFault{Field: field}
}

// read reads the set for the shop of a picture.
func (f *setFile) read(p *Picture) (*resources.ChangeSet, error) {
	set, found := resources.ReadChanges("", f.text, p.State.Plant, whatif.Lines(p.State), p.Now)
	var faults []RowFault
	for _, x := range found {
		if x.Severity != resources.Error {
			continue
		}
		at := f.place(x.Line, x.Field)
		x.Line, x.Field = 0, ""
		at.Message = strings.TrimPrefix(x.String(), "error: ")
		faults = append(faults, at)
	}
	if len(faults) > 0 || set == nil {
		return nil, badSet(faults...)
	}
	return set, nil
}

// question reads a body and makes its changes on a copy of the shop.
func question(b *WhatIfBody, p *Picture) (*whatif.Question, error) {
	name := strings.TrimSpace(b.Name)
	if b.Name != "" && !resources.IsSetName(name) {
		return nil, badSet(RowFault{Field: "name", Message: fmt.Sprintf("cannot be a name; found %q; allowed: %s", b.Name, resources.AllowedSetName)})
	}
	f, err := newSetFile(b)
	if err != nil {
		return nil, err
	}
	set, err := f.read(p)
	if err != nil {
		return nil, err
	}
	if name != "" {
		set.Name = name
	}
	if b.Note != "" {
		set.Note = b.Note
	}
	q, err := whatif.Ask(p.State, p.Now, set)
	if err == nil {
		return q, nil
	}
	var faults []RowFault
	for _, one := range apart(err) {
		var x *whatif.Fault
		if !errors.As(one, &x) {
			return nil, fault(http.StatusConflict, "refused", "It cannot be planned: "+one.Error()+".", "Change the set, and try it again.")
		}
		at := f.place(x.Line, "")
		at.Message = x.Change + ": " + x.Err.Error()
		faults = append(faults, at)
	}
	return nil, badSet(faults...)
}

// apart are the errors that were joined.
func apart(err error) []error {
	if list, ok := err.(interface{ Unwrap() []error }); ok {
		return list.Unwrap()
	}
	return []error{err}
}

// sentence closes a text that may end with a question or leave something out.
func sentence(text string) string {
	if strings.HasSuffix(text, "?") || strings.HasSuffix(text, "…") || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// badSet says everything that is wrong with a set.
func badSet(faults ...RowFault) *Fault {
	var parts []string
	for _, f := range faults {
		parts = append(parts, strings.TrimPrefix(f.Where()+": "+f.Message, ": "))
	}
	out := fault(http.StatusBadRequest, "bad_request", "The changes cannot be tried: "+sentence(strings.Join(parts, "; ")), "Nothing was changed. Put right what is named, and try again.")
	out.Rows = faults
	return out
}
