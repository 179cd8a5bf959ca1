package archtest_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestAttackTables: each of the attacks T1 to T44, each step and each security control names tests, and all of them exist.
func TestAttackTables(t *testing.T) {
	there := testsOf(t)
	hold := func(what string, names []string) {
		if len(names) == 0 {
			t.Errorf("%s: no test holds it", what)
		}
		for _, name := range names {
			dir, test, _ := strings.Cut(name, ".")
			if !slices.Contains(there[dir], test) {
				t.Errorf("%s: there is no test %s in %s; name the one that holds it now", what, test, dir)
			}
		}
	}
	for _, s := range steps() {
		hold(s.does, s.tests)
	}
	seen := map[string]bool{}
	for _, a := range attacks() {
		seen[a.number] = true
		hold(a.number, a.tests)
	}
	for i := range 44 {
		if number := fmt.Sprintf("T%d", i+1); !seen[number] {
			t.Errorf("no test is named for the attack %s", number)
		}
	}
	for _, c := range controls() {
		hold(c.numbers, c.tests)
	}
	if n := len(controls()); n < 50 {
		t.Errorf("%d security controls, want 50 or more", n)
	}
}

// named is a test as texts name it: its package, a dot and its name.
var named = regexp.MustCompile(`\b([a-z]+(?:/[a-z]+)*)\.((?:Test|Fuzz)[A-Z]\w*)`)

// TestNamedTests: every test that the guides or a comment of the code names by its package exists.
func TestNamedTests(t *testing.T) {
	there := testsOf(t)
	root := filepath.Join("..", "..")
	hold := func(where, text string) {
		for _, f := range named.FindAllStringSubmatch(text, -1) {
			if !slices.Contains(there[f[1]], f[2]) {
				t.Errorf("%s: there is no test %s in %s; name the one that holds it now", where, f[2], f[1])
			}
		}
	}
	for _, name := range []string{"README.md", "DEVELOPERS.md", "deploy/CHANGES.md"} {
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		hold(name, string(text))
	}
	goFiles(t, func(name string, f *ast.File) {
		for _, c := range f.Comments {
			hold(name, c.Text())
		}
	})
}

// testsOf lists the test functions of each package by its folder below internal, or of cmd.
func testsOf(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	goFiles(t, func(name string, f *ast.File) {
		if !strings.HasSuffix(name, "_test.go") {
			return
		}
		dir := strings.TrimPrefix(path.Dir(name), "internal/")
		for _, decl := range f.Decls {
			if fn, ok := decl.(*ast.FuncDecl); ok && fn.Recv == nil {
				found[dir] = append(found[dir], fn.Name.Name)
			}
		}
	})
	return found
}

// goFiles parses each file of Go below cmd and internal, and hands it over with its path from the top.
func goFiles(t *testing.T, each func(name string, f *ast.File)) {
	t.Helper()
	root := filepath.Join("..", "..")
	walk := func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if !strings.HasSuffix(name, ".go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		each(filepath.ToSlash(rel), f)
		return nil
	}
	for _, top := range []string{"cmd", "internal"} {
		if err := filepath.WalkDir(filepath.Join(root, top), walk); err != nil {
			t.Fatal(err)
		}
	}
}
