package reading

import (
	"regexp"
	"strings"

	"tussock/internal/lexicon"
)

// Notes above and below a table of belts say how wide they are and how long a step is.

var (
	// "Belts (6 ft)", "strips, 2 m": a title with one measure and nothing else, which is the width.
	beltTitle = regexp.MustCompile(`(?i)^\W*(?:clump\s+)?(?:belts?|strips?|franjas?|fajas?|clumps?|matas|macollos|cover walks?)[\s(,:;–—-]+(?:(?:all|each|todas|cada una)\s+)?(\d+(?:[.,]\d+)?)[\s-]*(ft|feet|foot|pies|m|meters|metros|yards|yds?)\.?\W*$`)

	spelled       = regexp.MustCompile(`(?i)\b(two|three|four|five|six|seven|eight|nine|ten|twelve|dos|tres|cuatro|cinco|seis|siete|ocho|nueve|diez|doce)([\s-]+)(ft|feet|foot|pies|metros|meters|yards|yd|steps|paces|pasos)\b`)
	spelledNumber = map[string]string{"two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9", "ten": "10", "twelve": "12",
		"dos": "2", "tres": "3", "cuatro": "4", "cinco": "5", "seis": "6", "siete": "7", "ocho": "8", "nueve": "9", "diez": "10", "doce": "12"}
)

// inFigures writes the numbers before units in figures: "six feet wide" as "6 feet wide".
func inFigures(text string) string {
	return spelled.ReplaceAllStringFunc(text, func(s string) string {
		m := spelled.FindStringSubmatch(s)
		return spelledNumber[strings.ToLower(m[1])] + m[2] + m[3]
	})
}

// titleWidth is the width in feet that a title of belts names, 0 for none.
func (r *reader) titleWidth(text string) float64 {
	m := beltTitle.FindStringSubmatch(text)
	if m == nil {
		return 0
	}
	w, ok := r.lex.Measure(m[1], strings.ToLower(m[2]), true)
	if !ok || w.Feet < 1.5 || w.Feet > 60 {
		return 0
	}
	return w.Feet
}

// How long the step of one person is: "Ida's step is 2.4 ft, Ben's 2.7 ft", "paso de Ida = 2.4 pies".
var (
	stepOf  = regexp.MustCompile(`(?:[Pp]asos?|[Ss]teps?|[Pp]aces?)\s+(?:de|of)\s+(\p{Lu}[\pL.]*)\s*(?:=|:|is|es|son|mide|de)\s*(\d+(?:[.,]\d+)?)\s*(ft|feet|foot|pies|in\b|inches|cm|m\b|pulgadas)`)
	ofSteps = regexp.MustCompile(`(\p{Lu}[\pL.]*?)['’]s\s*(?:(?:steps?|paces?)\s*)?(?:=|:|is|are|\(|,)?\s*(\d+(?:[.,]\d+)?)\s*(ft|feet|foot|in\b|inches|cm|m\b)`)
)

// stepsByName returns the length of the step of each person whom a text names, in feet, by folded name.
func (r *reader) stepsByName(text string) map[string]float64 {
	if !stepWords.MatchString(text) {
		return nil
	}
	out := map[string]float64{}
	for _, p := range []*regexp.Regexp{stepOf, ofSteps} {
		for _, m := range p.FindAllStringSubmatch(text, -1) {
			if v, ok := r.lex.Measure(m[2], strings.ToLower(m[3]), true); ok && v.Feet >= 1 && v.Feet <= 4 {
				out[lexicon.Fold(m[1])] = v.Feet
			}
		}
	}
	return out
}

var sentenceEnd = regexp.MustCompile(`[.;]\s+\p{Lu}`)

// sameSentence is what stands between two places of a text, up to where a sentence begins.
func sameSentence(text string, from, to int) string {
	start := max(0, from-1) // a full stop may be part of the unit: "2.7 ft. Width ..."
	if loc := sentenceEnd.FindStringIndex(text[start:to]); loc != nil {
		return text[from:max(from, start+loc[0])]
	}
	return text[from:to]
}
