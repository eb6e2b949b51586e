// SPDX-License-Identifier: Apache-2.0

package resources

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// MaxPlantBytes is the largest plant file that is read.
const MaxPlantBytes = 2 << 20

// Limits of one file, so that a hostile one ends in a finding.
const (
	maxNodes    = 300_000 // YAML nodes after every alias is followed
	maxItems    = 2000    // in one list
	maxFindings = 500     // shown
	maxReported = 2000    // kept; the rest is only counted
)

// ReadPlant reads a plant file (see the package's README for the format) and
// checks that it is complete, that every reference resolves and that every
// product can be made. It reports all findings of the file at once, in the
// order of its lines; with any Error among them the plant is nil. The file
// name is only repeated in the findings.
//
// The plant differs from the file in what the file leaves to be understood: a
// missing after is the operation above, and stations that cannot take the
// product (Limits, Recipes) are gone from Operation.Stations.
func ReadPlant(file string, text []byte) (*Plant, []Finding) {
	r := &reader{file: file, what: "plant", lines: map[string]int{}}
	p := r.read(text)
	if p != nil {
		v := &validator{plant: p, report: r.report, line: r.lineOf, broken: r.brokenPaths()}
		v.validate()
	}
	r.findings = r.once(r.findings)
	SortFindings(r.findings)
	findings := capped(file, r.findings, r.dropped)
	if HasErrors(r.findings) {
		return nil, findings
	}
	p.narrow()
	return p, findings
}

// capped keeps a hopeless file from flooding whoever reads the findings. No
// warning takes the place of an error.
func capped(file string, findings []Finding, dropped int) []Finding {
	if len(findings) <= maxFindings {
		return findings
	}
	shown, severity := slices.Clone(findings), Warning
	if HasErrors(findings) {
		severity = Error
		shown = slices.DeleteFunc(shown, func(f Finding) bool { return f.Severity != Error })
	}
	shown = shown[:min(len(shown), maxFindings)]
	text := fmt.Sprintf("%d more findings are not shown", len(findings)-len(shown)+dropped)
	return append(shown, Finding{Severity: severity, File: file, Text: text})
}

// reader holds what reading one file needs.
type reader struct {
	file     string
	what     string // the file should hold, in messages
	findings []Finding
	dropped  int                   // findings beyond maxReported
	lines    map[string]int        // field path to line
	nodes    map[string]*yaml.Node // field path to what stands there, which more paths may lead to
	zone     *time.Location
	keys     map[string]keyForm // every key asked for, when not nil: "station.calendar"
}

func (r *reader) report(f Finding) {
	if len(r.findings) >= maxReported {
		r.dropped++
		return
	}
	f.File = r.file
	f.Found = shorten(f.Found)
	r.findings = append(r.findings, f)
}

// lineOf is the line of a field, or of the nearest thing around it.
func (r *reader) lineOf(path string) int {
	for path != "" {
		if line, ok := r.lines[path]; ok {
			return line
		}
		cut := strings.LastIndexAny(path, ".[")
		if cut < 0 {
			return 0
		}
		path = path[:cut]
	}
	return 0
}

// brokenPaths are the fields that could not be read, so that nothing is
// concluded from the zero values in their place.
func (r *reader) brokenPaths() []string {
	var paths []string
	for _, f := range r.findings {
		if f.Severity == Error {
			paths = append(paths, f.Field)
		}
	}
	return paths
}

func shorten(s string) string {
	const most = 60
	s = strings.ToValidUTF8(s, "\uFFFD")
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "…"
}

func (r *reader) read(text []byte) *Plant {
	root := r.document(text)
	if root == nil {
		return nil
	}
	return r.plant(root)
}

// document turns the text into one YAML mapping, nil after a finding.
func (r *reader) document(text []byte) *yaml.Node {
	text, ok := r.encoding(text)
	if !ok {
		return nil
	}
	node, more, err := parse(text)
	switch {
	case errors.Is(err, io.EOF):
		r.report(Finding{Text: "the file is empty", Allowed: "a " + r.what + "; see the README for its format"})
		return nil
	case err != nil:
		r.report(syntaxFinding(text, err))
		return nil
	case more:
		r.report(Finding{Text: "the file holds more than one YAML document", Allowed: "one " + r.what, Hint: "take out the lines with only ---"})
		return nil
	}
	if n := measure(node); n.err != "" {
		r.report(Finding{Line: n.line, Text: n.err, Hint: "write the repeated part out instead of referring to it"})
		return nil
	}
	root := follow(node)
	if root.Kind == yaml.DocumentNode && len(root.Content) == 1 {
		root = follow(root.Content[0])
	}
	if root.Kind != yaml.MappingNode {
		r.report(Finding{Line: root.Line, Text: "the file is not a " + r.what, Found: root.Value, Allowed: "keys like name:"})
		return nil
	}
	return root
}

