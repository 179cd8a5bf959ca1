package archtest_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// drivers are the calls that send a statement's text to the database, and where among their arguments it stands.
var drivers = map[string]int{"ExecContext": 1, "QueryContext": 1, "QueryRowContext": 1, "PrepareContext": 1, "QueryRow": 1, "Query": 1, "Raw": 0, "Queue": 0, "Exec": -1}

// written are the functions that make a piece of a statement of something else than constants, and of what.
var written = map[string]string{
	"write":      "names of columns, from a list of ours",
	"setupRoles": "the database's name as the database quotes it, what is kept of a password, and a file of ours",
}

// handed are the functions that send a text as it was given: Owner's are for tests' seeding.
var handed = []string{"Owner.Exec", "Owner.Text"}

// TestStatementsCarryNoValues: a value never stands in the text of a statement. What is sent to the database is a constant or a
// statement, a type that the compiler makes of constants alone; everything else is bound.
func TestStatementsCarryNoValues(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "postgres", "*.go"))
	if err != nil || len(files) == 0 {
		t.Fatal("no files of the store", err)
	}
	fset := token.NewFileSet()
	var parsed []*ast.File
	constants := map[string]bool{}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(fset, name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		parsed = append(parsed, f)
		ast.Inspect(f, func(n ast.Node) bool {
			if d, ok := n.(*ast.GenDecl); ok && d.Tok == token.CONST {
				for _, spec := range d.Specs {
					for _, name := range spec.(*ast.ValueSpec).Names {
						constants[name.Name] = true
					}
				}
			}
			return true
		})
	}
	sent := 0
	for _, f := range parsed {
		for _, d := range f.Decls {
			fn, ok := d.(*ast.FuncDecl)
			if !ok || fn.Body == nil {
				continue
			}
			ast.Inspect(fn.Body, func(n ast.Node) bool {
				call, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				if to, ok := call.Fun.(*ast.Ident); ok && to.Name == "statement" && !constant(call.Args[0], constants) && written[fn.Name.Name] == "" {
					t.Errorf("%s: %s makes a statement of something else than constants; bind it as a value", fset.Position(call.Pos()), called(fn))
				}
				method, ok := call.Fun.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				at, ok := drivers[method.Sel.Name]
				if !ok || len(call.Args) == 0 {
					return true
				}
				if _, isFunc := call.Args[0].(*ast.FuncLit); isFunc {
					return true // (*sql.Conn).Raw hands the driver's connection to a function
				}
				if at < 0 { // Exec of GORM begins with the text, that of pgx with the context
					if !constant(call.Args[0], constants) && !isText(call.Args[0]) {
						at = 1
					} else {
						at = 0
					}
				}
				sent++
				if at >= len(call.Args) || !constant(call.Args[at], constants) && !isText(call.Args[at]) && !slices.Contains(handed, called(fn)) {
					t.Errorf("%s: %s sends a text that could carry a value; send a constant or a statement, and bind values", fset.Position(call.Pos()), called(fn))
				}
				return true
			})
		}
	}
	if sent < 50 {
		t.Errorf("only %d calls were found that send a statement", sent)
	}
}

// called is a function's name with its receiver's type.
func called(fn *ast.FuncDecl) string {
	if fn.Recv == nil {
		return fn.Name.Name
	}
	of := fn.Recv.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	return of.(*ast.Ident).Name + "." + fn.Name.Name
}

// constant tells whether e is put together of literals and constants alone.
func constant(e ast.Expr, constants map[string]bool) bool {
	switch e := e.(type) {
	case *ast.BasicLit:
		return e.Kind == token.STRING
	case *ast.Ident:
		return constants[e.Name]
	case *ast.ParenExpr:
		return constant(e.X, constants)
	case *ast.BinaryExpr:
		return e.Op == token.ADD && constant(e.X, constants) && constant(e.Y, constants)
	}
	return false
}

// isText tells whether e is the text of a statement.
func isText(e ast.Expr) bool {
	call, ok := e.(*ast.CallExpr)
	if !ok || len(call.Args) != 0 {
		return false
	}
	method, ok := call.Fun.(*ast.SelectorExpr)
	return ok && method.Sel.Name == "text"
}
