// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// text reads a word or line; a number is taken as it is written.
func (o *object) text(key string) string {
	n := o.take(key, "text")
	if n == nil {
		return ""
	}
	text, ok := scalarText(n)
	if !ok || strings.TrimSpace(text) == "" {
		o.bad(key, n, "a word or a line of text")
		return ""
	}
	return strings.TrimSpace(text)
}

// texts reads a list of words, or a single one.
func (o *object) texts(key string) []string {
	var all []string
	for _, it := range o.items(key, "texts", true) {
		text, ok := scalarText(it.node)
		if !ok || strings.TrimSpace(text) == "" {
			o.r.report(Finding{Line: it.node.Line, Field: it.path, Text: "cannot be read", Found: describe(it.node), Allowed: "a word or a line of text"})
			continue
		}
		if o.r.lines[it.path] == 0 {
			o.r.lines[it.path] = it.node.Line
		}
		all = append(all, strings.TrimSpace(text))
	}
	return all
}

// flag reads true or false; absent is false.
func (o *object) flag(key string) bool {
	n := o.take(key, "flag")
	if n == nil {
		return false
	}
	if n.Kind == yaml.ScalarNode && n.ShortTag() == "!!bool" {
		switch n.Value {
		case "true":
			return true
		case "false":
			return false
		}
	}
	o.badPlain(key, n, "true or false")
	return false
}

// word reads one of a few words; absent is the first.
func (o *object) word(key string, allowed ...string) int {
	n := o.take(key, "word:"+strings.Join(allowed, "|"))
	if n == nil {
		return 0
	}
	text, _ := scalarText(n)
	for i, a := range allowed {
		if text == a {
			return i
		}
	}
	o.r.report(Finding{
		Line: n.Line, Field: o.at(key), Text: "cannot be read", Found: describe(n),
		Allowed: strings.Join(allowed, ", "), Hint: hint(text, allowed),
	})
	return 0
}

// count reads a whole number of things.
func (o *object) count(key string, absent, least, most int) int {
	n := o.take(key, "count")
	if n == nil {
		return absent
	}
	value, err := strconv.Atoi(n.Value)
	if n.Kind != yaml.ScalarNode || n.ShortTag() != "!!int" || err != nil || value < least || value > most {
		o.badPlain(key, n, fmt.Sprintf("a whole number from %d to %d", least, most))
		return absent
	}
	return value
}

// number reads a number that has no unit, like a speed factor.
func (o *object) number(key string, absent, least, most float64) float64 {
	n := o.take(key, "number")
	if n == nil {
		return absent
	}
	value, ok := number(n)
	if !ok || value < least || value > most {
		o.badPlain(key, n, fmt.Sprintf("a number from %g to %g", least, most))
		return absent
	}
	return value
}

func number(n *yaml.Node) (float64, bool) {
	if n.Kind != yaml.ScalarNode || n.ShortTag() != "!!int" && n.ShortTag() != "!!float" {
		return 0, false
	}
	value, err := strconv.ParseFloat(n.Value, 64)
	return value, err == nil && !math.IsInf(value, 0) && !math.IsNaN(value)
}

// people reads heads, in parts of a person if need be, as thousandths.
func (o *object) people(key string) int64 {
	n := o.take(key, "people")
	if n == nil {
		return 1000
	}
	d, rest, ok := cutDecimal(n.Value)
	milli, exact, fits := d.times(1000)
	if _, isNumber := number(n); !isNumber || !ok || rest != "" || !exact || !fits || milli < 1 || milli > 1_000_000 {
		o.badPlain(key, n, "heads from 0.001 to 1000, like 1 or 0.25")
		return 1000
	}
	return milli
}

// unitText gives the text of a value that carries its unit.
func (o *object) unitText(key, form string) (*yaml.Node, string, bool) {
	n := o.take(key, form)
	if n == nil {
		return nil, "", false
	}
	text, ok := scalarText(n)
	if !ok {
		o.bad(key, n, allowedOf[form])
		return nil, "", false
	}
	return n, text, true
}

var allowedOf = map[string]string{
	"duration": allowedDuration, "wait": allowedDuration, "mass": allowedMass, "power": allowedPower, "temperature": allowedTemperature,
	"difference": allowedDifference, "rate": allowedRate, "percent": allowedPercent, "quantity": allowedQuantity,
	"reading": allowedReading,
}

