package pages

import (
	"cmp"
	"html/template"
	"maps"
	"math"
	"slices"

	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/findings"
	"tussock/internal/stat/differ"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/shrink"
	"tussock/internal/words"
)

// The three things that may hold nests back, or not, and that nobody can tell.
const (
	shortOfCover = "cover is short"
	highLosses   = "losses are high"
	lastsWell    = "lasting well"
	nobodyKnows  = "cannot tell"
)

// A limitsRead is how likely each of the three is, in steps of 10 of 100: read off the published survival and clumps an acre of a place
// with their ranges, and off nothing else. Chances is nil where one of the two is not given by a figure. Cover is how the clumps stand
// to the cover target.
type limitsRead struct {
	Verdict string
	Chances map[string]float64
	Cover   differ.Outcome
	cells   [2]bulletin.Cell
}

// readLimits tells whether the season's survival and cover are both published for the place. With are the places, this one among
// them, of which it is said in the same breath. One of the three is named where the differences it rests on are told: cover from the
// target, survival from the hope.
func readLimits(cells []bulletin.Cell, season int, label string, with []string, m findings.Marks) (l limitsRead, ok bool) {
	survival, okS := findCell(cells, season, label, "", bulletin.Survival28, "")
	cover, okC := findCell(cells, season, label, "", bulletin.ClumpsPerAcre, "")
	if !okS || !okC {
		return limitsRead{}, false
	}
	l = limitsRead{Verdict: nobodyKnows, cells: [2]bulletin.Cell{survival, cover}}
	l.Cover = against(cells, season, label, with, bulletin.ClumpsPerAcre, m.Cover, differ.Density)
	lasted := against(cells, season, label, with, bulletin.Survival28, m.Hope, differ.Survival)
	switch {
	case l.Cover.Lower():
		l.Verdict = shortOfCover
	case l.Cover.Higher() && lasted.Lower():
		l.Verdict = highLosses
	case l.Cover.Higher() && lasted.Higher():
		l.Verdict = lastsWell
	}
	enough, okC := chanceAbove(cover, m.Cover, math.Log)
	lasts, okS := chanceAbove(survival, m.Hope, func(s float64) float64 { return -shrink.LogLog(s) })
	if !okC || !okS {
		return l, true
	}
	l.Chances = inTens(map[string]float64{shortOfCover: 1 - enough, highLosses: enough * (1 - lasts), lastsWell: enough * lasts})
	return l, true
}

// inTens puts chances that make 1 together on steps of a tenth that do not make more: by the largest remainders, and none above 0.9. 0 stands for
// less than a step.
func inTens(exact map[string]float64) map[string]float64 {
	tens, left := map[string]float64{}, 10.0
	names := slices.Sorted(maps.Keys(exact))
	for _, name := range names {
		tens[name] = math.Floor(10*exact[name] + 1e-9)
		left -= tens[name]
	}
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(10*exact[b]-tens[b], 10*exact[a]-tens[a]) })
	for _, name := range names {
		if left >= 1 {
			tens[name], left = tens[name]+1, left-1
		}
		tens[name] = min(tens[name], 9) / 10
	}
	return tens
}

// inHundred says a chance on steps of ten.
func inHundred(say words.Speaker, chance float64) string {
	if chance < 0.05 {
		return say.Say("under 10 in 100")
	}
	return say.Say("about %s in 100", percent(chance))
}

// against sets a place's figure against a mark, beside those of the other places that are spoken of with it.
func against(cells []bulletin.Cell, season int, label string, with []string, measure string, mark float64, margin differ.Margin) differ.Outcome {
	var qs []differ.Question
	own := -1
	for _, place := range with {
		c, ok := findCell(cells, season, place, "", measure, "")
		if !ok {
			continue
		}
		if place == label {
			own = len(qs)
		}
		qs = append(qs, differ.Question{Of: c.Spread(), With: interval.Exactly(mark), Margin: margin, Fixed: true})
	}
	if own < 0 {
		return differ.Outcome{}
	}
	return differ.Together(qs)[own]
}

// chanceAbove is the chance that the truth behind a published figure is above a mark, on a rising scale on which it is nearly normal: what
// its range says; or where a range alone is given, whether it lies to one side. A band of clumps says nothing of how sure it is.
func chanceAbove(c bulletin.Cell, mark float64, scale func(float64) float64) (chance float64, ok bool) {
	if !c.Spread().Known() {
		return 0, false
	}
	positive := func(x *float64) bool {
		return x != nil && *x > 0 && !math.IsInf(scale(*x), 0) && !math.IsNaN(scale(*x))
	}
	switch {
	case positive(c.Estimate) && positive(c.Low) && positive(c.High) && *c.High > *c.Low:
		se := (scale(*c.High) - scale(*c.Low)) / (2 * normal95)
		return interval.CDF((scale(*c.Estimate)-scale(mark))/se, 0), true
	case c.Low != nil && *c.Low >= mark:
		return 0.95, true
	case c.High != nil && *c.High <= mark:
		return 0.05, true
	}
	return 0, false
}

// limitsView is what seems to hold nests back in a place, in words.
type limitsView struct {
	Shown   bool
	Verdict string
	Words   string // "Cover is short"
	Sure    string // "about 90 in 100"
	Fill    chart.Fill
	limitsRead
}

