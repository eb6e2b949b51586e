// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/teambition/rrule-go"
)

// recurrence is a rule after reading: the library's form, with the end kept
// apart because it may be an instant or a local time.
type recurrence struct {
	rrule.ROption
	hasUntil bool
	untilUTC bool // until is an instant, not a wall reading
	until    wall
}

// Limits of one rule, so that no rule outgrows memory or patience.
const (
	maxRuleLength   = 500
	maxRuleInterval = 10_000
	maxTimesOfDay   = 1440 // BYHOUR × BYMINUTE × BYSECOND
)

var ruleParts = []string{
	"FREQ", "UNTIL", "COUNT", "INTERVAL", "BYSECOND", "BYMINUTE", "BYHOUR", "BYDAY",
	"BYMONTHDAY", "BYYEARDAY", "BYWEEKNO", "BYMONTH", "BYSETPOS", "WKST",
}

var (
	byDayForm = regexp.MustCompile(`^([+-]?[1-9][0-9]?)?(MO|TU|WE|TH|FR|SA|SU)$`)
	wkstForm  = regexp.MustCompile(`^(MO|TU|WE|TH|FR|SA|SU)$`)
	untilForm = regexp.MustCompile(`^[0-9]{8}(T[0-9]{6}Z?)?$`)
	wholeForm = regexp.MustCompile(`^[1-9][0-9]{0,5}$`)
)

// parseRule reads an RRULE value and refuses what RFC 5545 forbids, what the
// library would misread, and what is absurd in a calendar.
func parseRule(text string) (recurrence, error) {
	var r recurrence
	if len(text) > maxRuleLength {
		return r, fmt.Errorf("the rule is longer than %d characters", maxRuleLength)
	}
	rule := strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(text)), "RRULE:")
	parts, err := splitRule(rule)
	if err != nil {
		return r, err
	}
	option, err := rrule.StrToROption(rule)
	if err != nil {
		return r, fmt.Errorf("the rule cannot be read: %w", err)
	}
	r.ROption = *option
	r.Byhour, r.Byminute, r.Bysecond = distinct(r.Byhour), distinct(r.Byminute), distinct(r.Bysecond)
	if until, ok := parts["UNTIL"]; ok {
		r.setUntil(until)
	}
	if _, err := rrule.NewRRule(r.onlyBounds()); err != nil {
		return r, fmt.Errorf("the rule cannot be read: %w", err)
	}
	return r, r.check(parts)
}

// splitRule checks the form NAME=VALUE;NAME=VALUE with known names, each once,
// and the values whose form the library does not check.
func splitRule(rule string) (map[string]string, error) {
	parts := map[string]string{}
	for _, part := range strings.Split(rule, ";") {
		name, value, found := strings.Cut(part, "=")
		if !found || value == "" {
			return nil, fmt.Errorf("the rule has a part %q; write it like FREQ=WEEKLY;BYDAY=WE", shorten(part))
		}
		if !slices.Contains(ruleParts, name) {
			return nil, fmt.Errorf("the rule has an unknown part %s; allowed: %s", shorten(name), strings.Join(ruleParts, ", "))
		}
		if _, twice := parts[name]; twice {
			return nil, fmt.Errorf("the rule has %s twice", name)
		}
		parts[name] = value
	}
	forms := []struct {
		name    string
		form    *regexp.Regexp
		allowed string
	}{
		{"BYDAY", byDayForm, "days like MO, 1WE (first Wednesday) or -1FR (last Friday)"},
		{"WKST", wkstForm, "MO, TU, WE, TH, FR, SA or SU"},
		{"UNTIL", untilForm, "20261224, 20261224T180000 (local) or 20261224T180000Z"},
		{"INTERVAL", wholeForm, fmt.Sprintf("1 to %d", maxRuleInterval)},
		{"COUNT", wholeForm, fmt.Sprintf("1 to %d", maxOccurrences)},
	}
	for _, f := range forms {
		for _, value := range strings.Split(parts[f.name], ",") {
			if _, given := parts[f.name]; given && !f.form.MatchString(value) {
				return nil, fmt.Errorf("the rule has %s=%s; allowed: %s", f.name, shorten(value), f.allowed)
			}
		}
	}
	return parts, nil
}

