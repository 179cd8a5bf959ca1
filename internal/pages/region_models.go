package pages

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/postgres"
)

// regionModels are the season's frozen figures from models. A part is nil where nothing of it is published for the
// reader.
type regionModels struct {
	Trend   *trendPart
	Footing *footingPart
	Gaps    []gapPart
	Gain    *gainPart
}

// trendPart says whether losses rise or fall over the seasons, for the whole cooperative and for places.
type trendPart struct {
	Sentence string
	Rows     []trendRow
	Method   []string
}

type trendRow struct{ Name, Yearly, Range, Verdict, Tau, Slope, Chance string }

// footingPart sets survival on the same footing beside what the bulletin has for each kind of cover by itself.
type footingPart struct {
	Options     template.JS
	Words       string
	Kinds       []string // the heads of the columns, all kinds first
	Rows        []footingRow
	Plain       []footingRow // crude, by the bulletin's cells
	Method      []string
	PlainMethod []string
}

type footingRow struct {
	Season int
	Cells  []mixesCell
}

// gapPart draws how much faster nests in one kind of cover are lost than in another, along the density of cover.
type gapPart struct {
	ID, Question, Sentence string
	Options                template.JS
	Words                  string
	A, B                   string
	Rows                   []gapRow
	Method                 []string
}

type gapRow struct{ Density, Ratio, Range string }

// gainPart says what survival goes together with at the cover mark.
type gainPart struct {
	Rows   []gapRow
	Method []string
}

// modelsOf lays the season's figures out. cells and heads are for what stands beside them.
func modelsOf(figures []bulletin.Figure, cells []bulletin.Cell, heads []postgres.BulletinHead, season int) (*regionModels, error) {
	var m regionModels
	var trends []placed[bulletin.Trend]
	var covers []placed[bulletin.Cover]
	for _, f := range figures {
		if f.Season != season {
			continue
		}
		var err error
		switch f.Kind {
		case bulletin.TrendKind:
			trends, err = read(trends, f)
		case bulletin.CoverKind:
			covers, err = read(covers, f)
		case bulletin.StandardisedKind:
			if f.Place == nil {
				var s bulletin.Standardised
				if err = f.Into(&s); err == nil {
					m.Footing, err = footingOf(s, cells, heads, season)
				}
			}
		}
		if err != nil {
			return nil, err
		}
	}
	m.Trend = trendsOf(trends, heads, season)
	m.Gain = gainOf(covers, heads, season)
	for _, c := range covers {
		if c.name != "" {
			continue
		}
		for i, g := range c.body.Gaps {
			part, err := gapOf(fmt.Sprintf("gap-%d", i+1), g, c.body, heads, season)
			if err != nil {
				return nil, fmt.Errorf("draw the gap between %s and %s: %w", g.A, g.B, err)
			}
			if part != nil {
				m.Gaps = append(m.Gaps, *part)
			}
		}
	}
	return &m, nil
}

// A placed figure is one of the whole cooperative ("") or of a place.
type placed[T any] struct {
	name string
	body T
}

func read[T any](list []placed[T], f bulletin.Figure) ([]placed[T], error) {
	p := placed[T]{name: text(f.Place)}
	err := f.Into(&p.body)
	return append(list, p), err
}

// placeTitle is how a place reads in a table.
func placeTitle(name string) string {
	if name == "" {
		return wholeCooperative
	}
	return name
}

