package pages

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
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

// Steadied is the figure drawn toward the published one.
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
	say      words.Speaker
	sharings []postgres.Sharing
	survey   *survey.Data
	heads    []postgres.BulletinHead
	cells    []bulletin.Cell
}

// regionNamed reads the shared rows, which leaves a note for each ranch's owner, and the published figure to set them
// beside.
func (s *server) regionNamed(c *fiber.Ctx, a access.Actor) error {
	wanted := c.QueryInt("season")
	d := namedData{say: s.speaker(c)}
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
	page.base = s.base(c, a, sharedTitle(d.say, len(d.sharings)))
	page.Views = regionViews(a.Role, "/region/named")
	page.Charts = page.Funnel != nil && page.Funnel.Options != ""
	return s.render(c, fiber.StatusOK, "region_named", page)
}

// sharedTitle says how many ranches somebody reads by name.
func sharedTitle(say words.Speaker, n int) string {
	if n == 0 {
		return say.Say("No ranch shares its results with you by name")
	}
	return say.Count("One ranch shares its results with you by name", "%d ranches share their results with you by name", n)
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
	published, made := publishedFor(d.heads, d.cells), map[int]bulletin.Steadied{}
	all := &findings.Result{} // of all seasons, each on the footing of its bulletin
	for _, y := range slices.Backward(seasons) {
		all.Survival = append(all.Survival, bySeason[y].Survival...)
	}
	for i, sh := range d.sharings {
		page.Ranches = append(page.Ranches, namedRanchOf(fmt.Sprintf("ranch-%d", i+1), sh, seasons, bySeason, all, published, made, page.Season, d.say))
	}
	page.Method = append(namedMethod(d, page.Season), steadyMethod(d.say, made)...)
	if bySeason[page.Season] != nil {
		var err error
		if page.Funnel, err = funnelOf(d, bySeason, page.Season); err != nil {
			return page, fmt.Errorf("draw the funnel of %d: %w", page.Season, err)
		}
	}
	return page, nil
}

// perSeason computes each season by itself, standardized to the mix of cover of its bulletin where there is one.
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
		results[season] = findings.Compute(part, findings.Options{Mix: standardMix(d.heads, season), DesignEffect: publishedFor(d.heads, d.cells).DesignEffect})
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

func namedRanchOf(id string, sh postgres.Sharing, seasons []int, results map[int]*findings.Result, all *findings.Result, published bulletin.Published, made map[int]bulletin.Steadied, front int, say words.Speaker) namedRanch {
	r := namedRanch{ID: id, Name: sh.RanchName, Area: sh.Area, Purpose: sh.Purpose, Through: say.Day(sh.Through)}
	for _, season := range seasons {
		row := namedRow{Season: season, Set: say.Say("not run"), Lines: "–", Counted: "–", Figure: "–", Range: "–", Cover: "–", Span: "–", Steady: "–"}
		if s, ok := results[season].SurvivalOf(sh.RanchName, season); ok {
			row.Set, row.Lines, row.Counted = strconv.Itoa(s.Nests), strconv.Itoa(s.Transects), say.Say("%d of %d", s.Lasted, s.Settled)
			row.Figure, row.Range = tenths(say, s.Day28.Range)
			if steady, ok := published.Steadied(all, sh.RanchName, season); ok {
				row.Steady, row.SteadyRange = steadiedCell(say, steady.Survival)
				made[season] = steady
			}
			if season == front && len(s.Notes) > 0 {
				r.Notes = append(r.Notes, notes(say, s.Notes))
			}
		}
		if c, ok := results[season].DensityOf(sh.RanchName, season); ok && c.PerAcre.Estimate != nil {
			row.Cover = whole(*c.PerAcre.Estimate)
			if full(c.PerAcre.Range) {
				row.Span = say.Say("%s to %s", whole(*c.PerAcre.Low), whole(*c.PerAcre.High))
			}
		}
		r.Rows = append(r.Rows, row)
	}
	if results[front] != nil {
		for _, k := range results[front].BySubstrate(sh.RanchName, front) {
			row := survivalTableRow(say, say.Say(string(*k.Substrate)), k)
			row.Figure, row.Range = tenths(say, k.Day28.Range)
			r.Kinds = append(r.Kinds, row)
		}
	}
	return r
}