// verdicts say in words what limits nests, and have the pattern that marks it. Their order is that of the legend.
var verdicts = []struct {
	verdict, words string
	fill           chart.Fill
}{
	{shortOfCover, words.Mark("Cover is short"), chart.Dotted},
	{highLosses, words.Mark("Cover is fine, losses are high"), chart.Crossed},
	{lastsWell, words.Mark("Lasting well"), chart.Lined},
	{nobodyKnows, words.Mark("Can’t tell yet"), chart.Plain},
}

// limitsOf reads what seems to hold nests back in a place and season; with as readLimits has it.
func limitsOf(say words.Speaker, cells []bulletin.Cell, season int, label string, with []string, m findings.Marks) (v limitsView) {
	v.Words, v.Fill = say.Say(notShown), chart.Hatched
	if v.limitsRead, v.Shown = readLimits(cells, season, label, with, m); !v.Shown {
		return v
	}
	v.Verdict = v.limitsRead.Verdict
	for _, x := range verdicts {
		if x.verdict == v.Verdict {
			v.Words, v.Fill = say.Say(x.words), x.fill
		}
	}
	if p, ok := v.Chances[v.Verdict]; ok && v.Verdict != nobodyKnows {
		v.Sure = inHundred(say, p)
	}
	return v
}

// limitsPart says what seems to hold nests back in a place, with the chance of each of the three.
type limitsPart struct {
	Sentence string
	Bar      template.HTML // "" where the chances are not told
	Chances  []share
	Method   []string
}

// limitsPartOf returns nil where nothing of it is shown.
func limitsPartOf(d regionData, label string, with []string) *limitsPart {
	v := limitsOf(d.say, d.cells, d.season, label, with, d.marks)
	if !v.Shown {
		return nil
	}
	p := &limitsPart{Sentence: limitsSentence(d.say, v), Chances: chancesOf(d.say, v.limitsRead), Method: limitsMethod(d, v.limitsRead)}
	if p.Chances != nil {
		p.Bar = mixBar(p.Chances, d.say.Say("How likely each is"))
	}
	return p
}

func limitsSentence(say words.Speaker, v limitsView) string {
	if v.Sure != "" {
		return say.Say("%s: chances are %s.", v.Words, v.Sure)
	}
	return say.Say("Nobody can tell yet. More lines, or another season, may tell.")
}

// chancesOf are the parts of the bar; nil where the chances are not told.
func chancesOf(say words.Speaker, l limitsRead) []share {
	if l.Chances == nil {
		return nil
	}
	var list []share
	total := 0.0
	for _, v := range verdicts[:3] {
		total += l.Chances[v.verdict]
	}
	for i, v := range verdicts[:3] {
		p := l.Chances[v.verdict]
		list = append(list, share{Name: say.Say(v.words), ranged: ranged{Estimate: 100 * p / total, Low: 100 * p / total, High: 100 * p / total}, Fill: string(v.fill), Number: i + 1, Figure: inHundred(say, p)})
	}
	return list
}

// limitsMethod is how what limits nests is told, on the region's pages and on outreach's.
func limitsMethod(d regionData, l limitsRead) []string {
	say := d.say
	counts := []string{}
	for _, c := range l.cells {
		counts = countsOf(say, counts, text(c.Area), c.Basis)
	}
	return append(say.TellAll(limitsWords(say, d.marks)), bases(say, counts), landownersLine(say, l.cells[0].Entities), frozenLine(say, d.heads, d.season))
}

// limitsWords say what each of the three is.
func limitsWords(say words.Speaker, m findings.Marks) []words.Phrase {
	return []words.Phrase{
		words.Later("Cover short: the chance of fewer than %.0f clumps an acre; it rests on the number of clumps alone, not on what took nests. Losses high: that of %.0f or more, times that of %.0f of 100 nests or fewer lasting to day 28. Lasting well: that of %.0f or more, times that of more than %.0f of 100 lasting. Cover and survival are taken as independent.", m.Cover, m.Cover, 100*m.Hope, m.Cover, 100*m.Hope),
		words.Later("Read off the published survival and clumps an acre of the season with their ranges, and off nothing else."),
		words.Later("Chances stand on steps of 10 of 100, none above 90, and make at most 100 together. One of the three is named where the 95 %% ranges of the differences it rests on leave out none: clumps from %.0f, survival from %.0f of 100. Where the targets come from: %s.", m.Cover, 100*m.Hope, marksFrom(say, m)),
	}
}

// spreadPart says how far landowners lie apart, without any one of them.
type spreadPart struct {
	Sentence string
	Method   []string
}

// spreadOf returns nil where the season's spread is not shown.
func spreadOf(d regionData) *spreadPart {
	spread, ok := findCell(d.cells, d.season, "", "", bulletin.OwnerSpread, "")
	survival, also := findCell(d.cells, d.season, "", "", bulletin.Survival28, "")
	if !ok || !also || spread.Estimate == nil || !inside(survival.Estimate) {
		return nil
	}
	say, at := d.say, shrink.LogLog(*survival.Estimate)
	p := &spreadPart{Sentence: say.Say("On the ground of about two in three landowners between %s and %s of 100 would last, were there nests enough to see it.",
		percent(shrink.FromLogLog(at+*spread.Estimate)), percent(shrink.FromLogLog(at-*spread.Estimate)))}
	p.Method = []string{
		say.Say("The spread between landowners is that of the logarithm of the daily hazard, %s here, on steps of 0.05: two in three lie within it. It is given from twenty landowners on and steadied by eight landowners’ worth of a usual spread. The two ends are where the published survival lies moved by it.", number(spread.Estimate)),
		landownersLine(say, spread.Entities), frozenLine(say, d.heads, d.season),
	}
	return p
}
