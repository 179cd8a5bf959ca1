package pages

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/recover"
	"github.com/valyala/fasthttp"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// A page has this long, from the first byte of the handler to the last query.
const (
	pageDeadline   = 15 * time.Second
	uploadDeadline = 50 * time.Second
)

// policy lets a page load our own files and nothing else, and forbids everything inline.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; " +
	"font-src 'self'; manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"

// use installs what every request passes, in this order.
func (s *server) use(app *fiber.App) {
	app.Use(s.requestID, s.headers, recover.New(), s.sameOrigin)
	app.Get("/healthz", func(c *fiber.Ctx) error { return c.SendString("ok\n") })
	app.Get("/readyz", s.ready)
	app.Get("/static/*", s.static)
	app.Get("/favicon.ico", func(c *fiber.Ctx) error { return c.Redirect(s.assets.path("mark.svg"), fiber.StatusFound) })
}

// Where a request keeps its id, and who makes it.
const (
	localID    = "request id"
	localActor = "actor"
)

func (s *server) requestID(c *fiber.Ctx) error {
	var b [8]byte
	rand.Read(b[:]) // never fails
	c.Locals(localID, hex.EncodeToString(b[:]))
	return c.Next()
}

func (s *server) headers(c *fiber.Ctx) error {
	s.setHeaders(c)
	return c.Next()
}

// setHeaders gives an answer what every answer has, those too that come before any of our middleware: to a request that
// cannot be read.
func (s *server) setHeaders(c *fiber.Ctx) {
	h := map[string]string{
		fiber.HeaderContentSecurityPolicy: policy,
		fiber.HeaderXContentTypeOptions:   "nosniff",
		fiber.HeaderXFrameOptions:         "DENY",
		fiber.HeaderReferrerPolicy:        "same-origin",
		"Cross-Origin-Opener-Policy":      "same-origin",
		"Cross-Origin-Resource-Policy":    "same-origin",
		"Permissions-Policy":              "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
		fiber.HeaderCacheControl:          "no-store",
	}
	if s.secure() {
		h[fiber.HeaderStrictTransportSecurity] = "max-age=31536000; includeSubDomains"
	}
	for name, value := range h {
		c.Set(name, value)
	}
}

// sameOrigin refuses a change that another site's page makes a member's browser send. Browsers say where a request
// comes from (Sec-Fetch-Site, or Origin in older ones); a program that says nothing carries no member's cookie by
// accident and passes.
func (s *server) sameOrigin(c *fiber.Ctx) error {
	switch c.Method() {
	case fiber.MethodGet, fiber.MethodHead, fiber.MethodOptions:
		return c.Next()
	}
	if site := c.Get("Sec-Fetch-Site"); site != "" {
		if site == "same-origin" || site == "none" {
			return c.Next()
		}
		return errElsewhere
	}
	if origin := c.Get(fiber.HeaderOrigin); origin != "" {
		if u, err := url.Parse(origin); err == nil && u.Host == c.Hostname() {
			return c.Next()
		}
		return errElsewhere
	}
	return c.Next()
}

var errElsewhere = errs.New(errs.Forbidden, words.Mark("This form was sent from another page than ours, so nothing was changed. Open the page here and try again."))

var errStaleForm = errs.New(errs.Forbidden, words.Mark("This form was open for too long, so nothing was changed. Open the page again and send it once more."))

// enter makes a route's handler: the deadline, who is asking, whether they may, the size of what they send, and that
// a form was made for this session.
func (s *server) enter(r route) fiber.Handler {
	deadline := pageDeadline
	if r.body > formBody {
		deadline = uploadDeadline
	}
	return func(c *fiber.Ctx) error {
		ctx, cancel := context.WithTimeout(context.Background(), deadline)
		defer cancel()
		c.SetUserContext(ctx)
		c.Locals(localRoute, r.path)
		if r.method == fiber.MethodPost {
			c.Request().URI().SetQueryString("") // a form's fields are those of its body, which no link can fill in
		}

		a, err := s.actor(c)
		if err != nil {
			return err
		}
		if a.Role == "" && r.right != access.Anyone {
			return errs.New(errs.Unauthenticated, words.Mark("Please sign in first."))
		}
		if !a.Role.Has(r.right) {
			return errs.New(errs.Forbidden, words.Mark("Your part in the cooperative does not include this page."))
		}
		if bodySize(c) > r.body {
			return errs.New(errs.TooLarge, words.Mark("That is more than this page can take at once."))
		}
		if r.method == fiber.MethodPost && !hmac.Equal([]byte(c.FormValue("csrf")), []byte(s.csrf(c, a))) {
			return errStaleForm
		}
		if err := s.keepsPace(c, r, a); err != nil {
			return err
		}
		return r.handle(c, a)
	}
}

// actor tells who is asking; the zero Actor where nobody is signed in.
func (s *server) actor(c *fiber.Ctx) (access.Actor, error) {
	if a, ok := c.Locals(localActor).(access.Actor); ok {
		return a, nil
	}
	token := c.Cookies(s.cookieName())
	if token == "" {
		return access.Actor{}, nil
	}
	a, err := s.Account.Actor(c.UserContext(), token)
	if errors.Is(err, errs.Unauthenticated) || errors.Is(err, errs.NotFound) {
		return access.Actor{}, nil
	}
	if err == nil {
		c.Locals(localActor, a)
	}
	return a, err
}

