package pages

import (
	"errors"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// sendOldForm is where somebody sends the sheets of many seasons at once.
func (s *server) sendOldForm(c *fiber.Ctx, a access.Actor) error {
	return s.showSendForm(c, a, fiber.StatusOK, sendPage{Old: true, Chosen: access.ID(c.Query("ranch"))}, "")
}

// sendOld keeps every file as a sheet of its own and goes on to the list of what came in.
func (s *server) sendOld(c *fiber.Ctx, a access.Actor) error {
	page := sendPage{Old: true, Chosen: access.ID(c.FormValue("ranch"))}
	sending, held, err := s.keepOld(c, a, page.Chosen)
	if message, ok := errs.Message(err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge)) {
		page.Problem = message
		return s.showSendForm(c, a, fiber.StatusUnprocessableEntity, page, "")
	}
	if err != nil {
		return err
	}
	if err := s.awaitFiled(c.UserContext(), a, sending); err != nil {
		return err
	}
	to, sep := "/sent/"+string(sending), "?"
	for _, id := range held {
		to, sep = to+sep+"held="+string(id), "&"
	}
	return s.see(c, to)
}

// keepOld keeps the files, and tells which uploads have the very bytes of those that came before.
func (s *server) keepOld(c *fiber.Ctx, a access.Actor, chosen access.ID) (sending access.ID, held []access.ID, err error) {
	say := s.speaker(c)
	sheets, err := oldSheets(c, say)
	if err != nil {
		return "", nil, err
	}
	sending = postgres.NewSending()
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if chosen != "" || len(a.Ranches) < 2 {
			ranch, err := chosenRanch(tx, a, chosen, say)
			if err != nil {
				return err
			}
			chosen = ranch.ID
		}
		for _, o := range sheets {
			o.Together, o.Ranch = sending, chosen
			if chosen == "" {
				if err := tx.SendUnfiled(o); err != nil {
					return err
				}
				continue
			}
			id, already, err := tx.Send(o)
			if err != nil {
				return err
			}
			if already {
				held = append(held, id)
			}
		}
		return nil
	})
	return sending, held, err
}

// oldSheets takes the files of many seasons out of the form, each season by itself.
func oldSheets(c *fiber.Ctx, say words.Speaker) ([]postgres.Sending, error) {
	files, err := filesOf(c, say)
	if err != nil {
		return nil, err
	}
	if files, err = unpacked(files, say); err != nil {
		return nil, err
	}
	var list []postgres.Sending
	for _, group := range seasonsApart(files) {
		name, data, err := bundle(group)
		if err != nil {
			return nil, err
		}
		list = append(list, postgres.Sending{File: oldName(group, name), Data: data, Language: say.Language})
	}
	return list, nil
}
