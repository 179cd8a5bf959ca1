package archtest_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

const module = "tussock/"

// layers places every package. A package may import its own layer and those before it.
var layers = []struct {
	name     string
	packages []string // below internal/; "stat/..." is stat and everything under it
}{
	{"ground", []string{"errs", "access", "survey", "words", "names", "geo", "season", "sheet", "lexicon", "narration", "inquiry", "reading", "intake", "readback", "keytable", "fieldwork", "paper", "scan", "stat/...", "findings", "disclosure", "bulletin", "demo"}},
	{"storage", []string{"postgres/...", "mail/..."}},
	{"application", []string{"press/...", "clerk", "account", "reminder"}},
	{"presentation", []string{"chart", "export", "print", "pages"}},
	{"guards", []string{"archtest"}},
}

// A rule forbids imports, save in the packages it excepts. Patterns end in "..." to mean "and all below".
type rule struct {
	packages  []string // whose imports it looks at
	except    []string
	forbidden []string
	reason    string
}

var everywhere = []string{"internal/...", "cmd/...", "web"}

var rules = []rule{
	{everywhere, []string{"internal/postgres/..."},
		[]string{"gorm.io/...", "github.com/jackc/pgx/...", "github.com/pressly/goose/...", "database/sql/..."},
		"every SQL statement lives in internal/postgres: db.As is the one door, and row-level security stands behind it"},
	{everywhere, []string{"internal/pages"}, []string{"github.com/gofiber/..."},
		"HTTP lives in internal/pages: one route table gives each route its right, one place turns errors into answers"},
	{everywhere, []string{"internal/chart"}, []string{"github.com/go-echarts/..."},
		"charts are made in internal/chart, as JSON that the pages embed"},
	{everywhere, []string{"internal/sheet"}, []string{"github.com/xuri/..."},
		"spreadsheets are opened in internal/sheet, where size limits against hostile files are set"},
	{everywhere, []string{"internal/export"}, []string{"github.com/parquet-go/..."},
		"open formats are written in internal/export, which keeps what is private out of them"},
	{everywhere, []string{"internal/print"}, []string{"codeberg.org/go-pdf/..."},
		"paper is laid out in internal/print, in millimeters that its tests hold against a ruler"},
	{everywhere, []string{"internal/scan"}, []string{"github.com/makiuchi-d/...", "golang.org/x/image/..."},
		"pictures of paper are opened in internal/scan, where size limits against hostile files are set"},
	{everywhere, []string{"internal/mail/..."}, []string{"github.com/wneessen/go-mail/...", "net/smtp", "github.com/emersion/..."},
		"letters leave by internal/mail, after whoever asked for one has been answered"},
	{everywhere, []string{"internal/account"}, []string{"github.com/go-webauthn/...", "github.com/pquerna/...", "github.com/alexedwards/argon2id"},
		"who somebody is gets proved in internal/account"},
	{ground(), nil, []string{"database/sql/...", "net/...", "log/...", "os/...", "io/ioutil", "testing"},
		"the ground is pure: no SQL, HTTP, logging, files or environment, so that its numbers depend on its arguments alone"},
	{ground(), nil, []string{"math/rand", "crypto/rand"},
		"randomness in the ground comes from a seed handed in (math/rand/v2), so that every figure can be computed again"},
	{[]string{"internal/access", "internal/survey"}, nil, []string{module + "internal/sheet", module + "internal/intake", module + "internal/findings"},
		"the vocabulary knows no files and no results"},
	{[]string{"internal/sheet"}, nil, []string{module + "internal/survey", module + "internal/lexicon", module + "internal/inquiry", module + "internal/reading", module + "internal/intake"},
		"sheet knows files, not nests; reading and intake make nests of its rows"},
	{[]string{"internal/lexicon"}, nil, []string{module + "internal/narration", module + "internal/inquiry", module + "internal/reading", module + "internal/intake"},
		"the lexicon says what one cell can mean; what it does mean is told by what stands around it, in reading"},
	{[]string{"internal/narration"}, nil, []string{module + "internal/sheet", module + "internal/inquiry", module + "internal/reading", module + "internal/intake"},
		"narration knows sentences, not files; reading hands it the text and makes rows and questions of what it tells"},
	{[]string{"internal/inquiry"}, nil, []string{module + "internal/sheet", module + "internal/lexicon", module + "internal/reading", module + "internal/intake"},
		"inquiry gathers what a reader of sheets has to say and knows none of them"},
	{[]string{"internal/reading"}, nil, []string{module + "internal/intake", module + "internal/findings"},
		"reading says what each row of a sheet tells; whether a season can be so is for intake"},
	{[]string{"internal/disclosure"}, nil, []string{module + "internal/postgres/...", module + "internal/intake", module + "internal/sheet"},
		"the disclosure rules are decided from amounts handed in, so that they can be tested against published cases"},
	{[]string{"internal/press", "internal/clerk", "internal/account", "internal/reminder"}, nil, []string{module + "internal/press", module + "internal/clerk", module + "internal/account", module + "internal/reminder"},
		"application packages do not import each other; what two need moves down"},
	{[]string{"internal/chart", "internal/export", "internal/print"}, nil,
		[]string{module + "internal/chart", module + "internal/export", module + "internal/print", module + "internal/pages"},
		"presentation packages do not import each other but for pages, which uses them all"},
	{[]string{"internal/pages"}, nil, []string{module + "internal/postgres/private", module + "internal/demo"},
		"pages get their database from cmd and never know how it was started"},
	{[]string{"web"}, nil, []string{module + "internal/..."},
		"web only embeds templates and static files"},
}

