package pages

import (
	"encoding/csv"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/errs"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// notShown stands wherever no figure was published for the reader. It is one fixed wording without a reason: why a
// cell is held back says something about the ranches behind it.
var notShown = words.Mark("not shown")

// wholeCooperative is how a cell without an area reads.
var wholeCooperative = words.Mark("The whole cooperative")

// regionPage shows the published bulletins, one season at the front.
type regionPage struct {
	base
	Views  []navLink
	Empty  bool // nothing published yet
	Lead   string
	Heads  []postgres.BulletinHead
	Head   postgres.BulletinHead
	Areas  []regionArea
	Quiet  []string      // places of which nothing is shown
	Models *regionModels // nil for landowners
	Mixes  *regionMixes  // of the whole cooperative, season beside season
	Back   []string      // what was taken back, and when
	Method []string

	OneProof oneProof
}

// regionArea is one published place with its four views.
type regionArea struct {
	ID, Name   string
	Parts      string // the cooperative's own areas published under this name, where there are several
	Limits     *limitsPart
	Survival   regionTable
	Spread     *spreadPart // of the whole cooperative alone
	Substrates regionTable
	Density    regionTable
	Mix        *mixView // nil where nothing of it is shown
	Took       string   // its heading
}

// Drawn tells whether anything at all is shown for the place.
func (a regionArea) Drawn() bool {
	return a.Survival.Drawn || a.Substrates.Drawn || a.Density.Drawn || a.Mix != nil
}

// regionTable is one view of a place: the numbers, and the drawing of them where there is anything to draw.
type regionTable struct {
	Mark        string // what the broken line is, of clumps an acre
	ID, Caption string
	Heading     string // of the first column
	Rows        []regionRow
	Drawn       bool // a cell at least is shown
	Strips      bool // drawn as a strip a row, under one axis
	Axis        template.HTML
	Options     template.JS // or as a chart over the seasons
	Method      []string
}

// regionRow is one cell as it is read: "52 of 100" and "44 to 61", or notShown.
type regionRow struct {
	Name, Figure, Range string
	Shown               bool
	Cell                tableCell // the same under a heading that says of what
	Mark                template.HTML
}

// region shows the newest bulletin, or the one of the season in the path. It reads nothing but published cells and
// figures, and of these only what the database lets this reader see.
func (s *server) region(c *fiber.Ctx, a access.Actor) error {
	d, err := s.bulletins(c, a)
	if err != nil {
		return err
	}
	page, err := newRegionPage(d, a.Role)
	if err != nil {
		return err
	}
	page.base = s.base(c, a, page.title(d))
	page.Charts = !page.Empty
	if page.OneProof, err = s.oneProof(c, a); err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "region", page)
}

func newRegionPage(d regionData, role access.Role) (page regionPage, err error) {
	say := d.say
	page = regionPage{Views: regionViews(role, "/region"), Empty: len(d.heads) == 0, Heads: d.heads}
	if page.Empty {
		return page, nil
	}
	page.Head = d.heads[slices.IndexFunc(d.heads, func(h postgres.BulletinHead) bool { return h.Season == d.season })]
	if page.Areas, err = regionAreas(say, d.cells, d.places, d.season, d.marks, keyOf(d.heads, d.season)); err != nil {
		return page, err
	}
	noteMethods(d, page.Areas)
	page.Areas[0].Limits = limitsPartOf(d, "", []string{""})
	var labels []string
	for _, a := range page.Areas[1:] {
		labels = append(labels, a.Name)
	}
	for i, label := range labels {
		page.Areas[i+1].Limits = limitsPartOf(d, label, labels)
	}
	page.Areas[0].Spread = spreadOf(d)
	page.Lead = regionLead(page.Areas[0], d)
	page.Areas, page.Quiet = quiet(page.Areas)
	page.Method, page.Back = regionMethod(say, page.Head, d.cells), retractedWords(d.say, d.back, d.season)
	if role == access.Landowner {
		return page, nil // a letter, not a workbench
	}
	if page.Mixes, err = mixesOf(say, d.heads, d.cells); err != nil {
		return page, err
	}
	page.Models, err = modelsOf(d)
	return page, err
}

