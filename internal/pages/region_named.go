package pages

import (
	"cmp"
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
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/funnel"
	"tussock/internal/stat/shrink"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// namedPage shows a biologist the ranches whose owners share their results with them by name, in the alphabet's order.
type namedPage struct {
	base
	Views   []navLink
	Season  int
	Seasons []navLink
	Ranches []namedRanch
	Funnel  *namedFunnel
	Method  []string
}

// namedRanch is one of them with its seasons, the latest first.
type namedRanch struct {
	ID, Name, Area, Purpose, Through string
	Rows                             []namedRow
	Kinds                            []tableRow // of the season in front
	Notes                            []string   // what the season's figures leave out
}

type namedRow struct {
	Season                     int
	Set, Lines, Counted        string
	Figure, Range, Cover, Span string
	Steady, SteadyRange        string // steadied by the published figures
}

// Own, Steadied and Clumps are the row's figures, each with its range.
func (r namedRow) Own() tableCell { return ranges(r.Figure, r.Range) }

// Steadied is the figure drawn towards the published one.
func (r namedRow) Steadied() tableCell { return ranges(r.Steady, r.SteadyRange) }

// Clumps are those an acre.
func (r namedRow) Clumps() tableCell { return ranges(r.Cover, r.Span) }

func ranges(figure, span string) tableCell { return tableCell{figure, strings.TrimPrefix(span, "–")} }

// namedFunnel is the season's figures in the limits that chance gives.
type namedFunnel struct {
	Sentence string
	Options  template.JS
	Words    string
	Rows     []funnelRow
	Left     []string // ranches without a figure on the bulletin's footing
	Method   []string
}

type funnelRow struct{ Name, Known, Balanced, Figure, Chance, Wide, Reads string }

// namedData is what the page is made from.
type namedData struct {
	sharings []postgres.Sharing
	survey   *survey.Data
	heads    []postgres.BulletinHead
	cells    []bulletin.Cell
}

// regionNamed reads the shared rows, which leaves a note for each ranch's owner, and the published figure to set them
// beside.
func (s *server) regionNamed(c *fiber.Ctx, a access.Actor) error {
	wanted := c.QueryInt("season")
	var d namedData
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if d.sharings, err = tx.Named(); err != nil {
			return err
		}
		ids := make([]access.ID, len(d.sharings))
		for i, sh := range d.sharings {
			ids[i] = sh.Ranch
		}
		if d.survey, err = tx.NamedSurvey(ids); err != nil {
			return err
		}
		if d.heads, err = tx.Bulletins(); err != nil {
			return err
		}
		d.cells, err = tx.Cells(0)
		return err
	})
	if err != nil {
		return err
	}
	page, err := newNamedPage(d, wanted)
	if err != nil {
		return err
	}
	page.base = s.base(c, a, sharedTitle(len(d.sharings)))
	page.Views = regionViews(a.Role, "/region/named")
	page.Charts = page.Funnel != nil && page.Funnel.Options != ""
	return s.render(c, fiber.StatusOK, "region_named", page)
}

// sharedTitle says how many ranches somebody reads by name.
func sharedTitle(n int) string {
	switch n {
	case 0:
		return "No ranch shares its results with you by name"
	case 1:
		return "One ranch shares its results with you by name"
	}
	return fmt.Sprintf("%d ranches share their results with you by name", n)
}

func newNamedPage(d namedData, wanted int) (namedPage, error) {
	bySeason := perSeason(d)
	var page namedPage
	seasons := seasonsIn(bySeason)
	if len(seasons) > 0 {
		page.Season = seasons[0]
		if slices.Contains(seasons, wanted) {
			page.Season = wanted
		}
	}
	for _, y := range seasons {
		page.Seasons = append(page.Seasons, navLink{strconv.Itoa(y), fmt.Sprintf("/region/named?season=%d", y), y == page.Season})
	}
	published := othersBySeason(d, bySeason)
	for i, sh := range d.sharings {
		page.Ranches = append(page.Ranches, namedRanchOf(fmt.Sprintf("ranch-%d", i+1), sh, seasons, bySeason, published, page.Season))
	}
	page.Method = append(namedMethod(d, page.Season), steadyMethod(published)...)
	if bySeason[page.Season] != nil {
		var err error
		if page.Funnel, err = funnelOf(d, bySeason, page.Season); err != nil {
			return page, fmt.Errorf("draw the funnel of %d: %w", page.Season, err)
		}
	}
	return page, nil
}

