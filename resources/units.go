// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// The readers below turn a value with its unit into the engine's whole
// numbers. They use decimal arithmetic, so that "0.1 h" is 360 s on every
// machine, and give errors that say what is allowed.

// Longest length of time and largest quantity a file may name. They keep sums
// of them far from the ends of int64.
const (
	maxSeconds  = 20 * 366 * Day
	maxQuantity = int64(1e15)
)

// Allowed forms, as findings print them.
const (
	allowedDuration    = `a length of time with its units, like "45m", "6h 30m", "2d", "90s"`
	allowedMass        = `a mass with its unit, like "2.5 kg" or "300 g", in whole grams`
	allowedPower       = `a power with its unit, like "18 kW" or "2500 W", in whole watts`
	allowedLength      = `a length with its unit, like "1200 mm" or "1.2 m", in whole millimetres`
	allowedTemperature = `a temperature like "80 C"`
	allowedDifference  = `a temperature difference like "10 C" or "10 K"`
	allowedRate        = `a rate like "1.5 C/min" or "90 C/h"`
	allowedPercent     = `a share like "95 %"`
	allowedQuantity    = `a number and the material's unit, like "260 m", to a thousandth`
)

type unitFactor struct {
	name   string
	factor int64
}

var (
	timeUnits = []unitFactor{
		{"s", 1}, {"sec", 1}, {"m", 60}, {"min", 60}, {"h", 3600},
		{"d", int64(Day)}, {"w", 7 * int64(Day)},
	}
	massUnits   = []unitFactor{{"g", 1}, {"kg", 1000}, {"t", 1_000_000}}
	powerUnits  = []unitFactor{{"W", 1}, {"kW", 1000}, {"MW", 1_000_000}}
	lengthUnits = []unitFactor{{"mm", 1}, {"cm", 10}, {"m", 1000}}
)

// decimal is digits without the point, and how many of them come after it.
type decimal struct {
	digits int64
	scale  int
}

// times multiplies and rounds up; exact tells whether rounding was needed.
func (d decimal) times(factor int64) (value int64, exact bool, ok bool) {
	divisor := int64(1)
	for range d.scale {
		divisor *= 10
	}
	if d.digits != 0 && factor > math.MaxInt64/max(d.digits, -d.digits) {
		return 0, false, false
	}
	product := d.digits * factor
	value = product / divisor
	exact = product%divisor == 0
	if !exact && product > 0 {
		value++
	}
	return value, exact, true
}

func (d decimal) float() float64 { return float64(d.digits) / math.Pow10(d.scale) }

// cutDecimal takes a decimal number off the front of the text. It knows no
// exponents and at most twelve digits and six places, plenty for a shop.
func cutDecimal(text string) (d decimal, rest string, ok bool) {
	negative := strings.HasPrefix(text, "-")
	i := 0
	if negative {
		i = 1
	}
	digits, point := 0, false
	for ; i < len(text); i++ {
		c := text[i]
		switch {
		case c >= '0' && c <= '9':
			d.digits = d.digits*10 + int64(c-'0')
			digits++
			if point {
				d.scale++
			}
			if digits > 12 || d.scale > 6 {
				return decimal{}, text, false
			}
			continue
		case c == '.' && !point && digits > 0:
			point = true
			continue
		}
		break
	}
	if digits == 0 || point && d.scale == 0 {
		return decimal{}, text, false
	}
	if negative {
		d.digits = -d.digits
	}
	return d, text[i:], true
}

// cutUnit takes letters and signs up to a space, digit or minus off the front.
func cutUnit(text string) (unit, rest string) {
	text = strings.TrimLeft(text, " ")
	i := strings.IndexFunc(text, func(r rune) bool { return r == ' ' || r == '-' || r >= '0' && r <= '9' })
	if i < 0 {
		i = len(text)
	}
	return text[:i], text[i:]
}

// quantity reads one number and one unit, nothing after it.
func quantity(text string) (d decimal, unit string, ok bool) {
	d, rest, ok := cutDecimal(strings.TrimSpace(text))
	if !ok {
		return decimal{}, "", false
	}
	return d, strings.TrimSpace(rest), true
}

func wrong(text, allowed string) error {
	return &unitError{text: text, allowed: allowed}
}

// unitError is a value that cannot be read, with what is allowed instead.
type unitError struct {
	text    string
	allowed string
}

func (e *unitError) Error() string { return fmt.Sprintf("cannot read %q: want %s", e.text, e.allowed) }

