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
	"tussock/internal/words"
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
func modelsOf(say words.Speaker, figures []bulletin.Figure, cells []bulletin.Cell, heads []postgres.BulletinHead, season int) (*regionModels, error) {
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
					m.Footing, err = footingOf(say, s, cells, heads, season)
				}
			}
		}
		if err != nil {
			return nil, err
		}
	}
	m.Trend = trendsOf(say, trends, heads, season)
	m.Gain = gainOf(say, covers, heads, season)
	for _, c := range covers {
		if c.name != "" {
			continue
		}
		for i, g := range c.body.Gaps {
			part, err := gapOf(say, fmt.Sprintf("gap-%d", i+1), g, c.body, heads, season)
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
func placeTitle(say words.Speaker, name string) string {
	if name == "" {
		return say.Say(wholeCooperative)
	}
	return name
}

func trendsOf(say words.Speaker, list []placed[bulletin.Trend], heads []postgres.BulletinHead, season int) *trendPart {
	var p trendPart
	none := say.Say(notShown)
	var bands, counts []string
	for _, t := range list {
		if t.body.Yearly.Estimate == nil && t.body.Ranks.Tau == nil {
			continue
		}
		row := trendRow{Name: placeTitle(say, t.name), Yearly: none, Verdict: say.Say(t.body.Verdict), Tau: none, Slope: none, Chance: none}
		if t.body.Yearly.Estimate != nil {
			row.Yearly, row.Range = number(t.body.Yearly.Estimate), valueRange(say, t.body.Yearly, 1)
		}
		if r := t.body.Ranks; r.Tau != nil && r.Slope != nil && r.Chance != nil {
			row.Tau, row.Slope, row.Chance = signed(*r.Tau), signed(tidy(100**r.Slope)), number(r.Chance)
		}
		if t.name == "" {
			p.Sentence = trendSentence(say, t.body)
		}
		bands, counts = append(bands, placeBand(say, t.name, t.body.Entities)), countsOf(say, counts, t.name, t.body.Basis)
		p.Rows = append(p.Rows, row)
	}
	if len(p.Rows) == 0 {
		return nil
	}
	p.Method = []string{
		say.Say("Yearly: the daily hazard of a year as a multiple of the year’s before, from the regional model with the season as a number: complementary log-log link with offset log days, substrate, period and site type as fixed effects, ranch and transect as random ones, each ranch with a slope of its own from five seasons on. Above 1, nests are lost faster."),
		say.Say(methodModelRange) + " " + say.Say("Steps: 5 in 100 of the multiple, 2 from thirty landowners; the ends on steps twice as wide. The verdict follows from the published range: where that holds 1, there is no clear change."),
		say.Say("Beside it, without a model: the Regional Kendall test with ranches as locations and Sen’s slope, the median change of survival to day 28 a year within ranches. The two-sided chance under no trend is taken as if good and bad years came to all ranches alike, and rounded up."),
		say.Say(methodModels), bases(say, counts), landowners(say, bands), frozenLine(say, heads, season),
	}
	return &p
}

// countsOf adds what stands behind a place's figure, where it may be counted.
func countsOf(say words.Speaker, counts []string, name string, b bulletin.Basis) []string {
	if tens := basisWords(say, b); tens != "" {
		counts = append(counts, placeTitle(say, name)+": "+tens)
	}
	return counts
}

func placeBand(say words.Speaker, name, entities string) string {
	return placeTitle(say, name) + ": " + bandWords(say, entities)
}

// methodModels says what keeps a model's figure from telling one ranch's.
var methodModels = words.Mark("Published from ten landowners on, none with more than a quarter of the nests, from nests in the standard kinds of cover, on one grid a figure by the number of landowners, and only where leaving out any one landowner and fitting again moves it by no more than one step of that grid. Counts are of the bulletin’s own season; the seasons before it went in as well.")

// methodModelRange is how the ranges of figures from models are made.
var methodModelRange = words.Mark("Range: 95 %, from what chance alone would do, widened by one factor on coarse steps for how far landowners’ nests share their luck, the two who differ most left out: the model’s own interval would tell how alike landowners are.")

func trendSentence(say words.Speaker, t bulletin.Trend) string {
	finding := say.Say("Nobody can tell yet whether losses rise or fall")
	switch {
	case t.Yearly.Estimate == nil:
	case t.Verdict == bulletin.Better:
		finding = say.Say("Nests are lost more slowly from year to year")
	case t.Verdict == bulletin.Worse:
		finding = say.Say("Nests are lost faster from year to year")
	case t.Verdict == bulletin.NoClearChange:
		finding = say.Say("No clear change")
	}
	if n := len(t.Seasons); n > 0 {
		finding = say.Say("%s from %d to %d", finding, t.Seasons[0], t.Seasons[n-1])
	}
	switch {
	case t.Yearly.Estimate == nil:
		return finding + "."
	case *t.Yearly.Estimate == 1:
		return say.Say("%s: each year’s daily losses are about the year’s before, a fair range %s times them.", finding, valueRange(say, t.Yearly, 1))
	}
	return say.Say("%s: each year’s daily losses are %s times the year’s before, a fair range %s.", finding, number(t.Yearly.Estimate), valueRange(say, t.Yearly, 1))
}

func footingOf(say words.Speaker, s bulletin.Standardised, cells []bulletin.Cell, heads []postgres.BulletinHead, season int) (*footingPart, error) {
	p := &footingPart{Kinds: []string{say.Say("all, in equal shares")}, Words: say.Say("Survival to day 28 on the same footing, by season: all kinds of cover together and each kind")}
	for _, kind := range s.Substrates {
		p.Kinds = append(p.Kinds, say.Say(kind))
	}
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
			p.Rows = append(p.Rows, footingRow{r.Season, slices.Repeat([]mixesCell{{Figure: say.Say(notShown)}}, len(p.Kinds))})
		}
		if r.Estimate == nil || r.Low == nil || r.High == nil {
			continue
		}
		at := slices.Index(seasons, r.Season)
		p.Rows[at].Cells[column] = mixesCell{percent(*r.Estimate), valueRange(say, r.Value, 100)}
		byColumn[column].Points = append(byColumn[column].Points, chart.Point{Season: r.Season, Estimate: 100 * *r.Estimate, Low: 100 * *r.Low, High: 100 * *r.High,
			Words: pointWords(say, r.Season, p.Kinds[column], percent(*r.Estimate), valueRange(say, r.Value, 100))})
	}
	series := slices.DeleteFunc(byColumn, func(s chart.Series) bool { return len(s.Points) == 0 })
	if len(series) == 0 {
		return nil, nil
	}
	slices.Reverse(p.Rows)
	p.Plain = plainRows(say, s.Substrates, cells, p.Rows)
	var err error
	if p.Options, err = chart.Trend(series, chart.Axis{Name: say.Say("of 100 nests"), Most: 100}, p.Words); err != nil {
		return nil, fmt.Errorf("draw survival on the same footing: %w", err)
	}
	p.Method = []string{
		say.Say("Survival to day 28 on a ranch and transect of which nothing is known, predicted by the regional model of all seasons up to this bulletin’s: complementary log-log link with offset log days; substrate, period (cut at day 14), season and site type as fixed effects; ranch and transect within ranch as random intercepts."),
		say.Say("Averaged over the random effects by Gauss–Hermite quadrature, not taken at a ranch of mean luck; over substrates in equal shares and over the site types as they stand among the cooperative’s nests, the same in every season."),
		say.Say(methodModelRange) + " " + say.Say("All seasons are fitted together here; a later bulletin fits them again and may differ from this one, which stays."),
		say.Say(methodRates) + " " + say.Say("The ends of ranges stand on steps twice as wide."), say.Say(methodModels), basisLine(say, s.Basis, season), landownersLine(say, s.Entities), frozenLine(say, heads, season),
	}
	p.PlainMethod = []string{
		say.Say("Each kind’s figure of each season’s own bulletin, from that kind’s nests alone: adjusted for no site type and steadied by no other season."),
		say.Say("All nests: those in the standard kinds of cover, each nest weighing the same, so that it moves with what nests are put in."),
		say.Say(methodRange), say.Say(methodRates), basesLine(say, cells, "", "", bulletin.SurvivalCrude), basesBySubstrate(say, cells, "", season), bulletinsLine(say, heads),
	}
	return p, nil
}

