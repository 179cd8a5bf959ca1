package pages

import (
	"errors"
	"fmt"
	"html/template"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/words"
)

// planMapPage is where an owner puts pastures, roads and water on the ranch's own map.
type planMapPage struct {
	base
	Ranch   postgres.Ranch
	Owner   bool
	Picture template.HTML
	Things  []planThing
	Problem string
	Kept    bool
}

type planThing struct {
	ID             access.ID
	Kind, Name     string
	Size, SiteKind string
	Pasture        bool
	Rested         bool
}

func (s *server) planMap(c *fiber.Ctx, a access.Actor) error {
	return s.showPlanMap(c, a, fiber.StatusOK, planMapPage{Kept: c.Query("kept") != ""})
}

func (s *server) showPlanMap(c *fiber.Ctx, a access.Actor, status int, page planMapPage) error {
	id := access.ID(c.Params("id"))
	var g season.Ground
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if page.Ranch, err = tx.Ranch(id); err != nil {
			return err
		}
		g, err = tx.Ground(id)
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, s.speaker(c).Say("The map of %s", page.Ranch.Name))
	page.Owner = a.CanRanch(access.CompareRanch, id)
	page.fill(&g)
	return s.render(c, status, "plan_map", page)
}

func (p *planMapPage) fill(g *season.Ground) {
	say := p.Say
	p.Picture = planMap(say, g, nil)
	for _, x := range g.Pastures {
		p.Things = append(p.Things, planThing{ID: x.ID, Kind: say.Say("pasture"), Name: x.Name, Size: say.Say("%.0f acres", season.Acres(x.Shape)),
			SiteKind: x.SiteKind, Pasture: true, Rested: x.Rested})
	}
	for _, x := range g.Roads {
		p.Things = append(p.Things, planThing{ID: x.ID, Kind: say.Say("road"), Name: x.Name})
	}
	for _, x := range g.Water {
		p.Things = append(p.Things, planThing{ID: x.ID, Kind: say.Say("water"), Name: x.Name})
	}
}

// addPlanMap reads a file of pastures, roads or water.
func (s *server) addPlanMap(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	kind := c.FormValue("kind")
	features, err := groundFile(c)
	if err == nil && kind != postgres.GroundPasture && kind != postgres.GroundRoad && kind != postgres.GroundWater {
		err = errs.New(errs.Invalid, words.Mark("Say whether the file holds pastures, roads or water."))
	}
	if err == nil {
		err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.AddGround(id, kind, features) })
	}
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge)) {
		return s.showPlanMap(c, a, fiber.StatusUnprocessableEntity, planMapPage{Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/plan/%s/map?kept=1", id))
}

func groundFile(c *fiber.Ctx) ([]geo.Feature, error) {
	data, err := sentFile(c, "file", geo.MaxFile, words.Mark("Choose the file first: GeoJSON or KML."))
	if err != nil {
		return nil, err
	}
	return geo.ReadGround(data)
}

// changePlanMap says of a pasture what kind of ground it is and whether it rests.
func (s *server) changePlanMap(c *fiber.Ctx, a access.Actor) error {
	id, thing := access.ID(c.Params("id")), access.ID(c.Params("thing"))
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	site, rested := c.FormValue("site_kind"), c.FormValue("rested") == "1"
	if len([]rune(site)) > 60 {
		return s.showPlanMap(c, a, fiber.StatusUnprocessableEntity, planMapPage{Problem: s.speaker(c).Say("The kind of ground has 60 letters at most.")})
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.ChangePasture(id, thing, site, rested) }); err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/plan/%s/map?kept=1", id))
}

func (s *server) dropPlanMap(c *fiber.Ctx, a access.Actor) error {
	id, thing := access.ID(c.Params("id")), access.ID(c.Params("thing"))
	if !a.CanRanch(access.CompareRanch, id) {
		return errNothing
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.DropGround(id, thing) }); err != nil {
		return err
	}
	return s.see(c, fmt.Sprintf("/plan/%s/map", id))
}