// tenths writes a rate and its range of 100 with one decimal: the ranch's own figures are published nowhere and need no
// coarser step.
func tenths(say words.Speaker, r findings.Range) (figure, span string) {
	if r.Estimate == nil {
		return say.Say("can’t tell"), "–"
	}
	figure = tenth(100 * *r.Estimate)
	if !full(r) {
		return figure, "–"
	}
	return figure, say.Say("%s to %s", tenth(100**r.Low), tenth(100**r.High))
}

func tenth(x float64) string { return fmt.Sprintf("%.1f", x) }

// funnelChance is the chance outside the limits of a funnel, on each side: the usual 95 % between them.
const funnelChance = 0.025

// enoughRanches is how many ranches it takes to see from their spread how far they differ. Ours; with fewer, the
// winsorised spread is that of two or three.
const enoughRanches = 5

// A widening is how many times wider than that of independent nests the variance of a ranch's figure is.
type widening struct {
	factor float64
	from   words.Phrase // where it is known from
	known  bool
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
			return widening{math.Max(1, factor), words.Later("the spread of these ranches around the figure, the outer tenth on either side drawn in"), true}
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
		return widening{factor: 1}
	}
	return widening{math.Max(1, sum/weight), words.Later("the spread between the lines within these ranches over their seasons; how ranches differ beyond that cannot be seen from so few"), true}
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
	say, target := d.say, *cell.Estimate
	f := &namedFunnel{}
	var inside []balanced
	mix := standardMix(d.heads, season)
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
		row := funnelRow{Name: b.name, Known: strconv.Itoa(b.known), Balanced: strconv.Itoa(b.nests), Figure: tenth(100 * b.estimate), Reads: say.Say("inside")}
		row.Chance = limits(say, funnel.Limit(target, b.nests, funnelChance), funnel.Limit(target, b.nests, 1-funnelChance))
		low, high := funnel.Wide(target, b.nests, funnelChance, wide.factor), funnel.Wide(target, b.nests, 1-funnelChance, wide.factor)
		row.Wide = limits(say, low, high)
		if b.estimate < low || b.estimate > high {
			row.Reads = say.Say("outside")
			outside++
		}
		f.Rows = append(f.Rows, row)
	}
	f.Sentence = funnelSentence(say, len(inside), outside)
	f.Words = say.Count("Survival to day 28 of %d ranch by their nests in %d, in the limits around the published %s.", "Survival to day 28 of %d ranches by their nests in %d, in the limits around the published %s.",
		len(inside), len(inside), season, ofHundred(say, target))
	f.Method = funnelMethod(d, season, cell, wide)
	var err error
	f.Options, err = drawFunnel(say, target, inside, wide.factor, f.Words)
	return f, err
}

func limits(say words.Speaker, low, high float64) string {
	return say.Say("%s to %s", fmt.Sprintf("%.0f", 100*low), fmt.Sprintf("%.0f", 100*high))
}

func funnelSentence(say words.Speaker, all, outside int) string {
	switch {
	case outside == 0 && all == 1:
		return say.Say("It lies inside what chance gives around the published figure, with nests of one line sharing their luck.")
	case outside == 0:
		return say.Say("All lie inside what chance gives around the published figure, with nests of one line sharing their luck.")
	case all == 1:
		return say.Say("It lies outside what chance gives around the published figure.")
	}
	return say.Count("%d of %d lie outside what chance gives around the published figure.", "%d of %d lie outside what chance gives around the published figure.", outside, outside, all)
}

// balance returns a ranch's figure on the bulletin's footing. A figure standardized over H substrates with shares w has
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
func drawFunnel(say words.Speaker, target float64, ranches []balanced, dispersion float64, said string) (template.JS, error) {
	most := 0
	for _, b := range ranches {
		most = max(most, b.nests)
	}
	most = max(40, (most*5/4+19)/20*20)
	wide, chance := chart.Curve{Name: say.Say("95 of 100, luck shared")}, chart.Curve{Name: say.Say("95 of 100, by chance alone")}
	for n := 2; n < most+most/12; n += max(1, n/12) {
		n := min(n, most)
		chance.X, wide.X = append(chance.X, float64(n)), append(wide.X, float64(n))
		chance.Low, chance.High = append(chance.Low, 100*funnel.Limit(target, n, funnelChance)), append(chance.High, 100*funnel.Limit(target, n, 1-funnelChance))
		wide.Low, wide.High = append(wide.Low, 100*funnel.Wide(target, n, funnelChance, dispersion)), append(wide.High, 100*funnel.Wide(target, n, 1-funnelChance, dispersion))
	}
	p := chart.Plane{
		X:     chart.Extent{Name: say.Say("nests that count"), Top: float64(most)},
		Y:     chart.Extent{Name: say.Say("of 100 nests"), Top: 100, Mark: 100 * target, MarkName: say.Say("bulletin")},
		Bands: []chart.Curve{wide, chance}, Words: said,
	}
	for _, b := range ranches {
		p.Dots = append(p.Dots, chart.Dot{Name: b.name, X: float64(b.nests), Y: 100 * b.estimate, Words: say.Count("%s: %.1f of 100, on %d nests", "%s: %.1f of 100, on %d nests", b.nests, b.name, 100*b.estimate, b.nests)})
	}
	return p.Draw()
}

