package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/stat/differ"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// report is the text form: what a rancher can read at the kitchen table. What was read comes before what it amounts to,
// every number has its range beside it, and what cannot be told is said before what can.
func report(a *analysis, f analyzeFlags) string {
	var b strings.Builder
	a.reading(&b)
	for i := range a.result.Survival {
		if s := &a.result.Survival[i]; s.Site == nil && s.Substrate == nil {
			ranchSeason(&b, a.result, s.Ranch, s.Season, f.marks)
		}
	}
	for i := range a.result.Density {
		d := &a.result.Density[i]
		if _, ok := a.result.SurvivalOf(d.Ranch, d.Season); !ok && d.Site == nil && d.Substrate == nil {
			title(&b, fmt.Sprintf("%s, season %d", d.Ranch, d.Season), '=')
			cover(&b, a.result, d.Ranch, d.Season)
		}
	}
	if f.pooled {
		pooled(&b, a.pooled)
	}
	if f.bulletin {
		bulletinText(&b, a.bulletin)
	}
	if len(a.result.Survival) > 0 {
		title(&b, "What these figures are", '-')
		for _, s := range findings.Limits() {
			para(&b, "", s)
		}
	}
	return strings.TrimLeft(b.String(), "\n")
}

func ranchSeason(b *strings.Builder, r *findings.Result, ranch string, season int, m findings.Marks) {
	s, _ := r.SurvivalOf(ranch, season)
	title(b, fmt.Sprintf("%s, season %d", ranch, season), '=')
	rows := r.BySubstrate(ranch, season)
	headline(b, s, len(rows))
	if len(rows) > 1 {
		for _, row := range rows {
			line(b, string(*row.Substrate), row)
		}
	}
	sites(b, r, ranch, season)
	compared(b, r, ranch, season, findings.Survival28)
	losses(b, s)
	fits(b, r.FitOf(ranch, season))
	cover(b, r, ranch, season)
	predators(b, r, ranch, season)
	talkOver(b, r, ranch, season, m)
}

// headline says how the nests did: counted first, since people count, then adjusted for cover.
func headline(b *strings.Builder, s *findings.Survival, substrates int) {
	if s.Waiting > 0 {
		waits(b, s)
		return
	}
	switch {
	case s.Settled > 0:
		para(b, "", fmt.Sprintf("%d of the %d nests whose four weeks are known lasted them. %s set on %s.",
			s.Lasted, s.Settled, count(s.Nests, "nest was", "nests were"), count(s.Transects, "line", "lines")))
	default:
		para(b, "", fmt.Sprintf("%s set on %s; none of them is known to day 28 yet.", count(s.Nests, "nest was", "nests were"), count(s.Transects, "line", "lines")))
	}
	if s.Day28.Estimate == nil {
		para(b, "", "Survival to day 28: can't tell yet. "+s.Note)
		return
	}
	adjusted := "Adjusted to day 28"
	if substrates > 1 {
		adjusted += " and to equal shares of each cover"
	}
	para(b, "", fmt.Sprintf("%s, about %s of 100 lasted; the likely range (95 %%) is %s of 100.", adjusted, of100(s.Day28.Estimate), between(s.Day28.Range)))
	if x := s.Steadied; x != nil {
		para(b, "", fmt.Sprintf("Drawn toward the other ranches, the more so the fewer the nests: about %s of 100; the likely range is %s of 100.", of100(x.Estimate), between(*x)))
	}
	if s.Note != "" {
		para(b, "", s.Note)
	}
	if s.Losses.Lost > 0 && s.IfLost.Low != nil && s.IfLost.High != nil {
		para(b, "", fmt.Sprintf("Had every nest that was not found again been taken it would be %s, had every one been intact %s.",
			of100(s.IfLost.Low), of100(s.IfLost.High)))
	}
}

// waits says what is open of a ranch and season of which some nests wait for an answer.
func waits(b *strings.Builder, s *findings.Survival) {
	text := count(s.Waiting, "nest waits", "nests wait") + " for an answer, so there is no figure yet."
	if s.Settled > 0 {
		text += fmt.Sprintf(" Of the nests that are read, %d of the %d whose four weeks are known lasted them.", s.Lasted, s.Settled)
	}
	if s.Day28.Low != nil && s.Day28.High != nil {
		text += fmt.Sprintf(" Survival to day 28 lies between %s of 100, the low end if none of the waiting nests lasted, and %s of 100, the high end if all of them did.",
			of100(s.Day28.Low), of100(s.Day28.High))
	}
	para(b, "", text)
}

