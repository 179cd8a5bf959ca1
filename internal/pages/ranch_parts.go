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
	Best     string // the hierarchical figure, "" where there is none
	Range    string // its range
	Own      string // the raw figure beside it
	IfLost   string // what nests not found again leave open, "" where all were found
	Fates    []fateRow
	Note     string
	Misfits  []words.Phrase // what of the model behind the figures fails, with what it does to them
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
	Mark     string // what the broken line is
	Beside   *beside
}

type strip struct {
	Name, Figure string
	Mark         template.HTML
}

type mixPart struct {
	Sentence string
	*mixView
	Beside *beside
}

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
	if full(s.Day28.Range) {
		p.Own = say.Say("That is %s of 100 by days, every kind of cover given the same weight. A fair range is %s to %s.",
			percent(*s.Day28.Estimate), percent(*s.Day28.Low), percent(*s.Day28.High))
	}
	p.Note = notes(say, s.Notes)
	if f := r.FitOf(ranch, season); f != nil {
		p.Misfits = f.Failing()
	}
	p.Beside = b.survival()
	p.Table = append(p.Table, survivalTableRow(say, say.Say("all nests, same footing"), s))
	for _, k := range r.BySubstrate(ranch, season) {
		p.Table = append(p.Table, survivalTableRow(say, say.Say(string(*k.Substrate)), k))
	}
	return p
}

