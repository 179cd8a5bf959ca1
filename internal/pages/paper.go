package pages

import (
	"bytes"
	"slices"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/paper"
	"tussock/internal/postgres"
	"tussock/internal/print"
	"tussock/internal/season"
	"tussock/internal/words"
)

// paperPage is where sheets for the field are chosen and printed.
type paperPage struct {
	base
	Seasons []paperSeason // newest first
	Sizes   []paperSize
	Keys    bool // may key sheets
}

// paperSeason is one ranch's planned season.
type paperSeason struct {
	Ranch  postgres.Ranch
	Season int
	Lines  []season.Line
}

type paperSize struct {
	Name  paper.Size
	Label string
}

// mostSheets is how many lines one file has sheets for.
const mostSheets = 60

// paper shows what can be printed: the sheets of the actor's planned lines, and a blank one, which anybody may have.
func (s *server) paper(c *fiber.Ctx, a access.Actor) error {
	say := s.speaker(c)
	page := paperPage{base: s.base(c, a, say.Say("Paper for the field")), Keys: a.Role.Has(access.SendResults),
		Sizes: []paperSize{{paper.Letter, say.Say("Letter, 8½ by 11 in")}, {paper.A4, say.Say("A4, 210 by 297 mm")}}}
	if page.Keys {
		err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
			page.Seasons, err = plannedSeasons(tx)
			return err
		})
		if err != nil {
			return err
		}
	}
	return s.render(c, fiber.StatusOK, "paper", page)
}

// plannedSeasons lists the planned seasons of all ranches the actor may open, newest first.
func plannedSeasons(tx *postgres.Tx) ([]paperSeason, error) {
	ranches, err := tx.Ranches()
	if err != nil {
		return nil, err
	}
	var list []paperSeason
	for _, r := range ranches {
		years, err := tx.Planned(r.ID)
		if err != nil {
			return nil, err
		}
		for _, year := range years {
			lines, err := tx.Lines(r.ID, year)
			if err != nil {
				return nil, err
			}
			if len(lines) > 0 {
				list = append(list, paperSeason{r, year, lines})
			}
		}
	}
	slices.SortStableFunc(list, func(x, y paperSeason) int { return y.Season - x.Season })
	return list, nil
}

// paperSheets hands out the sheets as a PDF: of the lines chosen (?line=…), of all lines of a ranch's season
// (?ranch=…&season=…), or a blank one.
func (s *server) paperSheets(c *fiber.Ctx, a access.Actor) error {
	size := paper.Size(c.Query("size", string(paper.Letter)))
	if !slices.Contains(paper.Sizes, size) {
		return errNothing
	}
	ids := c.Context().QueryArgs().PeekMulti("line")
	if len(ids) > mostSheets {
		return errs.New(errs.TooLarge, words.Mark("Those are more than sixty lines at once. Print them in parts."))
	}
	link := s.URL + "/key/"
	var sheets []print.Sheet
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		names := map[access.ID]string{}
		for _, id := range ids {
			l, err := tx.Line(access.ID(id))
			if err != nil {
				return err
			}
			if names[l.Ranch] == "" {
				r, err := tx.Ranch(l.Ranch)
				if err != nil {
					return err
				}
				if err := tx.Took(l.Ranch, postgres.TookFile, "field sheets.pdf"); err != nil {
					return err
				}
				names[l.Ranch] = r.Name
			}
			sheets = append(sheets, print.Sheet{Ranch: names[l.Ranch], Line: l, Link: link})
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(sheets) == 0 {
		sheets = []print.Sheet{{Link: link}}
	}
	var pdf bytes.Buffer
	if err := s.printer.Sheets(&pdf, size, sheets...); err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, "application/pdf")
	c.Set(fiber.HeaderContentDisposition, `attachment; filename="field sheets.pdf"`)
	return c.Send(pdf.Bytes())
}
