package pages

import (
	"bytes"
	"fmt"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/export"
	"tussock/internal/postgres"
	"tussock/internal/season"
)

// planFile hands out what a crew takes along: waypoints, lines, days. Who took it stands in the log.
func (s *server) planFile(c *fiber.Ctx, a access.Actor) error {
	id, file := access.ID(c.Params("id")), c.Params("file")
	year, err := seasonParam(c)
	if err != nil {
		return err
	}
	kinds := map[string]string{"lines.gpx": "application/gpx+xml", "lines.geojson": "application/geo+json", "days.ics": "text/calendar; charset=utf-8"}
	kind, ok := kinds[file]
	if !ok {
		return errNothing
	}
	var lines []season.Line
	var r postgres.Ranch
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if r, err = tx.Ranch(id); err != nil {
			return err
		}
		if lines, err = tx.Lines(id, year); err != nil {
			return err
		}
		if len(lines) == 0 {
			return errNothing
		}
		return tx.Took(id, postgres.TookFile, file)
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	var b bytes.Buffer
	out := export.Season{Title: fmt.Sprintf("%s, %d", r.Name, year), Lines: lines, Say: say, Now: s.Now()}
	switch file {
	case "lines.gpx":
		err = out.GPX(&b)
	case "lines.geojson":
		err = out.GeoJSON(&b)
	default:
		cal := export.Calendar{Say: say, Now: s.Now(), Named: c.Query("named") == "1", Alarm: true}
		for _, l := range lines {
			cal.Days = append(cal.Days, export.CalendarLine{Line: l, RanchName: r.Name, Changed: s.Now()})
		}
		err = cal.Write(&b)
	}
	if err != nil {
		return err
	}
	c.Set(fiber.HeaderContentType, kind)
	c.Set(fiber.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="%d-%s"`, year, file)) // names no ranch: files lie about on phones
	return c.Send(b.Bytes())
}
