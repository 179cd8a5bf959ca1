package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeOldPage is where the coordinator sends old sheets for owners who said yes.
type cooperativeOldPage struct {
	base
	Ranches []postgres.Ranch // whose owners said yes
	Chosen  access.ID
	Problem string
	Sent    []oldSending // lately
}

// oldSending is what the coordinator sent at one time.
type oldSending struct {
	ID    access.ID
	Ranch string
	Said  string // "3 sheets, sent August 4, 2026"
}

// cooperativeOldSentPage lists what came in of one sending: that it was read, and nothing of what it says.
type cooperativeOldSentPage struct {
	base
	Ranch   string
	Lines   []oldLine
	Reading int
}

type oldLine struct {
	File, Seasons, State string
}

func (s *server) cooperativeOld(c *fiber.Ctx, a access.Actor) error {
	return s.showOld(c, a, fiber.StatusOK, cooperativeOldPage{Chosen: access.ID(c.Query("ranch"))})
}

func (s *server) showOld(c *fiber.Ctx, a access.Actor, status int, page cooperativeOldPage) error {
	page.base = s.base(c, a, s.speaker(c).Say("Send old sheets for an owner"))
	var sent []postgres.Status
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Ranches, err = tx.Sendable(); err != nil {
			return err
		}
		sent, err = tx.UploadStatus(0)
		return err
	})
	if err != nil {
		return err
	}
	page.Sent = oldSendings(page.Say, sent)
	if len(page.Ranches) == 1 {
		page.Chosen = page.Ranches[0].ID
	}
	return s.render(c, status, "cooperative_old", page)
}

// oldSendings gathers what was sent for owners, by sending, latest first.
func oldSendings(say words.Speaker, sent []postgres.Status) (list []oldSending) {
	files, first := map[access.ID]map[access.ID]bool{}, map[access.ID]postgres.Status{}
	var order []access.ID
	for _, st := range sent {
		if st.Called == "" {
			continue
		}
		if files[st.Sending] == nil {
			files[st.Sending] = map[access.ID]bool{}
			first[st.Sending] = st
			order = append(order, st.Sending)
		}
		files[st.Sending][st.Upload] = true
	}
	for _, id := range order {
		n := len(files[id])
		list = append(list, oldSending{id, first[id].RanchName, say.Count("%d sheet, sent %s", "%d sheets, sent %s", n, n, say.Day(first[id].SentAt))})
	}
	return list
}

// sendOldFor sends the files for a ranch whose owner said yes.
func (s *server) sendOldFor(c *fiber.Ctx, a access.Actor) error {
	page := cooperativeOldPage{Chosen: access.ID(c.FormValue("ranch"))}
	sending, err := s.keepOldFor(c, a, page.Chosen)
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge) || errors.Is(err, errs.TooMany)) {
		page.Problem = message
		return s.showOld(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/old/"+string(sending))
}

func (s *server) keepOldFor(c *fiber.Ctx, a access.Actor, ranch access.ID) (sending access.ID, err error) {
	say := s.speaker(c)
	if ranch == "" {
		return "", errs.New(errs.Invalid, say.Say("Choose the ranch these sheets are for, then send them again."))
	}
	sheets, err := oldSheets(c, say)
	if err != nil {
		return "", err
	}
	sending = postgres.NewSending()
	return sending, s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		for _, o := range sheets {
			o.Ranch, o.Together = ranch, sending
			if err := tx.SendForOwner(o); err != nil {
				return err
			}
		}
		return nil
	})
}

func (s *server) cooperativeOldSent(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	var page cooperativeOldSentPage
	var sent []postgres.Status
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		sent, err = tx.UploadStatus(0)
		return err
	})
	if err != nil {
		return err
	}
	say, seen := s.speaker(c), map[access.ID]bool{}
	for _, st := range sent {
		if st.Sending != id || st.Called == "" || seen[st.Upload] {
			continue
		}
		seen[st.Upload] = true
		page.Ranch = st.RanchName
		if st.Waits {
			page.Reading++
		}
		page.Lines = append(page.Lines, oldLine{st.Called, years(say, st.Seasons), oldState(say, st)})
	}
	if len(page.Lines) == 0 {
		return errNothing
	}
	page.base = s.base(c, a, say.Count("%d sheet came in for %s", "%d sheets came in for %s", len(page.Lines), len(page.Lines), page.Ranch))
	if page.Reading > 0 {
		page.Refresh = refreshAfter
	}
	return s.render(c, fiber.StatusOK, "cooperative_old_sent", page)
}

// oldState says how a sheet stands that was sent for an owner: the same whatever the owner did with it.
func oldState(say words.Speaker, st postgres.Status) string {
	switch {
	case st.Waits:
		return say.Say("being read")
	case len(st.Seasons) == 0:
		return say.Say("nothing could be used")
	}
	return say.Say("read")
}