func TestImports(t *testing.T) {
	for _, p := range packages(t) {
		for _, r := range rules {
			if !matches(p.dir, r.packages) || matches(p.dir, r.except) {
				continue
			}
			for imp, file := range p.imports {
				if imp != module+p.dir && matches(imp, r.forbidden) {
					t.Errorf("%s: %s imports %s: %s", file, p.dir, imp, r.reason)
				}
			}
		}
	}
}

// TestLayers fails where a package reaches up, or where a new package has no place yet.
func TestLayers(t *testing.T) {
	for _, p := range packages(t) {
		if !strings.HasPrefix(p.dir, "internal/") {
			continue
		}
		own := layer(p.dir)
		if own < 0 {
			t.Errorf("%s has no layer: name it in the table of internal/archtest, under the layer whose rules it keeps", p.dir)
			continue
		}
		for imp, file := range p.imports {
			dir, ours := strings.CutPrefix(imp, module)
			if !ours || !strings.HasPrefix(dir, "internal/") {
				continue
			}
			if layer(dir) > own {
				t.Errorf("%s: %s (%s) imports %s (%s): imports go down only; pass the value in, or move what both need down",
					file, p.dir, layers[own].name, dir, layers[layer(dir)].name)
			}
		}
	}
}

// TestStatIsAlone: the statistics must be checkable by somebody who knows nothing else of the project.
func TestStatIsAlone(t *testing.T) {
	for _, p := range packages(t) {
		if !matches(p.dir, []string{"internal/stat/..."}) {
			continue
		}
		for imp, file := range p.imports {
			std := !strings.Contains(strings.Split(imp, "/")[0], ".") && !strings.HasPrefix(imp, module)
			if !std && !matches(imp, []string{"gonum.org/...", module + "internal/stat/..."}) {
				t.Errorf("%s: %s imports %s: the statistics import the standard library, gonum and each other only", file, p.dir, imp)
			}
		}
	}
}

