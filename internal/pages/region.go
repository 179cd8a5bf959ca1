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
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// notShown stands wherever no figure was published for the reader. It is one fixed wording without a reason: why a
// cell is held back says something about the ranches behind it.
const notShown = "not shown"

// cantTell is how the part of a predator mix reads that the remains do not settle.
const cantTell = "can’t tell, or seldom"

// wholeCooperative is how a cell without an area reads.
const wholeCooperative = "The whole cooperative"

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
	Parts      []string // the cooperative's own areas published under this name, where there are several
	Limits     *limitsPart
	Survival   regionTable
	Crude      regionTable // of the same nests, not for landowners
	Spread     *spreadPart // of the whole cooperative alone
	Substrates regionTable
	Density    regionTable
	Mix        regionTable
}

// Drawn tells whether anything at all is shown for the place.
func (a regionArea) Drawn() bool {
	return a.Survival.Drawn || a.Substrates.Drawn || a.Density.Drawn || a.Mix.Drawn
}

// regionTable is one view of a place: the numbers, and the drawing of them where there is anything to draw.
type regionTable struct {
	ID, Caption string
	Heading     string // of the first column
	Rows        []regionRow
	Drawn       bool // a cell at least is shown
	Strips      bool // drawn as a strip a row, under one axis
	Axis        template.HTML
	Bar         template.HTML // or as the parts of one bar
	Shares      []share
	Options     template.JS // or as a chart over the seasons
	Method      []string
}

// regionRow is one cell as it is read: "52 of 100" and "44 to 61", or notShown.
type regionRow struct {
	Name, Figure, Range string
	Shown               bool
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
	page = regionPage{Views: regionViews(role, "/region"), Empty: len(d.heads) == 0, Heads: d.heads}
	if page.Empty {
		return page, nil
	}
	page.Head = d.heads[slices.IndexFunc(d.heads, func(h postgres.BulletinHead) bool { return h.Season == d.season })]
	if page.Areas, err = regionAreas(d.cells, d.places, d.season); err != nil {
		return page, err
	}
	noteMethods(page.Areas, d.heads, d.cells, d.season)
	for i := range page.Areas {
		label := page.Areas[i].Name
		if i == 0 {
			label = ""
		}
		if page.Areas[i].Limits, err = limitsPartOf(d, label); err != nil {
			return page, err
		}
		if role == access.Landowner {
			page.Areas[i].Crude = regionTable{}
		}
	}
	page.Areas[0].Spread = spreadOf(d)
	page.Lead = regionLead(page.Areas[0], d)
	page.Areas, page.Quiet = quiet(page.Areas)
	page.Method, page.Back = regionMethod(page.Head, d.cells), retractedWords(d.back, d.season)
	if role == access.Landowner {
		return page, nil // a letter, not a workbench
	}
	if page.Mixes, err = mixesOf(d.heads, d.cells); err != nil {
		return page, err
	}
	page.Models, err = modelsOf(d.figures, d.cells, d.heads, d.season)
	return page, err
}