func line(b *strings.Builder, name string, s *findings.Survival) {
	head := fmt.Sprintf("  %-16s %3d nests on %s: ", name, s.Nests, count(s.Transects, "line", "lines"))
	switch {
	case s.Waiting > 0 && s.Nests == 0:
		fmt.Fprintf(b, "  %-16s %s for an answer\n", name, count(s.Waiting, "nest waits", "nests wait"))
		return
	case s.Waiting > 0:
		fmt.Fprintf(b, "%s%s for an answer\n", head, count(s.Waiting, "more waits", "more wait"))
		return
	}
	if s.Day28.Estimate == nil {
		fmt.Fprintf(b, "%scan't tell yet\n", head)
		return
	}
	fmt.Fprintf(b, "%sabout %s of 100, the likely range is %s\n", head, of100(s.Day28.Estimate), between(s.Day28.Range))
}

func sites(b *strings.Builder, r *findings.Result, ranch string, season int) {
	first := true
	for i := range r.Survival {
		s := &r.Survival[i]
		if s.Ranch != ranch || s.Season != season || s.Site == nil || s.Substrate != nil {
			continue
		}
		if first {
			b.WriteString("By site:\n")
			first = false
		}
		line(b, *s.Site, s)
	}
}

func losses(b *strings.Builder, s *findings.Survival) {
	var list []string
	add := func(n int, what string) {
		if n > 0 {
			list = append(list, fmt.Sprintf("%d %s", n, what))
		}
	}
	add(s.Losses.Taken, "taken by animals")
	add(s.Losses.Trampled, "trampled")
	add(s.Losses.Flooded, "flooded")
	add(s.Losses.Spoiled, "spoiled")
	add(s.Losses.Lost, "not found again")
	if len(list) > 0 {
		para(b, "", "What ended the nests: "+strings.Join(list, ", ")+".")
	}
}

// fits says what cameras recorded, and whether the model behind the figures fits, where the nests can tell.
func fits(b *strings.Builder, f *findings.Fit) {
	if f == nil {
		return
	}
	if f.CameraDays > 0 {
		para(b, "", fmt.Sprintf("Cameras recorded the day of %s; %d of them dated outside the looks that they lie between.", count(f.CameraDays, "loss", "losses"), f.Outside))
	}
	failing := f.Failing()
	for _, text := range failing {
		para(b, "", "Something does not fit. "+text.String())
	}
	if len(failing) == 0 && len(f.Checks) > 0 {
		var names []string
		for _, c := range f.Checks {
			names = append(names, map[string]string{findings.FitsWeeks: "losses week by week", findings.FitsPeriods: "early against late losses", findings.FitsLines: "lines far from the others",
				findings.FitsCameras: "days of loss on camera"}[c.What])
		}
		para(b, "", "Whether the model behind the figures fits was checked by "+strings.Join(names, ", ")+": nothing fails, as far as these nests can show.")
	}
}

func cover(b *strings.Builder, r *findings.Result, ranch string, season int) {
	d, ok := r.DensityOf(ranch, season)
	if !ok {
		return
	}
	title(b, "Cover", '-')
	if d.PerAcre.Estimate == nil {
		para(b, "", "Clumps an acre: can't tell. "+d.Note)
		return
	}
	para(b, "", fmt.Sprintf("About %.0f suitable clumps an acre on %s; the likely range is %.0f to %.0f. The cover target is %.0f (%s). %s",
		*d.PerAcre.Estimate, count(d.Belts, "belt", "belts"), *d.PerAcre.Low, *d.PerAcre.High, d.Target, targetFrom(d.Target), findings.AgainstMarkSaid(d, findings.AgainstMark([]*findings.Density{d}, d.Target)[0], d.Target)))
	if d.Note != "" {
		para(b, "", d.Note)
	}
	for i := range r.Density {
		row := &r.Density[i]
		if row.Ranch == ranch && row.Season == season && row.PerAcre.Estimate != nil && (row.Site == nil) != (row.Substrate == nil) {
			name := ""
			if row.Site != nil {
				name = *row.Site
			} else {
				name = string(*row.Substrate)
			}
			fmt.Fprintf(b, "  %-16s about %.0f an acre, the likely range is %.0f to %.0f\n", name, *row.PerAcre.Estimate, *row.PerAcre.Low, *row.PerAcre.High)
		}
	}
	compared(b, r, ranch, season, findings.ClumpsPerAcre)
}

// targetFrom says where a cover target comes from.
func targetFrom(target float64) string {
	if target == findings.CommonMarks.Cover {
		return "common practice"
	}
	return "yours"
}

