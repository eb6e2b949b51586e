// SPDX-License-Identifier: Apache-2.0

package scheduler

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// PlanFormat is the version of the plan file this package writes and reads.
// PLANFILE.md describes it.
const PlanFormat = 1

// ErrPlanFile says that a plan file cannot be read; the wrapped text lists
// what is wrong with it, a line each.
var ErrPlanFile = errors.New("not a plan file")

// planProblems is how many problems of one file are told at once.
const planProblems = 20

// Fields of the objects in a plan file, for messages.
const (
	fieldsPlan   = "format, version, made, base, seed, iterations, optimal, churn, work, loads, mixes, breaches, gaps"
	fieldsWork   = "order, line, piece, operation, station, place, setup, start, run, run_end, unload, end, load, mix, tools, people (part, skill, crew, share), status"
	fieldsLoad   = "id, station, recipe, members (piece, operation), setup, start, run, run_end, unload, end, status"
	fieldsMix    = "id, resin, station, place, start, end, expiry, grams, crew, users (piece, operation), status"
	fieldsBreach = "from (piece, operation), to (piece, operation), by"
	fieldsChurn  = "against, compared, moved, station, near, frozen, slipped, next (station, was, is)"
	fieldsGap    = "part, unit, level, weight, value, bound, by"
)

var statusNames = [...]string{Planned: "planned", Started: "started", Paused: "paused", Done: "done"}

// String is the status as files write it.
func (x Status) String() string {
	if int(x) < len(statusNames) {
		return statusNames[x]
	}
	return fmt.Sprintf("status %d", uint8(x))
}

// MarshalText writes the status's name.
func (x Status) MarshalText() ([]byte, error) {
	if int(x) >= len(statusNames) {
		return nil, fmt.Errorf("there is no status %d of work", uint8(x))
	}
	return []byte(statusNames[x]), nil
}

// UnmarshalText reads what MarshalText writes.
func (x *Status) UnmarshalText(text []byte) error {
	i := slices.Index(statusNames[:], string(text))
	if i < 0 {
		return fmt.Errorf("status %q: want planned, started, paused or done", text)
	}
	*x = Status(i)
	return nil
}

// EncodePlan writes a plan as JSON, one piece of work, load, mix or breach a
// line, in the order PLANFILE.md gives. Equal plans give equal bytes; the plan
// is not changed.
func EncodePlan(p *Plan) ([]byte, error) {
	var b bytes.Buffer
	type field struct {
		name  string
		value any
	}
	head := []field{
		{"format", PlanFormat}, {"version", p.Version}, {"made", p.Made}, {"base", p.Base},
		{"seed", p.Seed}, {"iterations", p.Iterations}, {"optimal", p.Optimal},
	}
	if p.Churn != nil {
		head = append(head, field{"churn", p.Churn})
	}
	b.WriteString("{")
	for _, f := range head {
		text, err := json.Marshal(f.value)
		if err != nil {
			return nil, fmt.Errorf("plan, %s: %w", f.name, err)
		}
		fmt.Fprintf(&b, "\n\"%s\": %s,", f.name, text)
	}
	err := errors.Join(
		encodeList(&b, "work", p.Work, compareWork, ","),
		encodeList(&b, "loads", p.Loads, func(x, y Load) int { return cmp.Or(cmp.Compare(x.Start, y.Start), cmp.Compare(x.ID, y.ID)) }, ","),
		encodeList(&b, "mixes", p.Mixes, func(x, y Mix) int { return cmp.Or(cmp.Compare(x.Start, y.Start), cmp.Compare(x.ID, y.ID)) }, ","),
		encodeList(&b, "breaches", p.Breaches, compareBreaches, ","),
		encodeList(&b, "gaps", p.Gaps, func(x, y Gap) int { return 0 }, ""), // as the search lists them
	)
	if err != nil {
		return nil, err
	}
	b.WriteString("\n}\n")
	return b.Bytes(), nil
}

