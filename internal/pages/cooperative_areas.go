package pages

import (
	"errors"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// cooperativeAreasPage lists the cooperative's areas and which of them are neighbors.
type cooperativeAreasPage struct {
	base
	Areas       []postgres.Area
	Groups      []string // in use, to choose from
	Problem     string
	Name, Group string // what was typed
}

func (s *server) cooperativeAreas(c *fiber.Ctx, a access.Actor) error {
	return s.showAreas(c, a, fiber.StatusOK, cooperativeAreasPage{})
}

func (s *server) showAreas(c *fiber.Ctx, a access.Actor, status int, page cooperativeAreasPage) error {
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		page.Areas, err = tx.Areas()
		return err
	})
	if err != nil {
		return err
	}
	for _, area := range page.Areas {
		if area.Group != "" && !slices.Contains(page.Groups, area.Group) {
			page.Groups = append(page.Groups, area.Group)
		}
	}
	slices.Sort(page.Groups)
	say := s.speaker(c)
	title := say.Count("%d area", "%d areas", len(page.Areas))
	if n := len(page.Groups); n > 0 {
		title = say.Count("%[2]s in %[1]d group of neighbors", "%[2]s in %[1]d groups of neighbors", n, n, title)
	}
	page.base = s.base(c, a, title)
	return s.render(c, status, "cooperative_areas", page)
}

// saveArea adds an area, or with an id in the path gives one another name and group. Bulletins that are out stay as
// they are.
func (s *server) saveArea(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	name, group := strings.TrimSpace(c.FormValue("name")), strings.TrimSpace(c.FormValue("group"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if id != "" {
			if err := tx.RenameArea(id, name); err != nil {
				return err
			}
		}
		return tx.SaveArea(name, group)
	})
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		return s.showAreas(c, a, fiber.StatusUnprocessableEntity, cooperativeAreasPage{Problem: message, Name: name, Group: group})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/areas")
}
