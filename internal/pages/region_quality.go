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
	"tussock/internal/words"
)

// qualityPage tells how well a season was carried out, as its bulletin has it.
type qualityPage struct {
	base
	Views   []navLink
	Season  int
	Seasons []navLink
	Whole   *qualityList  // the checklist of the whole cooperative
	Fit     *fitPart      // whether the model fits
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

// qualityTable has a column for each season.
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
var checks = []struct{ name, hint, measure string }{
	{words.Mark("First checks on their day"), words.Mark("Day %d after the eggs were set, give or take %d days."), bulletin.FirstOnDay},
	{words.Mark("Second checks on their day"), words.Mark("Day %d, give or take %d days. Other days count too: the days are in the figures."), bulletin.SecondOnDay},
	{words.Mark("Nests followed to a known end"), words.Mark("A loss, or eggs all there on day 25 or later."), bulletin.KnownEnd},
	{words.Mark("Nests not found again"), words.Mark("Counted up to the last good look. The fewer, the better."), bulletin.LostFromView},
	{words.Mark("Nests with a second look"), words.Mark("A second person looked on the same day, alone. A few nests a season are enough to say how well two people agree."), bulletin.SecondLooks},
	{words.Mark("Second looks that agree"), words.Mark("Both found the same. Told where enough landowners had second looks."), bulletin.SecondAgree},
	{words.Mark("Ranches with questions still open"), words.Mark("Their sheets count as read so far. The fewer, the better."), bulletin.OpenQuestions},
}

func (s *server) regionQuality(c *fiber.Ctx, a access.Actor) error {
	d, err := s.bulletins(c, a)
	if err != nil {
		return err
	}
	page := newQualityPage(d, a.Role)
	page.base = s.base(c, a, d.say.Say("How good are the data?"))
	return s.render(c, fiber.StatusOK, "region_quality", page)
}

func newQualityPage(d regionData, role access.Role) qualityPage {
	page := qualityPage{Views: regionViews(role, "/region/quality"), Season: d.season}
	for _, h := range d.heads {
		page.Seasons = append(page.Seasons, navLink{strconv.Itoa(h.Season), fmt.Sprintf("/region/quality/%d", h.Season), h.Season == d.season})
	}
	page.Whole, page.Fit, page.Past = qualityListOf(d), fitOf(d), qualityPastOf(d)
	return page
}

// checkOf is a season's share at a point of the list.
func (d regionData) checkOf(season int, measure string) (bulletin.Cell, bool) {
	return findCell(d.cells, season, "", "", measure, "")
}

// checked lists the seasons of which any point is shown, in order.
func (d regionData) checked() (seasons []int) {
	for _, h := range d.heads {
		for _, check := range checks {
			if _, ok := d.checkOf(h.Season, check.measure); ok && !slices.Contains(seasons, h.Season) {
				seasons = append(seasons, h.Season)
			}
		}
	}
	slices.Sort(seasons)
	return seasons
}

// qualityListOf returns nil where nothing of the season is shown.
func qualityListOf(d regionData) *qualityList {
	if !slices.Contains(d.checked(), d.season) {
		return nil
	}
	say := d.say
	var list qualityList
	var any bulletin.Cell
	for _, check := range checks {
		cell, ok := d.checkOf(d.season, check.measure)
		if ok {
			any = cell
		}
		row := qualityRow{Name: say.Say(check.name), Hint: d.hint(check.hint, check.measure), Figure: shareWords(say, cell.Estimate)}
		if cell.Estimate != nil {
			row.Bar = shareBar(100**cell.Estimate, row.Name+": "+row.Figure)
		}
		list.Rows = append(list.Rows, row)
	}
	list.Method = qualityMethod(d, basisLine(say, any.Basis, d.season), landownersLine(say, any.Entities))
	return &list
}

// hint says what a point is, with the days that the season's bulletin counts by.
func (d regionData) hint(text, measure string) string {
	head := d.heads[slices.IndexFunc(d.heads, func(h postgres.BulletinHead) bool { return h.Season == d.season })]
	switch measure {
	case bulletin.FirstOnDay:
		return d.say.Say(text, head.First, bulletin.OnDay)
	case bulletin.SecondOnDay:
		return d.say.Say(text, head.Last, bulletin.OnDay)
	}
	return d.say.Say(text)
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
func qualityPastOf(d regionData) *qualityTable {
	seasons := d.checked()
	if len(seasons) < 2 {
		return nil
	}
	t, say := &qualityTable{}, d.say
	for _, season := range seasons {
		t.Columns = append(t.Columns, strconv.Itoa(season))
	}
	for _, check := range checks {
		row := qualityTableRow{Name: say.Say(check.name)}
		for _, season := range seasons {
			cell, _ := d.checkOf(season, check.measure)
			row.Figures = append(row.Figures, shareWords(say, cell.Estimate))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Method = []string{
		say.Say("Each season as its own bulletin has it."),
		say.Say("A season carried out otherwise than the others is the first thing to look at where a figure jumps."),
		bulletinsLine(say, d.heads),
	}
	return t
}

// shareBar draws a share of 100 as the filled part of a bar.
func shareBar(share float64, said string) template.HTML {
	const height, edge = 16.0, 1.0
	inner := plotWidth - 2*edge
	return svg("strip", plotWidth, height, said, fmt.Sprintf(`<rect class="plate" x="%s" y="%s" width="%s" height="%s"/><rect class="ink-soft" x="%s" y="%s" width="%s" height="%s"/>`,
		num(edge), num(edge), num(inner), num(height-2*edge), num(edge), num(edge), num(inner*math.Max(0, math.Min(1, share/100))), num(height-2*edge)))
}