func compareWork(x, y Work) int {
	return cmp.Or(cmp.Compare(x.Start, y.Start), cmp.Compare(x.Piece, y.Piece), cmp.Compare(x.Operation, y.Operation))
}

func compareBreaches(x, y Breach) int {
	return cmp.Or(compareMembers(x.To, y.To), compareMembers(x.From, y.From), cmp.Compare(x.By, y.By))
}

func encodeList[T any](b *bytes.Buffer, name string, list []T, order func(x, y T) int, after string) error {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, order)
	fmt.Fprintf(b, "\n\"%s\": [", name)
	for i := range sorted {
		text, err := json.Marshal(&sorted[i])
		if err != nil {
			return fmt.Errorf("plan, %s[%d]: %w", name, i, err)
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString("\n ")
		b.Write(text)
	}
	b.WriteString("]" + after)
	return nil
}

// DecodePlan reads a plan file. Fields it does not know, missing brackets, text
// after the end and values of the wrong type are errors that name the line and
// what is allowed, as many as twenty at once; they wrap ErrPlanFile. Whether the
// plan makes any sense is for Check to say.
func DecodePlan(text []byte) (*Plan, error) {
	r := &planReader{text: text, dec: json.NewDecoder(bytes.NewReader(text)), plan: &Plan{}, seen: map[string]bool{}}
	if !utf8.Valid(text) {
		r.problem(0, "the text is not UTF-8")
	} else {
		r.read()
	}
	if len(r.problems) > 0 {
		return nil, fmt.Errorf("%w: %s", ErrPlanFile, strings.Join(r.problems, "\n"))
	}
	return r.plan, nil
}

// planReader walks over the top level of a plan file, so that a problem can be
// told with its line.
type planReader struct {
	text     []byte
	dec      *json.Decoder
	plan     *Plan
	seen     map[string]bool
	problems []string
}

// problem notes what is wrong at a byte offset.
func (r *planReader) problem(offset int64, format string, args ...any) {
	if len(r.problems) == planProblems {
		r.problems = append(r.problems, "… and more")
	}
	if len(r.problems) > planProblems {
		return
	}
	offset = min(max(offset, 0), int64(len(r.text)))
	line := 1 + bytes.Count(r.text[:offset], []byte{'\n'})
	r.problems = append(r.problems, fmt.Sprintf("line %d: %s", line, fmt.Sprintf(format, args...)))
}

// read takes the file apart; after a problem with its brackets nothing more
// can be said.
func (r *planReader) read() {
	if !r.delim('{', "a plan file is one JSON object in braces") {
		return
	}
	for r.dec.More() {
		token, err := r.dec.Token()
		key, isText := token.(string)
		if err != nil || !isText {
			r.broken(err)
			return
		}
		if r.seen[key] {
			r.problem(r.dec.InputOffset(), "%q is there twice", key)
		}
		r.seen[key] = true
		if !r.field(key) {
			return
		}
	}
	if !r.delim('}', "the object must be closed") {
		return
	}
	if _, err := r.dec.Token(); err != io.EOF {
		r.problem(r.dec.InputOffset(), "there is text after the end of the plan")
	}
	for _, key := range []string{"work", "made"} {
		if !r.seen[key] {
			r.problem(int64(len(r.text)), "%q is missing", key)
		}
	}
}

// delim reads one bracket.
func (r *planReader) delim(want json.Delim, otherwise string) bool {
	token, err := r.dec.Token()
	if err != nil {
		r.broken(err)
		return false
	}
	if token != want {
		r.problem(r.dec.InputOffset(), "%s; found %s", otherwise, tokenText(token))
		return false
	}
	return true
}

// tokenText is a token as the file has it.
func tokenText(token json.Token) string {
	if token == nil {
		return "null"
	}
	return fmt.Sprint(token)
}

