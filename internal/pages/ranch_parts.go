package pages

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"unicode"

	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/findings"
	"tussock/internal/survey"
	"tussock/internal/words"
)

type nestsPart struct {
	Count    string // "15 of 24 nests", the beginning of the sentence
	Sentence string
	Fates    []fateRow
	Note     string
	Beside   *beside
	Table    []tableRow
}

type fateRow struct {
	Count int
	Words string
	Marks template.HTML
}

type tableRow struct{ Name, Set, Lines, Counted, Figure, Range string }

type kindsPart struct {
	Sentence string
	Rows     []kindRow
	Beside   *beside
}

type kindRow struct {
	Name, Sentence string
	Dots           template.HTML
}

type coverPart struct {
	Sentence string
	Strips   []strip
	Axis     template.HTML
	Note     string
	Beside   *beside
}

type strip struct {
	Name, Figure string
	Mark         template.HTML
}

type mixPart struct {
	Sentence string
	Bar      template.HTML
	Shares   []share
	Likely   []likelyRow
	Note     string
	Beside   *beside
}

type likelyRow struct{ Name, Figure, Range string }

type yearsPart struct {
	Sentence, Words string
	Options         template.JS
	Rows            []yearRow
	Bulletin        string // the place whose figures stand in the last column, "" where there is none
}

type yearRow struct {
	Season                         int
	Nests, Figure, Range, Bulletin string
}

func nestsOf(say words.Speaker, r *findings.Result, ranch string, season int, b *bulletinView) *nestsPart {
	s, ok := r.SurvivalOf(ranch, season)
	if !ok {
		return nil
	}
	p := &nestsPart{Count: say.Count("%d of %d nest", "%d of %d nests", s.Settled, s.Lasted, s.Settled),
		Sentence: say.Count("lasted four weeks.", "lasted four weeks.", s.Lasted)}
	if s.Settled == 0 {
		p.Count = say.Count("%d nest", "%d nests", s.Nests)
		p.Sentence = say.Count("put out; none has run its four weeks yet.", "put out; none has run its four weeks yet.", s.Nests)
	}
	if fair := rangeWords(say, s.Day28.Range); fair != "" {
		p.Sentence += " " + fair
	}
	// What is drawn adds up to the nests put out: those looked at before four weeks were over stand apart.
	young := s.Intact - s.Lasted
	for _, f := range []struct {
		fate survey.State
		n    int
	}{
		{survey.Intact, s.Lasted},
		{survey.Taken, s.Losses.Taken},
		{survey.Trampled, s.Losses.Trampled},
		{survey.Flooded, s.Losses.Flooded},
		{survey.Spoiled, s.Losses.Spoiled},
		{survey.Lost, s.Losses.Lost},
		{soFar, young},
		{neverSeen, s.Nests - s.Intact - s.Losses.Failed() - s.Losses.Lost},
	} {
		if f.n > 0 {
			_, said, _ := strings.Cut(fateWords(say, f.fate, f.n), " ") // the number stands by itself
			p.Fates = append(p.Fates, fateRow{f.n, said, eggMarks(f.fate, f.n, said)})
		}
	}
	p.Note = notes(say, s.Notes)
	p.Beside = b.survival(ranch, season)
	p.Table = append(p.Table, survivalTableRow(say, say.Say("all nests, same footing"), s))
	for _, k := range r.BySubstrate(ranch, season) {
		p.Table = append(p.Table, survivalTableRow(say, say.Say(string(*k.Substrate)), k))
	}
	return p
}

// Nests whose last look came before four weeks were over, and those that nobody looked at.
const (
	soFar     survey.State = "sofar"
	neverSeen survey.State = "never"
)

// notes says the sentences that go with a figure.
func notes(say words.Speaker, list []words.Phrase) string {
	return strings.Join(say.TellAll(list), " ")
}

func survivalTableRow(say words.Speaker, name string, s *findings.Survival) tableRow {
	return tableRow{
		Name: name, Set: fmt.Sprint(s.Nests), Lines: fmt.Sprint(s.Transects),
		Counted: say.Say("%d of %d", s.Lasted, s.Settled), Figure: rateText(say, s.Day28.Estimate), Range: rateRange(s.Day28.Range),
	}
}

