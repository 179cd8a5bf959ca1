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

// apart is how likely one figure must be above another before a page says so.
const apart = 0.95

func nestsOf(r *findings.Result, ranch string, season int, b *bulletinView) *nestsPart {
	s, ok := r.SurvivalOf(ranch, season)
	if !ok {
		return nil
	}
	p := &nestsPart{Count: fmt.Sprintf("%d of %d nests", s.Lasted, s.Settled), Sentence: "lasted four weeks."}
	if s.Settled == 0 {
		p.Count, p.Sentence = counted(s.Nests, "nest"), "put out; none has run its four weeks yet."
	}
	if words := rangeWords(s.Day28.Range); words != "" {
		p.Sentence += " " + words
	}
	// What is drawn adds up to the nests put out: those looked at before four weeks were over stand apart.
	young := s.Intact - s.Lasted
	for _, f := range []struct {
		fate  survey.State
		n     int
		words string
	}{
		{survey.Intact, s.Lasted, fateWords[survey.Intact]},
		{survey.Taken, s.Losses.Taken, fateWords[survey.Taken]},
		{survey.Trampled, s.Losses.Trampled, fateWords[survey.Trampled]},
		{survey.Flooded, s.Losses.Flooded, fateWords[survey.Flooded]},
		{survey.Spoiled, s.Losses.Spoiled, fateWords[survey.Spoiled]},
		{survey.Lost, s.Losses.Lost, fateWords[survey.Lost]},
		{soFar, young, "whole when last looked at"},
		{survey.Lost, s.Nests - s.Intact - s.Losses.Failed() - s.Losses.Lost, "never looked at"},
	} {
		if f.n > 0 {
			p.Fates = append(p.Fates, fateRow{f.n, f.words, eggMarks(f.fate, f.n, f.words)})
		}
	}
	p.Note = s.Note
	p.Beside = b.survival(ranch, season)
	p.Table = append(p.Table, survivalTableRow("all nests, same footing", s))
	for _, k := range r.BySubstrate(ranch, season) {
		p.Table = append(p.Table, survivalTableRow(string(*k.Substrate), k))
	}
	return p
}

// soFar is drawn for nests whose last look came before four weeks were over.
const soFar survey.State = "sofar"

func survivalTableRow(name string, s *findings.Survival) tableRow {
	return tableRow{
		Name: name, Set: fmt.Sprint(s.Nests), Lines: fmt.Sprint(s.Transects),
		Counted: fmt.Sprintf("%d of %d", s.Lasted, s.Settled), Figure: rateText(s.Day28.Estimate), Range: rateRange(s.Day28.Range),
	}
}

func kindsOf(r *findings.Result, ranch string, season int, b *bulletinView) *kindsPart {
	rows := r.BySubstrate(ranch, season)
	if len(rows) == 0 {
		return nil
	}
	p := &kindsPart{Sentence: compareKinds(rows), Beside: b.substrates(rows)}
	for _, s := range rows {
		row := kindRow{Name: capital(string(*s.Substrate)), Sentence: fmt.Sprintf("%d of %d lasted.", s.Lasted, s.Settled)}
		words := rangeWords(s.Day28.Range)
		if dots := s.Dots(); len(dots) > 0 && words != "" {
			row.Sentence += " " + words
			row.Dots = dotPlot(of100s(dots), of100Range(s.Day28.Range), row.Name+": "+row.Sentence)
		} else {
			row.Sentence += " " + s.Note
		}
		p.Rows = append(p.Rows, row)
	}
	return p
}

// compareKinds says which substrate's nests lasted longest where that is sure enough, and that it cannot be told where
// it is not: the commonest honest answer.
func compareKinds(rows []*findings.Survival) string {
	rows = slices.DeleteFunc(slices.Clone(rows), func(s *findings.Survival) bool { return len(s.Dots()) == 0 })
	if len(rows) < 2 {
		return "With nests in one kind of cover there is nothing to compare yet."
	}
	slices.SortFunc(rows, func(a, b *findings.Survival) int {
		if *a.Day28.Estimate > *b.Day28.Estimate {
			return -1
		}
		return 1
	})
	best, worst := rows[0], rows[len(rows)-1]
	if above(best.Dots(), worst.Dots()) >= apart {
		return fmt.Sprintf("Nests in %s lasted longer than nests in %s.", *best.Substrate, *worst.Substrate)
	}
	return "The kinds of cover cannot be told apart yet: their ranges overlap. More nests would tell."
}