// encoding accepts UTF-8 text of a sane size; a byte order mark is dropped.
func (r *reader) encoding(text []byte) ([]byte, bool) {
	if len(text) > MaxPlantBytes {
		r.report(Finding{Text: "the file is too large", Found: fmt.Sprintf("%d bytes", len(text)), Allowed: fmt.Sprintf("at most %d bytes", MaxPlantBytes)})
		return nil, false
	}
	if bytes.HasPrefix(text, []byte{0xFF, 0xFE}) || bytes.HasPrefix(text, []byte{0xFE, 0xFF}) {
		r.report(Finding{Line: 1, Text: "the file is in UTF-16", Allowed: "UTF-8", Hint: "save it again as UTF-8"})
		return nil, false
	}
	if after, found := bytes.CutPrefix(text, []byte("\uFEFF")); found {
		r.report(Finding{Severity: Warning, Line: 1, Text: "the file starts with a byte order mark, which is skipped", Hint: "save it as UTF-8 without a mark"})
		text = after
	}
	for i, line := 0, 1; i < len(text); {
		c, size := utf8.DecodeRune(text[i:])
		switch {
		case c == utf8.RuneError && size == 1:
			r.report(Finding{Line: line, Text: "the file is not in UTF-8", Found: fmt.Sprintf("byte 0x%02X", text[i]), Allowed: "UTF-8", Hint: "save it again as UTF-8"})
			return nil, false
		case c == 0:
			r.report(Finding{Line: line, Text: "the file holds a NUL byte, so it is no text file", Allowed: "UTF-8 text"})
			return nil, false
		case c == '\n':
			line++
		}
		i += size
	}
	return text, true
}

// parse reads the first document and tells whether there is another. The
// parser is not ours: should it panic on some text, that is a syntax error of
// the text, not the end of the program.
func parse(text []byte) (node *yaml.Node, more bool, err error) {
	defer func() {
		if p := recover(); p != nil {
			node, more, err = nil, false, fmt.Errorf("yaml: the parser failed: %v", p)
		}
	}()
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	node = new(yaml.Node)
	if err := decoder.Decode(node); err != nil {
		return nil, false, err
	}
	var second yaml.Node
	switch err := decoder.Decode(&second); {
	case errors.Is(err, io.EOF):
		return node, false, nil
	case err != nil:
		return nil, false, err
	}
	return node, true, nil
}

// mostSought is the longest text in which the line of a slip is looked for, by
// reading parts of it again.
const mostSought = 256 << 10

var (
	syntaxLine    = regexp.MustCompile(`^line (\d+): `)
	unexpected    = regexp.MustCompile(`^did not find expected (key|node content|'-' indicator|',' or .*)$`)
	unknownAnchor = regexp.MustCompile(`^unknown anchor '(.+)' referenced$`)
)

// syntaxFinding says what the parser found, and where. The parser itself names
// the line before the one on which the block, list or mapping around it begins,
// which may be far away, or none.
func syntaxFinding(text []byte, err error) Finding {
	said := strings.TrimPrefix(err.Error(), "yaml: ")
	f := Finding{Allowed: "YAML 1.2"}
	if m := syntaxLine.FindStringSubmatch(said); m != nil {
		f.Line, _ = strconv.Atoi(m[1])
		said = strings.TrimPrefix(said, m[0])
	}
	switch {
	case strings.Contains(said, "cannot start any token"):
		f.Hint = "indent with spaces, and quote values that start with a sign"
	case unexpected.MatchString(said) && len(text) <= mostSought:
		f.Line, f.Hint = failingLine(text, said), "indent the lines of one block alike, write each as key: value or with its dash, and close what is opened"
	}
	if m := unknownAnchor.FindStringSubmatch(said); m != nil {
		f.Line, f.Hint = lineNaming(text, "*"+m[1]), "name what stands before it after a &"
	}
	f.Text = "cannot be read as YAML: " + said
	return f
}

// failingLine is the last line of the shortest beginning of a text at which the
// parser says what it says of the whole; 0: there is none. It reads from the
// start and stops at its first error, so a longer beginning fails alike.
func failingLine(text []byte, said string) int {
	lines := bytes.SplitAfter(text, []byte("\n"))
	n := sort.Search(len(lines), func(i int) bool {
		_, _, err := parse(bytes.Join(lines[:i+1], nil))
		return err != nil && strings.HasSuffix(err.Error(), said)
	})
	if n == len(lines) {
		return 0
	}
	return n + 1
}

// lineNaming is the first line with a word that begins with a sign; 0: none.
func lineNaming(text []byte, word string) int {
	whole := regexp.MustCompile(regexp.QuoteMeta(word) + `([\s,\]}]|$)`)
	line := 0
	for part := range bytes.Lines(text) {
		line++
		if code, _, _ := bytes.Cut(part, []byte(" #")); whole.Match(code) && !bytes.HasPrefix(bytes.TrimSpace(code), []byte("#")) {
			return line
		}
	}
	return 0
}

// follow goes from an alias to what it stands for.
func follow(n *yaml.Node) *yaml.Node {
	for n.Kind == yaml.AliasNode && n.Alias != nil {
		n = n.Alias
	}
	return n
}

// measured is the size of a node with every alias followed, or why it has none.
type measured struct {
	size int
	line int
	err  string
}

// measure refuses what would not end: anchors that hold themselves, and
// aliases of aliases that unfold to more than a plant can be.
func measure(root *yaml.Node) measured {
	done := map[*yaml.Node]measured{}
	inside := map[*yaml.Node]bool{}
	var visit func(n *yaml.Node) measured
	visit = func(n *yaml.Node) measured {
		if m, ok := done[n]; ok {
			return m
		}
		if inside[n] {
			return measured{line: n.Line, err: "the anchor &" + shorten(n.Anchor) + " refers to itself"}
		}
		inside[n] = true
		m := measured{size: 1, line: n.Line}
		children := n.Content
		if n.Kind == yaml.AliasNode && n.Alias != nil {
			children = []*yaml.Node{n.Alias}
		}
		for _, child := range children {
			c := visit(child)
			if c.err != "" {
				m = c
				break
			}
			if m.size += c.size; m.size > maxNodes {
				m.err = "the file unfolds to too many values"
				break
			}
		}
		delete(inside, n)
		done[n] = m
		return m
	}
	return visit(root)
}