// compared says the comparisons of a ranch and season: each that is told, and of those that cannot be told the widest and how many
// there are besides.
func compared(b *strings.Builder, r *findings.Result, ranch string, season int, measure string) {
	for _, what := range []string{findings.Seasons, findings.Substrates, findings.Sites, findings.Region} {
		list := r.Compared(ranch, season, measure, what)
		open := slices.DeleteFunc(slices.Clone(list), func(c findings.Comparison) bool { return c.Outcome.Verdict != differ.CannotTell })
		for i := range list {
			if c := &list[i]; c.Outcome.Verdict != differ.CannotTell {
				para(b, "", c.Said().String())
			}
		}
		if c, ok := findings.Foremost(open); ok {
			text := c.Said().String()
			if n := len(open) - 1; n > 0 {
				text += " " + count(n, "other pair", "other pairs") + " cannot be told apart either."
			}
			para(b, "", text)
		}
	}
}

func predators(b *strings.Builder, r *findings.Result, ranch string, season int) {
	p, ok := r.PredatorsOf(ranch, season)
	if !ok || p.NestsTaken == 0 {
		return
	}
	title(b, "What took them", '-')
	para(b, "", sentences(p.Signs()))
	for _, m := range p.Shown {
		fmt.Fprintf(b, "  %-16s about %.0f of 100, the likely range is %.0f to %.0f", predatorName(m.Predator), 100*m.Share, 100*m.Low, 100*m.High)
		if p.NoSign > 0 {
			fmt.Fprintf(b, "; the widest %.0f to %.0f", 100*m.IfUnlike.Low, 100*m.IfUnlike.High)
		}
		b.WriteByte('\n')
	}
	para(b, "", p.Note)
	if len(p.Shown) > 0 {
		para(b, "", sentences(append(p.Made(), p.Strengths())))
	}
}

func sentences(list []words.Phrase) string {
	var all []string
	for _, p := range list {
		all = append(all, p.String())
	}
	return strings.Join(all, " ")
}

func predatorName(p survey.Predator) string {
	if p == findings.Rest {
		return "other animals"
	}
	return string(p)
}

func talkOver(b *strings.Builder, r *findings.Result, ranch string, season int, m findings.Marks) {
	talks := r.TalkOver(ranch, season, m)
	if len(talks) == 0 {
		return
	}
	title(b, "Worth talking over", '-')
	for _, t := range talks {
		text := t.Seen.String() + " First to talk about: " + lowered(t.First)
		if t.NotFirst != "" {
			text += " Not first: " + lowered(t.NotFirst)
		}
		para(b, "", text)
	}
}

func pooled(b *strings.Builder, p *findings.Pooled) {
	title(b, "The regional model", '=')
	para(b, "", fmt.Sprintf("All ranches together: %s between two checks of %s, on %s and %s. %s",
		count(p.Intervals, "interval", "intervals"), count(p.Nests, "nest", "nests"), count(p.RanchCount, "ranch", "ranches"), count(p.Transects, "line", "lines"), p.Note))
	effects(b, p)
	if p.TransectSD != nil {
		para(b, "", "How far ranches and lines differ from one another beyond that, as a standard deviation of the logarithm of the daily risk: "+
			spread(p.RanchSD)+" between ranches, "+spread(p.TransectSD)+" between lines of a ranch.")
	}

	para(b, "", "Lasting four weeks on a ranch and a line of which nothing is known:")
	var lasted []said
	for _, s := range p.Standardised {
		if s.Estimate != nil {
			lasted = append(lasted, said{fmt.Sprintf("%d %s", s.Season, s.Substrate), fmt.Sprintf("about %s of 100, the likely range is %s", of100(s.Estimate), between(s.Range))})
		}
	}
	aligned(b, lasted)
	para(b, "", "Each ranch, all seasons and cover types alike, drawn toward the region the more the fewer nests it has:")
	var ranches []said
	for _, r := range p.Ranches {
		if r.Day28.Estimate != nil {
			ranches = append(ranches, said{r.Ranch, fmt.Sprintf("about %s of 100, the likely range is %s", of100(r.Day28.Estimate), between(r.Day28))})
		}
	}
	aligned(b, ranches)
	if h := p.Trend.HazardRatio; h.Estimate != nil {
		para(b, "", fmt.Sprintf("From one year to the next the daily risk was %.2f times as high, the likely range is %.2f to %.2f. %s", *h.Estimate, *h.Low, *h.High, p.Trend.Said))
	} else {
		para(b, "", p.Trend.Said)
	}
	keyScore(b, p.Key)
}

// effects says each fixed effect as the number of times that it multiplies the daily risk.
func effects(b *strings.Builder, p *findings.Pooled) {
	names := map[string]string{"substrate": "In %s", "period": "In days %s", "season": "In %s", "site_type": "On %s ground"}
	var risks []said
	for _, e := range p.Fixed {
		if e.Estimate == nil || e.SE == nil || names[e.Term] == "" {
			continue
		}
		risks = append(risks, said{fmt.Sprintf(names[e.Term], e.Level), fmt.Sprintf("%.2f times as high, the likely range is %.2f to %.2f",
			math.Exp(*e.Estimate), math.Exp(e.Low), math.Exp(e.High))})
	}
	if len(risks) > 0 {
		para(b, "", "The daily risk of a nest, all else alike, beside "+references(p)+":")
	}
	aligned(b, risks)
}