func funnelMethod(d namedData, season int, cell bulletin.Cell, wide widening) []string {
	say := d.say
	widened := say.Say("Nothing tells how far nests of one line share their luck, so the wider limits are those of independent nests by the normal approximation.")
	if wide.known {
		widened = say.Tell(words.Later("Wider limits: normal approximation with %.1f times the binomial variance, known from %s. A factor below 1 counts as 1.", wide.factor, wide.from))
	}
	return []string{
		say.Say("Up: survival to day 28 as in the table, standardized to the bulletin’s kinds of cover in equal shares."),
		say.Say("Across: the nests whose four weeks are known, counted as so many spread evenly over those kinds: 1 ÷ Σ(share² ÷ nests of the kind)."),
		say.Say("Limits by chance alone: exact binomial around the published figure for the whole cooperative, %s, drawn straight between the counts, 2.5 of 100 outside on either side (Spiegelhalter 2005, Stat. Med. 24:1185–1202).", ofHundred(say, *cell.Estimate)),
		widened,
		say.Say("With many ranches, 5 of 100 fall outside with nothing the matter."),
		say.Say("The published figure stands on a step of the bulletin’s grid; a ranch that is in the bulletin is in that figure too."),
		bulletinLine(say, d.heads, season, cell.Entities),
	}
}

// namedMethod says how the tables are made.
func namedMethod(d namedData, season int) []string {
	say := d.say
	footing := say.Say("Substrates weigh alike, each as much as another among those present: no bulletin of the season gives a standard mix.")
	if mix := standardMix(d.heads, season); mix != nil {
		footing = say.Say("Standardized to equal shares of %s, as that season’s bulletin is, so that the two stand beside each other; each season to its own bulletin’s.", kindsWords(say, slices.Sorted(maps.Keys(mix))))
	}
	return []string{
		say.Say("Nests set, lines with such nests, and the nests intact on day 25 or later among those whose four weeks are known: counts as in the sheets."),
		say.Say("Of 100, by days: survival to day 28 from all visit intervals, one daily rate before day 14 and one after, all causes of loss, fitted by likelihood; nests not found again count up to their last good look.") + " " + footing,
		say.Say("Range: 95 %, on the log(−log) scale, sandwich variance over the lines of the ranch and season, Student’s t with lines − 1 degrees of freedom."),
		say.Say("Clumps an acre: all clumps counted over the area of the belts, range on the log scale from the spread between belts."),
		say.Say("Computed now from the rows as they stand, and not rounded to a grid. What the owner changes, changes here.") + " " + say.Say(methodNoSeed),
	}
}

// bulletinLine names the bulletin that a published figure is from.
func bulletinLine(say words.Speaker, heads []postgres.BulletinHead, season int, entities string) string {
	at := slices.IndexFunc(heads, func(h postgres.BulletinHead) bool { return h.Season == season })
	if at < 0 {
		return ""
	}
	h := heads[at]
	line := say.Say("Bulletin %d, season %d, published %s; fingerprint %.12s.", h.Number, h.Season, say.Day(h.PublishedAt), h.Hash)
	line += " " + madeBy(say, h)
	if entities != "" {
		line += " " + say.Say("Landowners behind it: %s.", bandWords(say, entities))
	}
	return line
}

// bandWords reads a band of landowners: "10-19" is "10 to 19".
func bandWords(say words.Speaker, entities string) string {
	if more, ok := strings.CutSuffix(entities, "+"); ok {
		return say.Say("%s or more", more)
	}
	if low, high, ok := strings.Cut(entities, "-"); ok {
		return say.Say("%s to %s", low, high)
	}
	return entities
}