// broken tells about text that is not JSON.
func (r *planReader) broken(err error) {
	var syntax *json.SyntaxError
	switch {
	case errors.As(err, &syntax):
		r.problem(syntax.Offset, "%v", err)
	case err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF):
		r.problem(int64(len(r.text)), "the text ends in the middle of the plan")
	default:
		r.problem(r.dec.InputOffset(), "not JSON: %v", err)
	}
}

// field reads the value of one field; false when the text is broken.
func (r *planReader) field(key string) bool {
	p := r.plan
	switch key {
	case "format":
		var format int
		if !r.value(key, &format, fieldsPlan) {
			return false
		}
		if format != PlanFormat {
			r.problem(r.dec.InputOffset(), "format %d; this program reads format %d", format, PlanFormat)
		}
		return true
	case "version":
		return r.value(key, &p.Version, fieldsPlan)
	case "made":
		return r.value(key, &p.Made, fieldsPlan)
	case "base":
		return r.value(key, &p.Base, fieldsPlan)
	case "seed":
		return r.value(key, &p.Seed, fieldsPlan)
	case "iterations":
		return r.value(key, &p.Iterations, fieldsPlan)
	case "optimal":
		return r.value(key, &p.Optimal, fieldsPlan)
	case "churn":
		return r.value(key, &p.Churn, fieldsChurn)
	case "gaps":
		return readList(r, key, &p.Gaps, fieldsGap)
	case "work":
		return readList(r, key, &p.Work, fieldsWork)
	case "loads":
		return readList(r, key, &p.Loads, fieldsLoad)
	case "mixes":
		return readList(r, key, &p.Mixes, fieldsMix)
	case "breaches":
		return readList(r, key, &p.Breaches, fieldsBreach)
	}
	r.problem(r.dec.InputOffset(), "unknown field %q; allowed are %s", key, fieldsPlan)
	var skip json.RawMessage
	return r.raw(&skip)
}

// raw takes the next value as it stands.
func (r *planReader) raw(into *json.RawMessage) bool {
	if err := r.dec.Decode(into); err != nil {
		r.broken(err)
		return false
	}
	return true
}

// value reads the next value strictly; allowed lists the fields of its object.
func (r *planReader) value(name string, into any, allowed string) bool {
	var raw json.RawMessage
	if !r.raw(&raw) {
		return false
	}
	at := r.dec.InputOffset() - int64(len(raw))
	if bytes.Equal(raw, []byte("null")) {
		r.problem(at, "%s: null is no value", name)
		return true
	}
	strict := json.NewDecoder(bytes.NewReader(raw))
	strict.DisallowUnknownFields()
	err := strict.Decode(into)
	var wrong *json.UnmarshalTypeError
	switch {
	case err == nil:
	case errors.As(err, &wrong):
		r.problem(at+wrong.Offset, "%s: %s cannot be %s, want %s", name, cmp.Or(wrong.Field, "it"), wrong.Value, wrong.Type)
	case strings.Contains(err.Error(), "unknown field"):
		r.problem(at, "%s: %s; allowed are %s", name, strings.TrimPrefix(err.Error(), "json: "), allowed)
	default:
		r.problem(at, "%s: %v", name, err)
	}
	return true
}

// readList reads an array, an element at a time. A null is an empty list.
func readList[T any](r *planReader, key string, into *[]T, allowed string) bool {
	token, err := r.dec.Token()
	if err != nil {
		r.broken(err)
		return false
	}
	if token == nil {
		return true
	}
	if token != json.Delim('[') {
		r.problem(r.dec.InputOffset(), "%s is a list in brackets; found %s", key, tokenText(token))
		return false
	}
	for i := 0; r.dec.More(); i++ {
		var x T
		if !r.value(fmt.Sprintf("%s[%d]", key, i), &x, allowed) {
			return false
		}
		*into = append(*into, x)
	}
	return r.delim(']', key+" must be closed with a bracket")
}