func (p regionPage) title(d regionData) string {
	if p.Empty {
		return d.say.Say("No bulletin is published yet")
	}
	return regionTitle(d.say, d.cells, d.season)
}

// quiet takes the places of which nothing is shown to one line: a page of "not shown" is read by nobody. The whole
// cooperative keeps its part.
func quiet(areas []regionArea) (drawn []regionArea, names []string) {
	for i, a := range areas {
		if i > 0 && !a.Drawn() {
			names = append(names, a.Name)
			continue
		}
		drawn = append(drawn, a)
	}
	return drawn, names
}

// regionCSV is the same season as an open table, for those who work with the numbers elsewhere. It holds exactly what
// the page shows.
func (s *server) regionCSV(c *fiber.Ctx, a access.Actor) error {
	d, err := s.bulletins(c, a)
	if err != nil {
		return err
	}
	if len(d.heads) == 0 {
		return errs.New(errs.NotFound, words.Mark("No bulletin is published yet."))
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.TookFigures(fmt.Sprintf("%d cells.csv", d.season)) }); err != nil {
		return err
	}

	var b strings.Builder
	w := csv.NewWriter(&b)
	w.UseCRLF = true // RFC 4180
	rows := [][]string{{"season", "area", "substrate", "measure", "predator", "clumps", "estimate", "low", "high", "entities", "nests", "transects", "belts"}}
	for _, cell := range d.cells {
		if cell.Season != d.season || !cell.Published {
			continue
		}
		cell = cell.Open()
		rows = append(rows, []string{strconv.Itoa(cell.Season), inert(text(cell.Area)), inert(text(cell.Substrate)),
			cell.Measure, inert(cell.Predator), number(cell.Clumps), number(cell.Estimate), number(cell.Low), number(cell.High), cell.Entities,
			tens(cell.Nests), tens(cell.Transects), tens(cell.Belts)})
	}
	if err := w.WriteAll(rows); err != nil {
		return fmt.Errorf("write bulletin %d: %w", d.season, err)
	}
	c.Set(fiber.HeaderContentType, "text/csv; charset=utf-8; header=present")
	c.Set(fiber.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="bulletin-%d.csv"`, d.season))
	return c.SendString(b.String())
}

// regionData is what the region's pages are made from.
type regionData struct {
	say    words.Speaker
	heads  []postgres.BulletinHead // the latest season first
	cells  []bulletin.Cell         // of all seasons
	places []bulletin.Place        // of the season in front
	back   []postgres.Retraction   // of all seasons
	season int
	marks  findings.Marks
}

// bulletins loads what the region's pages need. A season in the path that has no bulletin is NotFound, in the same words
// as any other page that does not exist.
func (s *server) bulletins(c *fiber.Ctx, a access.Actor) (d regionData, err error) {
	d.say = s.speaker(c)
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if d.heads, err = tx.Bulletins(); err != nil || len(d.heads) == 0 && c.Params("season") == "" {
			return err
		}
		slices.SortFunc(d.heads, func(x, y postgres.BulletinHead) int { return y.Season - x.Season })
		if d.season, err = seasonInFront(c.Params("season"), d.heads); err != nil {
			return err
		}
		if d.cells, err = tx.Cells(0); err != nil {
			return err
		}
		if d.marks, err = tx.Marks(d.season); err != nil {
			return err
		}
		if d.back, err = tx.Retractions(); err != nil {
			return err
		}
		d.places, err = tx.Places(d.season)
		return err
	})
	return d, err
}

func seasonInFront(param string, heads []postgres.BulletinHead) (int, error) {
	if param == "" {
		return heads[0].Season, nil
	}
	season, err := strconv.Atoi(param)
	if err != nil || strconv.Itoa(season) != param || !slices.ContainsFunc(heads, func(h postgres.BulletinHead) bool { return h.Season == season }) {
		return 0, errNothing
	}
	return season, nil
}

// regionViews lists the parts of the region that a role may open.
func regionViews(role access.Role, path string) []navLink {
	views := []navLink{{words.Mark("The bulletin"), "/region", path == "/region"}, {words.Mark("How good are the data?"), "/region/quality", path == "/region/quality"}}
	if role.Has(access.ViewNamed) {
		views = append(views, navLink{words.Mark("Ranches by name"), "/region/named", path == "/region/named"})
	}
	return append(views, navLink{words.Mark("Shown by name"), "/showcase", false})
}

// regionLead says the rest of what a reader in a hurry wants: whether cover is short, and what seems to hold nests back.
func regionLead(whole regionArea, d regionData) string {
	var lead string
	if cell, ok := findCell(d.cells, d.season, "", "", bulletin.ClumpsPerAcre, ""); ok {
		if row := densityRow(d.say, "", cell); row.Shown {
			lead = d.say.Say("About %s clumps an acre to nest in, where %.0f are the target.", row.Figure, d.marks.Cover)
		}
	}
	if whole.Limits != nil {
		lead = strings.TrimSpace(lead + " " + d.say.Say("What holds nests back?") + " " + whole.Limits.Sentence)
	}
	return lead
}

// regionTitle states the finding: the whole cooperative's survival in the season.
func regionTitle(say words.Speaker, cells []bulletin.Cell, season int) string {
	cell, ok := findCell(cells, season, "", "", bulletin.Survival28, "")
	if !ok {
		return say.Say("The region in %d", season)
	}
	return say.Say("In %d about %s nests lasted four weeks", season, rateRow(say, "", cell).Figure)
}

// regionAreas lays the cells out by place: the whole cooperative first, then each published place by name. A place, a
// season or a substrate without a visible cell keeps its row, so that a missing figure looks the same whatever it is
// missing for.
func regionAreas(say words.Speaker, cells []bulletin.Cell, places []bulletin.Place, season int, m findings.Marks, key bulletin.KeyNote) ([]regionArea, error) {
	parts := map[string][]string{"": nil}
	names := []string{""}
	for _, p := range places {
		if p.Label == "" {
			continue
		}
		if _, ok := parts[p.Label]; !ok {
			names = append(names, p.Label)
		}
		parts[p.Label] = append(parts[p.Label], p.Area)
	}
	slices.Sort(names[1:])

	seasons, substrates := axes(cells, season)
	areas := make([]regionArea, 0, len(names))
	for i, name := range names {
		area := regionArea{ID: fmt.Sprintf("area-%d", i), Name: name}
		if name == "" {
			area.Name = say.Say(wholeCooperative)
		}
		if len(parts[name]) > 1 {
			area.Parts = strings.Join(parts[name], ", ")
		}
		area.Survival = survivalTable(say, cells, name, seasons)
		var err error
		if area.Survival.Options, err = survivalChart(say, cells, name, seasons); err != nil {
			return nil, fmt.Errorf("draw survival of %q: %w", area.Name, err)
		}
		area.Substrates = substrateTable(say, cells, name, season, substrates)
		area.Density = densityTable(say, cells, name, seasons, m)
		area.Mix, area.Took = publishedMix(say, cells, name, season, key), say.Say("What took the eggs in %d?", season)
		areas = append(areas, area)
	}
	return areas, nil
}

// axes returns the seasons and substrates that occur in any visible cell. The lists are the same for
// every place, so that no row is missing in one and present in another.
func axes(cells []bulletin.Cell, season int) (seasons []int, substrates []string) {
	for _, c := range cells {
		if !slices.Contains(seasons, c.Season) {
			seasons = append(seasons, c.Season)
		}
		if c.Season != season {
			continue
		}
		if c.Substrate != nil && c.Measure == bulletin.Survival28 && !slices.Contains(substrates, *c.Substrate) {
			substrates = append(substrates, *c.Substrate)
		}
	}
	if !slices.Contains(seasons, season) {
		seasons = append(seasons, season)
	}
	slices.Sort(seasons)
	slices.Sort(substrates)
	return seasons, substrates
}

// survivalTable has a row a season.
func survivalTable(say words.Speaker, cells []bulletin.Cell, area string, seasons []int) regionTable {
	t := regionTable{ID: "survival", Caption: say.Say("How many nests lasted four weeks?"), Heading: say.Say("Season")}
	for _, season := range slices.Backward(seasons) {
		cell, _ := findCell(cells, season, area, "", bulletin.Survival28, "")
		t.add(rateRow(say, strconv.Itoa(season), cell))
	}
	return t
}

// survivalChart draws the place's line over the seasons, with the whole cooperative's beside it. Fewer than two seasons
// make no line, and a season that is not shown is a gap.
func survivalChart(say words.Speaker, cells []bulletin.Cell, area string, seasons []int) (template.JS, error) {
	own := trendOf(say, cells, area, seasons)
	if len(own.Points) < 2 {
		return "", nil
	}
	series := []chart.Series{own}
	if area != "" {
		if all := trendOf(say, cells, "", seasons); len(all.Points) > 0 {
			series = append(series, all)
		}
	}
	return chart.Trend(series, chart.Axis{Name: say.Say("of 100 nests"), Most: 100}, say.Say("%s: nests that lasted four weeks, by season, with their ranges", own.Name))
}

func trendOf(say words.Speaker, cells []bulletin.Cell, area string, seasons []int) chart.Series {
	s := chart.Series{Name: shortPlace(say, area)}
	for _, season := range seasons {
		cell, ok := findCell(cells, season, area, "", bulletin.Survival28, "")
		if !ok || cell.Estimate == nil {
			continue
		}
		r := rangedOf(cell)
		s.Points = append(s.Points, chart.Point{Season: season, Estimate: r.Estimate, Low: r.Low, High: r.High,
			Words: pointWords(say, season, s.Name, whole(r.Estimate), say.Say("%s to %s", whole(r.Low), whole(r.High)))})
	}
	return s
}

// pointWords are what a point of a chart over the seasons says when it is touched.
func pointWords(say words.Speaker, season int, name, figure, span string) string {
	return say.Say("%d, %s: %s of 100, a fair range %s", season, name, figure, span)
}

// shortPlace is a place's name for a legend: of many areas the first, and how many more.
func shortPlace(say words.Speaker, label string) string {
	parts := strings.Split(label, " + ")
	if len(parts) > 2 {
		return say.Say("%s and %d more", parts[0], len(parts)-1)
	}
	return placeTitle(say, label)
}

func substrateTable(say words.Speaker, cells []bulletin.Cell, area string, season int, substrates []string) regionTable {
	t := regionTable{ID: "substrates", Caption: say.Say("How did they last in each kind of cover in %d?", season), Heading: say.Say("Nest in")}
	for _, substrate := range substrates {
		cell, _ := findCell(cells, season, area, substrate, bulletin.Survival28, "")
		row := rateRow(say, say.Say(substrate), cell)
		if row.Shown {
			row.Mark = rateStrip(cell, row.Name+": "+row.Figure)
		}
		t.add(row)
	}
	t.Strips, t.Axis = t.Drawn, rateAxis(say)
	return t
}

func densityTable(say words.Speaker, cells []bulletin.Cell, area string, seasons []int, m findings.Marks) regionTable {
	t := regionTable{ID: "cover", Caption: say.Say("Is there enough to nest in?"), Heading: say.Say("Season")}
	most := densityScale(cells, m.Cover)
	for _, season := range slices.Backward(seasons) {
		cell, _ := findCell(cells, season, area, "", bulletin.ClumpsPerAcre, "")
		row := densityRow(say, strconv.Itoa(season), cell)
		if row.Shown {
			row.Mark = densityStrip(cell, most, m.Cover, say.Say("%s: %s clumps an acre", row.Name, row.Figure))
		}
		t.add(row)
	}
	t.Mark = say.Say("Clumps big enough to nest in, an acre. The broken line is the cover target, %.0f clumps an acre: %s.", m.Cover, marksFrom(say, m))
	t.Strips, t.Axis = t.Drawn, coverAxis(say, most, m.Cover)
	return t
}

func (t *regionTable) add(row regionRow) {
	t.Rows = append(t.Rows, row)
	t.Drawn = t.Drawn || row.Shown
}

// rateRow reads a rate, or where only a band is published the band.
func rateRow(say words.Speaker, name string, c bulletin.Cell) regionRow {
	row := regionRow{Name: name, Shown: true}
	switch {
	case !c.Published || c.Estimate == nil && c.Low == nil && c.High == nil:
		return hiddenRow(say, name)
	case c.Estimate == nil && c.High == nil:
		row.Cell.Figure = say.Say("%s or more", percent(*c.Low))
	case c.Estimate == nil && (c.Low == nil || *c.Low == 0):
		row.Cell.Figure = say.Say("%s or fewer", percent(*c.High))
	case c.Estimate == nil:
		row.Cell.Figure = say.Say("%s to %s", percent(*c.Low), percent(*c.High))
	default:
		row.Cell.Figure = percent(*c.Estimate)
		row.between(say, c, percent)
	}
	row.Figure = say.Say("%s of 100", row.Cell.Figure)
	return row
}

// densityRow reads a density, or where only a band is published the ends of the band; a band without an upper end is
// "or more".
func densityRow(say words.Speaker, name string, c bulletin.Cell) regionRow {
	row := regionRow{Name: name, Shown: true}
	switch {
	case !c.Published || c.Estimate == nil && c.Low == nil:
		return hiddenRow(say, name)
	case c.Estimate == nil && c.High == nil:
		row.Cell.Figure = say.Say("%s or more", whole(*c.Low))
	case c.Estimate == nil:
		row.Cell.Figure = say.Say("%s to %s", whole(*c.Low), whole(*c.High))
	default:
		row.Cell.Figure = whole(*c.Estimate)
		row.between(say, c, whole)
	}
	row.Figure = row.Cell.Figure
	return row
}

func hiddenRow(say words.Speaker, name string) regionRow {
	none := say.Say(notShown)
	return regionRow{Name: name, Figure: none, Cell: tableCell{Figure: none}}
}

// between gives the row its range, where both ends are published.
func (r *regionRow) between(say words.Speaker, c bulletin.Cell, written func(float64) string) {
	if c.Low != nil && c.High != nil {
		r.Range, r.Cell.Range = say.Say("%s to %s", written(*c.Low), written(*c.High)), written(*c.Low)+"–"+written(*c.High)
	}
}

// rangedOf returns a rate in of 100. Where only a band is published its middle stands for the figure, which is not
// drawn.
func rangedOf(c bulletin.Cell) ranged {
	r := ranged{High: 100}
	if c.Low != nil {
		r.Low = 100 * *c.Low
	}
	if c.High != nil {
		r.High = 100 * *c.High
	}
	r.Estimate = (r.Low + r.High) / 2
	if c.Estimate != nil {
		r.Estimate = 100 * *c.Estimate
	}
	return r
}

// rateStrip draws a published rate with its range, in ink: blue is for what is one's own.
func rateStrip(c bulletin.Cell, words string) template.HTML {
	r := rangedOf(c)
	drawing := fmt.Sprintf(`<path class="track" d="M%s 13H%s"/>`, num(plotMargin), num(plotWidth-plotMargin)) + band(r, 100, 6, 14, "ink")
	if c.Estimate != nil {
		drawing += fmt.Sprintf(`<circle class="ink" cx="%s" cy="13" r="5.5"/>`, num(place(r.Estimate, 100)))
	}
	return svg("strip", plotWidth, 26, words, drawing)
}

func rateAxis(say words.Speaker) template.HTML {
	return svg("strip", plotWidth, 26, say.Say("Scale in nests of 100"), axis(100, 4, hundred))
}

// densityScale returns one end for every strip of clumps an acre on the page, so that they compare by eye.
func densityScale(cells []bulletin.Cell, mark float64) float64 {
	var rs []ranged
	for _, c := range cells {
		if c.Measure != bulletin.ClumpsPerAcre || !c.Published || c.Substrate != nil {
			continue
		}
		r := ranged{}
		for _, x := range []*float64{c.Low, c.Estimate, c.High} {
			if x != nil {
				r.High = max(r.High, *x)
			}
		}
		rs = append(rs, r)
	}
	return coverScale(rs, mark)
}

// densityStrip draws clumps an acre against the cover target; a band without a middle gets no dot, and one without an
// upper end runs to the end of the scale.
func densityStrip(c bulletin.Cell, most, enough float64, words string) template.HTML {
	r := ranged{High: most}
	if c.Low != nil {
		r.Low = *c.Low
	}
	if c.High != nil {
		r.High = *c.High
	}
	drawing := fmt.Sprintf(`<path class="track" d="M%s 13H%s"/>%s<path class="mark" d="M%s 0V26"/>`,
		num(plotMargin), num(plotWidth-plotMargin), band(r, most, 6, 14, "ink"), num(place(enough, most)))
	if c.Estimate != nil {
		drawing += fmt.Sprintf(`<circle class="ink" cx="%s" cy="13" r="5.5"/>`, num(place(*c.Estimate, most)))
	}
	return svg("strip", plotWidth, 26, words, drawing)
}

// findCell returns the published cell at the given place; "" stands for the whole cooperative and for all substrates.
func findCell(cells []bulletin.Cell, season int, area, substrate, measure, predator string) (bulletin.Cell, bool) {
	for _, c := range cells {
		if c.Season == season && c.Measure == measure && c.Predator == predator && c.Published &&
			text(c.Area) == area && text(c.Substrate) == substrate {
			return c, true
		}
	}
	return bulletin.Cell{}, false
}

// regionMethod says what the figures are, for whoever wants to quote them.
func regionMethod(say words.Speaker, head postgres.BulletinHead, cells []bulletin.Cell) []string {
	lines := []string{
		say.Say("Bulletin %d, season %d, published %s. A figure is never changed after that; one that was wrong is taken back, and named on this page. Its fingerprint is %s.",
			head.Number, head.Season, say.Day(head.PublishedAt), head.Hash),
		say.Say("Lasted four weeks: the share of simulated nests whose eggs would still be there on day 28, worked out from the days between visits, all causes of loss together. Each kind of cover weighs the same; plants that few ranches have are in no figure."),
		say.Say("The ranges are made so that 95 of 100 such ranges hold the true figure. Nests of one landowner count as sharing their luck."),
		say.Say("What took the eggs: shares of the taken nests that left remains. Animals too seldom to name are in the last part."),
		say.Say("Every figure rests on at least five landowners, none of whom makes up most of it. Rates stand on steps of 5, 2 or 1 in 100 and predator shares on steps of 10 or 5, coarser where fewer landowners stand behind them."),
	}
	if cell, ok := findCell(cells, head.Season, "", "", bulletin.Survival28, ""); ok && cell.Entities != "" {
		lines = append(lines, say.Say("Landowners behind the figure for the whole cooperative: %s.", bandWords(say, cell.Entities)))
	}
	return lines
}

func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// ofHundred says a rate the way people count: "52 of 100".
func ofHundred(say words.Speaker, rate float64) string { return say.Say("%s of 100", percent(rate)) }

func percent(rate float64) string { return whole(100 * rate) }

func whole(x float64) string { return strconv.FormatFloat(math.Round(x), 'f', -1, 64) }

// number writes a figure of a cell as it was published, "" where there is none.
func number(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', -1, 64)
}

// tens writes a published count, "" where none is.
func tens(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

// inert keeps a spreadsheet program from taking somebody's words for a formula: a cell of text that starts like one
// gets an apostrophe in front (OWASP, "CSV Injection").
func inert(s string) string {
	if strings.IndexAny(s, "=+-@\t\r\n＝＋－＠") == 0 {
		return "'" + s
	}
	return s
}
