package pages

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"

	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/findings"
	"tussock/internal/stat/trend"
	"tussock/internal/words"
)

// What the seasons say together is read off what was published of each: nothing of an earlier season is ever computed again.

// regionModels are read off published figures alone. A part is nil where nothing of it is published for the reader.
type regionModels struct {
	Trend   *trendPart
	Seasons *seasonsPart
	Curve   *curvePart
}

// trendPart says whether losses rise or fall over the seasons.
type trendPart struct {
	Sentence, Yearly, Range string
	Method                  []string
}

// seasonsPart sets the seasons' survival side by side, of all kinds of cover and of each.
type seasonsPart struct {
	Options template.JS
	Words   string
	Kinds   []string // the heads of the columns, all kinds first
	Rows    []seasonsRow
	Method  []string
}

type seasonsRow struct {
	Season int
	Cells  []mixesCell
}

// curvePart draws survival over the density of clumps, a line for each kind of cover.
type curvePart struct {
	Options template.JS
	Words   string
	Kinds   []string
	Rows    []curveRow
	Method  []string
}

type curveRow struct {
	Clumps string
	Cells  []mixesCell
}

func modelsOf(d regionData) (*regionModels, error) {
	m := regionModels{Trend: trendPartOf(d)}
	var err error
	if m.Seasons, err = seasonsPartOf(d); err != nil {
		return nil, err
	}
	if m.Curve, err = curveOf(d); err != nil {
		return nil, err
	}
	return &m, nil
}

// placeTitle is how a place reads in a table.
func placeTitle(say words.Speaker, name string) string {
	if name == "" {
		return say.Say(wholeCooperative)
	}
	return name
}

// countsOf adds what stands behind a place's figure, where it may be counted.
func countsOf(say words.Speaker, counts []string, name string, b bulletin.Basis) []string {
	if tens := basisWords(say, b); tens != "" {
		counts = append(counts, placeTitle(say, name)+": "+tens)
	}
	return counts
}

// upToSeason is the published survival of each season up to the one in front, of which an estimate and both ends are given.
func upToSeason(cells []bulletin.Cell, season int) (list []trend.Season) {
	for _, c := range cells {
		if c.Published && c.Measure == bulletin.Survival28 && c.Area == nil && c.Substrate == nil && c.Season <= season && inside(c.Estimate) && inside(c.Low) && inside(c.High) && *c.Low < *c.High {
			list = append(list, trend.Season{Year: c.Season, Estimate: *c.Estimate, Low: *c.Low, High: *c.High})
		}
	}
	slices.SortFunc(list, func(a, b trend.Season) int { return a.Year - b.Year })
	return list
}

// trendPartOf returns nil where fewer than three seasons are published for the reader.
func trendPartOf(d regionData) *trendPart {
	say, seasons := d.say, upToSeason(d.cells, d.season)
	t := trend.Published(seasons)
	if !t.Known {
		return nil
	}
	at := func(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) }
	p := &trendPart{Yearly: at(t.Yearly), Range: say.Say("%s to %s", at(t.Low), at(t.High))}
	p.Sentence = say.Tell(findings.TrendSaid(t)) + " " + say.Say("Each year’s daily losses are %s times the year’s before, likely range %s.", p.Yearly, p.Range)
	p.Method = []string{
		say.Say("Yearly: the daily hazard of a year as a multiple of the year’s before. Above 1, nests are lost faster. Read off the seasons’ published survival and its ranges alone: a straight line through log(−log S). Each season has a luck of its own beside what its range says, and the luck of one season goes with the next’s to 0.6 (more, where eight seasons or more say so). A change that could be luck alone is not called a trend."),
		say.Say("No earlier season is worked out again: its bulletin stays as it was published."), bulletinsLine(say, d.heads),
	}
	return p
}

// coversOf lists the kinds of cover that any season has a figure for.
func coversOf(cells []bulletin.Cell, measure string) (kinds []string) {
	for _, c := range cells {
		if c.Published && c.Measure == measure && c.Area == nil && c.Substrate != nil && !slices.Contains(kinds, *c.Substrate) {
			kinds = append(kinds, *c.Substrate)
		}
	}
	slices.Sort(kinds)
	return kinds
}