// sentFile returns the one file of a form's field. Where there is none, missing says so. At most a byte more than most is
// read: enough to see that it is too big.
func sentFile(c *fiber.Ctx, field string, most int64, missing string) ([]byte, error) {
	head, err := c.FormFile(field)
	if err != nil {
		return nil, errs.Hide(errs.Invalid, missing, err)
	}
	return contents(head, most)
}

func contents(head *multipart.FileHeader, most int64) ([]byte, error) {
	f, err := head.Open()
	if err != nil {
		return nil, fmt.Errorf("open what was sent: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return nil, fmt.Errorf("read what was sent: %w", err)
	}
	return data, nil
}

// bodyLimit decides by a request's head how much of its body is kept, in memory and before any handler is asked: a form's
// worth, or what the route may have where a member sends it who holds its right.
func (s *server) bodyLimit(h *fasthttp.RequestHeader) fasthttp.RequestConfig {
	path, _, _ := strings.Cut(string(h.RequestURI()), "?")
	if r, ok := s.wideRoute(string(h.Method()), path); ok && s.maySend(r, string(h.Cookie(s.cookieName()))) {
		return fasthttp.RequestConfig{MaxRequestBodySize: r.body}
	}
	return fasthttp.RequestConfig{MaxRequestBodySize: formBody}
}

func (s *server) wideRoute(method, path string) (route, bool) {
	path = strings.TrimSuffix(path, "/")
	for _, r := range s.wide {
		if r.method == method && fiber.RoutePatternMatch(path, r.path) {
			return r, true
		}
	}
	return route{}, false
}

func (s *server) maySend(r route, session string) bool {
	if r.right == access.Anyone {
		return true
	}
	if session == "" {
		return false
	}
	ctx, cancel := context.WithTimeout(context.Background(), pageDeadline)
	defer cancel()
	a, err := s.Account.Actor(ctx, session)
	return err == nil && a.Role.Has(r.right)
}

// tooLarge says of a body that was not read to its end what its page would have said.
func (s *server) tooLarge(c *fiber.Ctx) error {
	if r, ok := s.wideRoute(c.Method(), c.Path()); ok {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		c.SetUserContext(ctx)
		if a, err := s.actor(c); err == nil && a.Role == "" && r.right != access.Anyone {
			return errs.New(errs.Unauthenticated, words.Mark("Please sign in first."))
		}
		if r.body == uploadBody {
			return fiber.ErrRequestEntityTooLarge
		}
	}
	return errs.New(errs.TooLarge, words.Mark("That is more than this page can take at once."))
}

func bodySize(c *fiber.Ctx) int {
	if n := c.Request().Header.ContentLength(); n >= 0 {
		return n
	}
	return len(c.Request().Body()) // sent in chunks
}

// csrf returns the word that a form made for this browser must carry: derived from the session's token, which another
// site's page cannot read, and not showing it. Before sign-in a cookie of its own stands in for the session's token.
func (s *server) csrf(c *fiber.Ctx, a access.Actor) string {
	secret := a.Session
	if secret == "" {
		secret = s.visitor(c)
	}
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte("form"))
	return hex.EncodeToString(mac.Sum(nil))
}

// visitor returns the token of a browser that is not signed in, giving it one where it has none.
func (s *server) visitor(c *fiber.Ctx) string {
	name := s.cookieName() + "-visitor"
	if token, ok := c.Locals(name).(string); ok {
		return token
	}
	token := c.Cookies(name)
	if len(token) != 2*sha256.Size {
		return s.newVisitor(c)
	}
	c.Locals(name, token)
	return token
}

// newVisitor gives the browser another such token.
func (s *server) newVisitor(c *fiber.Ctx) string {
	var b [sha256.Size]byte
	rand.Read(b[:]) // never fails
	token, name := hex.EncodeToString(b[:]), s.cookieName()+"-visitor"
	s.setCookie(c, name, token, time.Time{})
	c.Locals(name, token)
	return token
}

// cookieName has the __Host- prefix over https: a browser then takes the cookie from this host alone.
func (s *server) cookieName() string {
	if s.secure() {
		return "__Host-tussock"
	}
	return "tussock"
}

// setCookie keeps value in the browser until expires, or until it is closed where expires is zero.
func (s *server) setCookie(c *fiber.Ctx, name, value string, expires time.Time) {
	c.Cookie(&fiber.Cookie{Name: name, Value: value, Path: "/", Expires: expires, HTTPOnly: true, Secure: s.secure(), SameSite: fiber.CookieSameSiteLaxMode})
}

func (s *server) ready(c *fiber.Ctx) error {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	if err := s.DB.Ping(ctx); err != nil {
		s.Log.Error("not ready", "error", err)
		return c.Status(fiber.StatusServiceUnavailable).SendString("the database does not answer\n")
	}
	return c.SendString("ready\n")
}
