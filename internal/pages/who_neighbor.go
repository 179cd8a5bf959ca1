package pages

import (
	"fmt"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// whoNeighborPage shows what another landowner reads that a ranch's numbers are, or may be, part of.
//
// It is made from what the bulletin's own page is made from, loaded by the same function: published cells. It reads no
// row of the ranch, so that it cannot say anything a neighbor does not see.
type whoNeighborPage struct {
	base
	ID      access.ID
	Name    string
	Joins   bool      // counted from the next season on
	Lacks   string    // what its owners lack for that
	Seasons []navLink // those with a bulletin
	Season  int       // 0 where nothing is published
	Label   string    // the place that the ranch's area is published under, "" where only the whole cooperative is
	Groups  []neighborGroup
	Shown   []shownFigure // what its owner shows by name
}

// neighborGroup is what is read of one place.
type neighborGroup struct {
	Title string
	Rows  []neighborRow
}

type neighborRow struct{ Name, Figure, Range, Behind string }

func (s *server) whoNeighbor(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Query("ranch"))
	if id == "" && len(a.Ranches) > 0 {
		id = a.Ranches[0]
	}
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	var ranch postgres.Ranch
	var shown []postgres.Showing
	var standings map[access.ID]postgres.Standing
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if ranch, err = tx.Ranch(id); err != nil {
			return err
		}
		if shown, err = tx.Showings(); err != nil {
			return err
		}
		standings, err = tx.Standings()
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
	page := newNeighborPage(s.base(c, a, ""), ranch, d)
	page.Shown = shownOf(page.Say, shown)
	page.Lacks = lacksOf(page.Say, ranch.Name, standings[id])
	return s.render(c, fiber.StatusOK, "who_neighbor", page)
}

func newNeighborPage(b base, ranch postgres.Ranch, d regionData) whoNeighborPage {
	page := whoNeighborPage{base: b, ID: ranch.ID, Name: ranch.Name, Joins: ranch.Consent >= 1, Season: d.season}
	page.Title = page.Say.Say("Your page as a neighbor sees it")
	for _, h := range d.heads {
		page.Seasons = append(page.Seasons, navLink{fmt.Sprint(h.Season), fmt.Sprintf("/who/neighbor?ranch=%s&season=%d", ranch.ID, h.Season), h.Season == d.season})
	}
	for _, p := range d.places {
		if p.Area == ranch.Area {
			page.Label = p.Label
		}
	}
	page.Groups = groupsOf(page.Say, slices.DeleteFunc(slices.Clone(d.cells), func(c bulletin.Cell) bool {
		return c.Season != d.season || c.Area != nil && *c.Area != page.Label
	}))
	return page
}

// groupsOf lists cells as rows, those of each place by themselves, the whole cooperative first.
func groupsOf(say words.Speaker, cells []bulletin.Cell) (groups []neighborGroup) {
	at := map[string]int{}
	for _, c := range cells {
		if !c.Published {
			continue
		}
		place := text(c.Area)
		i, ok := at[place]
		if !ok {
			i, at[place] = len(groups), len(groups)
			groups = append(groups, neighborGroup{Title: placeTitle(say, place)})
		}
		groups[i].Rows = append(groups[i].Rows, neighborRowOf(say, c))
	}
	return groups
}

// measured names what a cell says, as its column of the page.
var measured = map[string]string{
	bulletin.Survival28:    words.Mark("Lasted four weeks, of 100"),
	bulletin.SurvivalAt:    words.Mark("Lasted four weeks at %s clumps an acre, of 100"),
	bulletin.ClumpsPerAcre: words.Mark("Clumps an acre"),
	bulletin.PredatorShare: words.Mark("Taken by, of 100"),
	bulletin.SignShare:     words.Mark("Taken nests, of 100"),
	bulletin.DesignEffect:  words.Mark("How much lines widen a variance, times"),
	bulletin.OwnerSpread:   words.Mark("Spread between landowners"),
	bulletin.MixWeight:     words.Mark("What the cooperative’s mix of animals counts, nests"),
}

func neighborRowOf(say words.Speaker, c bulletin.Cell) neighborRow {
	row := neighborRow{Behind: strings.ReplaceAll(c.Entities, "-", "–")}
	switch name := measured[c.Measure]; {
	case c.Clumps != nil:
		row.Name = say.Say(name, whole(*c.Clumps))
	case name != "":
		row.Name = say.Say(name)
	default: // of quality
		row.Name = c.Measure
		for _, check := range checks {
			if check.measure == c.Measure {
				row.Name = say.Say("%s, of 100", say.Say(check.name))
			}
		}
		for _, day := range bulletin.DaysLeft {
			if bulletin.LeftOn(day) == c.Measure {
				row.Name = say.Say("Nests left of 100, day %d", day)
			}
		}
		for _, check := range fitChecks {
			if check.measure != c.Measure {
				continue
			}
			row.Name = say.Say(check.name)
			if c.Estimate != nil {
				row.Figure = say.Say("fits")
				if *c.Estimate == 0 {
					row.Figure = say.Say("does not fit")
				}
				return row
			}
		}
	}
	for _, of := range []string{text(c.Substrate), c.Predator} {
		if of != "" {
			row.Name += ": " + say.Say(of)
		}
	}
	written := func(x float64) string { return whole(100 * x) }
	switch c.Measure {
	case bulletin.ClumpsPerAcre:
		written = whole
	case bulletin.DesignEffect, bulletin.OwnerSpread, bulletin.MixWeight:
		written = func(x float64) string { return number(&x) }
	}
	switch {
	case slices.Contains(bulletin.QualityMeasures, c.Measure):
		row.Figure = shareWords(say, c.Estimate)
	case c.Estimate != nil:
		row.Figure = written(*c.Estimate)
		if c.Low != nil && c.High != nil {
			row.Range = say.Say("%s to %s", written(*c.Low), written(*c.High))
		}
	case c.Low != nil && c.High != nil:
		row.Figure = say.Say("%s to %s", written(*c.Low), written(*c.High))
	case c.Low != nil:
		row.Figure = say.Say("%s or more", written(*c.Low))
	default:
		row.Figure = say.Say("not shown")
	}
	return row
}
