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

// named are the tests that a row of a table in DEVELOPERS.md names, as package.TestName.
var (
	row   = regexp.MustCompile(`(?m)^\| (T\d+|\d+\.\d+\.\d+) \|.*$`)
	named = regexp.MustCompile("`([a-z/]+)\\.((?:Test|Fuzz)\\w+)`")
)

// TestAttackTable: each of the attacks T1 to T44, and each security control, names tests; and every test that the text names exists.
func TestAttackTable(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	there := tests(t)
	seen := map[string]bool{}
	controls := 0
	for _, line := range row.FindAllStringSubmatch(string(text), -1) {
		seen[line[1]] = true
		if !strings.HasPrefix(line[1], "T") {
			controls++
		}
		if !named.MatchString(line[0]) {
			t.Errorf("DEVELOPERS.md, %s: no test holds it", line[1])
		}
	}
	for _, f := range named.FindAllStringSubmatch(string(text), -1) {
		if !slices.Contains(there[f[1]], f[2]) {
			t.Errorf("DEVELOPERS.md: there is no test %s in %s; name the one that holds it now", f[2], f[1])
		}
	}
	for i := range 44 {
		if number := fmt.Sprintf("T%d", i+1); !seen[number] {
			t.Errorf("DEVELOPERS.md names no test for the attack %s", number)
		}
	}
	if controls < 50 {
		t.Errorf("DEVELOPERS.md has %d security controls: the table is not found", controls)
	}
}

// tests lists the test functions of each package by its folder below internal, or of cmd.
func tests(t *testing.T) map[string][]string {
	t.Helper()
	root := filepath.Join("..", "..")
	found := map[string][]string{}
	walk := func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if !strings.HasSuffix(name, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		dir := strings.TrimPrefix(path.Dir(filepath.ToSlash(rel)), "internal/")
		for _, decl := range f.Decls {
			if fn, ok := decl.(*ast.FuncDecl); ok && fn.Recv == nil {
				found[dir] = append(found[dir], fn.Name.Name)
			}
		}
		return nil
	}
	for _, top := range []string{"cmd", "internal"} {
		if err := filepath.WalkDir(filepath.Join(root, top), walk); err != nil {
			t.Fatal(err)
		}
	}
	return found
}
