// SPDX-License-Identifier: Apache-2.0

package events

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"towpath/resources"
)

// Sizes of an encoded event, in bytes. Only a plan and a plant file may reach
// MaxLarge; with its headers such a message still fits a broker's payload
// limit of 8 MiB.
const (
	MaxSize  = 1 << 20
	MaxLarge = 8<<20 - 4<<10
)

// specVersion is the version this codec reads and writes (CloudEvents 1.0.2,
// section "REQUIRED Attributes", specversion: patch releases share it).
const specVersion = "1.0"

// envelope fixes the order of the attributes, so that the same event is always
// the same bytes.
type envelope struct {
	SpecVersion string         `json:"specversion"`
	ID          string         `json:"id"`
	Source      string         `json:"source"`
	Type        string         `json:"type"`
	Subject     string         `json:"subject,omitempty"`
	Time        resources.Tick `json:"time"`
	ContentType string         `json:"datacontenttype"`
	By          string         `json:"by,omitempty"` // extension: person or program that reports
	Data        any            `json:"data"`
}

// Encode writes an event as a CloudEvents 1.0 structured JSON object (media
// type application/cloudevents+json), the same bytes for equal events. Seq is
// not part of it: the log gives it. An event that Decode would refuse is
// refused here, with the same faults.
func Encode(e Event) ([]byte, error) {
	if err := Validate(e); err != nil {
		return nil, err
	}
	var fs faults
	if checkInstants(&fs, e); len(fs) > 0 {
		return nil, fs.err()
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(envelope{
		SpecVersion: specVersion, ID: e.ID, Source: Source(e), Type: Type(e.Kind), Subject: About(e),
		Time: e.At, ContentType: "application/json", By: e.By, Data: e.Data,
	})
	if err != nil {
		return nil, fmt.Errorf("encode event %s: %w", e.ID, err)
	}
	text := bytes.TrimSuffix(b.Bytes(), []byte("\n"))
	if most := sizeLimit(e.Kind); len(text) > most {
		return nil, tooLarge(len(text), most)
	}
	return text, nil
}

// Decode reads what Encode writes and what any CloudEvents 1.0 program writes
// in structured JSON mode, with the payloads of this vocabulary. It is strict:
// a misspelt field is a fault, not a field left out. Extension attributes it
// does not know are ignored, as CloudEvents recommends. All faults that can be
// seen at once are reported at once; the event is then zero.
func Decode(text []byte) (Event, error) {
	if len(text) > MaxLarge {
		return Event{}, tooLarge(len(text), MaxLarge)
	}
	var fs faults
	members := readObject(&fs, text)
	if len(fs) > 0 {
		return Event{}, fs.err()
	}
	e := readAttributes(&fs, members)
	w := wordOf(e.Kind)
	if w == nil {
		return Event{}, fs.err()
	}
	if most := sizeLimit(e.Kind); len(text) > most {
		return Event{}, tooLarge(len(text), most)
	}
	e.Data = readPayload(&fs, w, members)
	if len(fs) == 0 {
		checkInstants(&fs, e)
		if err := Validate(e); err != nil {
			fs = append(fs, err)
		}
	}
	if about := optionalText(members["subject"]); len(fs) == 0 && about != "" && about != About(e) {
		fs.add(ErrContradiction, "subject", strconv.Quote(about), strconv.Quote(About(e))+", as the data says", "leave subject out")
	}
	if len(fs) > 0 {
		return Event{}, fs.err()
	}
	return e, nil
}

func sizeLimit(k Kind) int {
	if k == PlanPublished || k == PlantDeclared {
		return MaxLarge
	}
	return MaxSize
}

func tooLarge(size, most int) error {
	return &Fault{Err: ErrSize, Found: strconv.Itoa(size) + " bytes", Allowed: "at most " + strconv.Itoa(most) + " bytes"}
}

// readObject takes the outer object apart.
func readObject(fs *faults, text []byte) map[string]json.RawMessage {
	if !utf8.Valid(text) {
		fs.add(ErrText, "", "", "UTF-8", "send JSON as UTF-8 without conversion")
		return nil
	}
	members, err := readMembers(fs, "", text)
	if err != nil {
		fs.add(ErrSyntax, "", strings.TrimPrefix(err.Error(), "found "), "one CloudEvents object", "")
		return nil
	}
	maps.DeleteFunc(members, func(name string, v json.RawMessage) bool {
		// CloudEvents 1.0.2 JSON format, section 2.2: null means unset.
		return string(v) == "null" && name != "data"
	})
	return members
}

// readAttributes reads everything but the payload.
func readAttributes(fs *faults, members map[string]json.RawMessage) Event {
	for _, name := range slices.Sorted(maps.Keys(members)) {
		if !legalAttribute(name) {
			fs.add(ErrUnknownField, name, "", "attribute names of a-z and 0-9", "")
		}
	}
	str := func(name, what string, required bool) string {
		raw, there := members[name]
		var s string
		switch {
		case !there && required:
			fs.add(ErrMissing, name, "", what, "")
		case there && json.Unmarshal(raw, &s) != nil:
			fs.add(ErrValue, name, string(raw), what, "")
		case s == "" && required && there:
			fs.add(ErrMissing, name, `""`, what, "")
		}
		return s
	}
	var e Event
	if v := str("specversion", "1.0", true); v != specVersion && v != "" {
		fs.add(ErrSpecVersion, "specversion", strconv.Quote(v), "1.0", "")
	}
	e.ID = str("id", "a text that no other event has", true)
	source := str("source", "/plant/PLANT or /plant/PLANT/station/STATION", true)
	if source != "" {
		var ok bool
		if e.Plant, e.Station, ok = sourceNames(source); !ok {
			fs.add(ErrValue, "source", strconv.Quote(source), "/plant/PLANT or /plant/PLANT/station/STATION",
				"write any character but letters, digits, - and _ of a name as %XX")
		}
	}
	if typ := str("type", typeList, true); typ != "" {
		kind, ours := strings.CutPrefix(typ, typePrefix)
		if e.Kind = Kind(kind); !ours || wordOf(e.Kind) == nil {
			fs.add(ErrKind, "type", strconv.Quote(typ), typeList, "")
			e.Kind = ""
		}
	}
	e.At = readTime(fs, str("time", "when it happened, RFC 3339", true))
	if ct := str("datacontenttype", "application/json", false); !jsonType(ct) {
		fs.add(ErrValue, "datacontenttype", strconv.Quote(ct), "application/json", "")
	}
	str("subject", "what the event speaks of", false)
	e.By = str("by", "who reports", false)
	return e
}

// readTime reads the attribute time. 1970-01-01T00:00:00Z must not pass for
// an absent instant, so its range is looked at here too.
func readTime(fs *faults, s string) resources.Tick {
	if s == "" {
		return 0
	}
	at, err := resources.TickOf(s)
	if err != nil {
		fs.add(ErrValue, "time", strconv.Quote(s), "RFC 3339, e.g. 2026-03-02T06:00:00Z", "")
	} else if at == 0 {
		fs.add(ErrTime, "time", s, "2000-01-01T00:00:00Z to 2199-12-31T23:59:59Z", "set the clock of the machine that reports")
	}
	return at
}

// legalAttribute: CloudEvents 1.0.2, section "Naming Conventions"; data and
// data_base64 are members of the JSON format.
func legalAttribute(name string) bool {
	if name == "data_base64" {
		return true
	}
	for i := 0; i < len(name); i++ {
		if c := name[i]; (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
	}
	return name != ""
}

// jsonType: CloudEvents 1.0.2 JSON format, section 3.1.1: absent, */json or
// */*+json, parameters aside.
func jsonType(ct string) bool {
	media, _, _ := strings.Cut(ct, ";")
	media = strings.ToLower(strings.TrimSpace(media))
	return ct == "" || strings.HasSuffix(media, "/json") || strings.HasSuffix(media, "+json")
}

// optionalText reads an optional text that readAttributes has looked at.
func optionalText(raw json.RawMessage) string {
	var s string
	if raw != nil && json.Unmarshal(raw, &s) != nil {
		return ""
	}
	return s
}
