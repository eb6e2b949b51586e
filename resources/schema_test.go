// SPDX-License-Identifier: Apache-2.0

package resources_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"

	"towpath/resources"
)

const demoPlant = "../testdata/demo/plant.yaml"

func goodPlants(t testing.TB) map[string][]byte {
	files, err := filepath.Glob("../testdata/plants/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	plants := map[string][]byte{}
	for _, f := range append(files, demoPlant) {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		plants[f] = text
	}
	return plants
}

func compiledSchema(t *testing.T) *jsonschema.Schema {
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(resources.Schema()))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("plant.json", document))
	schema, err := c.Compile("plant.json")
	require.NoError(t, err)
	return schema
}

// schemaView is the file as an editor's checker sees it.
func schemaView(t *testing.T, text []byte) any {
	plain, err := json.Marshal(resources.PlainPlantFile(text))
	require.NoError(t, err)
	view, err := jsonschema.UnmarshalJSON(bytes.NewReader(plain))
	require.NoError(t, err)
	return view
}

func TestSchemaAcceptsGoodPlants(t *testing.T) {
	schema := compiledSchema(t)
	for file, text := range goodPlants(t) {
		p, findings := resources.ReadPlant(file, text)
		require.NotNil(t, p, "%s: %v", file, findings)
		require.NoError(t, schema.Validate(schemaView(t, text)), file)
	}
}

func TestSchemaRefusesWhatTheReaderRefuses(t *testing.T) {
	text, err := os.ReadFile("../testdata/plants/every-key.yaml")
	require.NoError(t, err)
	schema := compiledSchema(t)
	for _, change := range [][2]string{
		{"horizon: 8w", "horizon: 8 weeks"},
		{"zone: Europe/Berlin", "zome: Europe/Berlin"},
		{"max_mass: 2.5 kg", "max_mass: 2500"},
		{"at: 25 C", "at: 25"},
		{"unattended: true", "unattended: yes please"},
		{"heads: 2", "heads: two"},
		{"per: sample", "per: samples"},
		{"parts: [load, run]", "parts: [load, ran]"},
		{"days: Mon-Fri", "days: Mo-Fr"},
		{"yield: 98.5 %", "yield: 0.985"},
		{"pot_life: 4h", "pot_live: 4h"},
		{"count: 4", "units: [X]\n    count: 4"},
	} {
		bad := strings.Replace(string(text), change[0], change[1], 1)
		require.NotEqual(t, string(text), bad, change)
		p, _ := resources.ReadPlant("bad.yaml", []byte(bad))
		require.Nil(t, p, change)
		require.Error(t, schema.Validate(schemaView(t, []byte(bad))), change)
	}
}

type schemaObject struct {
	Properties map[string]json.RawMessage `json:"properties"`
	Required   []string                   `json:"required"`
	Others     json.RawMessage            `json:"additionalProperties"`
}

type schemaProperty struct {
	Ref   string          `json:"$ref"`
	Type  string          `json:"type"`
	Items *schemaProperty `json:"items"`
	Enum  []string        `json:"enum"`
}

// TestSchemaKnowsTheReadersKeys holds the two lists of keys together: each key
// the reader asks for is in the schema with the same form, and the schema has
// no other.
func TestSchemaKnowsTheReadersKeys(t *testing.T) {
	var schema struct {
		Defs map[string]json.RawMessage `json:"$defs"`
	}
	require.NoError(t, json.Unmarshal(resources.Schema(), &schema))
	known := resources.PlantFileKeys()
	kinds := map[string]bool{}
	for name, key := range known {
		kind, prop, _ := strings.Cut(name, ".")
		kinds[kind] = true
		var object schemaObject
		require.Contains(t, schema.Defs, kind)
		require.NoError(t, json.Unmarshal(schema.Defs[kind], &object))
		require.Contains(t, object.Properties, prop, "the schema lacks %s", name)
		require.Equal(t, key.Required, slices.Contains(object.Required, prop), "required: %s", name)
		requireForm(t, name, key.Form, object.Properties[prop])
	}
	for kind, raw := range schema.Defs {
		var object schemaObject
		require.NoError(t, json.Unmarshal(raw, &object), kind)
		if object.Properties == nil {
			continue
		}
		require.True(t, kinds[kind], "the reader never reads a %s", kind)
		require.Equal(t, "false", string(object.Others), kind)
		for prop := range object.Properties {
			require.Contains(t, known, kind+"."+prop, "the reader does not know %s.%s", kind, prop)
		}
	}
}

func requireForm(t *testing.T, name, form string, raw json.RawMessage) {
	var p schemaProperty
	require.NoError(t, json.Unmarshal(raw, &p), name)
	head, rest, _ := strings.Cut(form, ":")
	switch head {
	case "any":
	case "list":
		require.Equal(t, "array", p.Type, name)
		require.Equal(t, "#/$defs/"+rest, p.Items.Ref, name)
	case "object":
		require.Equal(t, "#/$defs/"+rest, p.Ref, name)
	case "word":
		require.Equal(t, strings.Split(rest, "|"), p.Enum, name)
	default:
		require.Equal(t, "#/$defs/"+form, p.Ref, name)
	}
}

// TestEveryKeyIsUsed keeps the plant that tests and documentation lean on
// complete.
func TestEveryKeyIsUsed(t *testing.T) {
	text, err := os.ReadFile("../testdata/plants/every-key.yaml")
	require.NoError(t, err)
	for name := range resources.PlantFileKeys() {
		_, key, _ := strings.Cut(name, ".")
		require.Regexp(t, `(^|[\s{])`+key+":", string(text), name)
	}
}
