package reading

import (
	"regexp"
	"strings"

	"tussock/internal/lexicon"
)

var (
	stepHead   = regexp.MustCompile(`(?i)^(?:length of (?:a|the|one|my) )?(ft|feet|foot|in|inches|pies|pulgadas|m|cm|meters|metros)?\.?\s*(?:in|per|por|to|of|for|en|/|each|cada)?\s*(?:a|an|the|my|one|un|cada|el|de|del)?\s*(?:steps?|paces?|pasos?)\s*[(,]?\s*(ft|feet|in|inches|pies|pulgadas|m|cm)?\.?\)?$`)
	lengthHead = regexp.MustCompile(`(?i)^(?:(?:how (?:far|many)|strip|belt|walk|faja|franja|recorrido|distance|distancia)[\s,:]*\(?)?(ft|feet|pies|m|mts|meters|metros|yds?|yards|yardas|chains|cadenas|paces|steps|pasos)\.?\)?\s*(?:walked|long|down|in all|counted|caminad[oa]s|recorrid[oa]s|de largo|we walked|of (?:strip|belt))?$`)
	unitInHead = regexp.MustCompile(`(?i)\b(ft|feet|in|inches|pies|m|meters|metros|yd|yards)\b`)
)

// runOnHeads joins the heading of a column in which nothing stands with the one at its right where only both together name a
// column: "feet per | step", as columns cut by spaces leave them.
func (r *reader) runOnHeads(b *block) {
	if len(b.heads) != 1 {
		return
	}
	for i := 0; i+1 < len(b.cols); i++ {
		c, next := &b.cols[i], &b.cols[i+1]
		if c.n != 0 || next.n == 0 || c.head.Text == "" || next.head.Text == "" {
			continue
		}
		joined := r.kindOf(c.head.Text + " " + next.head.Text).head
		known := joined.Role != lexicon.NoRole && joined.Sure >= max(c.head.Sure, next.head.Sure) && (joined.Role != next.head.Role || next.head.Role == lexicon.NoRole)
		if known || next.head.Role == lexicon.NoRole && c.head.Role == joined.Role && joined.Role != lexicon.NoRole {
			next.head = joined
			c.head = lexicon.Heading{Feature: -1}
		}
	}
}

// sizeHeads gives the columns of sizes of a table of belts their roles where the heading is a unit or a tool: "feet" is how
// far somebody walked, "ft in a step" how long a step is, "stick (ft)" how wide the belt is.
func (r *reader) sizeHeads(b *block) {
	if !b.has(lexicon.Count) && !b.has(lexicon.Clumps) || b.has(lexicon.Nest) || b.has(lexicon.SetOn) {
		return
	}
	if first := &b.cols[0]; b.g.turn && first.head.Text == "" && first.role == lexicon.NoRole && !b.has(lexicon.Line) && first.n > 0 && len(first.distinct) == first.n {
		first.role = lexicon.Line // across a blank corner
	}
	for i := range b.cols {
		c := &b.cols[i]
		if c.head.Role == lexicon.Passed && lexicon.Fold(c.head.Text) == "long" && hasDigits(c.first) && !b.has(lexicon.Length) { // no longitude
			c.role = lexicon.Length
		}
		if c.role != lexicon.NoRole && c.role != lexicon.Belt || c.n == 0 || c.share(c.num) < 0.8 || len(c.head.Text) > 40 {
			continue
		}
		low := strings.ToLower(c.head.Text)
		unit := func(m []string, or string) string {
			for _, u := range m[1:] {
				if u != "" {
					return strings.ToLower(u)
				}
			}
			return or
		}
		switch m, l := stepHead.FindStringSubmatch(low), lengthHead.FindStringSubmatch(low); {
		case m != nil && c.maxNum < 45 && !b.has(lexicon.StepLength):
			c.role, c.head.Unit = lexicon.StepLength, unit(m, "")
		case beltTool.MatchString(low) && c.minNum >= 1 && c.maxNum <= 60 && !b.has(lexicon.Width):
			c.role, c.head.Unit = lexicon.Width, unit(append([]string{""}, unitInHead.FindString(low)), "ft")
		case l != nil && c.minNum*feetIn(l[1]) > 20 && !b.has(lexicon.Length) && !b.has(lexicon.Steps):
			c.role, c.head.Unit = lexicon.Length, strings.ToLower(l[1])
			if lexicon.IsStep(c.head.Unit) {
				c.head.Unit = "steps"
			}
		}
	}
}

// feetIn is how many feet a unit is; 1 for steps and units nobody knows.
func feetIn(unit string) float64 {
	if per, ok := lexicon.FeetPer(strings.ToLower(unit)); ok {
		return per
	}
	return 1
}
