// SPDX-License-Identifier: Apache-2.0

package web_test

import (
	"bytes"
	"encoding"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"net/http"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"towpath/resources"
	"towpath/web"
	"towpath/web/view"
)

var rewrite = flag.Bool("rewrite", false, "write generated and golden files anew")

// The document is made from the table of endpoints and the models' types, so
// that it cannot say what the program does not do.
func TestOpenAPIIsTrue(t *testing.T) {
	text := documentOf(t)
	if *rewrite {
		require.NoError(t, os.WriteFile("openapi.yaml", text, 0o644))
	}
	kept, err := os.ReadFile("openapi.yaml")
	require.NoError(t, err)
	require.Equal(t, string(text), string(kept), "run go test ./web -run OpenAPI -rewrite")
}

// Every answer of the demo shop is held against its schema, which allows no
// property it does not name.
func TestAnswersFitOpenAPI(t *testing.T) {
	site, question, tried := askedSite(t)
	var doc map[string]any
	require.NoError(t, yaml.Unmarshal(documentOf(t), &doc))
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	require.NoError(t, c.AddResource("doc.json", asJSON(t, doc)))
	order := site.shop.Picture().Plan.Work[0].Order
	for _, e := range web.Endpoints() {
		if e.Method != http.MethodGet || e.Media != "" {
			continue
		}
		path := strings.NewReplacer(":order", order, ":station", "W1", ":question", question, ":whatif", tried).Replace(e.Path)
		if e.Path == "/api/whatifs/compare" {
			path += "?a=" + tried + "&b=" + settled(t, site, tryOf(t, site, "another", rushOf(site, "X-7", 25)).ID).ID
		}
		w := site.get(path)
		require.Equal(t, http.StatusOK, w.Code, path)
		at := fmt.Sprintf("doc.json#/paths/%s/%s/responses/200/content/application~1json/schema",
			strings.ReplaceAll(openPath(e.Path), "/", "~1"), strings.ToLower(e.Method))
		schema, err := c.Compile(strings.NewReplacer("{", "%7B", "}", "%7D").Replace(at))
		require.NoError(t, err)
		answer, err := jsonschema.UnmarshalJSON(w.Body)
		require.NoError(t, err)
		require.NoError(t, schema.Validate(answer), path)
	}
}

// A schema that accepts anything would make the test above worthless.
func TestSchemaRefusesWhatItDoesNotName(t *testing.T) {
	s := newSchemas()
	ref := s.of(reflect.TypeFor[web.Sign]())
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("doc.json", asJSON(t, map[string]any{"components": map[string]any{"schemas": s.defs}, "x": ref})))
	schema, err := c.Compile("doc.json#/x")
	require.NoError(t, err)
	good, err := jsonschema.UnmarshalJSON(strings.NewReader(`{"version":1,"now":"2026-03-02T06:00:00Z","speed":1}`))
	require.NoError(t, err)
	require.NoError(t, schema.Validate(good))
	for _, bad := range []string{`{"version":1,"now":"","speed":1,"more":1}`, `{"version":1,"speed":1}`, `{"version":"1","now":"","speed":1}`} {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(bad))
		require.NoError(t, err)
		require.Error(t, schema.Validate(v), bad)
	}
}

func asJSON(t *testing.T, v any) any {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	out, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	return out
}