// above returns how likely a value of a is above one of b, both given as equally likely values.
func above(a, b []float64) float64 {
	n := 0.0
	for _, x := range a {
		for _, y := range b {
			switch {
			case x > y:
				n++
			case x == y:
				n += 0.5
			}
		}
	}
	return n / float64(len(a)*len(b))
}

// The chance of reaching the cover mark at which a page says "short" or "enough"; the same as for what to talk over.
const (
	coverShort  = 0.2
	coverEnough = 0.8
)

func coverOf(r *findings.Result, ranch string, season int, b *bulletinView) (*coverPart, string) {
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
	p := &coverPart{Sentence: coverSentence(sites, all), Beside: b.cover(all)}
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
		row := strip{Name: capital(siteName(d.Site)), Figure: "can’t tell yet"}
		if full(d.PerAcre.Range) {
			reading := ranged{*d.PerAcre.Estimate, *d.PerAcre.Low, *d.PerAcre.High}
			row.Figure = fmt.Sprintf("%.0f an acre (%.0f–%.0f)", reading.Estimate, reading.Low, reading.High)
			row.Mark = coverStrip(reading, most, row.Name+": "+row.Figure)
		} else {
			p.Note = d.Note
		}
		p.Strips = append(p.Strips, row)
	}
	p.Axis = coverAxis(most)
	return p, coverGist(all)
}

// coverSentence sorts the pastures into those short of the cover mark, those that reach it and those that cannot be
// told.
func coverSentence(sites []*findings.Density, all *findings.Density) string {
	if len(sites) < 2 {
		return coverGist(all)
	}
	var short, enough []*findings.Density
	unsure := 0
	for _, d := range sites {
		switch {
		case d.Reaches300 == nil, *d.Reaches300 > coverShort && *d.Reaches300 < coverEnough:
			unsure++
		case *d.Reaches300 <= coverShort:
			short = append(short, d)
		default:
			enough = append(enough, d)
		}
	}
	var parts []string
	if len(short) > 0 {
		parts = append(parts, fmt.Sprintf("%s %s %sshort of the cover mark", siteNames(short), verb(len(short), "is", "are"), likely(short)))
	}
	if len(enough) > 0 {
		what := "the cover mark"
		if len(short) > 0 {
			what = "it"
		}
		parts = append(parts, fmt.Sprintf("%s %s%s %s", siteNames(enough), likely(enough), verb(len(enough), "reaches", "reach"), what))
	}
	switch {
	case unsure == len(sites):
		return "Whether the pastures reach the cover mark cannot be told yet."
	case unsure == 1:
		parts = append(parts, "for one other it cannot be told yet")
	case unsure > 1:
		parts = append(parts, fmt.Sprintf("for %d others it cannot be told yet", unsure))
	}
	return capital(strings.Join(parts, "; ")) + "."
}

// likely is the word for a chance that is not as good as certain.
func likely(ds []*findings.Density) string {
	for _, d := range ds {
		if *d.Reaches300 > 1-apart && *d.Reaches300 < apart {
			return "likely "
		}
	}
	return ""
}

func siteNames(ds []*findings.Density) string {
	var names []string
	for _, d := range ds {
		names = append(names, siteName(d.Site))
	}
	return listWords(names)
}

func coverGist(d *findings.Density) string {
	if d.Reaches300 == nil || d.PerAcre.Estimate == nil {
		return ""
	}
	about := fmt.Sprintf("about %.0f clumps an acre against the mark of 300", *d.PerAcre.Estimate)
	maybe := likely([]*findings.Density{d})
	switch {
	case *d.Reaches300 <= coverShort:
		return "Cover is " + maybe + "short: " + about + "."
	case *d.Reaches300 >= coverEnough:
		return "There is " + maybe + "cover enough: " + about + "."
	}
	return "Whether there is cover enough cannot be told yet: " + about + ", give or take much."
}

