// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"towpath/events"
	"towpath/resources"
)

var rewrite = flag.Bool("rewrite", false, "write golden files and seed corpus anew")

func TestEveryKindSurvivesTheWire(t *testing.T) {
	all := samples()
	kinds := events.Kinds()
	require.Len(t, all, len(kinds), "one sample for each kind")
	for i, e := range all {
		require.Equal(t, kinds[i], e.Kind)
		text, err := events.Encode(e)
		require.NoError(t, err, e.Kind)
		back, err := events.Decode(text)
		require.NoError(t, err, e.Kind)
		require.Equal(t, e, back)
	}
}

// The bytes are a contract: logs written today are read for years.
func TestEncodingIsStable(t *testing.T) {
	var got bytes.Buffer
	for _, e := range samples() {
		text, err := events.Encode(e)
		require.NoError(t, err)
		fmt.Fprintf(&got, "%s\n%s\n", events.Subject(e), text)
	}
	golden := filepath.Join("testdata", "encoded.txt")
	if *rewrite {
		require.NoError(t, os.WriteFile(golden, got.Bytes(), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Equal(t, string(want), got.String())
}

// CloudEvents 1.0.2, section "REQUIRED Attributes": id, source, specversion
// and type MUST be present and non-empty; section "OPTIONAL Attributes": time
// is RFC 3339. Towpath needs the time as well.
func TestRequiredAttributesAreDemanded(t *testing.T) {
	for _, attribute := range []string{"id", "source", "specversion", "type", "time"} {
		for _, value := range []any{nil, "", "absent"} {
			m := object(t, samples()[4])
			if value == "absent" {
				delete(m, attribute)
			} else {
				m[attribute] = value
			}
			_, err := events.Decode(text(t, m))
			require.ErrorIs(t, err, events.ErrMissing, "%s=%v", attribute, value)
			require.Len(t, events.Faults(err), 1)
			require.Equal(t, attribute, events.Faults(err)[0].Field)
		}
	}
}

// CloudEvents 1.0.2: attribute names are a-z and 0-9 (section "Naming
// Conventions"); unknown extensions are best ignored (section "Notational
// Conventions", OPTIONAL); null means unset (JSON format, section 2.2);
// datacontenttype defaults to application/json (JSON format, section 3.1.1).
func TestAttributesOfOtherProgramsAreTolerated(t *testing.T) {
	e := samples()[4]
	for name, change := range map[string]func(map[string]any){
		"extension":         func(m map[string]any) { m["traceparent"] = "00-4bf9-00f0-01"; m["sampledrate"] = 7 },
		"no content type":   func(m map[string]any) { delete(m, "datacontenttype") },
		"null content type": func(m map[string]any) { m["datacontenttype"] = nil },
		"json suffix":       func(m map[string]any) { m["datacontenttype"] = "application/vnd.shop+json; charset=utf-8" },
		"no subject":        func(m map[string]any) { delete(m, "subject") },
		"offset time":       func(m map[string]any) { m["time"] = "2026-03-02T07:00:00.75+01:00" },
		"null in data":      func(m map[string]any) { m["data"].(map[string]any)["started"] = nil },
		"integer instant":   func(m map[string]any) { m["data"].(map[string]any)["started"] = 0 },
	} {
		m := object(t, e)
		change(m)
		back, err := events.Decode(text(t, m))
		require.NoError(t, err, name)
		require.Equal(t, e, back, name)
	}
}

func TestDecodeSaysWhatIsWrong(t *testing.T) {
	data := func(m map[string]any) map[string]any { return m["data"].(map[string]any) }
	type m = map[string]any
	for name, c := range map[string]struct {
		change func(m)
		err    error
		field  string
		says   string
	}{
		"version":          {func(o m) { o["specversion"] = "0.3" }, events.ErrSpecVersion, "specversion", "allowed: 1.0"},
		"kind":             {func(o m) { o["type"] = "towpath.operation.begun" }, events.ErrKind, "type", "towpath.operation.started"},
		"foreign kind":     {func(o m) { o["type"] = "operation.started" }, events.ErrKind, "type", "towpath.operation.started"},
		"source":           {func(o m) { o["source"] = "/plant/a/station/" }, events.ErrValue, "source", "/plant/PLANT/station/STATION"},
		"source no plant":  {func(o m) { o["source"] = "/plant//station/W1" }, events.ErrValue, "source", "/plant/PLANT/station/STATION"},
		"source of a line": {func(o m) { o["source"] = "/plant/a/line/W1" }, events.ErrValue, "source", "/plant/PLANT/station/STATION"},
		"source space":     {func(o m) { o["source"] = "/plant/a b" }, events.ErrValue, "source", "%XX"},
		"no station":       {func(o m) { o["source"] = "/plant/a" }, events.ErrMissing, "source", "reported by a station"},
		"time":             {func(o m) { o["time"] = "2 March" }, events.ErrValue, "time", "RFC 3339"},
		"unset clock":      {func(o m) { o["time"] = "1970-01-01T00:00:00Z" }, events.ErrTime, "time", "set the clock"},
		"unset clock 1980": {func(o m) { o["time"] = "1980-01-06T00:00:00Z" }, events.ErrTime, "time", "set the clock"},
		"far future":       {func(o m) { o["time"] = "2200-01-01T00:00:00Z" }, events.ErrTime, "time", "2199"},
		"id with space":    {func(o m) { o["id"] = "a b" }, events.ErrValue, "id", "UUID"},
		"id number":        {func(o m) { o["id"] = 7 }, events.ErrValue, "id", "found 7"},
		"content type":     {func(o m) { o["datacontenttype"] = "text/xml" }, events.ErrValue, "datacontenttype", "application/json"},
		"attribute name":   {func(o m) { o["traceParent"] = "x" }, events.ErrUnknownField, "traceParent", "a-z"},
		"binary":           {func(o m) { o["data_base64"] = "AAAA"; delete(o, "data") }, events.ErrValue, "data_base64", "JSON"},
		"no data":          {func(o m) { delete(o, "data") }, events.ErrMissing, "data", "piece, operation"},
		"null data":        {func(o m) { o["data"] = nil }, events.ErrValue, "data", "an object"},
		"list data":        {func(o m) { o["data"] = []int{1} }, events.ErrValue, "data", "an object"},
		"other subject":    {func(o m) { o["subject"] = "2601-1-02" }, events.ErrContradiction, "subject", "2601-1-01"},
		"misspelt":         {func(o m) { data(o)["peice"] = "x" }, events.ErrUnknownField, "data.peice", "piece, operation"},
		"wrong case":       {func(o m) { data(o)["PIECE"] = "x" }, events.ErrUnknownField, "data.PIECE", "piece, operation"},
		"no piece":         {func(o m) { delete(data(o), "piece") }, events.ErrMissing, "data.piece", "serial"},
		"fraction":         {func(o m) { data(o)["place"] = 1.5 }, events.ErrValue, "data.place", "whole number"},
		"negative place":   {func(o m) { data(o)["place"] = -1 }, events.ErrValue, "data.place", "0 to 1000"},
		"tools no list":    {func(o m) { data(o)["tools"] = "M-76-1" }, events.ErrValue, "data.tools", "list of texts"},
		"control":          {func(o m) { data(o)["mix"] = "a\u0007b" }, events.ErrValue, "data.mix", "control characters"},
		"lone surrogate":   {func(o m) { data(o)["mix"] = json.RawMessage(`"\uDEAD"`) }, events.ErrValue, "data.mix", "control characters"},
		"instant":          {func(o m) { data(o)["started"] = "soon" }, events.ErrValue, "data.started", "RFC 3339"},
		"start told twice": {func(o m) { data(o)["started"] = "2026-03-02T05:00:00Z" }, events.ErrValue, "data.started", "operation.finished"},
	} {
		t.Run(name, func(t *testing.T) {
			o := object(t, samples()[4])
			c.change(o)
			e, err := events.Decode(text(t, o))
			require.ErrorIs(t, err, c.err)
			require.Zero(t, e)
			require.Len(t, events.Faults(err), 1, err)
			require.Equal(t, c.field, events.Faults(err)[0].Field)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func TestBrokenTextIsRefused(t *testing.T) {
	good, err := events.Encode(samples()[4])
	require.NoError(t, err)
	for name, c := range map[string]struct {
		text string
		err  error
	}{
		"empty":           {"", events.ErrSyntax},
		"half":            {string(good[:len(good)/2]), events.ErrSyntax},
		"two":             {string(good) + string(good), events.ErrSyntax},
		"list":            {"[" + string(good) + "]", events.ErrSyntax},
		"null":            {"null", events.ErrSyntax},
		"number":          {"12", events.ErrSyntax},
		"latin-1":         {strings.Replace(string(good), "Shift A", "Sh\xe4ft A", 1), events.ErrText},
		"utf-16":          {"\xff\xfe{\x00}\x00", events.ErrText},
		"repeated id":     {strings.Replace(string(good), `{`, `{"id":"other",`, 1), events.ErrRepeated},
		"repeated piece":  {strings.Replace(string(good), `"data":{`, `"data":{"piece":"other",`, 1), events.ErrRepeated},
		"repeated value":  {`{"specversion":"1.0","id":"a","source":"/plant/p/station/s","type":"towpath.result.recorded","time":"2026-03-02T06:00:00Z","data":{"piece":"a","operation":"b","gate":"c","values":{"x":1,"x":2}}}`, events.ErrRepeated},
		"deep":            {strings.Repeat("[", 20_000), events.ErrSyntax},
		"deep inside":     {`{"data":` + strings.Repeat("[", 20_000), events.ErrSyntax},
		"quoted quotes":   {`{"a\\":1,"a\\":"\\\"}:","b":[{"c":1,"c":2}]}`, events.ErrRepeated},
		"trailing comma":  {strings.Replace(string(good), `}}`, `},}`, 1), events.ErrSyntax},
		"byte order mark": {"\uFEFF" + string(good), events.ErrSyntax},
	} {
		_, err := events.Decode([]byte(c.text))
		require.ErrorIs(t, err, c.err, name)
	}
}

func TestAllFaultsComeAtOnce(t *testing.T) {
	_, err := events.Decode([]byte(`{"specversion":"2.0","source":"x","type":"towpath.load.closed","time":"now","data":{"lode":1,"pieces":[{"piece":3}]}}`))
	var fields []string
	for _, f := range events.Faults(err) {
		fields = append(fields, f.Field)
	}
	require.Equal(t, []string{"specversion", "id", "source", "time", "data.lode", "data.pieces[0].piece"}, fields)
}

func TestSizeIsLimited(t *testing.T) {
	e := samples()[4]
	o := object(t, e)
	o["padding"] = strings.Repeat("x", events.MaxSize)
	_, err := events.Decode(text(t, o))
	require.ErrorIs(t, err, events.ErrSize)

	plan := samples()[23]
	plan.Data = events.PlanData{Version: 1, Gzip: bytes.Repeat([]byte{7}, 5<<20)}
	large, err := events.Encode(plan)
	require.NoError(t, err)
	back, err := events.Decode(large)
	require.NoError(t, err)
	require.Equal(t, plan, back)

	plan.Data = events.PlanData{Version: 1, Gzip: bytes.Repeat([]byte{7}, 6<<20)}
	_, err = events.Encode(plan)
	require.ErrorIs(t, err, events.ErrSize)
	_, err = events.Decode(make([]byte, events.MaxLarge+1))
	require.ErrorIs(t, err, events.ErrSize)
}

func TestEncodeRefusesWhatDecodeWould(t *testing.T) {
	for name, change := range map[string]func(*events.Event){
		"no id":       func(e *events.Event) { e.ID = "" },
		"no kind":     func(e *events.Event) { e.Kind = "" },
		"no plant":    func(e *events.Event) { e.Plant = "" },
		"no time":     func(e *events.Event) { e.At = 0 },
		"early":       func(e *events.Event) { e.At = events.FirstInstant - 1 },
		"late":        func(e *events.Event) { e.At = events.LastInstant + 1 },
		"no data":     func(e *events.Event) { e.Data = nil },
		"other data":  func(e *events.Event) { e.Data = events.PieceData{Piece: "x"} },
		"pointer":     func(e *events.Event) { e.Data = &events.OperationData{Piece: "x", Operation: "y"} },
		"broken text": func(e *events.Event) { e.By = "a\xff" },
		"early wish": func(e *events.Event) {
			*e = samples()[1]
			d := e.Data.(events.OrderData)
			d.Asked = &events.AskedData{Wish: events.FirstInstant - 1}
			e.Data = d
		},
		"impossibly at": func(e *events.Event) { e.At = resources.Tick(1) << 62 },
	} {
		e := samples()[4]
		change(&e)
		_, err := events.Encode(e)
		require.Error(t, err, name)
		require.NotEmpty(t, events.Faults(err), name)
	}
}

func TestDecodeUndoesEncode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anyEvent(t)
		text, err := events.Encode(e)
		require.NoError(t, err)
		back, err := events.Decode(text)
		require.NoError(t, err)
		require.Equal(t, e, back)
		again, err := events.Encode(back)
		require.NoError(t, err)
		require.Equal(t, string(text), string(again))
	})
}

func FuzzDecode(f *testing.F) {
	for _, e := range samples() {
		text, err := events.Encode(e)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		e, err := events.Decode(in)
		if err != nil {
			require.NotEmpty(t, events.Faults(err))
			require.NotEmpty(t, err.Error())
			return
		}
		text, err := events.Encode(e)
		require.NoError(t, err)
		back, err := events.Decode(text)
		require.NoError(t, err)
		require.Equal(t, e, back)
	})
}

// TestSeedCorpus keeps the seeds under testdata/fuzz in step with the samples.
func TestSeedCorpus(t *testing.T) {
	dir := filepath.Join("testdata", "fuzz", "FuzzDecode")
	for _, e := range samples() {
		body, err := events.Encode(e)
		require.NoError(t, err)
		seed := fmt.Sprintf("go test fuzz v1\n[]byte(%q)\n", body)
		name := filepath.Join(dir, "kind-"+string(e.Kind))
		if *rewrite {
			require.NoError(t, os.MkdirAll(dir, 0o755))
			require.NoError(t, os.WriteFile(name, []byte(seed), 0o644))
		}
		got, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, seed, string(got))
	}
}

func BenchmarkEncode(b *testing.B) {
	e := samples()[4]
	for b.Loop() {
		if _, err := events.Encode(e); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	body, err := events.Encode(samples()[4])
	require.NoError(b, err)
	for b.Loop() {
		if _, err := events.Decode(body); err != nil {
			b.Fatal(err)
		}
	}
}

// A plan of several megabytes, as a large shop publishes it.
func BenchmarkDecodePlan(b *testing.B) {
	e := samples()[21]
	e.Data = events.PlanData{Version: 1, Gzip: bytes.Repeat([]byte{1, 2, 3, 4}, 1<<20)}
	body, err := events.Encode(e)
	require.NoError(b, err)
	b.SetBytes(int64(len(body)))
	for b.Loop() {
		if _, err := events.Decode(body); err != nil {
			b.Fatal(err)
		}
	}
}

// object is an encoded event, taken apart so that a test can spoil it.
func object(t *testing.T, e events.Event) map[string]any {
	body, err := events.Encode(e)
	require.NoError(t, err)
	var m map[string]any
	require.NoError(t, json.Unmarshal(body, &m))
	return m
}

func text(t *testing.T, m map[string]any) []byte {
	body, err := json.Marshal(m)
	require.NoError(t, err)
	return body
}
