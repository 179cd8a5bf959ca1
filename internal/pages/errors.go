package pages

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"net/url"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/words"
)

// statuses maps the kinds of failure to HTTP. The first that matches decides; anything else is a fault of ours.
var statuses = []struct {
	kind   error
	status int
}{
	{errs.Invalid, fiber.StatusUnprocessableEntity},
	{errs.Unauthenticated, fiber.StatusUnauthorized},
	{errs.Forbidden, fiber.StatusForbidden},
	{errs.NotFound, fiber.StatusNotFound},
	{errs.Conflict, fiber.StatusConflict},
	{errs.TooLarge, fiber.StatusRequestEntityTooLarge},
	{errs.TooMany, fiber.StatusTooManyRequests},
	{errs.Unavailable, fiber.StatusServiceUnavailable},
	{context.DeadlineExceeded, fiber.StatusServiceUnavailable},
}

func statusOf(err error) int {
	for _, s := range statuses {
		if errors.Is(err, s.kind) {
			return s.status
		}
	}
	if f, ok := errors.AsType[*fiber.Error](err); ok {
		return f.Code
	}
	return fiber.StatusInternalServerError
}

// apologies are what a page says for a status that carries no sentence of its own.
var apologies = map[int]struct{ title, sentence string }{
	fiber.StatusUnauthorized:                {words.Mark("Please sign in"), words.Mark("Please sign in first.")},
	fiber.StatusForbidden:                   {words.Mark("Not yours to open"), words.Mark("Your part in the cooperative does not include this page.")},
	fiber.StatusNotFound:                    {words.Mark("No such page"), words.Mark("There is nothing here, or it is not yours to open.")},
	fiber.StatusMethodNotAllowed:            {words.Mark("No such page"), words.Mark("There is nothing here, or it is not yours to open.")},
	fiber.StatusConflict:                    {words.Mark("That could not be done"), words.Mark("Somebody has changed this in the meantime. Open the page again to see how it stands.")},
	fiber.StatusRequestEntityTooLarge:       {words.Mark("Too big to take"), words.Mark("That file is bigger than 25 MB. A season’s sheet is far smaller: leave pictures out, or send one season at a time.")},
	fiber.StatusRequestHeaderFieldsTooLarge: {words.Mark("Too big to take"), words.Mark("The address, or what your browser sends along with it, is too long. Open the first page again; where that does not help, delete what your browser keeps of this site (its cookies), and sign in again.")},
	fiber.StatusUnprocessableEntity:         {words.Mark("Please look again"), words.Mark("We could not use what was sent. Go back, look it over and send it again.")},
	fiber.StatusTooManyRequests:             {words.Mark("One moment, please"), words.Mark("That was a lot at once. Nothing is wrong with it: wait a minute and go on.")},
	fiber.StatusServiceUnavailable:          {words.Mark("One moment, please"), words.Mark("This took too long just now. Nothing is lost; please try again in a minute.")},
}

type errorPage struct {
	base
	Status    int
	Sentence  string
	Reference string // for the log, where the fault is ours
	SignIn    bool
}

// handleError is the one place that turns an error into an answer and into a line of the log.
func (s *server) handleError(c *fiber.Ctx, err error) (failed error) {
	s.setHeaders(c)
	if errors.Is(err, fiber.ErrRequestEntityTooLarge) {
		err = s.tooLarge(c)
	}
	status := statusOf(err)
	id, _ := c.Locals(localID).(string)
	level := slog.LevelInfo
	if status >= 500 {
		level = slog.LevelError
	}
	s.Log.Log(context.Background(), level, "request failed", "id", id, "method", c.Method(), "path", loggable(c.Path()), "status", status, "error", err)

	s.denyFailed(c, status, err)
	if isAPI(c) {
		return s.sendProblem(c, status, id, err)
	}
	if status == fiber.StatusUnauthorized && c.Method() == fiber.MethodGet {
		return s.see(c, "/sign-in?next="+url.QueryEscape(c.OriginalURL()))
	}
	// What fails here has no recover above it and would end the process: the spare page needs nothing.
	defer func() {
		if r := recover(); r != nil {
			failed = fmt.Errorf("panic: %v", r)
		}
		if failed != nil {
			s.Log.Error("error page failed", "id", id, "error", failed)
			c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
			failed = c.Status(status).Send(s.spare)
		}
	}()
	return s.showError(c, status, id, err)
}

// loggable is a path without the secrets that links carry: a log is read by more people than a letter.
func loggable(path string) string {
	parts := strings.Split(path, "/")
	for i, p := range parts {
		if len(p) >= 40 { // an id has 36
			parts[i] = "…"
		}
	}
	return strings.Join(parts, "/")
}

func (s *server) showError(c *fiber.Ctx, status int, id string, err error) error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Second) // the request's own may be over
	defer cancel()
	c.SetUserContext(ctx)
	a, failed := s.actor(c)
	if failed != nil {
		a = access.Actor{} // the page can do without
	}
	page := s.errorPage(c, a, status, err)
	if status >= 500 {
		page.Reference = id
	}
	return s.render(c, status, "error", page)
}

// apology is what is said for a status that carries no sentence of its own: of the 400s that what was sent could not be used, else that the
// fault is ours.
func apology(status int) (title, sentence string) {
	text, ok := apologies[status]
	if !ok && status >= 400 && status < 500 {
		text, ok = apologies[fiber.StatusUnprocessableEntity]
	}
	if !ok {
		return words.Mark("Something went wrong here"), words.Mark("The fault is ours and it has been written down. Nothing you sent before is lost; please try again.")
	}
	return text.title, text.sentence
}

// errorPage fills the page for a status. The sentence for what is not found never depends on what was asked for, so
// that nobody learns whether a thing of somebody else's exists.
func (s *server) errorPage(c *fiber.Ctx, a access.Actor, status int, err error) errorPage {
	title, sentence := apology(status)
	say := s.speaker(c)
	page := errorPage{base: s.base(c, a, say.Say(title)), Status: status, Sentence: say.Say(sentence), SignIn: a.Role == ""}
	if message, ok := s.said(c, err); ok && status < 500 && status != fiber.StatusNotFound {
		page.Sentence = message
	}
	page.Languages = nil // its form would carry the path and a word of its own: the bytes do not depend on what was asked for
	return page
}

// said returns the sentence of a failure in the reader's language, and false where it carries none.
func (s *server) said(c *fiber.Ctx, err error) (string, bool) {
	return errs.MessageIn(s.speaker(c), err)
}

// spareError makes the page that is sent where even the error page cannot be made.
func (s *server) spareError() ([]byte, error) {
	t, err := template.New("spare").Parse(`<!doctype html><html lang="en"><title>Something went wrong</title>` +
		`<link rel="stylesheet" href="{{.}}"><main><h1>Something went wrong here</h1><p>The fault is ours. Nothing you sent before is lost; please try again.</p>` +
		`<p lang="es">La falla es nuestra. Nada de lo que mandó antes se perdió; inténtelo otra vez.</p></main></html>`)
	if err != nil {
		return nil, err
	}
	return execute(t, "spare", s.assets.path("tussock.css"))
}