func mixOf(r *findings.Result, ranch string, season int, b *bulletinView) *mixPart {
	row, ok := r.PredatorsOf(ranch, season)
	if !ok {
		return nil
	}
	if row.NestsTaken == 0 {
		return &mixPart{Sentence: "No nest was taken by an animal."}
	}
	p := &mixPart{Note: row.Note, Beside: b.mix()}
	named := 0
	var shares []share
	for _, n := range row.Named {
		named += n.Nests
		shares = append(shares, nestShare(capital(string(n.Predator)), n.Nests, row.NestsTaken, false))
		if n.ByCamera > 0 {
			shares[len(shares)-1].Figure += fmt.Sprintf(", %d on camera", n.ByCamera)
		}
	}
	if unsure := row.NestsTaken - named; unsure > 0 {
		shares = append(shares, nestShare("Can’t tell", unsure, row.NestsTaken, true))
		p.Sentence = fmt.Sprintf("%s taken; for %d of them nobody can tell by whom.", wereNests(row.NestsTaken), unsure)
	} else {
		p.Sentence = wereNests(row.NestsTaken) + " taken."
	}
	p.Shares = orderShares(shares)
	p.Bar = mixBar(p.Shares, p.Sentence)
	for _, m := range row.Mix {
		p.Likely = append(p.Likely, likelyRow{capital(string(m.Predator)), percent(m.Share), percent(m.Low) + "–" + percent(m.High)})
	}
	return p
}

func nestShare(name string, n, of int, unsure bool) share {
	v := 100 * float64(n) / float64(of)
	return share{Name: name, ranged: ranged{v, v, v}, Unsure: unsure, Figure: counted(n, "nest")}
}

func wereNests(n int) string {
	if n == 1 {
		return "1 nest was"
	}
	return fmt.Sprintf("%d nests were", n)
}

// yearsOf shows the ranch's own seasons, those that were not run as gaps, and the bulletin's for its place.
func yearsOf(r *findings.Result, ranch string, season int, d *ranchData) *yearsPart {
	seasons := r.Seasons(ranch)
	if len(seasons) < 2 {
		return nil
	}
	p := &yearsPart{Sentence: compareYears(r, ranch, seasons, season), Words: "Nests lasting four weeks, of 100, in the seasons " + fmt.Sprintf("%d to %d", seasons[0], seasons[len(seasons)-1])}
	var mine, theirs []chart.Point
	for y := seasons[0]; y <= seasons[len(seasons)-1]; y++ {
		row := yearRow{Season: y}
		if s, ok := r.SurvivalOf(ranch, y); ok {
			row.Nests, row.Figure, row.Range = fmt.Sprint(s.Nests), rateText(s.Day28.Estimate), rateRange(s.Day28.Range)
			if full(s.Day28.Range) {
				v := of100Range(s.Day28.Range)
				mine = append(mine, chart.Point{Season: y, Estimate: v.Estimate, Low: v.Low, High: v.High, Thin: s.Nests < 12,
					Words: fmt.Sprintf("%d: %.0f of 100,\na fair range %.0f to %.0f", y, v.Estimate, v.Low, v.High)})
			}
		}
		b := d.bulletinOf(y)
		if c, where, ok := b.find(bulletin.Survival28, ""); ok {
			v, words := publishedRate(c)
			p.Bulletin, row.Bulletin = "Bulletin", strings.ReplaceAll(words, " to ", "–")
			theirs = append(theirs, chart.Point{Season: y, Estimate: v.Estimate, Low: v.Low, High: v.High,
				Words: fmt.Sprintf("%d, the bulletin for %s:\n%s of 100", y, where, words)})
		}
		p.Rows = append(p.Rows, row)
	}
	if len(mine) == 0 {
		return p
	}
	axis := chart.Axis{Name: "of 100 nests", Most: 100}
	options, err := chart.Seasons(mine, axis, p.Words)
	if len(theirs) > 0 {
		options, err = chart.Trend([]chart.Series{{Name: "My ranch", Points: mine, Own: true}, {Name: "The bulletin", Points: theirs}}, axis, p.Words)
	}
	if err == nil { // without the chart its numbers remain
		p.Options = options
	}
	return p
}

// compareYears sets the season against the one before it that was run.
func compareYears(r *findings.Result, ranch string, seasons []int, season int) string {
	i := slices.Index(seasons, season)
	if i < 1 {
		return "This is the first season; there is none before it to set it against."
	}
	before := seasons[i-1]
	now, _ := r.SurvivalOf(ranch, season)
	then, _ := r.SurvivalOf(ranch, before)
	a, b := now.Dots(), then.Dots()
	switch {
	case len(a) == 0 || len(b) == 0:
		return fmt.Sprintf("How %d stands to %d cannot be told.", season, before)
	case above(a, b) >= apart:
		return fmt.Sprintf("More lasted in %d than in %d.", season, before)
	case above(b, a) >= apart:
		return fmt.Sprintf("Fewer lasted in %d than in %d.", season, before)
	}
	return fmt.Sprintf("About the same as in %d, as far as can be told.", before)
}

