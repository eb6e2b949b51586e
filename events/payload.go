// SPDX-License-Identifier: Apache-2.0

package events

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"towpath/resources"
)

// readPayload reads data into a value of the kind's payload type.
func readPayload(fs *faults, w *word, members map[string]json.RawMessage) any {
	if _, binary := members["data_base64"]; binary {
		fs.add(ErrValue, "data_base64", "", "data, as JSON", "payloads of this vocabulary are JSON objects")
		return nil
	}
	raw, there := members["data"]
	if !there {
		fs.add(ErrMissing, "data", "", "an object with "+strings.Join(fieldNames(reflect.TypeOf(w.data)), ", "), "")
		return nil
	}
	v := reflect.New(reflect.TypeOf(w.data)).Elem()
	readStruct(fs, "data", raw, v)
	return v.Interface()
}

// readStruct reads an object field by field: encoding/json alone would accept
// "PIECE" for "piece", and stop at the first wrong value.
func readStruct(fs *faults, path string, raw json.RawMessage, v reflect.Value) {
	members, err := readMembers(fs, path, raw)
	if err != nil {
		fs.add(ErrValue, path, string(raw), "an object with "+strings.Join(fieldNames(v.Type()), ", "), "")
		return
	}
	names := fieldNames(v.Type())
	for _, name := range slices.Sorted(maps.Keys(members)) {
		i := slices.Index(names, name)
		if i < 0 {
			fs.add(ErrUnknownField, path+"."+name, "", strings.Join(names, ", "), "")
			continue
		}
		readField(fs, path+"."+name, members[name], v.Field(i))
	}
}

func readField(fs *faults, path string, raw json.RawMessage, v reflect.Value) {
	if string(raw) == "null" {
		return
	}
	if v.Kind() == reflect.Slice && v.Type().Elem().Kind() == reflect.Struct {
		var items []json.RawMessage
		if json.Unmarshal(raw, &items) != nil {
			fs.add(ErrValue, path, string(raw), "a list", "")
			return
		}
		if len(items) == 0 {
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), len(items), len(items)))
		for i, item := range items {
			readStruct(fs, fmt.Sprintf("%s[%d]", path, i), item, v.Index(i))
		}
		return
	}
	if v.Kind() == reflect.Map {
		if _, err := readMembers(fs, path, raw); err != nil {
			fs.add(ErrValue, path, string(raw), allowedFor(v.Type()), "")
			return
		}
	}
	if json.Unmarshal(raw, v.Addr().Interface()) != nil {
		fs.add(ErrValue, path, string(raw), allowedFor(v.Type()), "")
		return
	}
	// An empty list or object says what an absent one says.
	if k := v.Kind(); (k == reflect.Slice || k == reflect.Map) && v.Len() == 0 {
		v.SetZero()
	}
}

// fieldNames lists the JSON names of a payload type's fields, in order.
func fieldNames(t reflect.Type) []string {
	names := make([]string, t.NumField())
	for i := range names {
		names[i], _, _ = strings.Cut(t.Field(i).Tag.Get("json"), ",")
	}
	return names
}

func allowedFor(t reflect.Type) string {
	switch {
	case t == reflect.TypeFor[resources.Tick]():
		return "an instant, RFC 3339, e.g. 2026-03-02T06:00:00Z"
	case t == reflect.TypeFor[[]byte]():
		return "base64 text"
	case t.Kind() == reflect.String:
		return "a text"
	case t.Kind() == reflect.Bool:
		return "true, false"
	case t == reflect.TypeFor[[]float64]():
		return "a list of numbers"
	case t.Kind() == reflect.Slice:
		return "a list of texts"
	case t.Kind() == reflect.Map:
		return "an object of numbers"
	case t.Kind() == reflect.Uint64:
		return "a whole number, 0 or more"
	default:
		return "a whole number"
	}
}

// readMembers takes a JSON object apart. A member given twice is refused, as
// readers would disagree about which one counts; path names the object.
func readMembers(fs *faults, path string, text []byte) (map[string]json.RawMessage, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(text, &members); err != nil {
		return nil, err
	}
	if members == nil {
		return nil, errors.New("null")
	}
	if countMembers(text) != len(members) {
		name := repeatedMember(text)
		fs.add(ErrRepeated, strings.TrimPrefix(path+"."+name, "."), "", "each member once", "")
	}
	return members, nil
}

// countMembers counts the members of an object that is known to be JSON: the
// colons outside of texts and inner values. Plans are megabytes of one text,
// so texts are skipped as a whole.
func countMembers(object []byte) int {
	n, depth := 0, 0
	for i := 0; i < len(object); i++ {
		switch object[i] {
		case '{', '[':
			depth++
		case '}', ']':
			depth--
		case ':':
			if depth == 1 {
				n++
			}
		case '"':
			i = endOfText(object, i)
		}
	}
	return n
}

// endOfText is the index of the quote that ends the text beginning at i.
func endOfText(object []byte, i int) int {
	for {
		i += 1 + bytes.IndexByte(object[i+1:], '"')
		backslashes := 0
		for object[i-1-backslashes] == '\\' {
			backslashes++
		}
		if backslashes%2 == 0 {
			return i
		}
	}
}

// repeatedMember names the first member an object holds twice.
func repeatedMember(object []byte) string {
	dec := json.NewDecoder(bytes.NewReader(object))
	seen := map[string]bool{}
	_, _ = dec.Token()
	for dec.More() {
		token, _ := dec.Token()
		name, _ := token.(string)
		if seen[name] {
			return name
		}
		seen[name] = true
		var skipped json.RawMessage
		_ = dec.Decode(&skipped)
	}
	return ""
}
