package pages

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"github.com/boombuler/barcode/qr"
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
)

// fieldLinksPage is where an owner makes links for those who work on a line without an account, and cuts them off.
type fieldLinksPage struct {
	base
	Ranches []fieldRanch
	Made    *madeFieldLink // just now: its secret is shown this once
	Problem string
	Name    string // what was typed
	Chosen  map[access.ID]bool
	From    string
	Through string
}

type fieldRanch struct {
	ID    access.ID
	Name  string
	Lines []season.Line // of the latest season planned
	Last  string        // the day to offer as a link's last
	Links []fieldLinkRow
}

type fieldLinkRow struct {
	postgres.FieldLink
	Lines   string
	First   time.Time
	Last    time.Time
	InPast  bool
	HasSeen bool
}

// madeFieldLink is shown as an address and as a QR code to be scanned off the screen.
type madeFieldLink struct {
	Name, Address string
	Side          int    // modules
	Dark          string // path of the dark modules
}

func (s *server) fieldLinks(c *fiber.Ctx, a access.Actor) error {
	return s.showFieldLinks(c, a, fiber.StatusOK, fieldLinksPage{})
}

func (s *server) showFieldLinks(c *fiber.Ctx, a access.Actor, status int, page fieldLinksPage) error {
	page.base = s.base(c, a, "")
	page.Title = page.Say.Say("Links for the field")
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		ranches, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range ranches {
			of := fieldRanch{ID: r.ID, Name: r.Name}
			years, err := tx.Planned(r.ID)
			if err != nil {
				return err
			}
			if len(years) > 0 {
				if of.Lines, err = tx.Lines(r.ID, years[0]); err != nil {
					return err
				}
			}
			of.Last = lastDay(of.Lines, s.today()).String()
			links, err := tx.FieldLinks(r.ID)
			if err != nil {
				return err
			}
			for _, l := range links {
				of.Links = append(of.Links, s.fieldLinkRow(l, of.Lines))
			}
			page.Ranches = append(page.Ranches, of)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if page.From == "" {
		page.From = s.today().String()
	}
	return s.render(c, status, "field_links", page)
}

// lastDay is two weeks after the last check on any of the lines, for what was late; never more than a year ahead.
func lastDay(lines []season.Line, today survey.Date) survey.Date {
	last := today + 28
	for _, l := range lines {
		last = max(last, l.LastCheck+14)
	}
	return min(last, today+365)
}

func (s *server) fieldLinkRow(l postgres.FieldLink, lines []season.Line) fieldLinkRow {
	var names []string
	for _, line := range lines {
		for _, id := range l.Lines {
			if id == line.ID {
				names = append(names, line.Name)
			}
		}
	}
	return fieldLinkRow{FieldLink: l, Lines: strings.Join(names, ", "), First: l.From.Time(), Last: l.Through.Time(), InPast: l.Through < s.today(), HasSeen: !l.SeenAt.IsZero()}
}

// makeFieldLink makes a link and shows it. Only a hash is kept, so it cannot be shown again.
func (s *server) makeFieldLink(c *fiber.Ctx, a access.Actor) error {
	page := fieldLinksPage{Name: c.FormValue("name"), From: c.FormValue("from"), Through: c.FormValue("through"), Chosen: map[access.ID]bool{}}
	link := postgres.FieldLink{Name: page.Name, Ranch: access.ID(c.FormValue("ranch"))}
	for _, id := range c.Context().PostArgs().PeekMulti("line") {
		link.Lines = append(link.Lines, access.ID(id))
		page.Chosen[access.ID(id)] = true
	}
	link.From, _ = survey.ParseDate(page.From) // no date is refused below
	link.Through, _ = survey.ParseDate(page.Through)
	var secret string
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeFieldLink(link)
		return err
	})
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		page.Problem = message
		return s.showFieldLinks(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	made, err := shownFieldLink(link.Name, s.URL+"/field/open/"+secret)
	if err != nil {
		return err
	}
	return s.showFieldLinks(c, a, fiber.StatusOK, fieldLinksPage{Made: made})
}

func shownFieldLink(name, address string) (*madeFieldLink, error) {
	code, err := qr.Encode(address, qr.M, qr.Auto)
	if err != nil {
		return nil, err
	}
	const quiet = 4 // modules left white around it (ISO/IEC 18004)
	side := code.Bounds().Dx()
	var path strings.Builder
	for y := range side {
		for x := range side {
			if r, _, _, _ := code.At(x, y).RGBA(); r == 0 {
				path.WriteString("M" + strconv.Itoa(x+quiet) + " " + strconv.Itoa(y+quiet) + "h1v1h-1z")
			}
		}
	}
	return &madeFieldLink{name, address, side + 2*quiet, path.String()}, nil
}

func (s *server) revokeFieldLink(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.RevokeFieldLink(id) }); err != nil {
		return err
	}
	return s.see(c, "/field/links")
}
