package pages

import (
	"errors"
	"fmt"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// sentPage lists what came in one sending: a line a file, each leading to its page.
type sentPage struct {
	base
	ID      access.ID
	Lines   []sentLine
	Asked   []postgres.Unfiled // that do not say which ranch they are of
	Unclear []unclearLine      // that cannot be filed
	Held    []postgres.Upload  // that came before, to the byte
	Ranches []postgres.Ranch   // to choose from for a sheet that does not say
	Several bool               // the lines are of several ranches
	Reading int                // files that are still being read
}

// sentLine is one file of a sending.
type sentLine struct {
	Upload  postgres.Upload
	Seasons string
	Came    string // what was read in it
	State   string
}

// unclearLine is one file that is not filed under a ranch yet.
type unclearLine struct {
	postgres.Unfiled
	Problem string
}

// loadSending loads what came in one sending of the actor's.
func loadSending(tx *postgres.Tx, id access.ID) (filed []postgres.Upload, unfiled []postgres.Unfiled, err error) {
	if filed, err = tx.Together(id); err != nil {
		return nil, nil, err
	}
	unfiled, err = tx.Unfiled(id)
	return filed, unfiled, err
}

// underWay tells whether any file of a sending is still to be read.
func underWay(filed []postgres.Upload, unfiled []postgres.Unfiled) bool {
	for _, u := range filed {
		if u.Waits {
			return true
		}
	}
	for _, u := range unfiled {
		if u.Why == "" {
			return true
		}
	}
	return false
}

func (s *server) sent(c *fiber.Ctx, a access.Actor) error {
	page := sentPage{base: s.base(c, a, ""), ID: access.ID(c.Params("id"))}
	var filed []postgres.Upload
	var unfiled []postgres.Unfiled
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if filed, unfiled, err = loadSending(tx, page.ID); err != nil {
			return err
		}
		for _, id := range c.Context().QueryArgs().PeekMulti("held") {
			u, err := tx.Upload(access.ID(id))
			if err == nil {
				page.Held = append(page.Held, u)
			} else if !errors.Is(err, errs.NotFound) {
				return err
			}
		}
		page.Ranches, err = tx.Ranches()
		return err
	})
	if err != nil {
		return err
	}
	switch {
	case len(filed)+len(unfiled)+len(page.Held) == 0:
		return errNothing
	case len(filed)+len(unfiled) == 0 && len(page.Held) == 1:
		return s.see(c, "/uploads/"+string(page.Held[0].ID)+"?held=1")
	case len(filed) == 1 && len(unfiled)+len(page.Held) == 0 && !filed[0].Waits:
		return s.see(c, "/uploads/"+string(filed[0].ID))
	case len(filed) == 0 && len(unfiled) == 1 && unfiled[0].Why == postgres.UnclearHeld:
		return s.see(c, "/uploads/"+string(unfiled[0].Held)+"?held=1")
	}
	for _, u := range filed {
		page.Lines = append(page.Lines, sentLineOf(page.Say, u))
		page.Several = page.Several || u.Ranch != filed[0].Ranch
		if u.Waits {
			page.Reading++
		}
	}
	for _, u := range unfiled {
		switch u.Why {
		case "":
			page.Reading++
		case postgres.UnclearRanch:
			page.Asked = append(page.Asked, u)
		default:
			page.Unclear = append(page.Unclear, unclearLine{u, u.Problem[string(page.Say.Language)]})
		}
	}
	page.Title = page.Say.Count("%d sheet came in", "%d sheets came in", len(filed)+len(unfiled))
	if len(filed)+len(unfiled) == 0 {
		page.Title = page.Say.Say("We hold all of these files already")
	}
	if page.Reading > 0 {
		page.Title = page.Say.Say("Reading your sheets: %d of %d to go", page.Reading, len(filed)+len(unfiled))
		page.Refresh = refreshAfter
	}
	return s.render(c, fiber.StatusOK, "sent", page)
}

// sentLineOf says how one file of several stands.
func sentLineOf(say words.Speaker, u postgres.Upload) sentLine {
	l := sentLine{Upload: u, Seasons: years(say, u.Seasons)}
	var parts []string
	if u.Nests > 0 {
		parts = append(parts, say.Count("%d nest", "%d nests", u.Nests))
	}
	if u.Belts > 0 {
		parts = append(parts, say.Count("%d belt", "%d belts", u.Belts))
	}
	l.Came = strings.Join(parts, ", ")
	switch {
	case u.Waits:
		l.State = say.Say("being read")
	case u.State == postgres.Undone:
		l.State = say.Say("taken back")
	case u.State == postgres.Replaced:
		l.State = say.Say("replaced")
	case u.Unaccepted() && u.SentFor && u.Nests+u.Belts > 0:
		l.State = say.Say("waits until you accept it")
	case u.Unaccepted() && u.Nests+u.Belts > 0:
		l.State = say.Say("waits until an owner accepts it")
	case u.Open > 0:
		l.State = say.Count("%d question open", "%d questions open", u.Open)
	case u.Nests+u.Belts == 0:
		l.State = say.Say("nothing could be used")
	case u.Accepted != nil:
		l.State = say.Say("looked over and right")
	default:
		l.State = say.Say("read")
	}
	return l
}

// years lists seasons as a sentence does, latest first.
func years(say words.Speaker, seasons []int) string {
	var list []string
	for _, y := range seasons {
		if y != 0 {
			list = append(list, fmt.Sprint(y))
		}
	}
	return say.List(list)
}

// sheetsNamed are the sheets that a form names.
func sheetsNamed(c *fiber.Ctx) (ids []access.ID) {
	for _, id := range c.Context().PostArgs().PeekMulti("sheet") {
		ids = append(ids, access.ID(id))
	}
	return ids
}

// fileUnder files sheets under the ranch that their sender names.
func (s *server) fileUnder(c *fiber.Ctx, a access.Actor) error {
	ranch := access.ID(c.FormValue("ranch"))
	if !a.CanRanch(access.SendResults, ranch) {
		return errNothing
	}
	return s.changeUnfiled(c, a, func(tx *postgres.Tx, id access.ID) error {
		_, _, err := tx.FileUnder(id, ranch)
		return err
	})
}

// dropUnfiled forgets sheets that are not filed.
func (s *server) dropUnfiled(c *fiber.Ctx, a access.Actor) error {
	return s.changeUnfiled(c, a, (*postgres.Tx).DropUnfiled)
}

// changeUnfiled does something with each sheet that a form names, and shows what is left of their sending.
func (s *server) changeUnfiled(c *fiber.Ctx, a access.Actor, change func(*postgres.Tx, access.ID) error) error {
	sending, ids := access.ID(c.Params("id")), sheetsNamed(c)
	left := 0
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		filed, unfiled, err := loadSending(tx, sending)
		if err != nil {
			return err
		}
		if len(filed)+len(unfiled) == 0 {
			return errNothing
		}
		for _, id := range ids {
			if err := change(tx, id); err != nil {
				return err
			}
		}
		filed, unfiled, err = loadSending(tx, sending)
		left = len(filed) + len(unfiled)
		return err
	})
	if err != nil {
		return err
	}
	if left == 0 {
		return s.see(c, "/send")
	}
	if err := s.awaitFiled(c.UserContext(), a, sending); err != nil {
		return err
	}
	return s.see(c, "/sent/"+string(sending))
}