func (p regionPage) title(d regionData) string {
	if p.Empty {
		return "No bulletin is published yet"
	}
	return regionTitle(d.cells, d.season)
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
		return errs.New(errs.NotFound, "No bulletin is published yet.")
	}
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.TookFigures(fmt.Sprintf("%d cells.csv", d.season)) }); err != nil {
		return err
	}

	var b strings.Builder
	w := csv.NewWriter(&b)
	w.UseCRLF = true // RFC 4180
	rows := [][]string{{"season", "area", "substrate", "measure", "predator", "estimate", "low", "high", "entities", "nests", "transects", "belts"}}
	for _, cell := range d.cells {
		if cell.Season != d.season || !cell.Published {
			continue
		}
		rows = append(rows, []string{strconv.Itoa(cell.Season), inert(text(cell.Area)), inert(text(cell.Substrate)),
			cell.Measure, inert(cell.Predator), number(cell.Estimate), number(cell.Low), number(cell.High), cell.Entities,
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
	heads   []postgres.BulletinHead // the latest season first
	cells   []bulletin.Cell         // of all seasons
	figures []bulletin.Figure       // of all seasons
	places  []bulletin.Place        // of the season in front
	back    []postgres.Retraction   // of all seasons
	season  int
}

// bulletins loads what the region's pages need. A season in the path that has no bulletin is NotFound, in the same words
// as any other page that does not exist.
func (s *server) bulletins(c *fiber.Ctx, a access.Actor) (d regionData, err error) {
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if d.heads, err = tx.Bulletins(); err != nil || len(d.heads) == 0 && c.Params("season") == "" {
			return err
		}
		slices.SortFunc(d.heads, func(x, y postgres.BulletinHead) int { return y.Season - x.Season })
		if d.season, err = seasonOf(c.Params("season"), d.heads); err != nil {
			return err
		}
		if d.cells, err = tx.Cells(0); err != nil {
			return err
		}
		if d.figures, err = tx.Figures(0, ""); err != nil {
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

func seasonOf(param string, heads []postgres.BulletinHead) (int, error) {
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
	views := []navLink{{"The bulletin", "/region", path == "/region"}, {"How good are the data?", "/region/quality", path == "/region/quality"}}
	if role.Has(access.ViewNamed) {
		views = append(views, navLink{"Ranches by name", "/region/named", path == "/region/named"})
	}
	return append(views, navLink{"Shown by name", "/showcase", false})
}

// regionLead says the rest of what a reader in a hurry wants: whether cover is short, and what seems to hold nests back.
func regionLead(whole regionArea, d regionData) string {
	var lead string
	if cell, ok := findCell(d.cells, d.season, "", "", bulletin.ClumpsPerAcre, ""); ok {
		if row := densityRow("", cell); row.Shown {
			lead = fmt.Sprintf("About %s clumps an acre to nest in, where 300 is the common mark.", row.Figure)
		}
	}
	if whole.Limits != nil {
		lead = strings.TrimSpace(lead + " What holds nests back? " + whole.Limits.Sentence)
	}
	return lead
}

// regionTitle states the finding: the whole cooperative's survival in the season.
func regionTitle(cells []bulletin.Cell, season int) string {
	cell, ok := findCell(cells, season, "", "", bulletin.Survival28, "")
	if !ok {
		return fmt.Sprintf("The region in %d", season)
	}
	return fmt.Sprintf("In %d about %s nests lasted four weeks", season, rateRow("", cell).Figure)
}

// regionAreas lays the cells out by place: the whole cooperative first, then each published place by name. A place, a
// season or a substrate without a visible cell keeps its row, so that a missing figure looks the same whatever it is
// missing for.
func regionAreas(cells []bulletin.Cell, places []bulletin.Place, season int) ([]regionArea, error) {
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

	seasons, substrates, predators := axes(cells, season)
	areas := make([]regionArea, 0, len(names))
	for i, name := range names {
		area := regionArea{ID: fmt.Sprintf("area-%d", i), Name: name}
		if name == "" {
			area.Name = wholeCooperative
		}
		if len(parts[name]) > 1 {
			area.Parts = parts[name]
		}
		area.Survival = survivalTable(cells, bulletin.Survival28, name, seasons)
		area.Crude = survivalTable(cells, bulletin.SurvivalCrude, name, seasons)
		var err error
		if area.Survival.Options, err = survivalChart(cells, name, seasons); err != nil {
			return nil, fmt.Errorf("draw survival of %q: %w", area.Name, err)
		}
		area.Substrates = substrateTable(cells, name, season, substrates)
		area.Density = densityTable(cells, name, seasons)
		area.Mix = mixTable(cells, name, season, predators)
		areas = append(areas, area)
	}
	return areas, nil
}

// axes returns the seasons, substrates and predators that occur in any visible cell. The lists are the same for
// every place, so that no row is missing in one and present in another.
func axes(cells []bulletin.Cell, season int) (seasons []int, substrates, predators []string) {
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
		if c.Measure == bulletin.PredatorShare && !slices.Contains(predators, c.Predator) {
			predators = append(predators, c.Predator)
		}
	}
	if !slices.Contains(seasons, season) {
		seasons = append(seasons, season)
	}
	slices.Sort(seasons)
	slices.Sort(substrates)
	slices.SortFunc(predators, func(x, y string) int { return strings.Compare(predatorOrder(x), predatorOrder(y)) })
	return seasons, substrates, predators
}

// predatorOrder puts what nobody can tell first and the named animals in the alphabet.
func predatorOrder(name string) string {
	if name == bulletin.OtherOrUnknown {
		return ""
	}
	return name
}

// predatorName is how a part of the mix reads.
func predatorName(name string) string {
	if name == bulletin.OtherOrUnknown {
		return cantTell
	}
	return name
}

// survivalTable has a row a season: of the figure over all plants alike or, crude, of what stood in the nests' own mix of
// plants, for whoever wants the figures before they are put on the same footing.
func survivalTable(cells []bulletin.Cell, measure, area string, seasons []int) regionTable {
	t := regionTable{ID: "survival", Caption: "How many nests lasted four weeks?", Heading: "Season"}
	if measure == bulletin.SurvivalCrude {
		t.ID, t.Caption = "crude", "Every nest weighing the same, whatever it was put in"
	}
	for _, season := range slices.Backward(seasons) {
		cell, _ := findCell(cells, season, area, "", measure, "")
		t.add(rateRow(strconv.Itoa(season), cell))
	}
	return t
}

// survivalChart draws the place's line over the seasons, with the whole cooperative's beside it. Fewer than two seasons
// make no line, and a season that is not shown is a gap.
func survivalChart(cells []bulletin.Cell, area string, seasons []int) (template.JS, error) {
	own := trendOf(cells, area, seasons)
	if len(own.Points) < 2 {
		return "", nil
	}
	series := []chart.Series{own}
	if area != "" {
		if all := trendOf(cells, "", seasons); len(all.Points) > 0 {
			series = append(series, all)
		}
	}
	return chart.Trend(series, chart.Axis{Name: "of 100 nests", Most: 100}, own.Name+": nests that lasted four weeks, by season, with their ranges")
}

func trendOf(cells []bulletin.Cell, area string, seasons []int) chart.Series {
	s := chart.Series{Name: shortPlace(area)}
	for _, season := range seasons {
		cell, ok := findCell(cells, season, area, "", bulletin.Survival28, "")
		if !ok || cell.Estimate == nil {
			continue
		}
		r := rangedOf(cell)
		s.Points = append(s.Points, chart.Point{Season: season, Estimate: r.Estimate, Low: r.Low, High: r.High,
			Words: fmt.Sprintf("%d, %s: %s of 100, a fair range %s to %s", season, s.Name, whole(r.Estimate), whole(r.Low), whole(r.High))})
	}
	return s
}

// shortPlace is a place's name for a legend: of many areas the first, and how many more.
func shortPlace(label string) string {
	parts := strings.Split(label, " + ")
	if len(parts) > 2 {
		return fmt.Sprintf("%s and %d more", parts[0], len(parts)-1)
	}
	return placeTitle(label)
}

func substrateTable(cells []bulletin.Cell, area string, season int, substrates []string) regionTable {
	t := regionTable{ID: "substrates", Caption: fmt.Sprintf("Where did they last best in %d?", season), Heading: "Nest in"}
	for _, substrate := range substrates {
		cell, _ := findCell(cells, season, area, substrate, bulletin.Survival28, "")
		row := rateRow(substrate, cell)
		if row.Shown {
			row.Mark = rateStrip(cell, row.Name+": "+row.Figure)
		}
		t.add(row)
	}
	t.Strips, t.Axis = t.Drawn, rateAxis()
	return t
}

func densityTable(cells []bulletin.Cell, area string, seasons []int) regionTable {
	t := regionTable{ID: "cover", Caption: "Is there enough to nest in?", Heading: "Season"}
	most := densityScale(cells)
	for _, season := range slices.Backward(seasons) {
		cell, _ := findCell(cells, season, area, "", bulletin.ClumpsPerAcre, "")
		row := densityRow(strconv.Itoa(season), cell)
		if row.Shown {
			row.Mark = densityStrip(cell, most, row.Name+": "+row.Figure+" clumps an acre")
		}
		t.add(row)
	}
	t.Strips, t.Axis = t.Drawn, coverAxis(words.Speaker{}, most)
	return t
}

func mixTable(cells []bulletin.Cell, area string, season int, predators []string) regionTable {
	t := regionTable{ID: "mix", Caption: fmt.Sprintf("What took the eggs in %d?", season), Heading: "Taken by"}
	var shares []share
	whole := true // every part is shown, so that a bar of them is the whole
	for _, p := range predators {
		cell, _ := findCell(cells, season, area, "", bulletin.PredatorShare, p)
		row := rateRow(predatorName(p), cell)
		t.add(row)
		if whole = whole && row.Shown && cell.Estimate != nil; whole {
			shares = append(shares, share{Name: row.Name, ranged: rangedOf(cell), Unsure: p == bulletin.OtherOrUnknown, Figure: row.Figure})
		}
	}
	if whole && len(shares) > 0 {
		t.Shares = orderShares(shares)
		t.Bar = mixBar(t.Shares, t.Caption)
	}
	return t
}

func (t *regionTable) add(row regionRow) {
	t.Rows = append(t.Rows, row)
	t.Drawn = t.Drawn || row.Shown
}

// rateRow reads a rate, or where only a band is published the band.
func rateRow(name string, c bulletin.Cell) regionRow {
	row := regionRow{Name: name, Shown: true}
	switch {
	case !c.Published || c.Estimate == nil && c.Low == nil && c.High == nil:
		return regionRow{Name: name, Figure: notShown}
	case c.Estimate == nil && c.High == nil:
		row.Figure = percent(*c.Low) + " or more of 100"
	case c.Estimate == nil && (c.Low == nil || *c.Low == 0):
		row.Figure = percent(*c.High) + " or fewer of 100"
	case c.Estimate == nil:
		row.Figure = percent(*c.Low) + " to " + percent(*c.High) + " of 100"
	default:
		row.Figure = ofHundred(*c.Estimate)
		if c.Low != nil && c.High != nil {
			row.Range = percent(*c.Low) + " to " + percent(*c.High)
		}
	}
	return row
}

// densityRow reads a density, or where only a band is published the ends of the band; a band without an upper end is
// "or more".
func densityRow(name string, c bulletin.Cell) regionRow {
	row := regionRow{Name: name, Shown: true}
	switch {
	case !c.Published || c.Estimate == nil && c.Low == nil:
		return regionRow{Name: name, Figure: notShown}
	case c.Estimate == nil && c.High == nil:
		row.Figure = whole(*c.Low) + " or more"
	case c.Estimate == nil:
		row.Figure = whole(*c.Low) + " to " + whole(*c.High)
	default:
		row.Figure = whole(*c.Estimate)
		if c.Low != nil && c.High != nil {
			row.Range = whole(*c.Low) + " to " + whole(*c.High)
		}
	}
	return row
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

func rateAxis() template.HTML {
	return svg("strip", plotWidth, 26, "Scale in nests of 100", axis(100, 4, hundred))
}

// densityScale returns one end for every strip of clumps an acre on the page, so that they compare by eye.
func densityScale(cells []bulletin.Cell) float64 {
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
	return coverScale(rs)
}

// densityStrip draws clumps an acre against the cover mark; a band without a middle gets no dot, and one without an
// upper end runs to the end of the scale.
func densityStrip(c bulletin.Cell, most float64, words string) template.HTML {
	r := ranged{High: most}
	if c.Low != nil {
		r.Low = *c.Low
	}
	if c.High != nil {
		r.High = *c.High
	}
	drawing := fmt.Sprintf(`<path class="track" d="M%s 13H%s"/>%s<path class="mark" d="M%s 0V26"/>`,
		num(plotMargin), num(plotWidth-plotMargin), band(r, most, 6, 14, "ink"), num(place(coverMark, most)))
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
func regionMethod(head postgres.BulletinHead, cells []bulletin.Cell) []string {
	lines := []string{
		fmt.Sprintf("Bulletin %d, season %d, published %s and not changed since. Its fingerprint is %s.",
			head.Number, head.Season, day(head.PublishedAt), head.Hash),
		"Lasted four weeks: the share of simulated nests whose eggs would still be there on day 28, worked out from the days " +
			"between visits, all causes of loss together. Each kind of cover weighs the same; plants that few ranches have are in no figure.",
		"The ranges are made so that 95 of 100 such ranges hold the true figure. Nests of one landowner count as sharing their luck.",
		"What took the eggs: shares of the taken nests that left remains. Animals too seldom to name are in the first part.",
		"Every figure rests on at least five landowners, none of whom makes up most of it. Rates stand on steps of 5, 2 or 1 in " +
			"100 and predator shares on steps of 10 or 5, coarser where fewer landowners stand behind them.",
	}
	if cell, ok := findCell(cells, head.Season, "", "", bulletin.Survival28, ""); ok && cell.Entities != "" {
		lines = append(lines, fmt.Sprintf("Landowners behind the figure for the whole cooperative: %s.", strings.ReplaceAll(cell.Entities, "-", " to ")))
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
func ofHundred(rate float64) string { return percent(rate) + " of 100" }

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
