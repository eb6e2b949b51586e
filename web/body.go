// SPDX-License-Identifier: Apache-2.0

package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"reflect"
	"strings"

	"github.com/labstack/echo/v4"
)

// readBody reads a JSON body strictly: no unknown fields, nothing behind it. An
// empty body leaves the value as it is.
func readBody(c echo.Context, into any) error {
	text, err := io.ReadAll(c.Request().Body)
	if err != nil {
		return err
	}
	if len(text) == 0 {
		return nil
	}
	kind, _, err := mime.ParseMediaType(c.Request().Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return fault(http.StatusUnsupportedMediaType, "bad_request", "The body must be JSON.", "Send it as application/json.")
	}
	if err := strictly(text, into); err != nil {
		return fault(http.StatusBadRequest, "bad_request", "The body cannot be read: "+bodyFault(err)+".", "See /api/openapi.yaml for what it takes.")
	}
	return nil
}

// bodyFault says what is wrong with a body in the words of JSON.
func bodyFault(err error) string {
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &kind) && kind.Field == "":
		return "it must be an object, with keys in braces; found " + found(kind.Value)
	case errors.As(err, &kind):
		return kind.Field + " cannot be " + found(kind.Value) + "; it is " + taken(kind.Type)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return "it ends in the middle"
	}
	return strings.TrimPrefix(err.Error(), "json: ")
}

// found is a JSON value as an error of encoding/json names it, with its article.
func found(value string) string {
	what, number, _ := strings.Cut(value, " ")
	switch what {
	case "number":
		if number != "" {
			return number
		}
	case "bool":
		return "true or false"
	case "array", "object":
		return "an " + what
	}
	return "a " + what
}

// taken is what a field takes, in words.
func taken(t reflect.Type) string {
	switch t.Kind() {
	case reflect.String:
		return "a text"
	case reflect.Bool:
		return "true or false"
	case reflect.Float32, reflect.Float64:
		return "a number"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.Struct, reflect.Map:
		return "an object"
	case reflect.Pointer:
		return taken(t.Elem())
	}
	return "a whole number"
}

// strictly decodes JSON of known fields alone.
func strictly(text []byte, into any) error {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return errors.New("there is something behind it")
	}
	return nil
}