// perSeason computes each season by itself, standardised to the mix of cover of its bulletin where there is one.
func perSeason(d namedData) map[int]*findings.Result {
	parts := map[int]*survey.Data{}
	at := func(season int) *survey.Data {
		if parts[season] == nil {
			parts[season] = &survey.Data{Sites: d.survey.Sites}
		}
		return parts[season]
	}
	for _, n := range d.survey.Nests {
		at(n.Season).Nests = append(at(n.Season).Nests, n)
	}
	for _, b := range d.survey.Belts {
		at(b.Season).Belts = append(at(b.Season).Belts, b)
	}
	results := map[int]*findings.Result{}
	for season, part := range parts {
		results[season] = findings.Compute(part, findings.Options{Mix: bulletin.Mix(d.cells, season), Replicates: 1})
	}
	return results
}

// seasonsIn lists the seasons, the latest first.
func seasonsIn(results map[int]*findings.Result) []int {
	var seasons []int
	for season := range results {
		seasons = append(seasons, season)
	}
	slices.SortFunc(seasons, func(a, b int) int { return cmp.Compare(b, a) })
	return seasons
}

func namedRanchOf(id string, sh postgres.Sharing, seasons []int, results map[int]*findings.Result, published map[int]shrink.Others, front int) namedRanch {
	r := namedRanch{ID: id, Name: sh.RanchName, Area: sh.Area, Purpose: sh.Purpose, Through: day(sh.Through)}
	for _, season := range seasons {
		row := namedRow{Season: season, Set: "not run", Lines: "–", Counted: "–", Figure: "–", Range: "–", Cover: "–", Span: "–", Steady: "–"}
		if s, ok := results[season].SurvivalOf(sh.RanchName, season); ok {
			row.Set, row.Lines, row.Counted = strconv.Itoa(s.Nests), strconv.Itoa(s.Transects), fmt.Sprintf("%d of %d", s.Lasted, s.Settled)
			row.Figure, row.Range = tenths(s.Day28.Range)
			if others, ok := published[season]; ok {
				row.Steady, row.SteadyRange = steadied(s.Day28.Range, others)
			}
			if season == front && s.Note != "" {
				r.Notes = append(r.Notes, s.Note)
			}
		}
		if c, ok := results[season].DensityOf(sh.RanchName, season); ok && c.PerAcre.Estimate != nil {
			row.Cover = whole(*c.PerAcre.Estimate)
			if full(c.PerAcre.Range) {
				row.Span = whole(*c.PerAcre.Low) + " to " + whole(*c.PerAcre.High)
			}
		}
		r.Rows = append(r.Rows, row)
	}
	if results[front] != nil {
		for _, k := range results[front].BySubstrate(sh.RanchName, front) {
			row := survivalTableRow(words.Speaker{}, string(*k.Substrate), k)
			row.Figure, row.Range = tenths(k.Day28.Range)
			r.Kinds = append(r.Kinds, row)
		}
	}
	return r
}

// tenths writes a rate and its range of 100 with one decimal: the ranch's own figures are published nowhere and need no
// coarser step.
func tenths(r findings.Range) (figure, span string) {
	if r.Estimate == nil {
		return "can’t tell", "–"
	}
	figure = fmt.Sprintf("%.1f", 100**r.Estimate)
	if !full(r) {
		return figure, "–"
	}
	return figure, fmt.Sprintf("%.1f to %.1f", 100**r.Low, 100**r.High)
}

// funnelChance is the chance outside the limits of a funnel, on each side: the usual 95 % between them.
const funnelChance = 0.025

// enoughRanches is how many ranches it takes to see from their spread how far they differ. Ours; with fewer, the
// winsorised spread is that of two or three.
const enoughRanches = 5

// A widening is how many times wider than that of independent nests the variance of a ranch's figure is.
type widening struct {
	factor float64
	from   string // where it is known from
}

// widenFrom takes it from how the ranches in the funnel spread, where there are enough, else from how the lines within
// the shared ranches spread in all seasons: the mean of their design effects, weighed by nests.
func widenFrom(inside []balanced, target float64, d namedData, results map[int]*findings.Result) widening {
	if len(inside) >= enoughRanches {
		ranches := make([]funnel.Ranch, len(inside))
		for i, b := range inside {
			ranches[i] = funnel.Ranch{Nests: b.nests, Intact: int(math.Round(b.estimate * float64(b.nests)))}
		}
		if factor, ok := funnel.Dispersion(ranches, target); ok {
			return widening{math.Max(1, factor), "the spread of these ranches around the figure, the outer tenth on either side drawn in"}
		}
	}
	var sum, weight float64
	for season, r := range results {
		for _, sh := range d.sharings {
			if s, ok := r.SurvivalOf(sh.RanchName, season); ok && s.DesignEffect != nil {
				sum += float64(s.Settled) * *s.DesignEffect
				weight += float64(s.Settled)
			}
		}
	}
	if weight == 0 {
		return widening{1, ""}
	}
	return widening{math.Max(1, sum/weight), "the spread between the lines within these ranches over their seasons; how ranches differ beyond that cannot be seen from so few"}
}