// setUntil keeps the end of the rule as what it is. A date alone means the
// whole of that day.
func (r *recurrence) setUntil(text string) {
	r.hasUntil = true
	r.untilUTC = strings.HasSuffix(text, "Z")
	r.until = wall(r.Until.Unix())
	if !strings.Contains(text, "T") {
		r.until += wall(Day) - 1
	}
	r.Until = time.Time{}
}

// onlyBounds is the rule for the library's range checks, which never asks the
// clock because it has a start.
func (r *recurrence) onlyBounds() rrule.ROption {
	option := r.ROption
	option.Dtstart = wall(0).time()
	return option
}

// check applies the table of RFC 5545, section 3.3.10, and our limits.
func (r *recurrence) check(parts map[string]string) error {
	has := func(name string) bool { _, ok := parts[name]; return ok }
	yearly, monthly := r.Freq == rrule.YEARLY, r.Freq == rrule.MONTHLY
	nth := 0
	for i := range r.Byweekday {
		n := r.Byweekday[i].N()
		nth = max(nth, n, -n)
	}
	rules := []struct {
		broken bool
		text   string
	}{
		{r.Freq == rrule.SECONDLY, "FREQ=SECONDLY is no calendar; use FREQ=MINUTELY or coarser, or one long span without a rule"},
		{has("COUNT") && has("UNTIL"), "COUNT and UNTIL exclude each other; keep one"},
		{r.Count > maxOccurrences, fmt.Sprintf("COUNT is at most %d", maxOccurrences)},
		{r.Interval > maxRuleInterval, fmt.Sprintf("INTERVAL is at most %d", maxRuleInterval)},
		{nth > 0 && !yearly && !monthly, "a numbered day like 1WE needs FREQ=MONTHLY or FREQ=YEARLY"},
		{nth > 0 && has("BYWEEKNO"), "a numbered day like 1WE cannot stand beside BYWEEKNO"},
		{nth > 5 && (monthly || has("BYMONTH")), "a month has at most five of a weekday; use 1 to 5 or -1 to -5"},
		{has("BYMONTHDAY") && r.Freq == rrule.WEEKLY, "BYMONTHDAY cannot stand beside FREQ=WEEKLY"},
		{has("BYYEARDAY") && (monthly || r.Freq == rrule.WEEKLY || r.Freq == rrule.DAILY), "BYYEARDAY needs FREQ=YEARLY, HOURLY or MINUTELY"},
		{has("BYWEEKNO") && !yearly, "BYWEEKNO needs FREQ=YEARLY"},
		{has("BYSETPOS") && !hasBy(parts), "BYSETPOS needs another BY part to choose from"},
		{max(1, len(r.Byhour))*max(1, len(r.Byminute))*max(1, len(r.Bysecond)) > maxTimesOfDay,
			fmt.Sprintf("BYHOUR, BYMINUTE and BYSECOND together name more than %d times of a day", maxTimesOfDay)},
	}
	for _, rule := range rules {
		if rule.broken {
			return fmt.Errorf("the rule cannot be used: %s", rule.text)
		}
	}
	return nil
}

func hasBy(parts map[string]string) bool {
	for name := range parts {
		if strings.HasPrefix(name, "BY") && name != "BYSETPOS" {
			return true
		}
	}
	return false
}

func distinct(list []int) []int {
	slices.Sort(list)
	return slices.Compact(list)
}

var rruleDays = [...]rrule.Weekday{rrule.SU, rrule.MO, rrule.TU, rrule.WE, rrule.TH, rrule.FR, rrule.SA}

