// Package pages answers the browser: the table of routes, the handlers, the page structs and their templates.
//
// # From the URL to the file
//
// The page /region/cover is made by region_cover.go and web/templates/pages/region_cover.html; a page's file holds its
// page struct, its handlers and the small functions that turn results into what the template shows.
//
// # How a page is written
//
// A handler is a method of server with the signature
//
//	func (s *server) ranch(c *fiber.Ctx, a access.Actor) error
//
// and one line in the table of routes.go, which names the right it needs: the constructors get, post and upload take
// the right as an argument, so a route without one does not compile. The actor and the deadline are resolved before
// the handler runs; a handler reaches for neither. It takes plain values out of c first, loads inside one
// s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {…}), and computes and renders after that returned, so that
// no transaction waits for arithmetic. c itself goes no further down and never into a goroutine.
//
// A page struct embeds base, made by s.base(c, a, "Title"), and is shown by
//
//	return s.render(c, fiber.StatusOK, "ranch", page)
//
// The template pages/ranch.html defines "main", which layout/base.html wraps; what several pages share is in
// templates/shared. Templates decide nothing: numbers arrive as text or as marks (marks.go), already rounded.
//
// Every form is a POST and carries {{template "csrf" .}}; after a change the handler redirects with s.see (303).
// A form that cannot be taken is shown again with what was typed and status 422.
//
// # Errors
//
// A handler returns its error. errors.go turns the kind into a status and a page, and logs it once; no handler writes
// an error to the browser itself. What is not the actor's does not exist: errs.NotFound, and the page for it is the
// same bytes whatever was asked for.
//
// # Languages
//
// Text stands in English and is the key: {{t "How the nests did"}}, {{t "%d of %d nests" .Left .Set}}, and where a
// number decides, {{n "%d nest" "%d nests" .Set}}. A handler says texts with s.speaker(c), a page with its Say; a text
// kept in a table is marked with words.Mark where it stands. Packages below this one speak to nobody: they keep a
// words.Phrase, which {{tell .Seen}} says, and the sentence of a failure is said by s.said(c, err). The Spanish is in
// web/words/es, a catalog for each part of the service; a test names what is missing.
//
// # Looks
//
// The head of web/static/tussock.css lists the classes. The content security policy allows nothing inline: no style
// attribute, no script in a page. Marks are SVG with classes and presentation attributes.
package pages

import (
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"
	"golang.org/x/sync/semaphore"

	"tussock/internal/account"
	"tussock/internal/postgres"
	"tussock/internal/print"
	"tussock/internal/words"
	"tussock/web"
)

// Config is what the pages need from the outside.
type Config struct {
	DB      *postgres.DB
	Account *account.Service
	Now     func() time.Time
	// Dev reads the templates from the folder web for each page shown, where there is such a folder.
	Dev bool
	// URL is the address that people type, without a slash at the end; "" is where serve listens unless told otherwise. Links
	// that leave a page begin with it, and never with what a request says of itself. Over https, cookies are sent over https alone.
	URL string
	// TrustedProxies are the addresses or networks whose X-Real-IP and X-Forwarded-Proto are believed; none by default.
	TrustedProxies []string
	Log            *slog.Logger
	Version        string
}

// Bodies of requests may be this big, in bytes: a form, and a season's sheets.
const (
	formBody   = 256 << 10
	uploadBody = 25 << 20
	photosBody = 36 << 20 // photos of filled sheets
)

type server struct {
	Config
	assets  *assets
	views   *views
	book    *words.Book
	printer *print.Printer
	takes   postgres.Pace       // of files, by member
	asks    postgres.Pace       // of programs, by token
	wide    []route             // those that may have more than a form's body
	readers *semaphore.Weighted // of photos of sheets
	spare   []byte              // the error page that stands by where rendering itself fails
}

// New returns the application with every route. It fails where a template does not parse.
func New(cfg Config) (*fiber.App, error) {
	s, err := newServer(cfg)
	if err != nil {
		return nil, err
	}
	return s.app(), nil
}

func (s *server) app() *fiber.App {
	app := fiber.New(s.fiberConfig())
	app.Server().HeaderReceived = s.bodyLimit
	for _, r := range s.routes() {
		if r.body > formBody {
			s.wide = append(s.wide, r)
		}
	}
	s.use(app)
	s.mount(app)
	return app
}

// usualURL is where serve listens unless told otherwise.
const usualURL = "http://127.0.0.1:8080"

// secure tells whether browsers reach us over https.
func (s *server) secure() bool { return strings.HasPrefix(s.URL, "https://") }

func newServer(cfg Config) (*server, error) {
	if cfg.URL == "" {
		cfg.URL = usualURL
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.New(slog.DiscardHandler)
	}
	s := &server{Config: cfg, takes: takesPace, asks: asksPace, readers: semaphore.NewWeighted(photoReaders)}
	var files fs.FS = web.FS
	if _, err := os.Stat("web/templates"); cfg.Dev && err == nil {
		files = os.DirFS("web")
	}
	var err error
	if s.assets, err = loadAssets(files); err != nil {
		return nil, fmt.Errorf("read static files: %w", err)
	}
	if s.book, err = words.Open(files); err != nil {
		return nil, err
	}
	if s.printer, err = print.New(files, s.book); err != nil {
		return nil, fmt.Errorf("read drawings: %w", err)
	}
	s.views = &views{files: files, dev: cfg.Dev, book: s.book, funcs: s.funcs()}
	if err := s.views.Load(); err != nil {
		return nil, err
	}
	if s.spare, err = s.spareError(); err != nil {
		return nil, err
	}
	return s, nil
}

func (s *server) fiberConfig() fiber.Config {
	cfg := fiber.Config{
		AppName:               "Tussock",
		DisableStartupMessage: true,
		Network:               "tcp",
		// Fiber reuses its buffers; without this a string taken from a request changes under our hands.
		Immutable: true,
		// Without this any client's X-Forwarded-… headers would be believed.
		EnableTrustedProxyCheck: true,
		TrustedProxies:          s.TrustedProxies,
		BodyLimit:               uploadBody,
		ReadTimeout:             60 * time.Second, // a sheet over a slow line
		WriteTimeout:            60 * time.Second,
		IdleTimeout:             60 * time.Second,
		ErrorHandler:            s.handleError,
		Views:                   s.views,
	}
	if len(s.TrustedProxies) > 0 {
		// One header that the proxy overwrites; X-Forwarded-For would begin with what the client claims.
		cfg.ProxyHeader = "X-Real-IP"
	}
	return cfg
}