// A balanced ranch stands in the funnel: its figure on the bulletin's footing, and how many nests spread evenly over
// the standard mix would be as many.
type balanced struct {
	name     string
	known    int // nests whose four weeks are known, in the standard mix
	nests    int // worth as many
	estimate float64
}

// funnelOf sets the season's figures into the limits around the published one. It is nil where none is published for
// the reader.
func funnelOf(d namedData, results map[int]*findings.Result, season int) (*namedFunnel, error) {
	r := results[season]
	cell, ok := findCell(d.cells, season, "", "", bulletin.Survival28, "")
	if !ok || cell.Estimate == nil || !(*cell.Estimate > 0 && *cell.Estimate < 1) {
		return nil, nil
	}
	target := *cell.Estimate
	f := &namedFunnel{}
	var inside []balanced
	mix := bulletin.Mix(d.cells, season)
	for _, sh := range d.sharings {
		if b, ok := balance(r, sh.RanchName, season, mix); ok {
			inside = append(inside, b)
		} else if _, ran := r.SurvivalOf(sh.RanchName, season); ran {
			f.Left = append(f.Left, sh.RanchName)
		}
	}
	if len(inside) == 0 {
		return f, nil
	}
	outside := 0
	wide := widenFrom(inside, target, d, results)
	for _, b := range inside {
		row := funnelRow{Name: b.name, Known: strconv.Itoa(b.known), Balanced: strconv.Itoa(b.nests), Figure: fmt.Sprintf("%.1f", 100*b.estimate), Reads: "inside"}
		row.Chance = limits(funnel.Limit(target, b.nests, funnelChance), funnel.Limit(target, b.nests, 1-funnelChance))
		low, high := funnel.Wide(target, b.nests, funnelChance, wide.factor), funnel.Wide(target, b.nests, 1-funnelChance, wide.factor)
		row.Wide = limits(low, high)
		if b.estimate < low || b.estimate > high {
			row.Reads = "outside"
			outside++
		}
		f.Rows = append(f.Rows, row)
	}
	f.Sentence = funnelSentence(len(inside), outside)
	f.Words = fmt.Sprintf("Survival to day 28 of %s by their nests in %d, in the limits around the published %s.", counted(len(inside), "ranch"), season, ofHundred(target))
	f.Method = funnelMethod(d, season, cell, wide)
	var err error
	f.Options, err = drawFunnel(target, inside, wide.factor, f.Words)
	return f, err
}

func limits(low, high float64) string { return fmt.Sprintf("%.0f to %.0f", 100*low, 100*high) }

func funnelSentence(all, outside int) string {
	switch {
	case outside == 0 && all == 1:
		return "It lies inside what chance gives around the published figure, with nests of one line sharing their luck."
	case outside == 0:
		return "All lie inside what chance gives around the published figure, with nests of one line sharing their luck."
	case all == 1:
		return "It lies outside what chance gives around the published figure."
	}
	return fmt.Sprintf("%d of %d lie outside what chance gives around the published figure.", outside, all)
}

// balance returns a ranch's figure on the bulletin's footing. A figure standardised over H substrates with shares w has
// about the variance of Σw²/n nests of one kind, n of each: it counts as the harmonic mean of its substrates, not as all
// its nests.
func balance(r *findings.Result, ranch string, season int, mix map[survey.Substrate]float64) (balanced, bool) {
	s, ok := r.SurvivalOf(ranch, season)
	if !ok || s.Day28.Estimate == nil {
		return balanced{}, false
	}
	b := balanced{name: ranch, estimate: *s.Day28.Estimate}
	var spread float64
	for _, k := range r.BySubstrate(ranch, season) {
		share := mix[*k.Substrate]
		if share == 0 {
			continue
		}
		b.known += k.Settled
		spread += share * share / float64(k.Settled)
	}
	b.nests = int(math.Floor(1 / spread))
	return b, b.nests >= 1
}

