package pages

import (
	"errors"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/geo"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeMapPage is where the coordinator puts in the areas' outlines.
type cooperativeMapPage struct {
	base
	Areas   []string // without an outline
	Picture template.HTML
	Problem string
	Kept    bool
}

// mapBody is a file of outlines with the form around it.
const mapBody = geo.MaxFile + 64<<10

func (s *server) cooperativeMap(c *fiber.Ctx, a access.Actor) error {
	return s.showMap(c, a, fiber.StatusOK, cooperativeMapPage{Kept: c.Query("kept") != ""})
}

func (s *server) showMap(c *fiber.Ctx, a access.Actor, status int, page cooperativeMapPage) error {
	var areas []postgres.Area
	var shapes []geo.Named
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if areas, err = tx.Areas(); err != nil {
			return err
		}
		shapes, err = tx.Shapes()
		return err
	})
	if err != nil {
		return err
	}
	for _, area := range areas {
		if !slices.ContainsFunc(shapes, func(n geo.Named) bool { return n.Name == area.Name }) {
			page.Areas = append(page.Areas, area.Name)
		}
	}
	say := s.speaker(c)
	title := say.Say("A map of the areas")
	if len(shapes) > 0 {
		title = say.Say("%d of %d areas are on the map", len(shapes), len(areas))
		page.Picture = outlineMark(say, shapes)
	}
	page.base = s.base(c, a, title)
	return s.render(c, status, "cooperative_map", page)
}

// saveMap reads a GeoJSON file and puts its outlines in place of those there were.
func (s *server) saveMap(c *fiber.Ctx, a access.Actor) error {
	list, err := outlinesFile(c)
	if err == nil {
		err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
			areas, err := tx.Areas()
			if err != nil {
				return err
			}
			if err := matchAreas(list, areas); err != nil {
				return err
			}
			return tx.SaveShapes(list)
		})
	}
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.TooLarge)) {
		return s.showMap(c, a, fiber.StatusUnprocessableEntity, cooperativeMapPage{Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/areas/map?kept=1")
}

func outlinesFile(c *fiber.Ctx) ([]geo.Named, error) {
	data, err := sentFile(c, "file", geo.MaxFile, words.Mark("Choose the GeoJSON file with the areas first."))
	if err != nil {
		return nil, err
	}
	return geo.Read(data)
}

// matchAreas gives each outline the name as the cooperative spells it.
func matchAreas(list []geo.Named, areas []postgres.Area) error {
	var names []string
	var unknown, named []words.Phrase
	for _, a := range areas {
		names, named = append(names, a.Name), append(named, words.Later(a.Name))
	}
	for i := range list {
		at := slices.IndexFunc(names, func(name string) bool { return strings.EqualFold(name, list[i].Name) })
		if at < 0 {
			unknown = append(unknown, words.Later(list[i].Name))
			continue
		}
		list[i].Name = names[at]
	}
	switch {
	case len(unknown) == 0:
		return nil
	case len(names) == 0:
		return errs.New(errs.Invalid, words.Mark("There is no area yet. Add the areas first, by the names that the file has."))
	}
	return errs.Tell(errs.Invalid, words.Later("The file has %s, which is no area of yours. Your areas are %s.", unknown, named), nil)
}

func (s *server) removeMap(c *fiber.Ctx, a access.Actor) error {
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SaveShapes(nil) }); err != nil {
		return err
	}
	return s.see(c, "/cooperative/areas/map")
}

// outlineMark draws the outlines with their names, a degree of longitude as long as it is at their middle.
func outlineMark(say words.Speaker, list []geo.Named) template.HTML {
	var all []geo.Shape
	for _, n := range list {
		all = append(all, n.Shape)
	}
	west, south, east, north := geo.Bounds(all...)
	narrow := math.Cos((south + north) / 2 * math.Pi / 180)
	scale := (plotWidth - 8) / max((east-west)*narrow, north-south)
	at := func(p geo.Position) (x, y float64) { return 4 + (p[0]-west)*narrow*scale, 4 + (north-p[1])*scale }
	var b strings.Builder
	for _, n := range list {
		b.WriteString(`<path class="outline" d="`)
		for _, polygon := range n.Shape {
			for _, ring := range polygon {
				for i, p := range ring[:len(ring)-1] {
					x, y := at(p)
					fmt.Fprintf(&b, "%s%s %s", map[bool]string{true: "M", false: "L"}[i == 0], num(x), num(y))
				}
				b.WriteString("Z")
			}
		}
		w, s, e, no := geo.Bounds(n.Shape)
		x, y := at(geo.Position{(w + e) / 2, (s + no) / 2})
		b.WriteString(`"/>`)
		lines := wrap(n.Name, 10)
		for i, line := range lines {
			fmt.Fprintf(&b, `<text x="%s" y="%s">%s</text>`, num(x), num(y+4+13*(float64(i)-float64(len(lines)-1)/2)), template.HTMLEscapeString(line))
		}
	}
	return svg("outlines", (east-west)*narrow*scale+8, (north-south)*scale+8, say.Say("The areas’ outlines as they are kept"), b.String())
}
