// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"time"
)

// MarshalJSON writes t for people: RFC 3339 in UTC, whole seconds, and the
// empty string for zero, which everywhere means "not said". An instant
// outside the years 0000 to 9999 is an error, as RFC 3339 cannot say it.
func (t Tick) MarshalJSON() ([]byte, error) {
	if t == 0 {
		return []byte(`""`), nil
	}
	if t < firstRFC3339 || t > lastRFC3339 {
		return nil, fmt.Errorf("instant %d lies outside the years 0000 to 9999 that RFC 3339 can write", int64(t))
	}
	return []byte(time.Unix(int64(t), 0).UTC().Format(`"` + time.RFC3339 + `"`)), nil
}

// UnmarshalJSON reads what MarshalJSON writes, RFC 3339 with any offset
// (fractions of a second are dropped), and plain integers, seconds since
// 1970-01-01T00:00:00Z.
func (t *Tick) UnmarshalJSON(text []byte) error {
	if bytes.Equal(text, []byte("null")) {
		return nil
	}
	if len(text) == 0 || text[0] != '"' {
		n, err := strconv.ParseInt(string(text), 10, 64)
		if err != nil {
			return fmt.Errorf("instant %s: want RFC 3339 in quotes, e.g. \"2026-03-02T06:00:00Z\", or whole seconds since 1970", text)
		}
		*t = Tick(n)
		return nil
	}
	s := string(text[1:max(1, len(text)-1)])
	if bytes.IndexByte(text, '\\') >= 0 || len(text) < 2 || text[len(text)-1] != '"' {
		if err := json.Unmarshal(text, &s); err != nil {
			return err
		}
	}
	if s == "" {
		*t = 0
		return nil
	}
	at, err := TickOf(s)
	if err != nil {
		return err
	}
	*t = at
	return nil
}

// TickOf reads an RFC 3339 instant; fractions of a second are dropped.
func TickOf(s string) (Tick, error) {
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return 0, fmt.Errorf("instant %q: want RFC 3339, e.g. 2026-03-02T06:00:00Z", s)
	}
	return Tick(at.Unix()), nil
}

// 0000-01-01T00:00:00Z and 9999-12-31T23:59:59Z.
const (
	firstRFC3339 Tick = -62167219200
	lastRFC3339  Tick = 253402300799
)