// lead puts the hierarchical figure in front, with the ranch's own beside it, and what nests not found again leave open.
func (p *nestsPart) lead(say words.Speaker, r *findings.Result, ranch string, season int, published bulletin.Published) {
	if p == nil {
		return
	}
	s, _ := r.SurvivalOf(ranch, season)
	if n := s.Losses.Lost; n > 0 && s.IfLost.Low != nil && s.IfLost.High != nil {
		p.IfLost = say.Count("Had the %d nest not found again been taken, these nests alone would give %s of 100; had it lasted, %s.",
			"Had the %d nests not found again been taken, these nests alone would give %s of 100; had they lasted, %s.", n, n, percent(*s.IfLost.Low), percent(*s.IfLost.High))
	}
	best, ok := published.Steadied(r, ranch, season)
	if !ok {
		return
	}
	x := best.Survival
	p.Best = say.Say("%s of 100", percent(*x.Estimate))
	p.Range = say.Say("A fair range is %s to %s.", percent(*x.Low), percent(*x.High))
	p.Own = say.Say("From this season’s nests alone: %s of 100, a fair range %s to %s. Few nests swing by luck, so the best figure also draws on what the cooperative publishes, the more so the fewer nests you have.",
		percent(*s.Day28.Estimate), percent(*s.Day28.Low), percent(*s.Day28.High))
	if best.Seasons > 1 {
		p.Own += " " + say.Say("Your other seasons count in it too.")
	}
	if best.Awaited {
		p.Own += " " + say.Say("This season’s bulletin is not out yet; other seasons’ stand in for it.")
	}
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

func coverOf(say words.Speaker, r *findings.Result, ranch string, season int, b *bulletinView, m findings.Marks) (*coverPart, string) {
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
	p := &coverPart{Sentence: coverSentence(say, sites, all, m.Cover), Beside: b.cover(all),
		Mark: say.Say("Clumps big enough to nest in, an acre. The broken line is the cover target, %.0f clumps an acre: %s.", m.Cover, marksFrom(say, m))}
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
	most := coverScale(readings, m.Cover)
	for _, d := range rows {
		row := strip{Name: capital(siteName(say, d.Site)), Figure: say.Say("can’t tell yet")}
		if full(d.PerAcre.Range) {
			reading := ranged{*d.PerAcre.Estimate, *d.PerAcre.Low, *d.PerAcre.High}
			row.Figure = say.Say("%.0f an acre (%.0f–%.0f)", reading.Estimate, reading.Low, reading.High)
			row.Mark = coverStrip(reading, most, m.Cover, row.Name+": "+row.Figure)
		} else {
			p.Note = notes(say, d.Notes)
		}
		p.Strips = append(p.Strips, row)
	}
	p.Axis = coverAxis(say, most, m.Cover)
	return p, coverGist(say, all, m.Cover)
}

// coverSentence says how each pasture stands to the cover target.
func coverSentence(say words.Speaker, sites []*findings.Density, all *findings.Density, target float64) string {
	if len(sites) < 2 {
		return coverGist(say, all, target)
	}
	var names []string
	for _, d := range sites {
		names = append(names, siteName(say, d.Site))
	}
	return say.Tell(findings.ShortOrNot(sites, names, target))
}

func coverGist(say words.Speaker, d *findings.Density, target float64) string {
	return say.Tell(findings.AgainstMarkSaid(d, findings.AgainstMark([]*findings.Density{d}, target)[0], target))
}

func mixOf(say words.Speaker, r *findings.Result, ranch string, season int, b *bulletinView) *mixPart {
	row, ok := r.PredatorsOf(ranch, season)
	if !ok {
		return nil
	}
	if row.NestsTaken == 0 {
		return &mixPart{Sentence: say.Say("No nest was taken by an animal."), mixView: &mixView{}}
	}
	return &mixPart{Sentence: say.Tell(row.Signs()[0]), mixView: ownMix(say, row), Beside: b.mix()}
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
	// footing is the ranch's survival in the season standardized to the bulletin's mix of cover; nil where it cannot be.
	footing *float64

	found  *findings.Result
	ranch  string
	shares map[survey.Substrate]float64 // of covers in the bulletin
}

// bulletinOf returns the season's bulletin, nil for a reader who compares nothing.
func (d *ranchData) bulletinOf(say words.Speaker, season int) *bulletinView {
	if !d.compares {
		return nil
	}
	mix := standardMix(d.heads, season)
	b := &bulletinView{say: say, season: season, footing: sameFooting(d.found, d.ranch.Name, season, mix), found: d.found, ranch: d.ranch.Name, shares: mix}
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

// sameFooting is survival of the ranch with the mix of cover that the season's bulletin is standardized to.
func sameFooting(r *findings.Result, ranch string, season int, mix map[survey.Substrate]float64) *float64 {
	if mix == nil {
		if s, ok := r.SurvivalOf(ranch, season); ok {
			return s.Day28.Estimate
		}
		return nil
	}
	if s28, ok := r.Standardised(ranch, season, mix); ok {
		return &s28
	}
	return nil
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
		n.Sentence = b.say.Say("There is none for %d yet: it comes out once the season’s sheets are in.", b.season)
	case where == "":
		n.Sentence = b.say.Say("Not shown: it takes enough landowners, so that a figure points at nobody.")
	default:
		n.Title += ", " + where
	}
	return n
}

// survival sets the ranch's figure, standardized to the bulletin's own mix of cover, beside the published one.
func (b *bulletinView) survival() *beside {
	if b == nil {
		return nil
	}
	c, where, ok := b.find(bulletin.Survival28, "")
	n := b.beside(where)
	if !ok {
		return n
	}
	v, rate := publishedRate(b.say, c)
	if b.footing == nil {
		n.Sentence = b.say.Say("%s of 100 lasted. Yours had no nests in some of the covers that went in.", capital(rate))
		return n
	}
	own := 100 * *b.footing
	n.Sentence = b.say.Say("%s of 100 lasted; yours, with each cover weighing the same: %.0f.", capital(rate), own)
	if o, ok := b.found.Beside(b.ranch, b.season, b.shares, c.Spread()); ok {
		n.Sentence += " " + b.say.Tell(findings.NestsBrief(o))
	}
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
			lines = append(lines, fmt.Sprintf("%s %s", b.say.Say(string(*s.Substrate)), rate))
		}
	}
	n := b.beside(where)
	if len(lines) > 0 {
		n.Sentence = b.say.Say("Lasted, of 100: %s.", strings.Join(lines, "; "))
	}
	return n
}

func (b *bulletinView) cover(d *findings.Density) *beside {
	if b == nil || !b.out {
		return nil
	}
	c, where, ok := b.find(bulletin.ClumpsPerAcre, "")
	n := b.beside(where)
	if !ok || d.PerAcre.Estimate == nil {
		return n
	}
	n.Sentence = b.say.Say("%s clumps an acre; yours: %.0f.", capital(publishedDensity(b.say, c)), *d.PerAcre.Estimate)
	if published := c.Spread(); published.Known() {
		n.Sentence += " " + b.say.Tell(findings.ClumpsBrief(d.Beside(published)))
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

// mix says the published shares in the order of chart.Looks.
func (b *bulletinView) mix() *beside {
	if b == nil || !b.out {
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
	slices.SortStableFunc(found, func(x, y *bulletin.Cell) int { return chart.Place(x.Predator) - chart.Place(y.Predator) })
	var parts []string
	for _, c := range found {
		parts = append(parts, fmt.Sprintf("%s %s", predatorName(b.say, c.Predator), percent(*c.Estimate)))
	}
	if len(parts) > 0 {
		n.Sentence = b.say.Say("Of 100 that left a sign, about: %s.", strings.Join(parts, "; "))
	}
	return n
}
