// SPDX-License-Identifier: Apache-2.0

package events

import (
	"bytes"
	"encoding/json"
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
	var members map[string]json.RawMessage
	if err := json.Unmarshal(raw, &members); err != nil || members == nil {
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

// repeatedMember finds a member name that one object holds twice. Text that is
// no JSON is left for the parser to refuse.
func repeatedMember(text []byte) (string, bool) {
	type frame struct {
		seen map[string]bool // nil: an array
		name bool            // a member's name comes next
	}
	var open []frame
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.UseNumber()
	for {
		token, err := dec.Token()
		if err != nil {
			return "", false
		}
		if n := len(open); n > 0 && open[n-1].seen != nil {
			if name, ok := token.(string); ok && open[n-1].name {
				if open[n-1].seen[name] {
					return name, true
				}
				open[n-1].seen[name], open[n-1].name = true, false
				continue
			}
			open[n-1].name = true // its value follows or ends here
		}
		switch token {
		case json.Delim('{'):
			open = append(open, frame{seen: map[string]bool{}, name: true})
		case json.Delim('['):
			open = append(open, frame{})
		case json.Delim('}'), json.Delim(']'):
			open = open[:len(open)-1]
		}
	}
}