func trendsOf(list []placed[bulletin.Trend], heads []postgres.BulletinHead, season int) *trendPart {
	var p trendPart
	var bands, counts []string
	for _, t := range list {
		if t.body.Yearly.Estimate == nil && t.body.Ranks.Tau == nil {
			continue
		}
		row := trendRow{Name: placeTitle(t.name), Yearly: notShown, Verdict: t.body.Verdict, Tau: notShown, Slope: notShown, Chance: notShown}
		if t.body.Yearly.Estimate != nil {
			row.Yearly, row.Range = number(t.body.Yearly.Estimate), valueRange(t.body.Yearly, 1)
		}
		if r := t.body.Ranks; r.Tau != nil && r.Slope != nil && r.Chance != nil {
			row.Tau, row.Slope, row.Chance = signed(*r.Tau), signed(tidy(100**r.Slope)), number(r.Chance)
		}
		if t.name == "" {
			p.Sentence = trendSentence(t.body)
		}
		bands, counts = append(bands, placeBand(t.name, t.body.Entities)), countsOf(counts, t.name, t.body.Basis)
		p.Rows = append(p.Rows, row)
	}
	if len(p.Rows) == 0 {
		return nil
	}
	p.Method = []string{
		"Yearly: the daily hazard of a year as a multiple of the year’s before, from the regional model with the season as a number: complementary log-log link with offset log days, substrate, period and site type as fixed effects, ranch and transect as random ones, each ranch with a slope of its own from five seasons on. Above 1, nests are lost faster.",
		methodModelRange + " Steps: 5 in 100 of the multiple, 2 from thirty landowners; the ends on steps twice as wide. The verdict follows from the published range: where that holds 1, there is no clear change.",
		"Beside it, without a model: the Regional Kendall test with ranches as locations and Sen’s slope, the median change of survival to day 28 a year within ranches. The two-sided chance under no trend is taken as if good and bad years came to all ranches alike, and rounded up.",
		methodModels, bases(counts), landowners(bands), frozenLine(heads, season),
	}
	return &p
}

// countsOf adds what stands behind a place's figure, where it may be counted.
func countsOf(counts []string, name string, b bulletin.Basis) []string {
	if words := basisWords(b); words != "" {
		counts = append(counts, placeTitle(name)+": "+words)
	}
	return counts
}

func placeBand(name, entities string) string { return placeTitle(name) + ": " + bandWords(entities) }

// methodModels says what keeps a model's figure from telling one ranch's.
const methodModels = "Published from ten landowners on, none with more than a quarter of the nests, from nests in the standard kinds of cover, on one grid a figure by the number of landowners, and only where leaving out any one landowner and fitting again moves it by no more than one step of that grid. Counts are of the bulletin’s own season; the seasons before it went in as well."

// methodModelRange is how the ranges of figures from models are made.
const methodModelRange = "Range: 95 %, from what chance alone would do, widened by one factor on coarse steps for how far landowners’ nests share their luck, the two who differ most left out: the model’s own interval would tell how alike landowners are."

func trendSentence(t bulletin.Trend) string {
	years := ""
	if n := len(t.Seasons); n > 0 {
		years = fmt.Sprintf(" from %d to %d", t.Seasons[0], t.Seasons[n-1])
	}
	if t.Yearly.Estimate == nil {
		return "Nobody can tell yet whether losses rise or fall" + years + "."
	}
	each := fmt.Sprintf("each year’s daily losses are %s times the year’s before, a fair range %s", number(t.Yearly.Estimate), valueRange(t.Yearly, 1))
	if *t.Yearly.Estimate == 1 {
		each = "each year’s daily losses are about the year’s before, a fair range " + valueRange(t.Yearly, 1) + " times them"
	}
	switch t.Verdict {
	case bulletin.Better:
		return "Nests are lost more slowly from year to year" + years + ": " + each + "."
	case bulletin.Worse:
		return "Nests are lost faster from year to year" + years + ": " + each + "."
	case bulletin.NoClearChange:
		return "No clear change" + years + ": " + each + "."
	}
	return "Nobody can tell yet whether losses rise or fall" + years + ": " + each + "."
}