// Figures in words.

func full(r findings.Range) bool { return r.Estimate != nil && r.Low != nil && r.High != nil }

func rangeWords(r findings.Range) string {
	if !full(r) {
		return ""
	}
	return fmt.Sprintf("A fair range is %s to %s of 100.", percent(*r.Low), percent(*r.High))
}

func rateText(x *float64) string {
	if x == nil {
		return "can’t tell"
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

func siteName(site *string) string {
	if site == nil {
		return "the whole ranch"
	}
	return *site
}

func listWords(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func capital(s string) string {
	for i, r := range s {
		return string(unicode.ToUpper(r)) + s[i+len(string(r)):]
	}
	return s
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// A bulletinView is one season's bulletin as it bears on one ranch.
type bulletinView struct {
	season int
	out    bool   // there is a bulletin of the season
	place  string // the published place the ranch's area belongs to, "" for the whole cooperative alone
	cells  []bulletin.Cell
	// footing holds the ranch's results of the season standardised to the bulletin's mix of cover.
	footing *findings.Result
}

// bulletinOf returns the season's bulletin, nil for a reader who compares nothing.
func (d *ranchData) bulletinOf(season int) *bulletinView {
	if !d.compares {
		return nil
	}
	b := &bulletinView{season: season}
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
				return c, placeName(place), true
			}
		}
	}
	return nil, "", false
}

func placeName(label string) string {
	if label == "" {
		return "the whole cooperative"
	}
	return label
}

// beside begins a margin note. Where there is no figure it says why in one fixed wording: a reason of its own for each
// case would tell about the ranches behind it.
func (b *bulletinView) beside(where string) *beside {
	n := &beside{Title: fmt.Sprintf("The %d bulletin", b.season)}
	switch {
	case !b.out:
		n.Title = "The bulletin"
		n.Sentence = fmt.Sprintf("There is no bulletin for %d yet. It comes out once, when the season’s sheets are in.", b.season)
	case where == "":
		n.Sentence = "No figure is shown here. A figure needs enough landowners behind it, so that it points at nobody; when more take part, there will be one."
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
	v, words := publishedRate(c)
	n.Sentence = fmt.Sprintf("Across %s, %s of 100 lasted.", where, words)
	s, found := b.footing.SurvivalOf(ranch, season)
	if !found || s.Day28.Estimate == nil {
		n.Sentence += " Yours cannot be set beside it: it had no nests in some of the covers that went in."
		return n
	}
	own := 100 * *s.Day28.Estimate
	n.Sentence += fmt.Sprintf(" Yours, with every cover given the same weight, is %s: %.0f.", bulletin.Beside(*s.Day28.Estimate, c.Estimate, c.Low, c.High), own)
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
			_, words := publishedRate(c)
			where = at
			lines = append(lines, fmt.Sprintf("%s: %s of 100", capital(string(*s.Substrate)), words))
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
	stands := bulletin.Beside(*d.PerAcre.Estimate, c.Estimate, c.Low, c.High)
	n.Sentence = fmt.Sprintf("Across %s there were %s clumps an acre. Yours is %s: %.0f.", where, publishedDensity(c), stands, *d.PerAcre.Estimate)
	return n
}

// publishedRate returns a published rate of 100 with its range, and what the range says; an end that was not published
// is open.
func publishedRate(c *bulletin.Cell) (v ranged, words string) {
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
	switch {
	case c.High == nil:
		return v, fmt.Sprintf("%.0f or more", v.Low)
	case c.Low == nil:
		return v, fmt.Sprintf("%.0f or fewer", v.High)
	}
	return v, fmt.Sprintf("%.0f to %.0f", v.Low, v.High)
}

// publishedDensity says a published density; a band without a high end is open.
func publishedDensity(c *bulletin.Cell) string {
	low := 0.0
	if c.Low != nil {
		low = *c.Low
	}
	if c.High == nil {
		return fmt.Sprintf("%.0f or more", low)
	}
	return fmt.Sprintf("%.0f to %.0f", low, *c.High)
}

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
			where = placeName(place)
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
		n.Lines = append(n.Lines, fmt.Sprintf("%s: about %s of 100", capital(c.Predator), percent(*c.Estimate)))
	}
	return n
}
