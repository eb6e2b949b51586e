// SPDX-License-Identifier: Apache-2.0

package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// send posts JSON and gives what is answered.
func (p *process) send(path, body string) (int, string) {
	p.t.Helper()
	res, err := http.Post(p.addr+path, "application/json", strings.NewReader(body))
	require.NoError(p.t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(p.t, err)
	return res.StatusCode, string(text)
}

// try has changes tried and waits until they are compared.
func (p *process) try(body string) (id string) {
	p.t.Helper()
	code, text := p.send("/api/whatifs", body)
	require.Equal(p.t, http.StatusOK, code, text)
	var w struct{ ID string }
	require.NoError(p.t, json.Unmarshal([]byte(text), &w))
	p.until("/api/whatifs/"+w.ID, `"state":"done"`)
	return w.ID
}

// What is tried over the real log and runner changes nothing until it is adopted,
// is adopted once, and not when the shop has moved on; what was adopted is there
// after a restart.
func TestServeTriesChangesAndAdoptsThem(t *testing.T) {
	data := filepath.Join(t.TempDir(), "data")
	orders := someOrders(t, 3)
	p := begin(t, serveArgs(data, orders)...)
	p.until("/api/plan", "A3")
	due := time.Now().AddDate(0, 1, 0).Format(time.DateOnly)
	add := func(order string) string {
		return fmt.Sprintf(`{"name":"one more","changes":[{"add_order":{"order":%q,"product":"BOX","quantity":2,"ship_by":%q}},{"drop_order":{"order":"A2"}}]}`, order, due)
	}
	first := p.try(add("N1"))
	_, text := p.get("/api/whatifs/" + first)
	require.Contains(t, text, `"why_not":""`)
	require.Regexp(t, `"replications":[1-4]\d\d,`, text, "as many as there was time for")
	_, text = p.get("/api/dates?show=all")
	require.NotContains(t, text, "N1", "trying changes nothing")

	code, text := p.send("/api/whatifs/"+first+"/adopt", `{"by":"Ada"}`)
	require.Equal(t, http.StatusOK, code, text)
	p.until("/api/plan", "N1")
	code, text = p.send("/api/whatifs/"+first+"/adopt", `{}`)
	require.Equal(t, http.StatusConflict, code)
	require.Contains(t, text, "adopted already, by Ada")

	second := p.try(strings.ReplaceAll(add("N2"), "A2", "A3"))
	code, text = p.send("/api/report", `{"reports":[{"kind":"order.cancelled","data":{"order":"A1"}}]}`)
	require.Equal(t, http.StatusOK, code, text)
	code, text = p.send("/api/whatifs/"+second+"/adopt", `{}`)
	require.Equal(t, http.StatusConflict, code)
	require.Contains(t, text, "the shop has moved on since the comparison")
	require.Contains(t, text, "A1")
	_, text = p.get("/api/dates?show=all")
	require.NotContains(t, text, "N2", "all of it or nothing")
	_, text = p.get("/api/orders/A3")
	require.NotContains(t, text, `"standing":"cancelled"`)

	third := p.try(`{"name":"a course","changes":[{"absent":{"crew":"joiners","for":"3h","why":"course"}}]}`)
	_, text = p.get("/api/whatifs/" + third)
	require.Contains(t, text, "1 of joiners away from now for 3 h")
	require.Contains(t, text, `"of_plant":[]`)
	code, text = p.send("/api/whatifs/"+third+"/adopt", `{"by":"Ada"}`)
	require.Equal(t, http.StatusOK, code, text)
	p.until("/api/log", "crew.absent")

	require.Zero(t, p.interrupt(), "%s", p.errs)
	p = begin(t, serveArgs(data, orders)...)
	p.until("/api/plan", "N1")
	code, text = p.send("/api/report", `{"reports":[{"kind":"crew.present","data":{"crew":"joiners"}}]}`)
	require.Equal(t, http.StatusOK, code, text)
	code, text = p.send("/api/report", `{"reports":[{"kind":"crew.present","data":{"crew":"joiners"}}]}`)
	require.Contains(t, text, "nobody of it is reported away", "%d", code)
	require.Zero(t, p.interrupt(), "%s", p.errs)
}
