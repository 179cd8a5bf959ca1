package pages

import (
	"html/template"
	"strconv"

	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/findings"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A mixView tells what took the nests, in one order on every page: no sign left, sign that fits several animals, sign that fits one, all
// counted; then the animals with their ranges, in the order of chart.Looks.
type mixView struct {
	Signs  []mixRow // counted
	Shares []mixRow // of 100 nests that left a sign
	Bar    template.HTML
	Wide   bool // the rows have a widest range
	Note   string
	Method []string
}

type mixRow struct {
	Name, Figure, Range, Widest string
	Swatch                      template.HTML
}

var signWords = map[string]string{
	bulletin.NoSign:      words.Mark("No sign left"),
	bulletin.FitsSeveral: words.Mark("Sign that fits several animals"),
	bulletin.FitsOne:     words.Mark("Sign that fits one animal"),
}

// otherAnimals is how the part of a mix reads that is not named.
var otherAnimals = words.Mark("other animals, each too seldom to name")

// assumedKey stands beside every mix.
var assumedKey = words.Mark("How strongly each sign points to each animal is assumed; the ranges allow for it.")

// predatorName is how a part of the mix reads.
func predatorName(say words.Speaker, name string) string {
	if name == predator.Rest {
		return say.Say(otherAnimals)
	}
	return say.Say(name)
}

// patterns are those of every part of a mix, for the page's symbols.
func patterns() template.HTML {
	var all template.HTML
	for _, l := range chart.Looks() {
		all += template.HTML(l.Pattern())
	}
	return all
}

func lookSwatch(part string) template.HTML {
	return share{Fill: chart.LookOf(part).ID()[len("fill-"):]}.Swatch()
}

// add adds an animal's row, with its part of the bar.
func (m *mixView) add(say words.Speaker, bar *[]share, part string, estimate float64, row mixRow) {
	row.Name, row.Swatch = capital(predatorName(say, part)), lookSwatch(part)
	m.Shares = append(m.Shares, row)
	*bar = append(*bar, share{Name: row.Name, ranged: ranged{Estimate: estimate}, Number: len(m.Shares), Fill: chart.LookOf(part).ID()[len("fill-"):]})
}

// ownMix is a ranch's own.
func ownMix(say words.Speaker, row *findings.Predators) *mixView {
	m := &mixView{Wide: row.NoSign > 0, Note: notes(say, row.Notes), Method: say.TellAll(row.Made())}
	for _, s := range []struct {
		sign string
		n    int
	}{{bulletin.NoSign, row.NoSign}, {bulletin.FitsSeveral, row.FitsSeveral}, {bulletin.FitsOne, row.FitsOne}} {
		m.Signs = append(m.Signs, mixRow{Name: say.Say(signWords[s.sign]), Figure: strconv.Itoa(s.n)})
	}
	var bar []share
	for _, s := range row.Shown {
		m.add(say, &bar, string(s.Predator), 100*s.Share, mixRow{Figure: percent(s.Share), Range: percent(s.Low) + "–" + percent(s.High),
			Widest: percent(s.IfUnlike.Low) + "–" + percent(s.IfUnlike.High)})
	}
	if len(bar) > 0 {
		m.Bar = mixBar(bar, say.Say("Likely shares of the animals among the nests that left a sign"))
	}
	return m
}

// publishedMix is that of a season's bulletin; nil where nothing of it is shown.
func publishedMix(say words.Speaker, cells []bulletin.Cell, area string, season int) *mixView {
	m, shown := &mixView{}, false
	none, known := 0.0, false
	for _, sign := range bulletin.Signs {
		cell, ok := findCell(cells, season, area, "", bulletin.SignShare, sign)
		r := rateRow(say, say.Say(signWords[sign]), cell)
		m.Signs = append(m.Signs, mixRow{Name: r.Name, Figure: r.Figure, Range: r.Cell.Range})
		shown = shown || ok
		if sign == bulletin.NoSign && cell.Estimate != nil {
			none, known = *cell.Estimate, *cell.Estimate > 0
		}
	}
	if !shown {
		m.Signs = nil
	}
	m.Wide = known
	var bar []share
	for _, l := range chart.Looks() {
		cell, ok := findCell(cells, season, area, "", bulletin.PredatorShare, l.Part)
		if !ok || cell.Estimate == nil {
			continue
		}
		row := mixRow{Figure: percent(*cell.Estimate)}
		if cell.Low != nil && cell.High != nil {
			row.Range = percent(*cell.Low) + "–" + percent(*cell.High)
			if known {
				low, high := predator.Share{Estimate: *cell.Estimate, Low: *cell.Low, High: *cell.High}.IfUnlike(none)
				row.Widest = percent(low) + "–" + percent(high)
			}
		}
		m.add(say, &bar, l.Part, 100**cell.Estimate, row)
	}
	if !shown && len(bar) == 0 {
		return nil
	}
	if len(bar) > 0 {
		m.Bar = mixBar(bar, say.Say("Likely shares of the animals among the nests that left a sign"))
	}
	m.Note = say.Say(assumedKey)
	return m
}

// startingMix is the season's mix as a ranch's own starts from it; nil where none is published.
func startingMix(cells []bulletin.Cell, season int) *findings.Mix {
	mix := &findings.Mix{Shares: map[survey.Predator]float64{}}
	for _, c := range cells {
		switch {
		case c.Season != season || !c.Published || c.Area != nil || c.Estimate == nil:
		case c.Measure == bulletin.PredatorShare:
			mix.Shares[survey.Predator(c.Predator)] = *c.Estimate
		case c.Measure == bulletin.MixWeight:
			mix.Weight = *c.Estimate
		}
	}
	if len(mix.Shares) == 0 {
		return nil
	}
	return mix
}