func openPath(p string) string {
	parts := strings.Split(p, "/")
	for i, part := range parts {
		if name, ok := strings.CutPrefix(part, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

func documentOf(t *testing.T) []byte {
	t.Helper()
	s := newSchemas()
	faultRef := s.of(reflect.TypeFor[web.Fault]())
	paths := map[string]any{}
	for _, e := range web.Endpoints() {
		op := map[string]any{
			"summary": e.Summary, "operationId": operationID(e),
			"responses": map[string]any{
				"200":     answered(s, e),
				"default": answerOf("What is wrong, and what to do.", faultRef),
			},
		}
		if len(e.Params) > 0 {
			op["parameters"] = paramsOf(e.Params)
		}
		if e.Body != nil {
			op["requestBody"] = map[string]any{"required": true, "content": bodiesOf(s, e)}
		}
		if paths[openPath(e.Path)] == nil {
			paths[openPath(e.Path)] = map[string]any{}
		}
		paths[openPath(e.Path)].(map[string]any)[strings.ToLower(e.Method)] = op
	}
	doc := map[string]any{
		"openapi": "3.1.0",
		"info": map[string]any{
			"title": "Towpath", "version": "1",
			"description": "What the pages show, as JSON. Instants are RFC 3339 in UTC; an empty text means not known. Lengths of time are whole seconds. " +
				"/live is a stream of server-sent events named picture, each with the answer of /api/sign as data: fetch again when version changes.",
		},
		"paths": paths, "components": map[string]any{"schemas": s.defs},
	}
	var b bytes.Buffer
	b.WriteString("# Made from the program's types by `go test ./web -run OpenAPI -rewrite`.\n")
	enc := yaml.NewEncoder(&b)
	enc.SetIndent(2)
	require.NoError(t, enc.Encode(doc))
	return b.Bytes()
}

func operationID(e web.Endpoint) string {
	words := strings.FieldsFunc(strings.TrimPrefix(e.Path, "/api/"), func(r rune) bool { return r == '/' || r == ':' })
	id := strings.ToLower(e.Method)
	for _, w := range words {
		id += strings.ToUpper(w[:1]) + w[1:]
	}
	return id
}

func answerOf(what string, schema any) map[string]any {
	return map[string]any{"description": what, "content": map[string]any{"application/json": map[string]any{"schema": schema}}}
}

// bodiesOf is what an endpoint takes; facts may also come as CloudEvents.
func bodiesOf(s *schemas, e web.Endpoint) map[string]any {
	content := map[string]any{"application/json": map[string]any{"schema": s.of(reflect.TypeOf(e.Body))}}
	if _, facts := e.Body.(web.ReportBody); facts {
		cloud := map[string]any{"type": "object", "description": "a CloudEvents 1.0 event in structured JSON mode; its type is towpath. and the kind"}
		content["application/cloudevents+json"] = map[string]any{"schema": cloud}
		content["application/cloudevents-batch+json"] = map[string]any{"schema": map[string]any{"type": "array", "items": cloud}}
	}
	return content
}

func answered(s *schemas, e web.Endpoint) map[string]any {
	if e.Media != "" {
		return map[string]any{"description": "What was asked for.", "content": map[string]any{e.Media: map[string]any{}}}
	}
	return answerOf("What was asked for.", s.of(reflect.TypeOf(e.Answer)))
}

func paramsOf(params []web.Param) []any {
	var out []any
	for _, p := range params {
		schema := map[string]any{"type": "string"}
		if len(p.Enum) > 0 {
			schema["enum"] = p.Enum
		}
		out = append(out, map[string]any{"name": p.Name, "in": p.In, "required": p.In == "path", "description": p.Doc, "schema": schema})
	}
	return out
}

// schemas makes JSON Schemas of Go types.
type schemas struct {
	defs  map[string]any
	types map[string]reflect.Type
}

func newSchemas() *schemas { return &schemas{defs: map[string]any{}, types: map[string]reflect.Type{}} }

var enums = map[string][]string{
	"standing":       words(view.Standings()),
	"job_kind":       words([]view.JobKind{view.PieceJob, view.LoadJob, view.MixJob}),
	"job_status":     words([]view.JobStatus{view.JobPlanned, view.JobClosed, view.JobRunning, view.JobPaused, view.JobDone}),
	"alert_kind":     view.AlertKinds(),
	"station_status": words([]view.StationStatus{view.StationDown, view.StationOver, view.StationWaiting, view.StationPaused, view.StationRunning, view.StationClosed, view.StationFree}),
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = string(x)
	}
	return out
}

func (s *schemas) of(t reflect.Type) map[string]any {
	switch {
	case t == reflect.TypeFor[resources.Tick]():
		return map[string]any{"type": "string", "anyOf": []any{map[string]any{"format": "date-time"}, map[string]any{"const": ""}}}
	case t == reflect.TypeFor[json.RawMessage]():
		return map[string]any{"type": "object"}
	case t.Implements(reflect.TypeFor[encoding.TextMarshaler]()):
		return map[string]any{"type": "string"}
	}
	switch t.Kind() {
	case reflect.Pointer:
		return map[string]any{"anyOf": []any{s.of(t.Elem()), map[string]any{"type": "null"}}}
	case reflect.Slice:
		return map[string]any{"type": "array", "items": s.of(t.Elem())}
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.Int, reflect.Int64, reflect.Uint8, reflect.Uint64:
		return map[string]any{"type": "integer"}
	case reflect.Interface:
		return map[string]any{"type": "object"}
	case reflect.Struct:
		return s.object(t)
	}
	panic("no schema for " + t.String())
}

func (s *schemas) object(t reflect.Type) map[string]any {
	name := t.Name()
	if _, pkg, below := strings.Cut(t.PkgPath(), "towpath/scheduler/"); below { // as they are called from outside
		name = strings.ToUpper(pkg[:1]) + pkg[1:] + name
	}
	ref := map[string]any{"$ref": "#/components/schemas/" + name}
	if _, known := s.defs[name]; known {
		if s.types[name] != t {
			panic("two types are named " + name)
		}
		return ref
	}
	s.types[name] = t
	properties := map[string]any{}
	s.defs[name] = properties // ends recursion
	var required []string
	s.fields(t, properties, &required)
	slices.Sort(required)
	s.defs[name] = map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
	return ref
}

func (s *schemas) fields(t reflect.Type, properties map[string]any, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			s.fields(f.Type, properties, required)
			continue
		}
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "-" || !f.IsExported() {
			continue
		}
		schema := maps.Clone(s.of(f.Type))
		if doc := f.Tag.Get("doc"); doc != "" {
			schema["description"] = doc
		}
		if e := f.Tag.Get("enum"); e != "" {
			schema["enum"] = enums[e]
		}
		properties[name] = schema
		if options != "omitempty" {
			*required = append(*required, name)
		}
	}
}

// Every field of the models says what it means.
func TestModelsAreDocumented(t *testing.T) {
	seen := map[reflect.Type]bool{}
	var walk func(reflect.Type)
	walk = func(ty reflect.Type) {
		for ty.Kind() == reflect.Pointer || ty.Kind() == reflect.Slice {
			ty = ty.Elem()
		}
		if ty.Kind() != reflect.Struct || seen[ty] || !strings.HasPrefix(ty.PkgPath(), "towpath/web") {
			return
		}
		seen[ty] = true
		for i := range ty.NumField() {
			f := ty.Field(i)
			if tag := f.Tag.Get("json"); !f.Anonymous && tag != "-" && f.IsExported() {
				require.NotEmpty(t, tag, "%s.%s", ty, f.Name)
				require.NotEmpty(t, f.Tag.Get("doc"), "%s.%s", ty, f.Name)
			}
			walk(f.Type)
		}
	}
	for _, e := range web.Endpoints() {
		if e.Media != "" {
			continue
		}
		walk(reflect.TypeOf(e.Answer))
		if e.Body != nil {
			walk(reflect.TypeOf(e.Body))
		}
	}
	require.Greater(t, len(seen), 20)
}