// calls that a package may not make. They are looked for by name, since the package they live in has innocent uses too.
var calls = []struct {
	packages, except []string
	forbidden        []string
	reason           string
}{
	{ground(), nil, []string{"time.Now", "time.Since", "time.Until", "time.After", "time.Sleep"},
		"the ground has no clock: the day comes in as an argument"},
	{[]string{"internal/...", "web"}, []string{"internal/postgres/pgtest"},
		[]string{"os.Getenv", "os.LookupEnv", "os.Environ", "os.ExpandEnv"},
		"the environment is read in cmd only and handed down as plain arguments"},
	{[]string{"internal/...", "web"}, nil, []string{"os.Exit", "log.Fatal", "log.Fatalf"},
		"only main ends the program; return an error"},
}

func TestCalls(t *testing.T) {
	for _, p := range packages(t) {
		for _, r := range calls {
			if !matches(p.dir, r.packages) || matches(p.dir, r.except) {
				continue
			}
			for call, file := range p.calls {
				if matches(call, r.forbidden) {
					t.Errorf("%s: %s calls %s: %s", file, p.dir, call, r.reason)
				}
			}
		}
	}
}

// TestNoInit: what happens before main cannot be ordered, configured or tested.
func TestNoInit(t *testing.T) {
	for _, p := range packages(t) {
		if p.init != "" {
			t.Errorf("%s: %s has an init function: give the work a name and call it from cmd", p.init, p.dir)
		}
	}
}

func TestMatches(t *testing.T) {
	for _, tt := range []struct {
		path, pattern string
		want          bool
	}{
		{"internal/stat", "internal/stat/...", true},
		{"internal/stat/mixed", "internal/stat/...", true},
		{"internal/statistics", "internal/stat/...", false},
		{"internal/sheet", "internal/sheet", true},
		{"internal/sheet/x", "internal/sheet", false},
		{"net/http", "net/...", true},
		{"gorm.io/driver/postgres", "gorm.io/...", true},
	} {
		if got := matches(tt.path, []string{tt.pattern}); got != tt.want {
			t.Errorf("matches(%q, %q) = %v, want %v", tt.path, tt.pattern, got, tt.want)
		}
	}
}

func ground() []string {
	var dirs []string
	for _, p := range layers[0].packages {
		dirs = append(dirs, "internal/"+p)
	}
	return dirs
}

func layer(dir string) int {
	for i, l := range layers {
		for _, p := range l.packages {
			if matches(dir, []string{"internal/" + p}) {
				return i
			}
		}
	}
	return -1
}

func matches(path string, patterns []string) bool {
	for _, p := range patterns {
		if path == p {
			return true
		}
		if above, ok := strings.CutSuffix(p, "/..."); ok && (path == above || strings.HasPrefix(path, above+"/")) {
			return true
		}
	}
	return false
}

// A pkg is what the rules look at: the imports and calls of the files that are not tests, each with one file that has it.
type pkg struct {
	dir     string // below the module's root, with slashes
	imports map[string]string
	calls   map[string]string
	init    string // the file with an init function, or ""
}

func packages(t *testing.T) []*pkg {
	t.Helper()
	root := filepath.Join("..", "..")
	byDir := map[string]*pkg{}
	var order []*pkg
	walk := func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "node_modules" || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		rel, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		p := byDir[path.Dir(rel)]
		if p == nil {
			p = &pkg{dir: path.Dir(rel), imports: map[string]string{}, calls: map[string]string{}}
			byDir[p.dir], order = p, append(order, p)
		}
		return p.read(name, rel)
	}
	for _, top := range []string{"cmd", "internal", "web"} {
		if err := filepath.WalkDir(filepath.Join(root, top), walk); err != nil {
			t.Fatal(err)
		}
	}
	return order
}

func (p *pkg) read(name, rel string) error {
	f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	for _, i := range f.Imports {
		imp, err := strconv.Unquote(i.Path.Value)
		if err != nil {
			return err
		}
		p.imports[imp] = rel
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok {
				p.calls[x.Name+"."+s.Sel.Name] = rel
			}
		}
		return true
	})
	for _, d := range f.Decls {
		if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && fn.Name.Name == "init" {
			p.init = rel
		}
	}
	return nil
}