func footingOf(s bulletin.Standardised, cells []bulletin.Cell, heads []postgres.BulletinHead, season int) (*footingPart, error) {
	p := &footingPart{Kinds: append([]string{"all, in equal shares"}, s.Substrates...), Words: "Survival to day 28 on the same footing, by season: all kinds of cover together and each kind"}
	var seasons []int
	byColumn := make([]chart.Series, len(p.Kinds))
	for i, kind := range p.Kinds {
		byColumn[i].Name = kind
	}
	for _, r := range s.Rates {
		column := 0
		if r.Substrate != nil {
			column = 1 + slices.Index(s.Substrates, *r.Substrate)
		}
		if !slices.Contains(seasons, r.Season) {
			seasons = append(seasons, r.Season)
			p.Rows = append(p.Rows, footingRow{r.Season, slices.Repeat([]mixesCell{{Figure: notShown}}, len(p.Kinds))})
		}
		if r.Estimate == nil || r.Low == nil || r.High == nil {
			continue
		}
		at := slices.Index(seasons, r.Season)
		p.Rows[at].Cells[column] = mixesCell{percent(*r.Estimate), valueRange(r.Value, 100)}
		byColumn[column].Points = append(byColumn[column].Points, chart.Point{Season: r.Season, Estimate: 100 * *r.Estimate, Low: 100 * *r.Low, High: 100 * *r.High,
			Words: fmt.Sprintf("%d, %s: %s of 100, a fair range %s", r.Season, p.Kinds[column], percent(*r.Estimate), valueRange(r.Value, 100))})
	}
	series := slices.DeleteFunc(byColumn, func(s chart.Series) bool { return len(s.Points) == 0 })
	if len(series) == 0 {
		return nil, nil
	}
	slices.Reverse(p.Rows)
	p.Plain = plainRows(s.Substrates, cells, p.Rows)
	var err error
	if p.Options, err = chart.Trend(series, chart.Axis{Name: "of 100 nests", Most: 100}, p.Words); err != nil {
		return nil, fmt.Errorf("draw survival on the same footing: %w", err)
	}
	p.Method = []string{
		"Survival to day 28 on a ranch and transect of which nothing is known, predicted by the regional model of all seasons up to this bulletin’s: complementary log-log link with offset log days; substrate, period (cut at day 14), season and site type as fixed effects; ranch and transect within ranch as random intercepts.",
		"Averaged over the random effects by Gauss–Hermite quadrature, not taken at a ranch of mean luck; over substrates in equal shares and over the site types as they stand among the cooperative’s nests, the same in every season.",
		methodModelRange + " All seasons are fitted together here; a later bulletin fits them again and may differ from this one, which stays.",
		methodRates + " The ends of ranges stand on steps twice as wide.", methodModels, basisLine(s.Basis, season), landownersLine(s.Entities), frozenLine(heads, season),
	}
	p.PlainMethod = []string{
		"Each kind’s figure of each season’s own bulletin, from that kind’s nests alone: adjusted for no site type and steadied by no other season.",
		"All nests: those in the standard kinds of cover, each nest weighing the same, so that it moves with what nests are put in.",
		methodRange, methodRates, basesLine(cells, "", "", bulletin.SurvivalCrude), basesBySubstrate(cells, "", season), bulletinsLine(heads),
	}
	return p, nil
}

// plainRows are the bulletins' own crude figures, of all nests first and of each substrate, for the same seasons.
func plainRows(substrates []string, cells []bulletin.Cell, like []footingRow) []footingRow {
	var rows []footingRow
	for _, l := range like {
		row := footingRow{Season: l.Season}
		for _, h := range append([]string{""}, substrates...) {
			measure := bulletin.Survival28
			if h == "" {
				measure = bulletin.SurvivalCrude
			}
			cell, _ := findCell(cells, l.Season, "", h, measure, "")
			r := rateRow(h, cell)
			if cell.Estimate != nil {
				r.Figure = percent(*cell.Estimate)
			}
			row.Cells = append(row.Cells, mixesCell{r.Figure, r.Range})
		}
		rows = append(rows, row)
	}
	return rows
}

