// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// impure is what pure packages must not import.
var impure = []string{
	"bufio", "log", "log/slog", "math/rand", "net", "net/http", "os", "os/exec", "os/signal", "path/filepath",
	"sync", "sync/atomic", "syscall", "testing", "unsafe", "runtime", "embed/os", "context",
}

// above lists, for each pure package, the packages of the module it may
// import: arrows point one way.
var above = map[string][]string{
	"resources":          {"towpath/resources/quality"},
	"resources/quality":  {},
	"events":             {"towpath/resources", "towpath/resources/quality"},
	"scheduler":          {"towpath/resources", "towpath/resources/quality", "towpath/events"},
	"scheduler/capacity": {"towpath/resources", "towpath/events", "towpath/scheduler", "towpath/scheduler/search"},
	"scheduler/chance":   {},
	"scheduler/learn":    {"towpath/resources", "towpath/resources/quality", "towpath/events", "towpath/scheduler", "towpath/scheduler/risk"},
	"scheduler/promise":  {"towpath/resources", "towpath/events", "towpath/scheduler", "towpath/scheduler/search", "towpath/scheduler/relax", "towpath/scheduler/risk"},
	"scheduler/relax":    {"towpath/resources", "towpath/events", "towpath/scheduler", "towpath/scheduler/search"},
	"scheduler/risk":     {"towpath/resources", "towpath/resources/quality", "towpath/scheduler", "towpath/scheduler/chance"},
	"scheduler/simulate": {"towpath/resources", "towpath/resources/quality", "towpath/events", "towpath/scheduler", "towpath/scheduler/chance"},
	"scheduler/soak":     {"towpath/resources", "towpath/resources/quality", "towpath/events", "towpath/scheduler", "towpath/scheduler/chance"},
	"scheduler/search":   {"towpath/resources", "towpath/scheduler"},
	"scheduler/whatif":   {"towpath/resources", "towpath/events", "towpath/scheduler", "towpath/scheduler/search", "towpath/scheduler/risk"},
}

// The pure packages have no clock, goroutine, channel, global random source,
// file or log; so the same input gives the same output.
func TestPurePackagesArePure(t *testing.T) {
	for dir, allowed := range above {
		files, err := filepath.Glob(filepath.Join("..", dir, "*.go"))
		require.NoError(t, err)
		require.NotEmpty(t, files, dir)
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			for _, fault := range impurities(t, name, text, allowed) {
				t.Error(fault)
			}
		}
	}
}

// The test itself notices what it is there for.
func TestImpurityIsNoticed(t *testing.T) {
	const bad = `package p
import ("os"; "time"; "towpath/web")
func f(c chan int) { go f(c); _ = time.Now(); os.Exit(1) }`
	require.Len(t, impurities(t, "bad.go", []byte(bad), nil), 5)
}

func impurities(t *testing.T, name string, text []byte, allowed []string) []string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), name, text, 0)
	require.NoError(t, err)
	var found []string
	for _, spec := range file.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		require.NoError(t, err)
		for _, p := range impure {
			if path == p {
				found = append(found, name+" imports "+path)
			}
		}
		if strings.HasPrefix(path, "towpath/") && !slices.Contains(allowed, path) {
			found = append(found, name+" imports "+path+", which is above it or beside it")
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.GoStmt:
			found = append(found, name+" starts a goroutine")
		case *ast.ChanType:
			found = append(found, name+" has a channel")
		case *ast.SelectorExpr:
			if pkg, ok := x.X.(*ast.Ident); ok && pkg.Name == "time" && (x.Sel.Name == "Now" || x.Sel.Name == "Since" || x.Sel.Name == "Sleep" || x.Sel.Name == "After") {
				found = append(found, name+" looks at the clock")
			}
		}
		return true
	})
	return found
}