func parsed[T any](o *object, key, form string, absent T, parse func(string) (T, error)) T {
	n, text, ok := o.unitText(key, form)
	if !ok {
		return absent
	}
	value, err := parse(text)
	if err != nil {
		allowed := allowedOf[form]
		var u *unitError
		if errors.As(err, &u) {
			allowed = u.allowed
		}
		o.bad(key, n, allowed)
		return absent
	}
	return value
}

// duration reads a length of time that is not negative.
func (o *object) duration(key string, absent Seconds) Seconds {
	return parsed(o, key, "duration", absent, func(s string) (Seconds, error) {
		d, err := ParseDuration(s)
		if err == nil && d < 0 {
			return 0, wrong(s, "a length of time that is not negative")
		}
		return d, err
	})
}

// wait reads a length of time of either sign.
func (o *object) wait(key string) Seconds { return parsed(o, key, "wait", 0, ParseDuration) }

func (o *object) mass(key string) int64 { return parsed(o, key, "mass", 0, ParseMass) }

func (o *object) power(key string) int64 { return parsed(o, key, "power", 0, ParsePower) }

func (o *object) temperature(key string, absent float64) float64 {
	return parsed(o, key, "temperature", absent, ParseTemperature)
}

func (o *object) difference(key string) float64 {
	return parsed(o, key, "difference", 0, ParseDifference)
}

func (o *object) rate(key string) float64 { return parsed(o, key, "rate", 0, ParseRate) }

func (o *object) percent(key string) float64 { return parsed(o, key, "percent", 0, ParsePercent) }

// yield reads a share above nothing; absent is 0, which means all of it.
func (o *object) yield(key string) float64 {
	return parsed(o, key, "percent", 0, func(s string) (float64, error) {
		share, err := ParsePercent(s)
		if err == nil && share == 0 {
			return 0, wrong(s, "a share above 0 %; leave the key out for 100 %")
		}
		return share, err
	})
}

// quantity reads an amount of a material; the unit is checked against unitOf
// the material when that is known, else it is left to the reference's finding.
func (o *object) quantity(key, unit string) int64 {
	return parsed(o, key, "quantity", 0, func(s string) (int64, error) {
		milli, u, err := ParseQuantity(s)
		if err == nil && unit != "" && u != unit {
			return 0, wrong(s, "an amount in "+unit+", the material's unit")
		}
		return milli, err
	})
}

// pairs reads a mapping whose keys the plant's author chose.
func (o *object) pairs(key, form string) (keys, values []*yaml.Node) {
	n := o.take(key, form)
	if n == nil {
		return nil, nil
	}
	inner := o.r.object("names", o.at(key), n)
	for _, k := range inner.keys {
		if v := inner.take(k.Value, "any"); v != nil {
			keys = append(keys, k)
			values = append(values, v)
		}
	}
	return keys, values
}

// attributes reads name: value words.
func (o *object) attributes(key string) map[string]string {
	keys, values := o.pairs(key, "attributes")
	if keys == nil {
		return nil
	}
	all := make(map[string]string, len(keys))
	for i, k := range keys {
		text, ok := scalarText(values[i])
		if !ok || text == "" || text == Any || text == anyWord {
			o.bad(key+"."+k.Value, values[i], "a word")
			continue
		}
		all[k.Value] = text
	}
	return all
}

// sizes reads lengths, masses and counts by name. A length's name gets _mm
// and a mass's _g, so that the unit is in the name from then on; a bare whole
// number keeps the name the file gave it.
func (o *object) sizes(key string) map[string]int64 {
	keys, values := o.pairs(key, "sizes")
	if keys == nil {
		return nil
	}
	all := make(map[string]int64, len(keys))
	for i, k := range keys {
		name, value, ok := size(k.Value, values[i])
		if !ok {
			o.bad(key+"."+k.Value, values[i], `a length like "1200 mm", a mass like "40 kg", or a whole number of what the name says`)
			continue
		}
		all[name] = value
	}
	return all
}