// drawFunnel draws the limits over the numbers of nests and the ranches in them.
func drawFunnel(target float64, ranches []balanced, dispersion float64, words string) (template.JS, error) {
	most := 0
	for _, b := range ranches {
		most = max(most, b.nests)
	}
	most = max(40, (most*5/4+19)/20*20)
	wide, chance := chart.Curve{Name: "95 of 100, luck shared"}, chart.Curve{Name: "95 of 100, by chance alone"}
	for n := 2; n < most+most/12; n += max(1, n/12) {
		n := min(n, most)
		chance.X, wide.X = append(chance.X, float64(n)), append(wide.X, float64(n))
		chance.Low, chance.High = append(chance.Low, 100*funnel.Limit(target, n, funnelChance)), append(chance.High, 100*funnel.Limit(target, n, 1-funnelChance))
		wide.Low, wide.High = append(wide.Low, 100*funnel.Wide(target, n, funnelChance, dispersion)), append(wide.High, 100*funnel.Wide(target, n, 1-funnelChance, dispersion))
	}
	p := chart.Plane{
		X:     chart.Extent{Name: "nests that count", Top: float64(most)},
		Y:     chart.Extent{Name: "of 100 nests", Top: 100, Mark: 100 * target, MarkName: "bulletin"},
		Bands: []chart.Curve{wide, chance}, Words: words,
	}
	for _, b := range ranches {
		p.Dots = append(p.Dots, chart.Dot{Name: b.name, X: float64(b.nests), Y: 100 * b.estimate, Words: fmt.Sprintf("%s: %.1f of 100, on %d nests", b.name, 100*b.estimate, b.nests)})
	}
	return p.Draw()
}

func funnelMethod(d namedData, season int, cell bulletin.Cell, wide widening) []string {
	widened := "Nothing tells how far nests of one line share their luck, so the wider limits are those of independent nests by the normal approximation."
	if wide.from != "" {
		widened = fmt.Sprintf("Wider limits: normal approximation with %.1f times the binomial variance, known from %s. A factor below 1 counts as 1.", wide.factor, wide.from)
	}
	return []string{
		"Up: survival to day 28 as in the table, standardised to the bulletin’s kinds of cover in equal shares.",
		"Across: the nests whose four weeks are known, counted as so many spread evenly over those kinds: 1 ÷ Σ(share² ÷ nests of the kind).",
		"Limits by chance alone: exact binomial around the published figure for the whole cooperative, " + ofHundred(*cell.Estimate) + ", drawn straight between the counts, 2.5 of 100 outside on either side (Spiegelhalter 2005, Stat. Med. 24:1185–1202).",
		widened,
		"With many ranches, 5 of 100 fall outside with nothing the matter.",
		"The published figure stands on a step of the bulletin’s grid; a ranch that is in the bulletin is in that figure too.",
		bulletinLine(d.heads, season, cell.Entities),
	}
}

// namedMethod says how the tables are made.
func namedMethod(d namedData, season int) []string {
	footing := "Substrates weigh alike, each as much as another among those present: no bulletin of the season gives a standard mix."
	if mix := bulletin.Mix(d.cells, season); mix != nil {
		names := make([]string, 0, len(mix))
		for h := range mix {
			names = append(names, string(h))
		}
		slices.Sort(names)
		footing = "Standardised to equal shares of " + listWords(names) + ", as that season’s bulletin is, so that the two stand beside each other; each season to its own bulletin’s."
	}
	return []string{
		"Nests set, lines with such nests, and the nests intact on day 25 or later among those whose four weeks are known: counts as in the sheets.",
		"Of 100, by days: survival to day 28 from all visit intervals, one daily rate before day 14 and one after, all causes of loss, fitted by likelihood; nests not found again count up to their last good look. " + footing,
		"Range: 95 %, on the log(−log) scale, sandwich variance over the lines of the ranch and season, Student’s t with lines − 1 degrees of freedom.",
		"Clumps an acre: all clumps counted over the area of the belts, range on the log scale from the spread between belts.",
		"Computed now from the rows as they stand, and not rounded to a grid. What the owner changes, changes here. No random numbers are used.",
	}
}

// bulletinLine names the bulletin that a published figure is from.
func bulletinLine(heads []postgres.BulletinHead, season int, entities string) string {
	at := slices.IndexFunc(heads, func(h postgres.BulletinHead) bool { return h.Season == season })
	if at < 0 {
		return ""
	}
	h := heads[at]
	line := fmt.Sprintf("Bulletin %d, season %d, published %s, not changed since; fingerprint %.12s.", h.Number, h.Season, day(h.PublishedAt), h.Hash)
	line += " " + madeBy(h)
	if entities != "" {
		line += " Landowners behind it: " + bandWords(entities) + "."
	}
	return line
}

// bandWords reads a band of landowners: "10-19" is "10 to 19".
func bandWords(entities string) string {
	if more, ok := strings.CutSuffix(entities, "+"); ok {
		return more + " or more"
	}
	return strings.ReplaceAll(entities, "-", " to ")
}
