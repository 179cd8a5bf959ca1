package pages

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoNeighbourPage shows what another landowner reads that a ranch's numbers are, or may be, part of.
//
// It is made from what the bulletin's own page is made from, loaded by the same function: published cells. It reads no
// row of the ranch, so that it cannot say anything a neighbour does not see.
type whoNeighbourPage struct {
	base
	ID      access.ID
	Name    string
	Joins   bool      // counted from the next bulletin on
	Seasons []navLink // those with a bulletin
	Season  int       // 0 where nothing is published
	Label   string    // the place that the ranch's area is published under, "" where only the whole cooperative is
	Groups  []neighbourGroup
	Shown   []shownFigure // what its owner shows by name
}

// neighbourGroup is what is read of one place.
type neighbourGroup struct {
	Title string
	Rows  []neighbourRow
}

type neighbourRow struct{ Name, Figure, Range, Behind string }

func (s *server) whoNeighbour(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Query("ranch"))
	if id == "" && len(a.Ranches) > 0 {
		id = a.Ranches[0]
	}
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	var ranch postgres.Ranch
	var shown []postgres.Showing
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if ranch, err = tx.Ranch(id); err != nil {
			return err
		}
		shown, err = tx.Showings()
		return err
	})
	if err != nil {
		return err
	}
	shown = slices.DeleteFunc(shown, func(x postgres.Showing) bool { return x.Ranch != id })
	d, err := s.bulletins(c, a)
	if err != nil {
		return err
	}
	if wanted := c.QueryInt("season"); slices.ContainsFunc(d.heads, func(h postgres.BulletinHead) bool { return h.Season == wanted }) && wanted != d.season {
		d.season = wanted
		if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) { d.places, err = tx.Places(wanted); return err }); err != nil {
			return err
		}
	}
	page := newNeighbourPage(s.base(c, a, ""), ranch, d)
	page.Shown = shownOf(page.Say, shown)
	return s.render(c, fiber.StatusOK, "who_neighbour", page)
}

func newNeighbourPage(b base, ranch postgres.Ranch, d regionData) whoNeighbourPage {
	page := whoNeighbourPage{base: b, ID: ranch.ID, Name: ranch.Name, Joins: ranch.Consent >= 1, Season: d.season}
	page.Title = page.Say.Say("Your page as a neighbour sees it")
	for _, h := range d.heads {
		page.Seasons = append(page.Seasons, navLink{fmt.Sprint(h.Season), fmt.Sprintf("/who/neighbour?ranch=%s&season=%d", ranch.ID, h.Season), h.Season == d.season})
	}
	for _, p := range d.places {
		if p.Area == ranch.Area {
			page.Label = p.Label
		}
	}
	places := []string{""}
	if page.Label != "" {
		places = []string{page.Label, ""}
	}
	for _, place := range places {
		g := neighbourGroup{Title: place}
		if place == "" {
			g.Title = page.Say.Say(wholeCooperative)
		}
		for _, cell := range d.cells {
			if cell.Season == d.season && text(cell.Area) == place && cell.Published {
				g.Rows = append(g.Rows, neighbourRowOf(page.Say, cell))
			}
		}
		if len(g.Rows) > 0 {
			page.Groups = append(page.Groups, g)
		}
	}
	return page
}

// measured names what a cell says, as its column of the page.
var measured = map[string]string{
	bulletin.Survival28:     words.Mark("Lasted four weeks, of 100"),
	bulletin.SurvivalCrude:  words.Mark("Lasted four weeks, each nest weighing the same, of 100"),
	bulletin.SurvivalSpread: words.Mark("The middle landowner, of 100"),
	bulletin.ClumpsPerAcre:  words.Mark("Clumps an acre"),
	bulletin.PredatorShare:  words.Mark("Taken by, of 100"),
}

func neighbourRowOf(say words.Speaker, c bulletin.Cell) neighbourRow {
	row := neighbourRow{Name: say.Say(measured[c.Measure]), Behind: strings.ReplaceAll(c.Entities, "-", "–")}
	if kind := text(c.Substrate); kind != "" {
		row.Name += ": " + say.Say(kind)
	}
	if c.Predator != "" {
		row.Name += ": " + say.Say(c.Predator)
	}
	unit := 100.0
	if c.Measure == bulletin.ClumpsPerAcre {
		unit = 1
	}
	number := func(x float64) string { return fmt.Sprint(int(math.Round(x * unit))) }
	switch {
	case c.Estimate != nil:
		row.Figure = number(*c.Estimate)
		if c.Low != nil && c.High != nil {
			row.Range = say.Say("%s to %s", number(*c.Low), number(*c.High))
		}
	case c.Low != nil && c.High != nil:
		row.Figure = say.Say("%s to %s", number(*c.Low), number(*c.High))
	case c.Low != nil:
		row.Figure = say.Say("%s or more", number(*c.Low))
	default:
		row.Figure = say.Say("not shown")
	}
	return row
}