func size(name string, n *yaml.Node) (string, int64, bool) {
	text, ok := scalarText(n)
	if !ok {
		return "", 0, false
	}
	if mm, err := ParseLength(text); err == nil {
		return name + "_mm", mm, true
	}
	if g, err := ParseMass(text); err == nil {
		return name + "_g", g, true
	}
	value, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n.ShortTag() != "!!int" || value < 0 || value > maxQuantity {
		return "", 0, false
	}
	return name, value, true
}

// durations reads lengths of time by name.
func (o *object) durations(key string) map[string]Seconds {
	keys, values := o.pairs(key, "durations")
	if keys == nil {
		return nil
	}
	all := make(map[string]Seconds, len(keys))
	for i, k := range keys {
		text, _ := scalarText(values[i])
		value, err := ParseDuration(text)
		if err != nil || value < 0 {
			o.bad(key+"."+k.Value, values[i], allowedDuration)
			continue
		}
		all[k.Value] = value
	}
	return all
}

const (
	allowedLocal = "a local date and time, like 2026-03-02 06:00"
	allowedDate  = "a date, like 2026-04-03"
	allowedClock = `a time of day from "00:00" to "24:00"`
)

// local reads an instant given in the plant's zone.
func (o *object) local(key string) Tick {
	n := o.take(key, "local")
	if n == nil {
		return 0
	}
	if text, ok := scalarText(n); ok {
		if at, skipped, ok := readLocal(o.r.zone, text); ok {
			if skipped != "" {
				o.r.report(Finding{Severity: Warning, Line: n.Line, Field: o.at(key), Text: skipped, Found: text})
			}
			return at
		}
	}
	o.bad(key, n, allowedLocal)
	return 0
}

func sane(t time.Time) bool { return t.Year() >= 1971 && t.Year() <= 2199 }

// clock reads a time of day as seconds after local midnight.
func (o *object) clock(key string) Seconds {
	n := o.take(key, "clock")
	if n == nil {
		return 0
	}
	text, ok := scalarText(n)
	value, good := clockOf(text)
	if !ok || !good {
		o.bad(key, n, allowedClock)
		return 0
	}
	return value
}

func clockOf(text string) (Seconds, bool) {
	if text == "24:00" {
		return Day, true
	}
	t, err := time.Parse("15:04", text)
	if err != nil || len(text) != len("15:04") {
		return 0, false
	}
	return Seconds(t.Hour())*Hour + Seconds(t.Minute())*Minute, true
}

// dates reads a list of days of the plant's calendar.
func (o *object) dates(key string) []time.Time {
	var all []time.Time
	for _, it := range o.items(key, "dates", true) {
		text, ok := scalarText(it.node)
		t, err := time.Parse("2006-01-02", text)
		if !ok || err != nil || !sane(t) {
			o.r.report(Finding{Line: it.node.Line, Field: it.path, Text: "cannot be read", Found: describe(it.node), Allowed: allowedDate})
			continue
		}
		all = append(all, t)
	}
	return all
}

var weekdays = []string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"}

// days reads weekdays: "Mon", "Mon-Fri", a list of them, or "daily".
func (o *object) days(key string) []time.Weekday {
	var on [7]bool // from Monday
	for _, it := range o.items(key, "days", true) {
		text, _ := scalarText(it.node)
		first, last, ok := daySpan(text)
		if !ok {
			o.r.report(Finding{
				Line: it.node.Line, Field: it.path, Text: "cannot be read", Found: describe(it.node),
				Allowed: "Mon, Tue, Wed, Thu, Fri, Sat, Sun, a span like Mon-Fri, or daily", Hint: hint(text, weekdays),
			})
			continue
		}
		for d := first; ; d = (d + 1) % 7 {
			on[d] = true
			if d == last {
				break
			}
		}
	}
	var all []time.Weekday
	for i, is := range on {
		if is {
			all = append(all, time.Weekday((i+1)%7))
		}
	}
	return all
}

func daySpan(text string) (first, last int, ok bool) {
	if text == "daily" {
		return 0, 6, true
	}
	from, to, span := strings.Cut(text, "-")
	if !span {
		to = from
	}
	first, last = dayIndex(from), dayIndex(to)
	return first, last, first >= 0 && last >= 0
}

func dayIndex(text string) int {
	for i, d := range weekdays {
		if d == text {
			return i
		}
	}
	return -1
}