// seasonsPartOf returns nil where no season has a figure.
func seasonsPartOf(d regionData) (*seasonsPart, error) {
	say := d.say
	p := &seasonsPart{Kinds: []string{say.Say("all, in equal shares")}, Words: say.Say("Survival to day 28 by season: all kinds of cover together and each kind")}
	kinds := append([]string{""}, coversOf(d.cells, bulletin.Survival28)...)
	for _, kind := range kinds[1:] {
		p.Kinds = append(p.Kinds, say.Say(kind))
	}
	lines := make([]chart.Series, len(kinds))
	for _, h := range d.heads { // the latest first
		row := seasonsRow{Season: h.Season}
		for i, kind := range kinds {
			cell, _ := findCell(d.cells, h.Season, "", kind, bulletin.Survival28, "")
			r := rateRow(say, kind, cell)
			row.Cells = append(row.Cells, mixesCell{r.Cell.Figure, r.Range})
			lines[i].Name = p.Kinds[i]
			if cell.Estimate != nil {
				at := rangedOf(cell)
				lines[i].Points = append([]chart.Point{{Season: h.Season, Estimate: at.Estimate, Low: at.Low, High: at.High,
					Words: pointWords(say, h.Season, p.Kinds[i], r.Cell.Figure, r.Range)}}, lines[i].Points...)
			}
		}
		p.Rows = append(p.Rows, row)
	}
	lines = slices.DeleteFunc(lines, func(s chart.Series) bool { return len(s.Points) == 0 })
	if len(lines) == 0 || len(d.heads) < 2 {
		return nil, nil
	}
	var err error
	if p.Options, err = chart.Trend(lines, chart.Axis{Name: say.Say("of 100 nests"), Most: 100}, p.Words); err != nil {
		return nil, fmt.Errorf("draw survival by season: %w", err)
	}
	p.Method = []string{
		say.Say("Each season as its own bulletin has it, from that season’s results alone, over that season’s standard kinds of cover: the lines move also where these change."),
		say.Say(methodRange), say.Say(methodRates), basesLine(say, d.cells, "", "", bulletin.Survival28), bulletinsLine(say, d.heads),
	}
	return p, nil
}

// curveOf returns nil where no point of the season is shown.
func curveOf(d regionData) (*curvePart, error) {
	say := d.say
	p := &curvePart{Words: say.Say("Survival to day 28 in each kind of cover, over clumps an acre, with the likely ranges")}
	var kinds []string
	var basis bulletin.Cell
	for _, c := range d.cells {
		if c.Published && c.Season == d.season && c.Measure == bulletin.SurvivalAt && c.Substrate != nil && !slices.Contains(kinds, *c.Substrate) {
			kinds, basis = append(kinds, *c.Substrate), c
		}
	}
	if len(kinds) == 0 {
		return nil, nil
	}
	slices.Sort(kinds)
	plane := chart.Plane{
		X:     chart.Extent{Name: say.Say("clumps an acre"), Low: 0, Top: 500, Mark: d.marks.Cover, MarkName: say.Say("%.0f, the target", d.marks.Cover)},
		Y:     chart.Extent{Name: say.Say("of 100 nests"), Low: 0, Top: 100},
		Words: p.Words,
	}
	for _, clumps := range bulletin.Clumps {
		p.Rows = append(p.Rows, curveRow{Clumps: whole(clumps)})
	}
	for _, kind := range kinds {
		p.Kinds = append(p.Kinds, say.Say(kind))
		line, band := chart.Curve{Name: say.Say(kind)}, chart.Curve{Name: say.Say("%s, a fair range", say.Say(kind))}
		for i, clumps := range bulletin.Clumps {
			at := slices.IndexFunc(d.cells, func(c bulletin.Cell) bool {
				return c.Published && c.Season == d.season && c.Measure == bulletin.SurvivalAt && text(c.Substrate) == kind && c.Clumps != nil && *c.Clumps == clumps
			})
			if at < 0 {
				p.Rows[i].Cells = append(p.Rows[i].Cells, mixesCell{Figure: say.Say(notShown)})
				continue
			}
			c := d.cells[at]
			r := rateRow(say, kind, c)
			p.Rows[i].Cells = append(p.Rows[i].Cells, mixesCell{r.Cell.Figure, r.Range})
			if c.Estimate != nil && c.Low != nil && c.High != nil {
				x := rangedOf(c)
				line.X, line.Y = append(line.X, clumps), append(line.Y, x.Estimate)
				band.X, band.Low, band.High = append(band.X, clumps), append(band.Low, x.Low), append(band.High, x.High)
			}
		}
		if len(line.X) > 1 {
			plane.Lines, plane.Bands = append(plane.Lines, line), append(plane.Bands, band)
		}
	}
	if len(plane.Lines) > 0 {
		var err error
		if p.Options, err = plane.Draw(); err != nil {
			return nil, fmt.Errorf("draw survival over clumps: %w", err)
		}
	}
	p.Method = []string{
		say.Say("Survival to day 28 in one kind of cover at so many clumps an acre of the site, all kinds of clumps together, from a model of the season alone: the logarithm of the daily hazard is a straight line in the logarithm of the density, with one slope for bunchgrass and one for all other kinds. Densities are from belts and taken as known."),
		say.Say("Given from ten landowners on at densities that were seen, and only where leaving out any one landowner and fitting again moves it by no more than 5 points. Steps: 5 of 100."),
		say.Say("Densities were not given to sites by lot: what goes together need not follow. The target is drawn because it is talked of; nothing here was fitted to it."),
		basisLine(say, basis.Basis, d.season), landownersLine(say, basis.Entities), frozenLine(say, d.heads, d.season),
	}
	return p, nil
}

func landownersLine(say words.Speaker, entities string) string {
	if entities == "" {
		return ""
	}
	return landowners(say, []string{bandWords(say, entities)})
}
