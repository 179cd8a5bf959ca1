package pages

import (
	"slices"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// changesPage tells every member when each season opens and ends, and what changed about roster, areas and owners; and lets those
// vouch for owners who may.
type changesPage struct {
	base
	Seasons []seasonRow
	Changes []changeRow
	Owners  []postgres.LandOwner
	Saved   bool
}

// seasonRow is one season's dates.
type seasonRow struct {
	Year                               int
	Opens, CutOff, Composed, Published string
}

// changeRow is one change, as it is read.
type changeRow struct {
	Day, Text string
	Mine      bool // about a ranch of the reader's
}

func (s *server) changes(c *fiber.Ctx, a access.Actor) error {
	say := s.speaker(c)
	page := changesPage{Saved: c.Query("saved") != ""}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		seasons, err := tx.SeasonDates()
		if err != nil {
			return err
		}
		page.Seasons = seasonRows(say, seasons)
		list, err := tx.RosterChanges(time.Time{})
		if err != nil {
			return err
		}
		page.Changes = changesOf(say, list)
		page.Owners, err = tx.OwnersToVouch()
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, say.Say("Seasons and changes"))
	return s.render(c, fiber.StatusOK, "changes", page)
}

func seasonRows(say words.Speaker, seasons []postgres.Season) (rows []seasonRow) {
	for _, x := range seasons {
		rows = append(rows, seasonRow{x.Year, say.Day(x.Opens), say.Day(x.CutOff), say.Day(x.Composed), say.Day(x.Published)})
	}
	return rows
}

func changesOf(say words.Speaker, list []postgres.RosterChange) (rows []changeRow) {
	for i := 0; i < len(list); i++ {
		x, day := list[i], say.Day(list[i].At)
		if x.Kind == postgres.Vouched { // somebody's words of one day in one row
			names := []string{x.What}
			for ; i+1 < len(list) && list[i+1].Kind == x.Kind && list[i+1].By == x.By && say.Day(list[i+1].At) == day; i++ {
				names = append(names, list[i+1].What)
				x.Mine = x.Mine || list[i+1].Mine
			}
			if len(names) > 1 {
				slices.Sort(names)
				rows = append(rows, changeRow{day, say.Say("%s vouched for the owners %s.", x.By, say.List(names)), x.Mine})
				continue
			}
		}
		rows = append(rows, changeRow{day, changeWords(say, x), x.Mine})
	}
	return rows
}

// changeWords say what changed and who did it.
func changeWords(say words.Speaker, x postgres.RosterChange) string {
	by := x.By
	if by == "" {
		by = say.Say("The server")
	}
	none := func(name string) string {
		if name == "" {
			return say.Say("none")
		}
		return name
	}
	switch x.Kind {
	case postgres.RanchAdded:
		return say.Say("%s added the ranch %s: area %s, owner %s.", by, x.What, none(x.Was), x.Became)
	case postgres.RanchRenamed:
		return say.Say("%s changed the name of the ranch %s to %s.", by, x.Was, x.Became)
	case postgres.RanchMoved:
		return say.Say("%s moved the ranch %s to another area: from %s to %s.", by, x.What, none(x.Was), none(x.Became))
	case postgres.RanchOwner:
		return say.Say("%s changed the owner of the ranch %s: from %s to %s.", by, x.What, x.Was, x.Became)
	case postgres.RanchErased:
		return say.Say("A ranch was erased, as its owner wished.")
	case postgres.AreaAdded:
		return say.Say("%s added the area %s.", by, x.What)
	case postgres.AreaRenamed:
		return say.Say("%s changed the name of the area %s to %s.", by, x.Was, x.Became)
	case postgres.AreaGrouped:
		return say.Say("%s changed the group of the area %s: from %s to %s.", by, x.What, none(x.Was), none(x.Became))
	case postgres.Vouched:
		return say.Say("%s vouched for the owner %s.", by, x.What)
	case postgres.VouchEnded:
		return say.Say("%s no longer vouches for the owner %s.", by, x.What)
	}
	return say.Say("%s wrote down a yes on paper for the ranch %s.", by, x.What)
}

// vouch vouches for the owners that are ticked, and for no others any more.
func (s *server) vouch(c *fiber.Ctx, a access.Actor) error {
	ticked := map[access.ID]bool{}
	for _, v := range c.Request().PostArgs().PeekMulti("owner") {
		ticked[access.ID(v)] = true
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		owners, err := tx.OwnersToVouch()
		if err != nil {
			return err
		}
		if len(owners) == 0 {
			return errs.New(errs.Forbidden, words.Mark("A landowner can vouch for others once their own ranch has been counted for a season."))
		}
		for _, o := range owners {
			switch {
			case ticked[o.ID] && !o.Mine:
				err = tx.Vouch(o.ID)
			case !ticked[o.ID] && o.Mine:
				err = tx.EndVouch(o.ID)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.see(c, "/changes?saved=1")
}

// keepPaper records what an owner without an account said on paper.
func (s *server) keepPaper(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	says := c.FormValue("says")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if _, err := ranchName(tx, id); err != nil {
			return err
		}
		if says != "yes" && says != "no" {
			return errs.New(errs.Invalid, words.Mark("Choose yes or no."))
		}
		return tx.KeepPaper(id, says == "yes")
	})
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/ranches/"+string(id))
}
