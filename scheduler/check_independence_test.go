// SPDX-License-Identifier: Apache-2.0

package scheduler_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The verifier is worth something only if a mistake of the planner cannot be
// its own as well: its files use no name that the compiler of problems
// declares, and import nothing of the search.
func TestCheckSharesNothingWithThePlanner(t *testing.T) {
	planner := map[string]string{}
	for _, pattern := range []string{"compile*.go", "problem.go"} {
		for _, file := range parse(t, pattern) {
			for _, decl := range file.Decls {
				for _, name := range declared(decl) {
					planner[name] = pattern
				}
			}
		}
	}
	require.Contains(t, planner, "Compile")
	require.Contains(t, planner, "Problem")
	files := parse(t, "check*.go")
	require.NotEmpty(t, files)
	for name, file := range files {
		for _, id := range file.Unresolved {
			require.NotContains(t, planner, id.Name, "%s uses %s", name, id.Name)
		}
		for _, imported := range file.Imports {
			require.NotContains(t, imported.Path.Value, "search", name)
		}
	}
}

// parse reads the files that match, tests left out.
func parse(t *testing.T, pattern string) map[string]*ast.File {
	t.Helper()
	names, err := filepath.Glob(pattern)
	require.NoError(t, err)
	files := map[string]*ast.File{}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		files[name], err = parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
	}
	return files
}

// declared lists the names a declaration brings into the package.
func declared(decl ast.Decl) []string {
	var names []string
	switch d := decl.(type) {
	case *ast.FuncDecl:
		if d.Recv == nil {
			names = append(names, d.Name.Name)
		}
	case *ast.GenDecl:
		for _, spec := range d.Specs {
			switch x := spec.(type) {
			case *ast.TypeSpec:
				names = append(names, x.Name.Name)
			case *ast.ValueSpec:
				for _, id := range x.Names {
					names = append(names, id.Name)
				}
			}
		}
	}
	return names
}