// plainRows are the bulletins' own crude figures, of all nests first and of each substrate, for the same seasons.
func plainRows(say words.Speaker, substrates []string, cells []bulletin.Cell, like []footingRow) []footingRow {
	var rows []footingRow
	for _, l := range like {
		row := footingRow{Season: l.Season}
		for _, h := range append([]string{""}, substrates...) {
			measure := bulletin.Survival28
			if h == "" {
				measure = bulletin.SurvivalCrude
			}
			cell, _ := findCell(cells, l.Season, "", h, measure, "")
			r := rateRow(say, h, cell)
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
func gapOf(say words.Speaker, id string, g bulletin.CoverGap, c bulletin.Cover, heads []postgres.BulletinHead, season int) (*gapPart, error) {
	a, b := say.Say(g.A), say.Say(g.B)
	p := &gapPart{ID: id, A: a, B: b, Question: say.Say("Are nests in %s lost faster than in %s where cover is thin?", a, b)}
	line, band := chart.Curve{Name: say.Say("%s against %s", a, b)}, chart.Curve{Name: say.Say("a fair range")}
	for _, point := range g.Curve {
		row := gapRow{Density: whole(point.Density), Ratio: say.Say(notShown)}
		if point.Estimate != nil && point.Low != nil && point.High != nil {
			row.Ratio, row.Range = number(point.Estimate), valueRange(say, point.Value, 1)
			line.X, line.Y = append(line.X, point.Density), append(line.Y, *point.Estimate)
			band.X, band.Low, band.High = append(band.X, point.Density), append(band.Low, *point.Low), append(band.High, *point.High)
		}
		p.Rows = append(p.Rows, row)
	}
	if len(line.X) == 0 {
		return nil, nil
	}
	p.Sentence = gapSentence(say, g)
	p.Words = say.Say("Daily losses in %s as a multiple of those in %s, over clumps an acre, with the range of what could be true", a, b)
	var err error
	if p.Options, err = drawGap(say, g, line, band, c.Mark, p.Words); err != nil {
		return nil, err
	}
	p.Method = []string{
		say.Say("Up: the daily hazard in %s as a multiple of that in %s, from the regional model with the logarithm of the site’s density and its product with substrate among the covariates; the logarithm of the multiple is a straight line in the logarithm of the density. 1 is alike. The scale is logarithmic: twice as fast and half as fast are as far from 1.", a, b),
		say.Say("Across: all clumps an acre of the site in that season, from belts, taken as known without error. An error there draws the line flatter than it is."),
		say.Say(methodModelRange) + " " + say.Say("The band is drawn at each density by itself, at densities of a fixed list and no further out than what was seen. Crossing: where the line meets 1, with Fieller’s interval from the same variances, which is open where the data do not close it. Steps: a fifth of the multiple, a tenth from thirty landowners; of the crossing two fifths and a fifth."),
		say.Say("Densities were not given to sites by lot: what goes together need not follow. 300 is drawn because it is common practice; nothing here was fitted to it."),
		say.Say("No dot is drawn for ranches or sites: one would be somebody’s."),
		say.Say(methodModels), basisLine(say, c.Basis, season), landownersLine(say, c.Entities), frozenLine(say, heads, season),
	}
	return p, nil
}

func gapSentence(say words.Speaker, g bulletin.CoverGap) string {
	alike := say.Say("Where the two do alike is not shown.")
	switch {
	case g.Crossing.Said == bulletin.CrossingFound && g.Crossing.Low != nil && g.Crossing.High != nil:
		alike = say.Say("The two do alike at about %s clumps an acre, a fair range %s.", number(g.Crossing.Estimate), valueRange(say, g.Crossing.Value, 1))
	case g.Crossing.Said == bulletin.CrossingFound:
		alike = say.Say("The two do alike at about %s clumps an acre, but the data do not say between which densities.", number(g.Crossing.Estimate))
	case g.Crossing.Said == bulletin.NoCrossing:
		alike = say.Say("Where the two would do alike lies outside the densities seen.")
	}
	return gapEnds(say, g) + " " + alike
}

// gapEnds says how the two stand at the thinnest and the thickest cover shown, as far as their ranges tell.
func gapEnds(say words.Speaker, g bulletin.CoverGap) string {
	var shown []bulletin.CoverPoint
	for _, p := range g.Curve {
		if p.Estimate != nil && p.Low != nil && p.High != nil {
			shown = append(shown, p)
		}
	}
	end := func(p bulletin.CoverPoint) string {
		switch {
		case *p.Low > 1:
			return say.Say("faster")
		case *p.High < 1:
			return say.Say("more slowly")
		}
		return ""
	}
	first, last := shown[0], shown[len(shown)-1]
	thin, thick, a := end(first), end(last), say.Say(g.A)
	switch {
	case thin == "" && thick == "":
		return say.Say("At neither end of the range seen can one tell which is lost faster.")
	case thin == thick:
		return say.Say("Nests in %s are lost %s at %s as at %s clumps an acre.", a, thin, whole(first.Density), whole(last.Density))
	case thick == "":
		return say.Say("At %s clumps an acre nests in %s are lost %s; at %s nobody can tell.", whole(first.Density), a, thin, whole(last.Density))
	case thin == "":
		return say.Say("At %s clumps an acre nobody can tell; at %s nests in %s are lost %s.", whole(first.Density), whole(last.Density), a, thick)
	}
	return say.Say("At %s clumps an acre nests in %s are lost %s, at %s %s.", whole(first.Density), a, thin, whole(last.Density), thick)
}

// drawGap draws the multiple over density, on a scale of doublings.
func drawGap(say words.Speaker, g bulletin.CoverGap, line, band chart.Curve, mark float64, said string) (template.JS, error) {
	low, high := slices.Min(band.Low), slices.Max(band.High)
	low, high = math.Max(low, 1.0/16), math.Min(high, 16)
	p := chart.Plane{
		X:     chart.Extent{Name: say.Say("clumps an acre"), Low: 0, Top: math.Max(band.X[len(band.X)-1], mark) * 1.05, Mark: mark, MarkName: say.Say("300, common practice")},
		Y:     chart.Extent{Name: say.Say("times the daily losses in %s", say.Say(g.B)), Low: doubling(math.Min(low, 0.5), math.Floor), Top: doubling(math.Max(high, 2), math.Ceil), Mark: 1, MarkName: say.Say("alike"), Doublings: true},
		Bands: []chart.Curve{band}, Lines: []chart.Curve{line}, Words: said,
	}
	p.X.Top = math.Ceil(p.X.Top/100) * 100
	if c := g.Crossing; c.Said == bulletin.CrossingFound && c.Low != nil && c.High != nil {
		p.Lines = append(p.Lines, chart.Curve{Name: say.Say("alike between %s and %s", number(c.Low), number(c.High)),
			X: []float64{*c.Low, math.Min(*c.High, p.X.Top)}, Y: []float64{1, 1}, Thick: true})
	}
	return p.Draw()
}

// doubling rounds to a whole power of two.
func doubling(x float64, round func(float64) float64) float64 { return math.Exp2(round(math.Log2(x))) }

func gainOf(say words.Speaker, list []placed[bulletin.Cover], heads []postgres.BulletinHead, season int) *gainPart {
	var p gainPart
	var bands, counts []string
	for _, c := range list {
		if c.body.Gain.Estimate == nil {
			continue
		}
		bands, counts = append(bands, placeBand(say, c.name, c.body.Entities)), countsOf(say, counts, c.name, c.body.Basis)
		g := c.body.Gain
		p.Rows = append(p.Rows, gapRow{Density: placeTitle(say, c.name), Ratio: signed(tidy(100 * *g.Estimate)), Range: signedRange(say, g)})
	}
	if len(p.Rows) == 0 {
		return nil
	}
	p.Method = gainMethod(say, bases(say, counts), landowners(say, bands), heads, season)
	return &p
}

// gainMethod is how the gain is made, on the region's pages and on outreach's.
func gainMethod(say words.Speaker, counts, landowners string, heads []postgres.BulletinHead, season int) []string {
	return append(say.TellAll(gainWords), say.Say(methodModelRange), say.Say(methodModels), counts, landowners, frozenLine(say, heads, season))
}

// gainWords say what the gain is, and is not.
var gainWords = []words.Phrase{
	words.Later("What survival to day 28 would differ by, in nests of 100, were every site of the place that has fewer than 300 clumps an acre at 300, going by sites of that density elsewhere; from the regional model with density."),
	words.Later("An association of sites that were not chosen by lot, never a promise of what more cover would do. 300 is common practice."),
}

func landownersLine(say words.Speaker, entities string) string {
	if entities == "" {
		return ""
	}
	return landowners(say, []string{bandWords(say, entities)})
}

// valueRange writes the ends of a published value, times a scale: "0.9 to 1.1"; an end that is open is said to be.
func valueRange(say words.Speaker, v bulletin.Value, scale float64) string {
	switch {
	case v.Low == nil && v.High == nil:
		return ""
	case v.Low == nil:
		return say.Say("up to %s", decimal(scale**v.High))
	case v.High == nil:
		return say.Say("%s or more", decimal(scale**v.Low))
	}
	return say.Say("%s to %s", decimal(scale**v.Low), decimal(scale**v.High))
}

func signedRange(say words.Speaker, v bulletin.Value) string {
	if v.Low == nil || v.High == nil {
		return ""
	}
	return say.Say("%s to %s", signed(tidy(100**v.Low)), signed(tidy(100**v.High)))
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