// ParseDuration reads a length of time such as "45m", "6h 30m", "1.5 h" or
// "2w"; a bare 0 needs no unit, and a leading minus makes all of it negative.
// Parts of a second are rounded up.
func ParseDuration(text string) (Seconds, error) {
	rest := strings.TrimSpace(text)
	if rest == "0" {
		return 0, nil
	}
	negative := strings.HasPrefix(rest, "-")
	rest = strings.TrimPrefix(rest, "-")
	var total Seconds
	if rest == "" {
		return 0, wrong(text, allowedDuration)
	}
	for rest != "" {
		d, after, ok := cutDecimal(rest)
		if !ok || d.digits < 0 {
			return 0, wrong(text, allowedDuration)
		}
		unit, after := cutUnit(after)
		factor, ok := factorOf(timeUnits, unit)
		if !ok {
			return 0, wrong(text, allowedDuration)
		}
		value, _, ok := d.times(factor)
		if !ok || Seconds(value) > maxSeconds {
			return 0, wrong(text, "at most 20 years")
		}
		total += Seconds(value)
		if total > maxSeconds {
			return 0, wrong(text, "at most 20 years")
		}
		rest = strings.TrimLeft(after, " ")
	}
	if negative {
		total = -total
	}
	return total, nil
}

func factorOf(units []unitFactor, name string) (int64, bool) {
	i := slices.IndexFunc(units, func(u unitFactor) bool { return u.name == name })
	if i < 0 {
		return 0, false
	}
	return units[i].factor, true
}

// ParseMass reads a mass such as "2.5 kg" as whole grams.
func ParseMass(text string) (int64, error) { return wholeOf(text, massUnits, allowedMass) }

// ParsePower reads a power such as "18 kW" as whole watts.
func ParsePower(text string) (int64, error) { return wholeOf(text, powerUnits, allowedPower) }

// ParseLength reads a length such as "1.2 m" as whole millimetres.
func ParseLength(text string) (int64, error) { return wholeOf(text, lengthUnits, allowedLength) }

func wholeOf(text string, units []unitFactor, allowed string) (int64, error) {
	d, unit, ok := quantity(text)
	if !ok || d.digits < 0 {
		return 0, wrong(text, allowed)
	}
	factor, ok := factorOf(units, unit)
	if !ok {
		return 0, wrong(text, allowed)
	}
	value, exact, ok := d.times(factor)
	if !ok || !exact || value > maxQuantity {
		return 0, wrong(text, allowed)
	}
	return value, nil
}

// ParseTemperature reads a temperature such as "80 C" in degrees Celsius.
func ParseTemperature(text string) (float64, error) {
	d, unit, ok := quantity(text)
	if !ok || unit != "C" && unit != "°C" || d.float() < -273.15 || d.float() > 2000 {
		return 0, wrong(text, allowedTemperature)
	}
	return d.float(), nil
}

// ParseDifference reads a temperature difference such as "10 C" in kelvins.
func ParseDifference(text string) (float64, error) {
	d, unit, ok := quantity(text)
	if !ok || unit != "C" && unit != "°C" && unit != "K" || d.digits < 0 || d.float() > 2000 {
		return 0, wrong(text, allowedDifference)
	}
	return d.float(), nil
}

// ParseRate reads a heating or cooling rate such as "1.5 C/min" or "90 C/h"
// in degrees Celsius per minute.
func ParseRate(text string) (float64, error) {
	d, unit, ok := quantity(text)
	unit = strings.TrimPrefix(strings.ReplaceAll(unit, " ", ""), "°")
	if !ok || d.digits <= 0 || d.float() > 10000 {
		return 0, wrong(text, allowedRate)
	}
	switch unit {
	case "C/min", "K/min":
		return d.float(), nil
	case "C/h", "K/h":
		return d.float() / 60, nil
	}
	return 0, wrong(text, allowedRate)
}

// ParsePercent reads a share such as "95 %" as 0.95. It must not exceed 100 %.
func ParsePercent(text string) (float64, error) {
	d, unit, ok := quantity(text)
	if !ok || unit != "%" || d.digits < 0 || d.float() > 100 {
		return 0, wrong(text, allowedPercent)
	}
	// Through the decimal, so that 97 % is the float64 nearest 0.97.
	return decimal{d.digits, d.scale + 2}.float(), nil
}

// ParseQuantity reads an amount of a material in thousandths of its unit, and
// the unit's name: "260 m" is 260000 and "m".
func ParseQuantity(text string) (milli int64, unit string, err error) {
	d, unit, ok := quantity(text)
	if !ok || d.digits < 0 || unit == "" {
		return 0, "", wrong(text, allowedQuantity)
	}
	milli, exact, ok := d.times(1000)
	if !ok || !exact || milli > maxQuantity {
		return 0, "", wrong(text, allowedQuantity)
	}
	return milli, unit, nil
}
