package pages

import (
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// sharePage lets a landowner share one ranch's results with one biologist by name.
type sharePage struct {
	base
	Problem    string // what is wrong with the form that was sent
	Ranches    []postgres.Ranch
	Biologists []whoBiologist
	Form       shareForm
	First      string // the days that may be chosen, as a date field has them
	Last       string
}

// whoBiologist is somebody a ranch can be shared with.
type whoBiologist struct {
	ID          access.ID
	Name, Known string // Known says by what else they can be told from another of that name
}

type shareForm struct {
	Ranch, Person    access.ID
	Purpose, Through string
}

// whoSharing is one sharing as its owner sees it.
type whoSharing struct {
	ID                         access.ID
	Name, Address, Purpose, By string // Address: as whoPerson has it
	Since, Through, Looked, At string // At: when it ended
	EndedBy                    string // who ended it, "" where its last day came
}

// shareForm shows the form; ?ranch= chooses the ranch.
func (s *server) shareForm(c *fiber.Ctx, a access.Actor) error {
	year := s.Now().UTC().AddDate(1, 0, 0).Format(time.DateOnly)
	return s.showShare(c, a, fiber.StatusOK, sharePage{Form: shareForm{Ranch: access.ID(c.Query("ranch")), Through: year}})
}

func (s *server) showShare(c *fiber.Ctx, a access.Actor, status int, page sharePage) error {
	var biologists []postgres.Biologist
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Ranches, err = tx.Ranches(); err != nil {
			return err
		}
		biologists, err = tx.Biologists()
		return err
	})
	if err != nil {
		return err
	}
	if page.Form.Ranch != "" && !slices.ContainsFunc(page.Ranches, func(r postgres.Ranch) bool { return r.ID == page.Form.Ranch }) {
		return errNothing
	}
	page.base = s.base(c, a, "")
	for _, b := range biologists {
		known := knownBy(page.Say, b.Email, b.Inviter) + " " + page.Say.Say("Since %s.", page.Say.Day(b.Since.UTC()))
		if slices.ContainsFunc(biologists, func(o postgres.Biologist) bool {
			return o.ID != b.ID && strings.EqualFold(strings.TrimSpace(o.Name), strings.TrimSpace(b.Name))
		}) {
			known += " " + page.Say.Say("Another biologist here has this name.")
		}
		page.Biologists = append(page.Biologists, whoBiologist{b.ID, b.Name, known})
	}
	page.Title = page.Say.Say("Share a ranch with one biologist")
	page.First, page.Last = s.Now().UTC().Format(time.DateOnly), s.Now().UTC().AddDate(2, 0, 0).Format(time.DateOnly)
	return s.render(c, status, "who_share", page)
}

// share keeps what the owner grants.
func (s *server) share(c *fiber.Ctx, a access.Actor) error {
	form := shareForm{
		Ranch: access.ID(c.FormValue("ranch")), Person: access.ID(c.FormValue("person")),
		Purpose: strings.TrimSpace(c.FormValue("purpose")), Through: strings.TrimSpace(c.FormValue("through")),
	}
	if !a.CanRanch(access.CompareRanch, form.Ranch) {
		return errNothing
	}
	through, err := time.Parse(time.DateOnly, form.Through)
	switch {
	case err != nil:
		err = errs.New(errs.Invalid, words.Mark("Choose the last day, written like 2027-08-31."))
	case form.Person == "":
		err = errs.New(errs.Invalid, words.Mark("Choose the biologist it is for."))
	default:
		err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
			_, err := tx.Share(postgres.Sharing{Ranch: form.Ranch, Person: form.Person, Purpose: form.Purpose, Through: through})
			return err
		})
	}
	if message, ok := errs.Message(err); ok && errors.Is(err, errs.Invalid) {
		return s.showShare(c, a, fiber.StatusUnprocessableEntity, sharePage{Problem: s.speaker(c).Say(message), Form: form})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/who?shared=1#r"+string(form.Ranch))
}

// endShare ends a sharing at once.
func (s *server) endShare(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.EndSharing(id) }); err != nil {
		return err
	}
	return s.see(c, "/who?ended=1")
}

// sharingsOf splits a ranch's sharings into those that are open and those behind us.
func sharingsOf(say words.Speaker, list []postgres.Sharing, address map[access.ID]string) (open, past []whoSharing) {
	for _, s := range list {
		w := whoSharing{ID: s.ID, Name: s.Name, Address: address[s.Person], Purpose: s.Purpose, By: s.By, Since: say.Day(s.GivenAt.UTC()), Through: say.Day(s.Through), Looked: dayOr(say, s.LastLooked, say.Say("never yet"))}
		if w.By == "" {
			w.By = say.Say("somebody who has left")
		}
		if s.Open {
			open = append(open, w)
			continue
		}
		w.At = w.Through
		if !s.EndedAt.IsZero() {
			w.At, w.EndedBy = say.Day(s.EndedAt.UTC()), s.EndedBy
		}
		past = append(past, w)
	}
	return open, past
}
