package pages

import (
	"html/template"

	"tussock/internal/bulletin"
	"tussock/internal/words"
)

// limitsPart says what seems to hold nests back in a place, with the chance of each of the three.
type limitsPart struct {
	Sentence string
	Bar      template.HTML // "" where a chance of the three is not shown
	Chances  []share
	Method   []string
}

// limitsPartOf returns nil where nothing of it is shown.
func limitsPartOf(d regionData, label string) (*limitsPart, error) {
	v, err := limitsOf(d.say, d.figures, d.season, label)
	if err != nil || !v.Shown {
		return nil, err
	}
	p := &limitsPart{Sentence: limitsSentence(d.say, v), Chances: chancesOf(d.say, v.Body), Method: limitsMethod(d.say, d.heads, d.season, v.Body)}
	if p.Chances != nil {
		p.Bar = mixBar(p.Chances, d.say.Say("How likely each is"))
	}
	return p, nil
}

func limitsSentence(say words.Speaker, v limitsView) string {
	switch {
	case v.Sure != "":
		return say.Say("%s: chances are %s.", v.Words, v.Sure)
	case chancesOf(say, v.Body) != nil:
		return say.Say("Nobody can tell yet: none of the three has four chances in five.")
	}
	return say.Say("Nobody can tell yet. More lines, or another season, may tell.")
}

// spreadPart says how far landowners lie apart, without any one of them.
type spreadPart struct {
	Sentence string
	Mark     template.HTML
	Axis     template.HTML
	Method   []string
}

// spreadOf returns nil where the season's spread is not shown.
func spreadOf(d regionData) *spreadPart {
	cell, ok := findCell(d.cells, d.season, "", "", bulletin.SurvivalSpread, "")
	if !ok || cell.Estimate == nil {
		return nil
	}
	say := d.say
	p := &spreadPart{Sentence: say.Say("On the middle landowner’s ground %s lasted.", ofHundred(say, *cell.Estimate)), Axis: rateAxis(say)}
	if cell.Low != nil && cell.High != nil {
		p.Sentence += " " + say.Say("Half of the landowners lie between %s and %s, a quarter below and a quarter above.", percent(*cell.Low), percent(*cell.High))
		p.Mark = rateStrip(cell, p.Sentence)
	}
	p.Method = []string{
		say.Say("The median of the landowners’ own survivals to day 28, and from twenty landowners on the quartiles: each landowner’s the mean over the standard kinds of cover, of those with five nests in each."),
		say.Say("Each holds the luck of that landowner’s own nests, few or many, so that they lie further apart here than their ground does. The stripe is no range of what could be true: it is where half of them were."),
		say.Say(methodRates), basisLine(say, cell.Basis, d.season), landownersLine(say, cell.Entities), frozenLine(say, d.heads, d.season),
	}
	return p
}
