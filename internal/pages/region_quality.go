package pages

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
)

// qualityPage tells how well a season was carried out, as its bulletin has it.
type qualityPage struct {
	base
	Views   []navLink
	Season  int
	Seasons []navLink
	Places  []qualityPlace // the whole cooperative first
	Past    *qualityPast
}

// qualityPlace is the checklist of one place.
type qualityPlace struct {
	ID, Name string
	Rows     []qualityRow
	Method   []string
}

type qualityRow struct {
	Name, Figure, Hint string
	Bar                template.HTML // "" where not shown
}

// qualityPast sets the seasons of the whole cooperative side by side.
type qualityPast struct {
	Seasons []int
	Rows    []qualityPastRow
	Method  []string
}

type qualityPastRow struct {
	Name    string
	Figures []string
}

// checks are the points of the list, as they are read out.
var checks = []struct {
	name, hint string
	share      func(bulletin.Quality) *float64
}{
	{"First checks on day 11 to 17", "Two weeks after the eggs were set, give or take three days.", func(q bulletin.Quality) *float64 { return q.FirstOnDay }},
	{"Second checks on day 25 to 31", "Four weeks, give or take three days. Other days count too: the days are in the figures.", func(q bulletin.Quality) *float64 { return q.SecondOnDay }},
	{"Nests followed to a known end", "A loss, or eggs all there on day 25 or later.", func(q bulletin.Quality) *float64 { return q.KnownEnd }},
	{"Nests not found again", "Counted up to the last good look. The fewer, the better.", func(q bulletin.Quality) *float64 { return q.LostFromView }},
	{"Ranches with questions still open", "Their sheets count as read so far. The fewer, the better.", func(q bulletin.Quality) *float64 { return q.OpenQuestions }},
}

func (s *server) regionQuality(c *fiber.Ctx, a access.Actor) error {
	d, err := s.bulletins(c, a)
	if err != nil {
		return err
	}
	page, err := newQualityPage(d, a.Role)
	if err != nil {
		return err
	}
	page.base = s.base(c, a, "How good are the data?")
	return s.render(c, fiber.StatusOK, "region_quality", page)
}

func newQualityPage(d regionData, role access.Role) (qualityPage, error) {
	page := qualityPage{Views: regionViews(role, "/region/quality"), Season: d.season}
	for _, h := range d.heads {
		page.Seasons = append(page.Seasons, navLink{strconv.Itoa(h.Season), fmt.Sprintf("/region/quality/%d", h.Season), h.Season == d.season})
	}
	var front []placed[bulletin.Quality]
	past := map[int]bulletin.Quality{} // of the whole cooperative
	for _, f := range d.figures {
		if f.Kind != bulletin.QualityKind {
			continue
		}
		list, err := read[bulletin.Quality](nil, f)
		if err != nil {
			return page, err
		}
		if f.Season == d.season {
			front = append(front, list...)
		}
		if f.Place == nil {
			past[f.Season] = list[0].body
		}
	}
	for i, p := range front {
		page.Places = append(page.Places, qualityPlaceOf(fmt.Sprintf("place-%d", i), p, d.heads, d.season))
	}
	page.Past = qualityPastOf(past, d)
	return page, nil
}

func qualityPlaceOf(id string, p placed[bulletin.Quality], heads []postgres.BulletinHead, season int) qualityPlace {
	place := qualityPlace{ID: id, Name: placeTitle(p.name)}
	for _, check := range checks {
		row := qualityRow{Name: check.name, Hint: check.hint, Figure: notShown}
		if share := check.share(p.body); share != nil {
			row.Figure = ofHundred(*share)
			row.Bar = shareBar(100**share, check.name+": "+row.Figure)
		}
		place.Rows = append(place.Rows, row)
	}
	place.Method = []string{
		"Shares of the nests, checks and ranches that counted in the season’s bulletin, each by itself: a nest without a second check is in no second check.",
		"Days count from the day the eggs were set. Rows that could not be read are in no figure here.",
		"Whether two people see the same at one nest is not asked on the sheets, so nothing here says how well they agree.",
		"Steps: 5 of 100. " + methodModels, methodNoSeed, landownersLine(p.body.Entities), frozenLine(heads, season),
	}
	return place
}

// qualityPastOf returns nil where there is only one season to show.
func qualityPastOf(bySeason map[int]bulletin.Quality, d regionData) *qualityPast {
	if len(bySeason) < 2 {
		return nil
	}
	p := &qualityPast{}
	for _, h := range d.heads {
		p.Seasons = append(p.Seasons, h.Season)
	}
	slices.Sort(p.Seasons)
	for _, check := range checks {
		row := qualityPastRow{Name: check.name}
		for _, season := range p.Seasons {
			figure := notShown
			if share := check.share(bySeason[season]); share != nil {
				figure = percent(*share)
			}
			row.Figures = append(row.Figures, figure)
		}
		p.Rows = append(p.Rows, row)
	}
	row := qualityPastRow{Name: "Ranches with results"}
	for _, season := range p.Seasons {
		row.Figures = append(row.Figures, ranchBand(bySeason, season))
	}
	p.Rows = append(p.Rows, row)
	p.Method = []string{
		"Each season as its own bulletin has it, of 100; the number of ranches with results as a band.",
		"A season carried out otherwise than the others is the first thing to look at where a figure jumps.",
		methodNoSeed, bulletinsLine(d.heads),
	}
	return p
}

// ranchBand is the number of ranches of a season, as the newest bulletin that has it says.
func ranchBand(bySeason map[int]bulletin.Quality, season int) string {
	for _, r := range bySeason[season].Ranches {
		if r.Season == season && r.Ranches != "" {
			return bandWords(r.Ranches)
		}
	}
	return notShown
}

// shareBar draws a share of 100 as the filled part of a bar.
func shareBar(share float64, words string) template.HTML {
	const height, edge = 16.0, 1.0
	inner := plotWidth - 2*edge
	return svg("strip", plotWidth, height, words, fmt.Sprintf(`<rect class="plate" x="%s" y="%s" width="%s" height="%s"/><rect class="ink-soft" x="%s" y="%s" width="%s" height="%s"/>`,
		num(edge), num(edge), num(inner), num(height-2*edge), num(edge), num(edge), num(inner*math.Max(0, math.Min(1, share/100))), num(height-2*edge)))
}
