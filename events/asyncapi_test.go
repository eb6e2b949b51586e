// SPDX-License-Identifier: Apache-2.0

package events_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"towpath/events"
	"towpath/resources/quality"
)

// asyncAPI is what the tests look at of asyncapi.yaml.
type asyncAPI struct {
	AsyncAPI string `yaml:"asyncapi"`
	Channels map[string]struct {
		Address    string
		Parameters map[string]any
		Messages   map[string]ref
	}
	Operations map[string]struct{ Channel ref }
	Components struct {
		Messages map[string]struct {
			Name    string
			Payload ref
		}
		Schemas map[string]struct{ Properties map[string]any }
	}
}

type ref struct {
	Ref string `yaml:"$ref"`
}

func (r ref) last() string { return r.Ref[strings.LastIndex(r.Ref, "/")+1:] }

func readAsyncAPI(t *testing.T) (doc asyncAPI, schema func(events.Event) *jsonschema.Schema) {
	file, err := os.ReadFile("asyncapi.yaml")
	require.NoError(t, err)
	require.NoError(t, yaml.Unmarshal(file, &doc))
	var whole any
	require.NoError(t, yaml.Unmarshal(file, &whole))
	text, err := json.Marshal(whole)
	require.NoError(t, err)
	parsed, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft7)
	c.AssertFormat()
	require.NoError(t, c.AddResource("asyncapi.json", parsed))
	return doc, func(e events.Event) *jsonschema.Schema {
		for _, m := range doc.Components.Messages {
			if m.Name == events.Type(e.Kind) {
				s, err := c.Compile("asyncapi.json" + m.Payload.Ref)
				require.NoError(t, err)
				return s
			}
		}
		t.Fatalf("no message for %s", e.Kind)
		return nil
	}
}

// both is every sample, and again without or with a station where either may
// be.
func both() []events.Event {
	list := samples()
	for _, e := range samples() {
		if e.Station == "" {
			e.Station = "DESK"
		} else {
			e.Station = ""
		}
		if events.Validate(e) == nil {
			list = append(list, e)
		}
	}
	return list
}

func TestAsyncAPIHasEveryKindAndSubject(t *testing.T) {
	doc, _ := readAsyncAPI(t)
	require.Regexp(t, `^3\.`, doc.AsyncAPI)
	var named, want []string
	for _, m := range doc.Components.Messages {
		named = append(named, m.Name)
	}
	for _, k := range events.Kinds() {
		want = append(want, events.Type(k))
	}
	require.ElementsMatch(t, want, named)

	hit := map[string]bool{}
	for _, e := range both() {
		var fits []string
		for name, c := range doc.Channels {
			pattern := regexp.QuoteMeta(c.Address)
			for p := range c.Parameters {
				pattern = strings.ReplaceAll(pattern, regexp.QuoteMeta("{"+p+"}"), `[^.]+`)
			}
			if !regexp.MustCompile("^" + pattern + "$").MatchString(events.Subject(e)) {
				continue
			}
			fits = append(fits, name)
			require.Len(t, c.Messages, 1)
			for _, m := range c.Messages {
				require.Equal(t, events.Type(e.Kind), doc.Components.Messages[m.last()].Name, name)
			}
		}
		require.Len(t, fits, 1, "%s: %v", events.Subject(e), fits)
		hit[fits[0]] = true
	}
	require.Len(t, hit, len(doc.Channels), "every channel is the subject of some event")
	used := map[string]bool{}
	for _, o := range doc.Operations {
		used[o.Channel.last()] = true
	}
	require.Equal(t, hit, used, "every channel has an operation")
}

func TestAsyncAPIHasEveryField(t *testing.T) {
	doc, _ := readAsyncAPI(t)
	types := map[string]reflect.Type{
		"LoadItem": reflect.TypeFor[events.LoadItem](), "LotUse": reflect.TypeFor[events.LotUse](), "Measure": reflect.TypeFor[quality.Measure](),
	}
	for _, k := range events.Kinds() {
		p := reflect.TypeOf(events.Payload(k))
		types[p.Name()] = p
	}
	for name, p := range types {
		var want []string
		for i := range p.NumField() {
			field, _, _ := strings.Cut(p.Field(i).Tag.Get("json"), ",")
			want = append(want, field)
		}
		require.ElementsMatch(t, want, slices.Collect(maps.Keys(doc.Components.Schemas[name].Properties)), name)
	}
}

// The schemas and Decode agree: on events as they are, with any one member
// left out, emptied or of another type, and with one too many.
func TestAsyncAPISchemasAgreeWithDecode(t *testing.T) {
	_, schema := readAsyncAPI(t)
	for _, e := range both() {
		s := schema(e)
		agree := func(o map[string]any, what string) {
			_, err := events.Decode(text(t, o))
			var value any
			require.NoError(t, json.Unmarshal(text(t, o), &value))
			verdict := s.Validate(value)
			require.Equal(t, err == nil, verdict == nil, "%s, %s\nDecode: %v\nschema: %v\n%s", e.Kind, what, err, verdict, text(t, o))
		}
		agree(object(t, e), "as it is")
		for _, member := range slices.Sorted(maps.Keys(object(t, e))) {
			o := object(t, e)
			delete(o, member)
			agree(o, "without "+member)
			o[member] = []any{true}
			agree(o, "a list for "+member)
		}
		fields, _ := object(t, e)["data"].(map[string]any)
		for _, field := range slices.Sorted(maps.Keys(fields)) {
			for what, value := range map[string]any{"absent": nil, "a list of one truth": []any{true}, "a fraction": 1.5, "minus one": -1} {
				o := object(t, e)
				d := o["data"].(map[string]any)
				delete(o, "subject") // it would disagree with the changed data
				if d[field] = value; what == "absent" {
					delete(d, field)
				}
				agree(o, field+" is "+what)
			}
		}
		o := object(t, e)
		o["data"].(map[string]any)["surplus"] = "x"
		agree(o, "a field too many")
		o = object(t, e)
		o["extension7"] = "x"
		agree(o, "an extension attribute")
		o["extension_7"] = "x"
		agree(o, "an attribute with an illegal name")
	}
}
