package pages

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// keyAgainPage has the few rows of a sheet that are keyed a second time, without showing what was keyed first, and what
// the two do not agree on.
type keyAgainPage struct {
	base
	Line        season.Line
	Ranch       string
	Columns     []keyColumn
	Rows        []keyRow
	Signs       []keyColumn
	Remains     []keyRow
	Legends     []keyLegend
	Slips       []keyCell
	Nothing     bool // nothing was keyed yet
	Compared    bool
	Differences []keyDifference
}

type keyDifference struct {
	Place, First, Second string
	Box                  string // where it is mended
}

// keyAgain shows the rows to key again.
func (s *server) keyAgain(c *fiber.Ctx, a access.Actor) error {
	k, err := s.loadKeyed(c, a)
	if err != nil {
		return err
	}
	page := s.keyAgainPage(c, a, &k, fieldwork.Keyed{}, nil)
	looks, _ := k.paper()
	page.Nothing = len(looks) == 0
	return s.render(c, fiber.StatusOK, "key_again", page)
}

// compareKeyed says what two keyings of the same rows do not agree on, and keeps how many rows those are. The second
// keying itself is not kept: it is another reading of the same paper, not another look at a nest.
func (s *server) compareKeyed(c *fiber.Ctx, a access.Actor) error {
	k, err := s.loadKeyed(c, a)
	if err != nil {
		return err
	}
	looks, _ := k.paper()
	if len(looks) == 0 {
		return s.see(c, "/key/"+k.line.Code+"/again")
	}
	first := fieldwork.KeyedOf(k.line, looks)
	stops := fieldwork.Again(k.line)
	typed := typedRows(c, stops)
	second := maps.Clone(typed)
	for name, v := range first { // the days stand over the blocks, and are not read a second time
		if strings.HasPrefix(name, "on") || strings.HasPrefix(name, "other") {
			second[name] = v
		}
	}
	again, slips := second.Looks(k.line, survey.DateFrom(s.Now().UTC()))
	if len(slips) > 0 {
		return s.render(c, fiber.StatusUnprocessableEntity, "key_again", s.keyAgainPage(c, a, &k, typed, slips))
	}
	differences := fieldwork.Differences(first, fieldwork.KeyedOf(k.line, again), stops)
	rows := map[int]bool{}
	for _, d := range differences {
		rows[d.Stop] = true
	}
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.SaveKeyedAgain(k.line, len(stops), len(rows)) })
	if err != nil {
		return err
	}
	page := s.keyAgainPage(c, a, &k, typed, nil)
	page.Compared = true
	for _, d := range differences {
		name := fmt.Sprintf("%s.%d", d.Box, d.Stop)
		page.Differences = append(page.Differences, keyDifference{boxPlace(page.Say, d.Box, d.Stop), boxMeans(page, d.Box, d.First), boxMeans(page, d.Box, d.Second), name})
	}
	return s.render(c, fiber.StatusOK, "key_again", page)
}

// typedRows takes the boxes of some rows out of a form.
func typedRows(c *fiber.Ctx, stops []int) fieldwork.Keyed {
	k := fieldwork.Keyed{}
	for _, stop := range stops {
		for _, name := range append(fieldwork.RowBoxes(), fieldwork.RemainsBoxes()...) {
			box := fmt.Sprintf("%s.%d", name, stop)
			if v := strings.TrimSpace(c.FormValue(box)); v != "" {
				k[box] = strings.ToValidUTF8(strings.ReplaceAll(v, "\x00", ""), "")
			}
		}
	}
	return k
}

// boxMeans says what the number in a box stands for.
func boxMeans(page keyAgainPage, box, value string) string {
	if value == "" {
		return page.Say.Say("empty")
	}
	column, choices := "", []string(nil)
	switch {
	case box == "cover":
		column, choices = "cover", fieldwork.Covers
	case strings.HasPrefix(box, "found"):
		column, choices = "found", fieldwork.Founds
	case strings.HasPrefix(box, "how"):
		column, choices = "lost_how", fieldwork.LostHow
	default:
		if i := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == box }); i >= 0 {
			column, choices = box, survey.Features[i].Choices
		}
	}
	for i, choice := range choices {
		if fmt.Sprint(i+1) == value {
			return page.Say.Say(fieldwork.ChoiceLabel(column, choice))
		}
	}
	return value
}

func (s *server) keyAgainPage(c *fiber.Ctx, a access.Actor, k *keyed, boxes fieldwork.Keyed, slips []fieldwork.Slip) keyAgainPage {
	say := s.speaker(c)
	page := keyAgainPageOf(say, k, boxes, slips)
	page.base = s.base(c, a, say.Say("Line %s: key some rows again", k.line.Name))
	page.Here = "/key/" + k.line.Code + "/again"
	return page
}

func keyAgainPageOf(say words.Speaker, k *keyed, boxes fieldwork.Keyed, slips []fieldwork.Slip) keyAgainPage {
	sheet := newKeySheet(say, boxes, slips, nil)
	stops := fieldwork.Again(k.line)
	page := keyAgainPage{Line: k.line, Ranch: k.ranch,
		Columns: sheet.columns(fieldwork.RowBoxes()), Rows: sheet.rows(fieldwork.RowBoxes(), stops),
		Signs: sheet.columns(fieldwork.RemainsBoxes()), Remains: sheet.rows(fieldwork.RemainsBoxes(), stops), Legends: sheet.legends()}
	for _, row := range append(slices.Clone(page.Rows), page.Remains...) {
		for _, cell := range row.Cells {
			if cell.Slip != "" {
				page.Slips = append(page.Slips, cell)
			}
		}
	}
	return page
}
