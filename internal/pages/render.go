package pages

import (
	"bytes"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/words"
)

// base is what every page has; a page struct embeds it.
type base struct {
	Title     string
	Actor     access.Actor
	SignedIn  bool
	Nav       []navLink
	CSRF      string // for the form field, see shared/csrf.html
	Path      string
	Charts    bool // the page has a chart: load the chart library
	Sheet     bool // printed on one sheet, in two columns
	Refresh   int  // seconds after which the browser loads the page again; 0 for never
	Version   string
	Year      int // of today
	Say       words.Speaker
	Languages []words.Language // the others, to change to
	Here      string           // to come back to when one was chosen
}

type navLink struct {
	Label, Path string
	Current     bool
}

func (s *server) base(c *fiber.Ctx, a access.Actor, title string) base {
	b := base{Title: title, Actor: a, SignedIn: a.Role != "", CSRF: s.csrf(c, a), Path: c.Path(), Version: s.Version, Year: s.Now().Year(), Say: s.speaker(c)}
	b.Nav = navOf(a.Role, b.Path)
	if b.Here = "/"; c.Method() == fiber.MethodGet {
		b.Here = c.OriginalURL()
	}
	b.Languages = slices.DeleteFunc(words.Languages(), func(t words.Language) bool { return t == b.Say.Language })
	return b
}

// navOf returns the links a role has, that of the page at path marked.
func navOf(role access.Role, path string) []navLink {
	var links []navLink
	for _, n := range nav {
		if !role.Has(n.right) || len(n.roles) > 0 && !slices.Contains(n.roles, role) {
			continue
		}
		links = append(links, navLink{n.label, n.path, path == n.path || strings.HasPrefix(path, n.path+"/")})
	}
	return links
}

// render shows a page in the reader's language. The whole page is made before the first byte is sent.
func (s *server) render(c *fiber.Ctx, status int, name string, page any) error {
	c.Status(status)
	c.Set(fiber.HeaderContentLanguage, string(s.language(c)))
	return c.Render(string(s.language(c))+"/"+name, page)
}

// see sends the browser on to another page of ours, as after every change.
func (s *server) see(c *fiber.Ctx, path string) error {
	return c.Redirect(path, fiber.StatusSeeOther)
}

// views are the templates: for each language one set per page, made of the layout, what pages share and the page's own
// file. They are Fiber's Views; its stock engine would render pages one at a time under a lock.
type views struct {
	files fs.FS
	dev   bool // parse again for each page shown
	book  *words.Book
	funcs template.FuncMap
	pages map[string]*template.Template // "es/ranch"
}

// Load parses every template.
func (v *views) Load() error {
	v.pages = map[string]*template.Template{}
	for _, t := range words.Languages() {
		if err := v.load(v.book.In(t)); err != nil {
			return err
		}
	}
	return nil
}

func (v *views) load(say words.Speaker) error {
	frame, err := template.New("").Funcs(v.funcs).Funcs(spoken(say)).Option("missingkey=error").ParseFS(v.files, "templates/layout/*.html", "templates/shared/*.html")
	if err != nil {
		return fmt.Errorf("parse layout: %w", err)
	}
	names, err := fs.Glob(v.files, "templates/pages/*.html")
	if err != nil {
		return err
	}
	for _, name := range names {
		page, err := template.Must(frame.Clone()).ParseFS(v.files, name)
		if err != nil {
			return fmt.Errorf("parse page: %w", err)
		}
		v.pages[string(say.Language)+"/"+strings.TrimSuffix(path.Base(name), ".html")] = page
	}
	return nil
}

// Render writes the page called name, of the language before its slash: "es/ranch".
func (v *views) Render(w io.Writer, name string, page any, _ ...string) error {
	pages := v.pages
	if v.dev {
		fresh := views{files: v.files, book: v.book, funcs: v.funcs}
		if err := fresh.Load(); err != nil {
			return err
		}
		pages = fresh.pages
	}
	t := pages[name]
	if t == nil {
		return fmt.Errorf("no template for page %q", name)
	}
	return t.ExecuteTemplate(w, "base", page)
}

func execute(t *template.Template, name string, data any) ([]byte, error) {
	var b bytes.Buffer
	err := t.ExecuteTemplate(&b, name, data)
	return b.Bytes(), err
}

// funcs are the few functions templates may call; numbers come as text in the page struct instead.
func (s *server) funcs() template.FuncMap {
	return template.FuncMap{
		"asset":    func(name string) string { return s.assets.path(name) },
		"looks":    patterns,
		"add":      func(a, b int) int { return a + b },
		"isolated": isolated,
		"hasAsset": func(name string) bool { return s.assets.has(name) },
	}
}

// spoken are those whose answer depends on the language: t says a text, its verbs filled in, tell a phrase; n one of two, by a number
// (words.Speaker.Count); day and weekday write a date.
func spoken(say words.Speaker) template.FuncMap {
	return template.FuncMap{"t": say.Say, "tell": say.Tell, "n": say.Count, "day": say.Day, "weekday": say.Weekday, "language": func() words.Language { return say.Language }}
}
