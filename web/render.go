// SPDX-License-Identifier: Apache-2.0

package web

import (
	"bytes"
	"cmp"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"towpath/resources"
	"towpath/scheduler/capacity"
	"towpath/scheduler/relax"
	"towpath/web/view"
)

//go:embed templates
var templateFiles embed.FS

// pageNames are the templates beside the layout; each defines "main".
var pageNames = []string{"floor", "alerts", "dates", "order", "lineup", "loads", "risk", "promise", "whatif", "whatiftried", "whatifpair", "capacity", "learn", "stations", "station", "tools", "people", "trace", "log", "help", "fault"}

// templates holds one set per page.
type templates struct{ sets map[string]*template.Template }

func loadTemplates() (*templates, error) {
	base, err := template.New("layout").Funcs(template.FuncMap{
		"path": pathOf, "span": view.Span, "grams": view.Grams, "count": view.Count, "heads": view.Heads, "asset": assetURL,
		"query": queryOf, "percent": percent, "add": func(a, b int) int { return a + b },
		"logfilters": view.LogFilters, "zooms": view.Zooms,
		"heat": heatOf, "heattext": heatTextOf, "hours": view.Hours, "capacitykinds": view.CapacityKinds,
		"percentOf": func(x float64) string { return strconv.FormatFloat(100*x, 'f', 0, 64) },
		"asks":      func(r relax.Relaxation) string { return view.Asks(&r) }, "effect": func(r relax.Relaxation) string { return view.Effect(&r) },
		"joined": func(list []string) string { return strings.Join(list, ", ") },
		"likely": view.Likely, "percentNum": func(x float64) float64 { return 100 * x }, "percentWide": func(low, high float64) float64 { return 100 * (high - low) },
		"figure": view.Figure, "difference": view.Difference, "turn": view.Turn, "deref": func(r *view.LineupRow) view.LineupRow { return *r }, "later": view.Later,
		"deference": func() string { return view.Deference }, "list": func(s ...string) []string { return s },
		"column": func(key, word string) view.Choice { return view.Choice{Key: key, Word: word} },
	}).ParseFS(templateFiles, "templates/layout.html", "templates/parts.html")
	if err != nil {
		return nil, err
	}
	t := &templates{sets: map[string]*template.Template{}}
	for _, name := range pageNames {
		set, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if t.sets[name], err = set.ParseFS(templateFiles, "templates/"+name+".html"); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// Page is what a template sees. M is the page's model, or in a part what With
// was given.
type Page struct {
	view.Clock
	M       any
	Name    string // of the template
	Title   string
	Nav     string // key of the place in the navigation
	Plant   string
	Sign    Sign
	Alerts  int    // how many there are
	Wall    bool   // large, without navigation
	Here    string // the page's own address without fragment
	Program string // version of the program
	Empty   string // why there is nothing to show; empty: there is
	values  url.Values
	trying  bool // see Trying
}

// With is the page around another model, for a part of it.
func (p Page) With(m any) Page {
	p.M = m
	return p
}

// Param is a parameter of the page's own address.
func (p Page) Param(name string) string { return p.values.Get(name) }

// Link is the page's own address with some parameters changed; an empty value
// drops one.
func (p Page) Link(pairs ...string) string {
	v := url.Values{}
	for k, list := range p.values {
		if k != "fragment" {
			v[k] = list
		}
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] == "" {
			v.Del(pairs[i])
			continue
		}
		v.Set(pairs[i], pairs[i+1])
	}
	if len(v) == 0 {
		return p.Here
	}
	return p.Here + "?" + v.Encode()
}

// Full is an instant in full as a time element.
func (p Page) Full(t resources.Tick) template.HTML { return p.stamp(t, p.When(t)) }

// Short is an instant as short as it can be, as a time element.
func (p Page) Short(t resources.Tick) template.HTML { return p.stamp(t, p.Time(t)) }

// Range is a start in full and an end, with its day only when that differs.
func (p Page) Range(from, to resources.Tick) template.HTML {
	end := p.When(to)
	if p.Midnight(from) == p.Midnight(to) {
		end = p.Hour(to)
	}
	return p.stamp(from, p.When(from)) + " – " + p.stamp(to, end)
}

// stamp holds nothing but numbers and what Clock writes of them.
func (p Page) stamp(t resources.Tick, text string) template.HTML {
	if t == 0 {
		return "–"
	}
	return template.HTML(fmt.Sprintf(`<time datetime="%s">%s</time>`, p.ISO(t), template.HTMLEscapeString(text)))
}

// Rel is "in 12 min" or "5 min ago", kept true by the page's script.
func (p Page) Rel(t resources.Tick) template.HTML {
	if t == 0 {
		return ""
	}
	return template.HTML(fmt.Sprintf(`<span class="rel" data-rel="%d">%s</span>`, t, p.Relative(t)))
}

// Left is "12 min left" or "12 min over", kept true by the page's script.
func (p Page) Left(t resources.Tick) template.HTML {
	d := resources.Seconds(t - p.Now)
	word := " left"
	if d < 0 {
		word = " over"
	}
	return template.HTML(fmt.Sprintf(`<span class="left" data-left="%d">%s%s</span>`, t, view.Span(d), word))
}

// Done is how much of a job's time has passed, percent.
func (p Page) Done(j *view.Job) int {
	if j.End <= j.Start {
		return 100
	}
	return int(min(100, max(0, (p.Now-j.Start)*100/(j.End-j.Start))))
}

// JSON writes a model for a data attribute.
func (p Page) JSON(m any) (string, error) {
	text, err := json.Marshal(m)
	return string(text), err
}

// Slack says a slack in words.
func (p Page) Slack(o view.Order) string {
	switch {
	case o.Predicted == 0:
		return "–"
	case o.Slack < 0:
		return view.Span(o.Slack) + " late"
	}
	return view.Span(o.Slack)
}

// Feed is the address of the orders shown as a calendar.
func (p Page) Feed() string {
	q := url.Values{}
	for _, name := range []string{"show", "q"} {
		if value := p.Param(name); value != "" {
			q.Set(name, value)
		}
	}
	return strings.TrimSuffix("/api/dates.ics?"+q.Encode(), "?")
}

// Seconds is the time between two instants.
func (p Page) Seconds(from, to resources.Tick) resources.Seconds { return resources.Seconds(to - from) }

// SortKey is the column the dates are sorted by.
func (p Page) SortKey() string { return cmp.Or(p.Param("sort"), "due") }

// SortLink sorts the dates by a column; a second time, the other way round.
func (p Page) SortLink(key string) string {
	down := ""
	if p.SortKey() == key && p.Param("down") != "1" {
		down = "1"
	}
	return p.Link("sort", key, "down", down)
}

// heatOf and heatTextOf take a cell by value or by pointer, as templates have
// both.
func heatOf(c any) int { return view.Heat(cellOf(c)) }

func heatTextOf(c any) string { return view.HeatText(cellOf(c)) }

func cellOf(c any) *capacity.Cell {
	if p, ok := c.(*capacity.Cell); ok {
		return p
	}
	v := c.(capacity.Cell) // templates have no other
	return &v
}

// Date is an instant's day as a time element.
func (p Page) Date(t resources.Tick) template.HTML { return p.stamp(t, p.Day(t)) }

// pathOf joins parts to an absolute path, each escaped.
func pathOf(parts ...any) string {
	var b strings.Builder
	for _, part := range parts {
		b.WriteString("/" + url.PathEscape(fmt.Sprint(part)))
	}
	return b.String()
}

// queryOf joins pairs to a query string.
func queryOf(pairs ...string) string {
	v := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return "?" + v.Encode()
}

func percent(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) + "%" }

// page renders a page, or only its changing part when the request asks for
// the fragment. Nothing is sent when the template fails.
func (s *Server) page(c echo.Context, status int, name, title, nav string, model any) error {
	v := s.view()
	p := Page{
		Clock: v.Clock(), M: model, Name: name, Title: title, Nav: nav, Plant: v.Plant(), Sign: s.sign(), Alerts: len(v.Picture.Alerts),
		Wall: c.QueryParam("wall") == "1", Here: c.Request().URL.EscapedPath(), Program: s.version, values: c.QueryParams(),
	}
	if name != "help" && name != "fault" {
		p.Empty = v.Empty()
	}
	what := "layout"
	if c.QueryParam("fragment") == "1" {
		what = "fragment"
	}
	var b bytes.Buffer
	if err := s.pages.sets[name].ExecuteTemplate(&b, what, p); err != nil {
		return fmt.Errorf("render %s: %w", name, err)
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "no-store")
	return c.HTMLBlob(status, b.Bytes())
}