// gapOf draws one pair; nil where its curve is not shown.
func gapOf(id string, g bulletin.CoverGap, c bulletin.Cover, heads []postgres.BulletinHead, season int) (*gapPart, error) {
	p := &gapPart{ID: id, A: g.A, B: g.B, Question: fmt.Sprintf("Are nests in %s lost faster than in %s where cover is thin?", g.A, g.B)}
	line, band := chart.Curve{Name: g.A + " against " + g.B}, chart.Curve{Name: "a fair range"}
	for _, point := range g.Curve {
		row := gapRow{Density: whole(point.Density), Ratio: notShown}
		if point.Estimate != nil && point.Low != nil && point.High != nil {
			row.Ratio, row.Range = number(point.Estimate), valueRange(point.Value, 1)
			line.X, line.Y = append(line.X, point.Density), append(line.Y, *point.Estimate)
			band.X, band.Low, band.High = append(band.X, point.Density), append(band.Low, *point.Low), append(band.High, *point.High)
		}
		p.Rows = append(p.Rows, row)
	}
	if len(line.X) == 0 {
		return nil, nil
	}
	p.Sentence = gapSentence(g)
	p.Words = fmt.Sprintf("Daily losses in %s as a multiple of those in %s, over clumps an acre, with the range of what could be true", g.A, g.B)
	var err error
	if p.Options, err = drawGap(g, line, band, c.Mark, p.Words); err != nil {
		return nil, err
	}
	p.Method = []string{
		"Up: the daily hazard in " + g.A + " as a multiple of that in " + g.B + ", from the regional model with the logarithm of the site’s density and its product with substrate among the covariates; the logarithm of the multiple is a straight line in the logarithm of the density. 1 is alike. The scale is logarithmic: twice as fast and half as fast are as far from 1.",
		"Across: all clumps an acre of the site in that season, from belts, taken as known without error. An error there draws the line flatter than it is.",
		methodModelRange + " The band is drawn at each density by itself, at densities of a fixed list and no further out than what was seen. Crossing: where the line meets 1, with Fieller’s interval from the same variances, which is open where the data do not close it. Steps: a fifth of the multiple, a tenth from thirty landowners; of the crossing two fifths and a fifth.",
		"Densities were not given to sites by lot: what goes together need not follow. 300 is drawn because it is common practice; nothing here was fitted to it.",
		"No dot is drawn for ranches or sites: one would be somebody’s.",
		methodModels, basisLine(c.Basis, season), landownersLine(c.Entities), frozenLine(heads, season),
	}
	return p, nil
}

func gapSentence(g bulletin.CoverGap) string {
	alike := ""
	switch {
	case g.Crossing.Said == bulletin.CrossingFound && g.Crossing.Low != nil && g.Crossing.High != nil:
		alike = fmt.Sprintf("The two do alike at about %s clumps an acre, a fair range %s.", number(g.Crossing.Estimate), valueRange(g.Crossing.Value, 1))
	case g.Crossing.Said == bulletin.CrossingFound:
		alike = fmt.Sprintf("The two do alike at about %s clumps an acre, but the data do not say between which densities.", number(g.Crossing.Estimate))
	case g.Crossing.Said == bulletin.NoCrossing:
		alike = "Where the two would do alike lies outside the densities seen."
	default:
		alike = "Where the two do alike is not shown."
	}
	return gapEnds(g) + " " + alike
}

// gapEnds says how the two stand at the thinnest and the thickest cover shown, as far as their ranges tell.
func gapEnds(g bulletin.CoverGap) string {
	var shown []bulletin.CoverPoint
	for _, p := range g.Curve {
		if p.Estimate != nil && p.Low != nil && p.High != nil {
			shown = append(shown, p)
		}
	}
	end := func(p bulletin.CoverPoint) string {
		switch {
		case *p.Low > 1:
			return "faster"
		case *p.High < 1:
			return "more slowly"
		}
		return ""
	}
	first, last := shown[0], shown[len(shown)-1]
	thin, thick := end(first), end(last)
	switch {
	case thin == "" && thick == "":
		return "At neither end of the range seen can one tell which is lost faster."
	case thin == thick:
		return fmt.Sprintf("Nests in %s are lost %s at %s as at %s clumps an acre.", g.A, thin, whole(first.Density), whole(last.Density))
	case thick == "":
		return fmt.Sprintf("At %s clumps an acre nests in %s are lost %s; at %s nobody can tell.", whole(first.Density), g.A, thin, whole(last.Density))
	case thin == "":
		return fmt.Sprintf("At %s clumps an acre nobody can tell; at %s nests in %s are lost %s.", whole(first.Density), whole(last.Density), g.A, thick)
	}
	return fmt.Sprintf("At %s clumps an acre nests in %s are lost %s, at %s %s.", whole(first.Density), g.A, thin, whole(last.Density), thick)
}