func kindsOf(say words.Speaker, r *findings.Result, ranch string, season int, b *bulletinView) *kindsPart {
	rows := r.BySubstrate(ranch, season)
	if len(rows) == 0 {
		return nil
	}
	p := &kindsPart{Sentence: compareKinds(say, r.Compared(ranch, season, findings.Survival28, findings.Substrates)), Beside: b.substrates(rows)}
	for _, s := range rows {
		row := kindRow{Name: capital(say.Say(string(*s.Substrate))), Sentence: say.Count("%d of %d lasted.", "%d of %d lasted.", s.Lasted, s.Lasted, s.Settled)}
		fair := rangeWords(say, s.Day28.Range)
		if dots := s.Dots(); len(dots) > 0 && fair != "" {
			row.Sentence += " " + fair
			row.Dots = dotPlot(of100s(dots), of100Range(s.Day28.Range), row.Name+": "+row.Sentence)
		} else {
			row.Sentence += " " + notes(say, s.Notes)
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

// compareKinds says how the covers stand to each other, as far as one sentence goes.
func compareKinds(say words.Speaker, list []findings.Comparison) string {
	c, ok := findings.Foremost(list)
	if !ok {
		return say.Say("With nests in one kind of cover there is nothing to compare yet.")
	}
	return say.Tell(c.Said())
}

func coverOf(say words.Speaker, r *findings.Result, ranch string, season int, b *bulletinView) (*coverPart, string) {
	var sites []*findings.Density
	var all *findings.Density
	for i := range r.Density {
		d := &r.Density[i]
		if d.Ranch != ranch || d.Season != season || d.Substrate != nil {
			continue
		}
		if d.Site == nil {
			all = d
		} else {
			sites = append(sites, d)
		}
	}
	if all == nil {
		return nil, ""
	}
	p := &coverPart{Sentence: coverSentence(say, sites, all), Beside: b.cover(all)}
	rows := sites
	if len(sites) != 1 {
		rows = append(slices.Clone(sites), all)
	}
	var readings []ranged
	for _, d := range rows {
		if full(d.PerAcre.Range) {
			readings = append(readings, ranged{*d.PerAcre.Estimate, *d.PerAcre.Low, *d.PerAcre.High})
		}
	}
	most := coverScale(readings)
	for _, d := range rows {
		row := strip{Name: capital(siteName(say, d.Site)), Figure: say.Say("can’t tell yet")}
		if full(d.PerAcre.Range) {
			reading := ranged{*d.PerAcre.Estimate, *d.PerAcre.Low, *d.PerAcre.High}
			row.Figure = say.Say("%.0f an acre (%.0f–%.0f)", reading.Estimate, reading.Low, reading.High)
			row.Mark = coverStrip(reading, most, row.Name+": "+row.Figure)
		} else {
			p.Note = notes(say, d.Notes)
		}
		p.Strips = append(p.Strips, row)
	}
	p.Axis = coverAxis(say, most)
	return p, coverGist(say, all)
}

// coverSentence says how each pasture stands to the cover target.
func coverSentence(say words.Speaker, sites []*findings.Density, all *findings.Density) string {
	if len(sites) < 2 {
		return coverGist(say, all)
	}
	var names []string
	for _, d := range sites {
		names = append(names, siteName(say, d.Site))
	}
	return say.Tell(findings.ShortOrNot(sites, names))
}

func coverGist(say words.Speaker, d *findings.Density) string {
	return say.Tell(findings.AgainstMarkSaid(d, findings.AgainstMark([]*findings.Density{d})[0]))
}

func mixOf(say words.Speaker, r *findings.Result, ranch string, season int, b *bulletinView) *mixPart {
	row, ok := r.PredatorsOf(ranch, season)
	if !ok {
		return nil
	}
	if row.NestsTaken == 0 {
		return &mixPart{Sentence: say.Say("No nest was taken by an animal.")}
	}
	p := &mixPart{Note: notes(say, row.Notes), Beside: b.mix()}
	named := 0
	var shares []share
	for _, n := range row.Named {
		named += n.Nests
		part := nestShare(say, capital(say.Say(string(n.Predator))), n.Nests, row.NestsTaken, false)
		if n.ByCamera > 0 {
			part.Figure = say.Say("%s, %d on camera", part.Figure, n.ByCamera)
		}
		shares = append(shares, part)
	}
	if unsure := row.NestsTaken - named; unsure > 0 {
		shares = append(shares, nestShare(say, capital(say.Say("can’t tell")), unsure, row.NestsTaken, true))
		p.Sentence = say.Count("%d nest was taken; for %d of them nobody can tell by whom.", "%d nests were taken; for %d of them nobody can tell by whom.",
			row.NestsTaken, row.NestsTaken, unsure)
	} else {
		p.Sentence = say.Count("%d nest was taken.", "%d nests were taken.", row.NestsTaken)
	}
	p.Shares = orderShares(shares)
	p.Bar = mixBar(p.Shares, p.Sentence)
	for _, m := range row.Mix {
		p.Likely = append(p.Likely, likelyRow{capital(say.Say(string(m.Predator))), percent(m.Share), percent(m.Low) + "–" + percent(m.High)})
	}
	return p
}

func nestShare(say words.Speaker, name string, n, of int, unsure bool) share {
	v := 100 * float64(n) / float64(of)
	return share{Name: name, ranged: ranged{v, v, v}, Unsure: unsure, Figure: say.Count("%d nest", "%d nests", n)}
}

// yearsOf shows the ranch's own seasons, those that were not run as gaps, and the bulletin's for its place.
func yearsOf(say words.Speaker, r *findings.Result, ranch string, season int, d *ranchData) *yearsPart {
	seasons := r.Seasons(ranch)
	if len(seasons) < 2 {
		return nil
	}
	p := &yearsPart{Sentence: compareYears(say, r, ranch, season),
		Words: say.Say("Nests lasting four weeks, of 100, in the seasons %d to %d", seasons[0], seasons[len(seasons)-1])}
	var mine, theirs []chart.Point
	for y := seasons[0]; y <= seasons[len(seasons)-1]; y++ {
		row := yearRow{Season: y}
		if s, ok := r.SurvivalOf(ranch, y); ok {
			row.Nests, row.Figure, row.Range = fmt.Sprint(s.Nests), rateText(say, s.Day28.Estimate), rateRange(s.Day28.Range)
			if full(s.Day28.Range) {
				v := of100Range(s.Day28.Range)
				mine = append(mine, chart.Point{Season: y, Estimate: v.Estimate, Low: v.Low, High: v.High, Thin: s.Nests < 12,
					Words: say.Say("%d: %.0f of 100,\na fair range %.0f to %.0f", y, v.Estimate, v.Low, v.High)})
			}
		}
		b := d.bulletinOf(say, y)
		if c, where, ok := b.find(bulletin.Survival28, ""); ok {
			v, rate := publishedRate(say, c)
			p.Bulletin, row.Bulletin = say.Say("Bulletin"), publishedShort(say, c)
			theirs = append(theirs, chart.Point{Season: y, Estimate: v.Estimate, Low: v.Low, High: v.High,
				Words: say.Say("%d, the bulletin for %s:\n%s of 100", y, where, rate)})
		}
		p.Rows = append(p.Rows, row)
	}
	if len(mine) == 0 {
		return p
	}
	lines := []chart.Series{{Name: say.Say("My ranch"), Points: mine, Own: true}}
	if len(theirs) > 0 {
		lines = append(lines, chart.Series{Name: say.Say("The bulletin"), Points: theirs})
	}
	options, err := chart.Trend(lines, chart.Axis{Name: say.Say("of 100 nests"), Most: 100}, p.Words)
	if err == nil { // without the chart its numbers remain
		p.Options = options
	}
	return p
}

// compareYears sets the season against the one before it that was run.
func compareYears(say words.Speaker, r *findings.Result, ranch string, season int) string {
	list := r.Compared(ranch, season, findings.Survival28, findings.Seasons)
	if len(list) == 0 {
		return say.Say("This is the first season; there is none before it to set it against.")
	}
	return say.Tell(list[0].Said())
}

// Figures in words.

func full(r findings.Range) bool { return r.Estimate != nil && r.Low != nil && r.High != nil }

func rangeWords(say words.Speaker, r findings.Range) string {
	if !full(r) {
		return ""
	}
	return say.Say("A fair range is %s to %s of 100.", percent(*r.Low), percent(*r.High))
}

func rateText(say words.Speaker, x *float64) string {
	if x == nil {
		return say.Say("can’t tell")
	}
	return percent(*x)
}

func rateRange(r findings.Range) string {
	if !full(r) {
		return "–"
	}
	return percent(*r.Low) + "–" + percent(*r.High)
}

func of100Range(r findings.Range) ranged {
	return ranged{100 * *r.Estimate, 100 * *r.Low, 100 * *r.High}
}

func of100s(rates []float64) []float64 {
	out := make([]float64, len(rates))
	for i, r := range rates {
		out[i] = 100 * r
	}
	return out
}

func siteName(say words.Speaker, site *string) string {
	if site == nil {
		return say.Say("the whole ranch")
	}
	return *site
}

func capital(s string) string {
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+len(string(r)):]
	}
	return s
}

// A bulletinView is one season's bulletin as it bears on one ranch.
type bulletinView struct {
	say    words.Speaker
	season int
	out    bool   // there is a bulletin of the season
	place  string // the published place the ranch's area belongs to, "" for the whole cooperative alone
	cells  []bulletin.Cell
	// footing holds the ranch's results of the season standardised to the bulletin's mix of cover.
	footing *findings.Result
}

// bulletinOf returns the season's bulletin, nil for a reader who compares nothing.
func (d *ranchData) bulletinOf(say words.Speaker, season int) *bulletinView {
	if !d.compares {
		return nil
	}
	b := &bulletinView{say: say, season: season}
	for _, h := range d.heads {
		b.out = b.out || h.Season == season
	}
	for _, p := range d.places[season] {
		if p.Area == d.ranch.Area {
			b.place = p.Label
		}
	}
	for _, c := range d.cells {
		if c.Season == season && c.Published {
			b.cells = append(b.cells, c)
		}
	}
	return b
}

// find returns the published figure of a measure that is nearest to the ranch: its own place, else the whole
// cooperative.
func (b *bulletinView) find(measure, substrate string) (c *bulletin.Cell, where string, ok bool) {
	if b == nil {
		return nil, "", false
	}
	for _, place := range slices.Compact([]string{b.place, ""}) {
		for i := range b.cells {
			c := &b.cells[i]
			if c.Measure == measure && c.Predator == "" && text(c.Area) == place && text(c.Substrate) == substrate && (c.Low != nil || c.Estimate != nil) {
				return c, placeName(b.say, place), true
			}
		}
	}
	return nil, "", false
}

func placeName(say words.Speaker, label string) string {
	if label == "" {
		return say.Say("the whole cooperative")
	}
	return label
}

// beside begins a margin note. Where there is no figure it says why in one fixed wording: a reason of its own for each
// case would tell about the ranches behind it.
func (b *bulletinView) beside(where string) *beside {
	n := &beside{Title: b.say.Say("The %d bulletin", b.season)}
	switch {
	case !b.out:
		n.Title = b.say.Say("The bulletin")
		n.Sentence = b.say.Say("There is no bulletin for %d yet. It comes out once, when the season’s sheets are in.", b.season)
	case where == "":
		n.Sentence = b.say.Say("No figure is shown here. A figure needs enough landowners behind it, so that it points at nobody; when more take part, there will be one.")
	default:
		n.Title += ", " + where
	}
	return n
}

// survival sets the ranch's figure, standardised to the bulletin's own mix of cover, beside the published one.
func (b *bulletinView) survival(ranch string, season int) *beside {
	if b == nil {
		return nil
	}
	c, where, ok := b.find(bulletin.Survival28, "")
	n := b.beside(where)
	if !ok {
		return n
	}
	v, rate := publishedRate(b.say, c)
	n.Sentence = b.say.Say("Across %s, %s of 100 lasted.", where, rate)
	s, found := b.footing.SurvivalOf(ranch, season)
	if !found || s.Day28.Estimate == nil {
		n.Sentence += " " + b.say.Say("Yours cannot be set beside it: it had no nests in some of the covers that went in.")
		return n
	}
	own := 100 * *s.Day28.Estimate
	n.Sentence += " " + b.say.Say("Yours, with every cover given the same weight, is %.0f.", own) +
		" " + b.say.Tell(findings.NestsDiffer(s.Beside(c.Spread()), findings.OnYourRanch, findings.Across(where)))
	n.Mark = besideStrip(own, v, 100, n.Sentence)
	return n
}

func (b *bulletinView) substrates(rows []*findings.Survival) *beside {
	if b == nil || !b.out {
		return nil
	}
	var lines []string
	where := ""
	for _, s := range rows {
		if c, at, ok := b.find(bulletin.Survival28, string(*s.Substrate)); ok {
			_, rate := publishedRate(b.say, c)
			where = at
			lines = append(lines, b.say.Say("%s: %s of 100", capital(b.say.Say(string(*s.Substrate))), rate))
		}
	}
	n := b.beside(where)
	n.Lines = lines
	return n
}

func (b *bulletinView) cover(d *findings.Density) *beside {
	if b == nil {
		return nil
	}
	c, where, ok := b.find(bulletin.ClumpsPerAcre, "")
	n := b.beside(where)
	if !ok || d.PerAcre.Estimate == nil {
		return n
	}
	n.Sentence = b.say.Say("Across %s there were %s clumps an acre. Yours is %.0f.", where, publishedDensity(b.say, c), *d.PerAcre.Estimate)
	if published := c.Spread(); published.Known() {
		n.Sentence += " " + b.say.Tell(findings.ClumpsDiffer(d.Beside(published), findings.OnYourRanch, findings.Across(where)))
	}
	return n
}

// publishedRate returns a published rate of 100 with its range, and what the range says; an end that was not published
// is open.
func publishedRate(say words.Speaker, c *bulletin.Cell) (v ranged, said string) {
	v.High = 100
	if c.Low != nil {
		v.Low = 100 * *c.Low
	}
	if c.High != nil {
		v.High = 100 * *c.High
	}
	v.Estimate = (v.Low + v.High) / 2
	if c.Estimate != nil {
		v.Estimate = 100 * *c.Estimate
	}
	return v, between(say, c, 100)
}

// between says from where to where a published range goes, in units of which a whole has so many; an end that was not
// published is open.
func between(say words.Speaker, c *bulletin.Cell, units float64) string {
	switch {
	case c.High == nil && c.Low == nil:
		return say.Say("%.0f or more", 0.0)
	case c.High == nil:
		return say.Say("%.0f or more", units**c.Low)
	case c.Low == nil:
		return say.Say("%.0f or fewer", units**c.High)
	}
	return say.Say("%.0f to %.0f", units**c.Low, units**c.High)
}

// publishedShort is a published rate for a table.
func publishedShort(say words.Speaker, c *bulletin.Cell) string {
	if c.Low == nil || c.High == nil {
		return between(say, c, 100)
	}
	return fmt.Sprintf("%.0f–%.0f", 100**c.Low, 100**c.High)
}

// publishedDensity says a published density.
func publishedDensity(say words.Speaker, c *bulletin.Cell) string { return between(say, c, 1) }

// mix says the published shares, most first, those nobody can tell before all.
func (b *bulletinView) mix() *beside {
	if b == nil {
		return nil
	}
	var found []*bulletin.Cell
	where := ""
	for _, place := range slices.Compact([]string{b.place, ""}) {
		for i := range b.cells {
			c := &b.cells[i]
			if c.Measure == bulletin.PredatorShare && text(c.Area) == place && c.Substrate == nil && c.Estimate != nil {
				found = append(found, c)
			}
		}
		if len(found) > 0 {
			where = placeName(b.say, place)
			break
		}
	}
	n := b.beside(where)
	slices.SortStableFunc(found, func(x, y *bulletin.Cell) int {
		if (x.Predator == cantTell) != (y.Predator == cantTell) {
			if x.Predator == cantTell {
				return -1
			}
			return 1
		}
		if *x.Estimate > *y.Estimate {
			return -1
		}
		return 1
	})
	for _, c := range found[:min(len(found), 5)] {
		n.Lines = append(n.Lines, b.say.Say("%s: about %s of 100", capital(b.say.Say(c.Predator)), percent(*c.Estimate)))
	}
	return n
}
