package reading

import (
	"regexp"
	"strings"

	"tussock/internal/lexicon"
)

var explainedAs = regexp.MustCompile(`^[^(),;]{3,40}?\s*(?:\(([^()]{3,30})\)|,\s+(?:an?|una?|the|some)\s+([^(),;]{3,30}))$`)

// coverExplained reads a plant nobody knows that is explained beside its name: "Symphoricarpos (a shrub)", "Ribes, a low
// shrub".
func (r *reader) coverExplained(text string) (lexicon.Cover, bool) {
	m := explainedAs.FindStringSubmatch(text)
	if m == nil {
		return lexicon.Cover{}, false
	}
	said := strings.TrimSpace(m[1] + m[2])
	for {
		if c, ok := r.lex.Cover(said); ok && !c.Weak {
			c.Plant, c.How = true, lexicon.Phrase
			return c, true
		}
		first, rest, more := strings.Cut(said, " ")
		switch lexicon.Fold(first) {
		case "a", "an", "the", "low", "small", "tall", "big", "native", "kind", "of", "un", "una", "chico", "type", "sort", "little", "woody":
		default:
			return lexicon.Cover{}, false
		}
		if !more {
			return lexicon.Cover{}, false
		}
		said = rest
	}
}