// drawGap draws the multiple over density, on a scale of doublings.
func drawGap(g bulletin.CoverGap, line, band chart.Curve, mark float64, words string) (template.JS, error) {
	low, high := slices.Min(band.Low), slices.Max(band.High)
	low, high = math.Max(low, 1.0/16), math.Min(high, 16)
	p := chart.Plane{
		X:     chart.Extent{Name: "clumps an acre", Low: 0, Top: math.Max(band.X[len(band.X)-1], mark) * 1.05, Mark: mark, MarkName: "300, common practice"},
		Y:     chart.Extent{Name: "times the daily losses in " + g.B, Low: doubling(math.Min(low, 0.5), math.Floor), Top: doubling(math.Max(high, 2), math.Ceil), Mark: 1, MarkName: "alike", Doublings: true},
		Bands: []chart.Curve{band}, Lines: []chart.Curve{line}, Words: words,
	}
	p.X.Top = math.Ceil(p.X.Top/100) * 100
	if c := g.Crossing; c.Said == bulletin.CrossingFound && c.Low != nil && c.High != nil {
		p.Lines = append(p.Lines, chart.Curve{Name: fmt.Sprintf("alike between %s and %s", number(c.Low), number(c.High)),
			X: []float64{*c.Low, math.Min(*c.High, p.X.Top)}, Y: []float64{1, 1}, Thick: true})
	}
	return p.Draw()
}

// doubling rounds to a whole power of two.
func doubling(x float64, round func(float64) float64) float64 { return math.Exp2(round(math.Log2(x))) }

func gainOf(list []placed[bulletin.Cover], heads []postgres.BulletinHead, season int) *gainPart {
	var p gainPart
	var bands, counts []string
	for _, c := range list {
		if c.body.Gain.Estimate == nil {
			continue
		}
		bands, counts = append(bands, placeBand(c.name, c.body.Entities)), countsOf(counts, c.name, c.body.Basis)
		g := c.body.Gain
		p.Rows = append(p.Rows, gapRow{Density: placeTitle(c.name), Ratio: signed(tidy(100 * *g.Estimate)), Range: signedRange(g)})
	}
	if len(p.Rows) == 0 {
		return nil
	}
	p.Method = gainMethod(bases(counts), landowners(bands), heads, season)
	return &p
}

// gainMethod is how the gain is made, on the region's pages and on outreach's.
func gainMethod(counts, landowners string, heads []postgres.BulletinHead, season int) []string {
	return append(slices.Clone(gainWords), methodModelRange, methodModels, counts, landowners, frozenLine(heads, season))
}

// gainWords say what the gain is, and is not.
var gainWords = []string{
	"What survival to day 28 would differ by, in nests of 100, were every site of the place that has fewer than 300 clumps an acre at 300, going by sites of that density elsewhere; from the regional model with density.",
	"An association of sites that were not chosen by lot, never a promise of what more cover would do. 300 is common practice.",
}

func landownersLine(entities string) string {
	if entities == "" {
		return ""
	}
	return landowners([]string{bandWords(entities)})
}

// valueRange writes the ends of a published value, times a scale: "0.9 to 1.1"; an end that is open is said to be.
func valueRange(v bulletin.Value, scale float64) string {
	switch {
	case v.Low == nil && v.High == nil:
		return ""
	case v.Low == nil:
		return "up to " + decimal(scale**v.High)
	case v.High == nil:
		return decimal(scale**v.Low) + " or more"
	}
	return decimal(scale**v.Low) + " to " + decimal(scale**v.High)
}

func signedRange(v bulletin.Value) string {
	if v.Low == nil || v.High == nil {
		return ""
	}
	return signed(tidy(100**v.Low)) + " to " + signed(tidy(100**v.High))
}

// tidy drops the crumbs of floating point that a change of scale leaves.
func tidy(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// decimal writes a published number with the digits it was published with.
func decimal(x float64) string { return strconv.FormatFloat(tidy(x), 'f', -1, 64) }

// signed is decimal with a real minus, and a plus: for differences.
func signed(x float64) string {
	switch s := decimal(x); {
	case x > 0:
		return "+" + s
	case x < 0:
		return "−" + strings.TrimPrefix(s, "-")
	default:
		return s
	}
}