// A said is a line of a list: something said of a name.
type said struct{ name, words string }

// aligned writes a list whose words stand under each other, whatever their names.
func aligned(b *strings.Builder, list []said) {
	width := 0
	for _, l := range list {
		width = max(width, len([]rune(l.name)))
	}
	for _, l := range list {
		fmt.Fprintf(b, "  %-*s  %s\n", width, l.name, l.words)
	}
}

// references names what the effects are held against.
func references(p *findings.Pooled) string {
	parts := []string{"days 0-14"}
	if len(p.Standardised) > 0 {
		season, substrate := p.Standardised[0].Season, string(p.Standardised[0].Substrate)
		for _, s := range p.Standardised {
			season = min(season, s.Season)
			substrate = min(substrate, string(s.Substrate))
		}
		parts = append(parts, fmt.Sprintf("%s and the season %d", substrate, season))
	}
	return strings.Join(parts, ", ")
}

func spread(sd *float64) string {
	if sd == nil {
		return "can't tell"
	}
	return fmt.Sprintf("%.2f", *sd)
}

func keyScore(b *strings.Builder, k findings.KeyScore) {
	if k.Cases == 0 {
		para(b, "", "The key to remains could not be tried out: no nest with remains was settled by a camera.")
		return
	}
	para(b, "", fmt.Sprintf("The key to remains, tried on %s settled by a camera, each left out in turn: it gives the right animal on average %.0f chances in 100 where taught by the others, %.0f by common practice alone, and %.0f is knowing nothing.",
		count(k.Cases, "nest", "nests"), 100*math.Exp(*k.Tuned), 100*math.Exp(*k.Untuned), 100*math.Exp(*k.Flat)))
}

func bulletinText(b *strings.Builder, cells []bulletin.Cell) {
	title(b, "What a bulletin would publish", '=')
	for _, c := range cells {
		where, what := "the whole cooperative", "all cover types"
		if c.Area != nil {
			where = *c.Area
		}
		if c.Substrate != nil {
			what = *c.Substrate
		}
		if c.Predator != "" {
			what = c.Predator
		}
		if c.Clumps != nil {
			what += fmt.Sprintf(" at %.0f clumps an acre", *c.Clumps)
		}
		fmt.Fprintf(b, "  %d %s, %s, %s: %s\n", c.Season, strings.ReplaceAll(c.Measure, "_", " "), where, what, published(c))
	}
}

func published(c bulletin.Cell) string {
	if !c.Published {
		return "withheld: " + c.HeldBecause
	}
	value := func(x *float64) string {
		switch {
		case x == nil:
			return "or more"
		case slices.Contains(bulletin.FitMeasures, c.Measure):
			return map[bool]string{true: "fits, as far as the checks show", false: "does not fit"}[*x > 0]
		case c.Measure == bulletin.ClumpsPerAcre:
			return fmt.Sprintf("%.0f", *x)
		case c.Measure == bulletin.DesignEffect || c.Measure == bulletin.OwnerSpread || c.Measure == bulletin.MixWeight:
			return fmt.Sprintf("%.2f", *x)
		}
		return of100(x)
	}
	text := "a range only"
	if c.Estimate != nil {
		text = value(c.Estimate)
	}
	if c.Low != nil || c.High != nil {
		text += fmt.Sprintf(" (%s to %s)", value(c.Low), value(c.High))
	}
	return fmt.Sprintf("%s, %s landowners", text, c.Entities)
}

// of100 writes a fraction as people say it. A figure that is not quite all or none is not rounded to it.
func of100(x *float64) string {
	rounded := math.Round(100 * *x)
	switch {
	case rounded == 0 && *x > 0:
		return "fewer than 1"
	case rounded == 100 && *x < 1:
		return "more than 99"
	}
	return fmt.Sprintf("%.0f", rounded)
}

func between(r findings.Range) string { return of100(r.Low) + " to " + of100(r.High) }

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func lowered(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return strings.ToLower(string(r)) + s[n:]
}

func title(b *strings.Builder, text string, under rune) {
	fmt.Fprintf(b, "\n%s\n%s\n", text, strings.Repeat(string(under), utf8.RuneCountInString(text)))
}

// para writes a paragraph, broken at 96 columns.
func para(b *strings.Builder, indent, text string) {
	const width = 96
	column := 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case column == 0:
			b.WriteString(indent)
			column = len(indent)
		case column+1+n > width:
			b.WriteString("\n" + indent + "  ")
			column = len(indent) + 2
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += n
	}
	if column > 0 {
		b.WriteByte('\n')
	}
}
