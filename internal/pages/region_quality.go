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
	"tussock/internal/words"
)

// qualityPage tells how well a season was carried out, as its bulletin has it.
type qualityPage struct {
	base
	Views   []navLink
	Season  int
	Seasons []navLink
	Whole   *qualityList  // the checklist of the whole cooperative
	Places  *qualityTable // place beside place
	Past    *qualityTable // season beside season, of the whole cooperative
}

type qualityList struct {
	Rows   []qualityRow
	Method []string
}

type qualityRow struct {
	Name, Figure, Hint string
	Bar                template.HTML // "" where not shown
}

// qualityTable has a column for each place or season.
type qualityTable struct {
	Columns []string
	Rows    []qualityTableRow
	Method  []string
}

type qualityTableRow struct {
	Name    string
	Figures []string
}

// checks are the points of the list, as they are read out.
var checks = []struct {
	name, hint string
	share      func(bulletin.Quality) *float64
}{
	{words.Mark("First checks on day 11 to 17"), words.Mark("Two weeks after the eggs were set, give or take three days."), func(q bulletin.Quality) *float64 { return q.FirstOnDay }},
	{words.Mark("Second checks on day 25 to 31"), words.Mark("Four weeks, give or take three days. Other days count too: the days are in the figures."), func(q bulletin.Quality) *float64 { return q.SecondOnDay }},
	{words.Mark("Nests followed to a known end"), words.Mark("A loss, or eggs all there on day 25 or later."), func(q bulletin.Quality) *float64 { return q.KnownEnd }},
	{words.Mark("Nests not found again"), words.Mark("Counted up to the last good look. The fewer, the better."), func(q bulletin.Quality) *float64 { return q.LostFromView }},
	{words.Mark("Nests with a second look"), words.Mark("A second person looked on the same day, alone. A few nests a season are enough to say how well two people agree."), func(q bulletin.Quality) *float64 { return q.SecondLooks }},
	{words.Mark("Second looks that agree"), words.Mark("Both found the same. Told where enough landowners had second looks."), func(q bulletin.Quality) *float64 { return q.SecondAgree }},
	{words.Mark("Ranches with questions still open"), words.Mark("Their sheets count as read so far. The fewer, the better."), func(q bulletin.Quality) *float64 { return q.OpenQuestions }},
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
	page.base = s.base(c, a, d.say.Say("How good are the data?"))
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
	if i := slices.IndexFunc(front, func(p placed[bulletin.Quality]) bool { return p.name == "" }); i >= 0 {
		page.Whole = qualityListOf(front[i].body, d)
		front = slices.Delete(front, i, i+1)
	}
	page.Places = qualityPlacesOf(front, d)
	page.Past = qualityPastOf(past, d)
	return page, nil
}

func qualityListOf(q bulletin.Quality, d regionData) *qualityList {
	say := d.say
	list := &qualityList{Method: qualityMethod(d, basisLine(say, q.Basis, d.season), landownersLine(say, q.Entities))}
	for _, check := range checks {
		row := qualityRow{Name: say.Say(check.name), Hint: say.Say(check.hint), Figure: shareWords(say, check.share(q))}
		if share := check.share(q); share != nil {
			row.Bar = shareBar(100**share, row.Name+": "+row.Figure)
		}
		list.Rows = append(list.Rows, row)
	}
	return list
}

func qualityMethod(d regionData, counts, landowners string) []string {
	say := d.say
	return []string{
		say.Say("Shares of the nests, checks and ranches that counted in the season’s bulletin, each by itself: a nest without a second check is in no second check."),
		say.Say("Days count from the day the eggs were set. Rows that could not be read are in no figure here."),
		say.Say("A second look is one by another person on the same day, before hearing of the first: the sheet’s column second_look, or two rows of one nest and day by two people. How well two agree is told where ten landowners at least had second looks."),
		say.Say("Steps: 5 of 100 or coarser; at the ends “few or none” and “all or nearly”, since a plain 0 or 100 would tell of every one. Published from ten landowners on, none with more than a quarter of the nests, and only where leaving out any one landowner moves it by no more than one step."),
		counts, landowners, frozenLine(say, d.heads, d.season),
	}
}

// qualityPlacesOf sets the places beside each other; nil where none is shown.
func qualityPlacesOf(places []placed[bulletin.Quality], d regionData) *qualityTable {
	if len(places) == 0 {
		return nil
	}
	t, say := &qualityTable{}, d.say
	var bands, counts []string
	for _, p := range places {
		t.Columns = append(t.Columns, p.name)
		bands, counts = append(bands, placeBand(say, p.name, p.body.Entities)), countsOf(say, counts, p.name, p.body.Basis)
	}
	for _, check := range checks {
		row := qualityTableRow{Name: say.Say(check.name)}
		for _, p := range places {
			row.Figures = append(row.Figures, shareWords(say, check.share(p.body)))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Method = qualityMethod(d, bases(say, counts), landowners(say, bands))
	return t
}

// shareWords reads a share of 100; its ends stand for all that round to them.
func shareWords(say words.Speaker, share *float64) string {
	switch {
	case share == nil:
		return say.Say(notShown)
	case *share <= 0:
		return say.Say("few or none")
	case *share >= 1:
		return say.Say("all or nearly")
	}
	return ofHundred(say, *share)
}

// qualityPastOf returns nil where there is only one season to show.
func qualityPastOf(bySeason map[int]bulletin.Quality, d regionData) *qualityTable {
	if len(bySeason) < 2 {
		return nil
	}
	t, say := &qualityTable{}, d.say
	var seasons []int
	var counts []string
	for season, q := range bySeason {
		counts = countsOf(say, counts, strconv.Itoa(season), q.Basis)
	}
	for _, h := range d.heads {
		seasons = append(seasons, h.Season)
	}
	slices.Sort(seasons)
	for _, season := range seasons {
		t.Columns = append(t.Columns, strconv.Itoa(season))
	}
	for _, check := range checks {
		row := qualityTableRow{Name: say.Say(check.name)}
		for _, season := range seasons {
			row.Figures = append(row.Figures, shareWords(say, check.share(bySeason[season])))
		}
		t.Rows = append(t.Rows, row)
	}
	row := qualityTableRow{Name: say.Say("Ranches with results")}
	for _, season := range seasons {
		row.Figures = append(row.Figures, ranchBand(say, bySeason, season))
	}
	t.Rows = append(t.Rows, row)
	t.Method = []string{
		say.Say("Each season as its own bulletin has it; the number of ranches with results as a band."),
		say.Say("A season carried out otherwise than the others is the first thing to look at where a figure jumps."),
		bases(say, counts), bulletinsLine(say, d.heads),
	}
	return t
}

// ranchBand is the number of ranches of a season, as its own bulletin says.
func ranchBand(say words.Speaker, bySeason map[int]bulletin.Quality, season int) string {
	for _, r := range bySeason[season].Ranches {
		if r.Season == season && r.Ranches != "" {
			return bandWords(say, r.Ranches)
		}
	}
	return say.Say(notShown)
}

// shareBar draws a share of 100 as the filled part of a bar.
func shareBar(share float64, said string) template.HTML {
	const height, edge = 16.0, 1.0
	inner := plotWidth - 2*edge
	return svg("strip", plotWidth, height, said, fmt.Sprintf(`<rect class="plate" x="%s" y="%s" width="%s" height="%s"/><rect class="ink-soft" x="%s" y="%s" width="%s" height="%s"/>`,
		num(edge), num(edge), num(inner), num(height-2*edge), num(edge), num(edge), num(inner*math.Max(0, math.Min(1, share/100))), num(height-2*edge)))
}
