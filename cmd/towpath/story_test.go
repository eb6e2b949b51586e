// SPDX-License-Identifier: Apache-2.0

package main

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

var rewrite = flag.Bool("rewrite", false, "write the outputs in the demo's story anew")

const storyFile = "../../testdata/demo/STORY.md"

// blocks of a story: a command after "$ towpath ", perhaps with one filter, and
// what it prints.
var blocks = regexp.MustCompile("(?s)```console\n\\$ towpath ([^\n]*)\n(.*?)```\n")

// The demo's story tells what the commands print.
func TestStory(t *testing.T) {
	page, err := os.ReadFile(storyFile)
	require.NoError(t, err)
	dir := t.TempDir()
	for _, pattern := range []string{"demo/*.yaml", "demo/*.csv", "changes/*.yaml"} {
		files, err := filepath.Glob(filepath.Join("../../testdata", pattern))
		require.NoError(t, err)
		require.NotEmpty(t, files, pattern)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.Base(file)), text, 0o644))
		}
	}
	story, err := filepath.Abs(storyFile)
	require.NoError(t, err)
	t.Chdir(dir)
	found := blocks.FindAllSubmatch(page, -1)
	require.GreaterOrEqual(t, len(found), 7)
	found = found[:min(len(found), storyLength)]
	got := make([]string, len(found))
	got[0] = told(t, string(found[0][1])) // the plan that the others begin with
	var wait sync.WaitGroup
	for i := 1; i < len(found); i++ {
		wait.Go(func() { got[i] = told(t, string(found[i][1])) })
	}
	wait.Wait()
	for i, b := range found {
		command, want, got := string(b[1]), string(b[2]), got[i]
		if *rewrite {
			page = bytes.Replace(page, b[0], []byte("```console\n$ towpath "+command+"\n"+got+"```\n"), 1)
			continue
		}
		require.Equal(t, timeless(want), timeless(got), "%s\nwhen that is meant: go test ./cmd/towpath -run Story -rewrite, then read the text between", command)
	}
	if *rewrite {
		require.NoError(t, os.WriteFile(story, page, 0o644))
	}
}

// told is what a command of a story prints.
func told(t *testing.T, line string) string {
	t.Helper()
	command, filter, _ := strings.Cut(line, " | ")
	var out, errs bytes.Buffer
	root := newRoot(&out, &errs)
	root.SetArgs(strings.Fields(command))
	if err := root.ExecuteContext(t.Context()); err != nil {
		t.Errorf("towpath %s: %v\n%s", command, err, errs.String())
		return ""
	}
	return filtered(t, out.String(), filter)
}

// filtered does what head -n, tail -n and grep -E do.
func filtered(t *testing.T, text, filter string) string {
	t.Helper()
	name, arg, _ := strings.Cut(filter, " ")
	lines := strings.SplitAfter(strings.TrimSuffix(text, "\n")+"\n", "\n")
	lines = lines[:len(lines)-1]
	switch name {
	case "":
	case "head", "tail":
		n, err := strconv.Atoi(strings.TrimPrefix(arg, "-n "))
		if err != nil {
			t.Errorf("filter %q: %v", filter, err)
		}
		if n = min(n, len(lines)); name == "head" {
			lines = lines[:n]
		} else {
			lines = lines[len(lines)-n:]
		}
	case "grep":
		pattern, err := regexp.Compile(strings.Trim(strings.TrimPrefix(arg, "-E "), `"`))
		if err != nil {
			t.Errorf("filter %q: %v", filter, err)
			return ""
		}
		var kept []string
		for _, l := range lines {
			if pattern.MatchString(l) {
				kept = append(kept, l)
			}
		}
		lines = kept
	default:
		t.Errorf("the story's test knows no filter %q", filter)
	}
	return strings.Join(lines, "")
}

// timeless takes elapsed times out, which differ from run to run.
func timeless(text string) string {
	return regexp.MustCompile(`\b\d+(\.\d+)? m?s\b`).ReplaceAllString(text, "some time")
}

func TestStoryFilters(t *testing.T) {
	require.Equal(t, "a\nb\n", filtered(t, "a\nb\nc\n", "head -n 2"))
	require.Equal(t, "c\n", filtered(t, "a\nb\nc\n", "tail -n 1"))
	require.Equal(t, "a\nc\n", filtered(t, "a\nb\nc\n", `grep -E "^(a|c)"`))
	require.Equal(t, "a\n", filtered(t, "a\n", ""))
	require.Equal(t, "in some time, some time", timeless("in 0.3 s, 81 ms"))
	require.Equal(t, "6 HS-S by 06:00", timeless("6 HS-S by 06:00"))
}