// explicit writes down what the rule leaves to its start (RFC 5545, section
// 3.3.10), so that the start can be moved without changing the rule.
func (r *recurrence) explicit(first wall) rrule.ROption {
	option := r.ROption
	at := first.time()
	option.Interval = max(1, option.Interval)
	dated := len(option.Bymonthday)+len(option.Byyearday)+len(option.Byweekday) > 0
	weekday := []rrule.Weekday{rruleDays[at.Weekday()]}
	switch {
	case dated:
	case len(option.Byweekno) > 0:
		option.Byweekday = weekday
	case option.Freq == rrule.YEARLY:
		if len(option.Bymonth) == 0 {
			option.Bymonth = []int{int(at.Month())}
		}
		option.Bymonthday = []int{at.Day()}
	case option.Freq == rrule.MONTHLY:
		option.Bymonthday = []int{at.Day()}
	case option.Freq == rrule.WEEKLY:
		option.Byweekday = weekday
	}
	if option.Freq < rrule.HOURLY && len(option.Byhour) == 0 {
		option.Byhour = []int{at.Hour()}
	}
	if option.Freq < rrule.MINUTELY && len(option.Byminute) == 0 {
		option.Byminute = []int{at.Minute()}
	}
	if len(option.Bysecond) == 0 {
		option.Bysecond = []int{at.Second()}
	}
	return option
}

// reachable refuses rules by the hour or minute that step over every time they
// name: the library would look for one for ever.
func reachable(option rrule.ROption, first wall) error {
	never := fmt.Errorf("the rule never happens: its INTERVAL steps over every BYHOUR, BYMINUTE and BYSETPOS it names")
	at := first.time()
	switch option.Freq {
	case rrule.HOURLY:
		step := gcd(option.Interval, 24)
		fits := func(h int) bool { return (h-at.Hour())%step == 0 }
		if len(option.Byhour) > 0 && !slices.ContainsFunc(option.Byhour, fits) {
			return never
		}
	case rrule.MINUTELY:
		step := gcd(option.Interval, 1440)
		fits := func(h, m int) bool { return (h*60+m-at.Hour()*60-at.Minute())%step == 0 }
		if !anyTime(option, fits) {
			return never
		}
	default:
		return nil
	}
	size := max(1, len(option.Bysecond))
	if option.Freq == rrule.HOURLY {
		size *= max(1, len(option.Byminute))
	}
	fits := func(pos int) bool { return pos <= size && -pos <= size }
	if len(option.Bysetpos) > 0 && !slices.ContainsFunc(option.Bysetpos, fits) {
		return never
	}
	return nil
}

func anyTime(option rrule.ROption, fits func(hour, minute int) bool) bool {
	for minute := range 1440 {
		h, m := minute/60, minute%60
		if (len(option.Byhour) == 0 || slices.Contains(option.Byhour, h)) &&
			(len(option.Byminute) == 0 || slices.Contains(option.Byminute, m)) && fits(h, m) {
			return true
		}
	}
	return false
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// forward moves the start of a rule without COUNT near the range that is
// wanted, by whole intervals, so that a rule of long ago costs nothing.
func forward(option rrule.ROption, first, low wall) wall {
	at, want := first.time(), low.time()
	switch option.Freq {
	case rrule.YEARLY:
		n := (want.Year()-at.Year())/option.Interval - 1
		if n <= 0 {
			return first
		}
		return wallDate(at.Year()+n*option.Interval, time.January, 1) + first - first.midnight()
	case rrule.MONTHLY:
		months := (want.Year()-at.Year())*12 + int(want.Month()) - int(at.Month())
		n := months/option.Interval - 1
		if n <= 0 {
			return first
		}
		return wallDate(at.Year(), at.Month()+time.Month(n*option.Interval), 1) + first - first.midnight()
	}
	unit := map[rrule.Frequency]Seconds{
		rrule.WEEKLY: 7 * Day, rrule.DAILY: Day, rrule.HOURLY: Hour, rrule.MINUTELY: Minute,
	}[option.Freq]
	step := wall(unit) * wall(option.Interval)
	if n := (low-first)/step - 1; n > 0 {
		return first + n*step
	}
	return first
}
