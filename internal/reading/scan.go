package reading

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// An item is one thing that a longer text speaks of.
type item struct {
	is       itemKind
	from, to int
	list     []string // of lines or nests
	odd      bool     // of parity
	date     lexicon.Date
	visit    int // of a visit: its number, or lexicon.Last
	mark     lexicon.Mark
	sight    lexicon.Sight
	cover    lexicon.Cover
	measure  lexicon.Measure
	word     string
}

type itemKind uint8

const (
	anyWord itemKind = iota
	aLine
	someNests // "nests 1 thru 12", or numbers that stand alone
	aParity   // odd, even
	aDate     //
	aVisit    // first look, last check
	aSetting  // put out, set, puse
	aState    // gone, all there
	aCover    //
	theRest   // the others, all the rest, everything else
	aBut      // but, except, menos
	aMeasure  // 300 steps, 6 ft
	aStop     // . ; or a line break
	aComma    //
	anAnd     //
	aPasture  // the word pasture, or potrero
	nestCount // "12 nests"
	anAnimal
	aNumber  // a number that is a count of clumps, as it turned out
	aBracket // ( or )
)

var (
	linePattern  = regexp.MustCompile(`(?i)\b(?:lines?|transects?|l[ií]n[ei]as?|transectos?|ln|trans)\b\.?\s*(?:no\.?|#|n[uú]m\.?)?\s*:?\s*([A-Za-z]?\d{1,3}\b|[A-Z]\b|[a-h]\b)((?:\s*(?:,|and|y|&|thru|through|to|al?|-|–)\s*(?:(?:lines?|l[ií]neas?)\s+)?(?:[A-Za-z]?\d{1,3}\b|[A-Z]\b))*)`)
	nestsPattern = regexp.MustCompile(`(?i)\b(?:nests?|nidos?|stops?|numbers?|nos?\.|#)\s*#?\s*(\d{1,3})((?:\s*(?:,|and|y|&|thru|through|to|al?|-|–)\s*\d{1,3})*)`)
	listPattern  = regexp.MustCompile(`(?i)\b(\d{1,3})((?:\s*(?:,\s*(?:and|y|&)?|and|y|&|thru|through|to|al?|-|–)\s*(?:el\s+)?\d{1,3}\b)*)`)
	countPattern = regexp.MustCompile(`(?i)\b(\d{1,3})\s+(?:nests|nidos|stops|flags)\b`)
	visitPattern = regexp.MustCompile(`(?i)\b(first|1st|second|2nd|third|3rd|last|final|primera?|segunda?|tercera?|[uú]ltima?|1a|2a|3a|1ra|2da|3ra)\s+(?:look|check|chk|ck|visit|trip|time|round|revisi[oó]n|rev|vuelta|visita|vez|ronda)\b|\b(?:look|check|chk|ck|visit|trip|revisi[oó]n|vuelta|visita)\.?\s*#?\s*([1-4])\b|\b(?:(1st|2nd|3rd|1a|2a|3a)\s*:)`)
	restPattern  = regexp.MustCompile(`(?i)\b(?:all (?:of )?the (?:rest|others?|other nests)|all others?|all rest|(?:the )?rest(?: of (?:them|'em))?|(?:the )?others?|every(?:thing| one|one)?(?: else| other)?(?: (?:that|which) was (?:still )?left)?|everybody else|anything not named|lo dem[aá]s|los dem[aá]s|los que quedaban|los otros|el resto|todos los dem[aá]s|todos|todas|all)\b`)
	butPattern   = regexp.MustCompile(`(?i)\b(?:but|except(?: for)?|other than|save|menos|excepto|salvo|pero)\b`)
	parity       = regexp.MustCompile(`(?i)\b(odds?|evens?|nones|impares|non|pares|par)\b(?:[- ]*(?:numbers?|numbered|ones?|nests?|nidos|stops?|los))*`)
	setPattern   = regexp.MustCompile(`(?i)\b(?:put (?:them |it |(?:all|both) (?:of them |of it |three |the nests |the eggs )?|(?:a |the |my |our )?(?:nests?|eggs?) )?out|set (?:them |it )?out|(?:eggs?|nests?) (?:were |was |went |all )?out|was set|were set|set|placed|deployed|laid out|puso|puse|pusimos|pusieron|puest[oa]s?|se puso|se pusieron|colocad[oa]s?|sal(?:í|ió) puesta)\b`)
	pasturePat   = regexp.MustCompile(`(?i)\b(?:pasture|potrero|paddock|allotment|pastures|potreros)\b`)
	measurePat   = regexp.MustCompile(`(?i)\b\d+(?:[.,/]\d+)?(?:\s*(?:1/2|½|1/4|¼))?[\s-]*(?:of (?:my|his|her|our) )?(?:steps?|paces?|pasos?|ft|feet|foot|pies?|yds?|yards?|yardas?|m|mts?|meters?|metros?|chains?|ch|acres?|ac|ha|miles?|mi|inch(?:es)?|in)\b\.?|\b\d+(?:\.\d+)?\s*'`)
)

// listParts are what a list is made of.
var listParts = regexp.MustCompile(`(?i)thru|through|\bto\b|\bal?\b|-|–|[A-Za-z]?\d+|\b[A-Z]\b`)

var visitNumbers = map[string]int{
	"first": 1, "1st": 1, "primer": 1, "primera": 1, "1a": 1, "1ra": 1, "second": 2, "2nd": 2, "segund": 2, "segunda": 2, "segundo": 2, "2a": 2, "2da": 2, "third": 3, "3rd": 3, "tercera": 3, "tercer": 3, "3a": 3, "3ra": 3,
	"last": lexicon.Last, "final": lexicon.Last, "última": lexicon.Last, "ultima": lexicon.Last, "último": lexicon.Last, "ultimo": lexicon.Last,
}

// scan finds what a longer text speaks of, in order.
func (r *reader) scan(text string) []item {
	var out []item
	used := make([]bool, len(text)+1)
	free := func(from, to int) bool { return !slices.Contains(used[from:to], true) }
	take := func(it item) {
		for i := it.from; i < it.to; i++ {
			used[i] = true
		}
		out = append(out, it)
	}
	for _, d := range lexicon.FindDates(text) {
		take(item{is: aDate, from: d.From, to: d.To, date: d.Date})
	}
	for _, m := range visitPattern.FindAllStringSubmatchIndex(text, -1) {
		if !free(m[0], m[1]) {
			continue
		}
		it := item{is: aVisit, from: m[0], to: m[1]}
		for g := 1; g <= 3; g++ {
			if m[2*g] >= 0 {
				w := strings.ToLower(text[m[2*g]:m[2*g+1]])
				if n, ok := visitNumbers[w]; ok {
					it.visit = n
				} else if n, err := strconv.Atoi(w); err == nil {
					it.visit = n
				}
			}
		}
		take(it)
	}
	lists := func(p *regexp.Regexp, is itemKind) {
		for _, m := range p.FindAllStringSubmatchIndex(text, -1) {
			if free(m[0], m[1]) {
				it := item{is: is, from: m[0], to: m[1], list: listed(text[m[2]:m[3]], text[m[4]:m[5]])}
				if m[2] > m[0] {
					it.word = "named"
				}
				take(it)
			}
		}
	}
	lists(linePattern, aLine)
	for _, m := range countPattern.FindAllStringSubmatchIndex(text, -1) {
		if free(m[0], m[1]) {
			take(item{is: nestCount, from: m[0], to: m[1], word: text[m[2]:m[3]]})
		}
	}
	lists(nestsPattern, someNests)
	simple := func(p *regexp.Regexp, is itemKind) {
		for _, m := range p.FindAllStringIndex(text, -1) {
			if free(m[0], m[1]) {
				it := item{is: is, from: m[0], to: m[1], word: strings.ToLower(text[m[0]:m[1]])}
				it.odd = is == aParity && (it.word[0] == 'o' || it.word[0] == 'n' || it.word[0] == 'i')
				take(it)
			}
		}
	}
	for _, m := range measurePat.FindAllStringIndex(text, -1) {
		if strings.EqualFold(text[max(m[0], m[1]-2):m[1]], "in") && !lexicon.IsInch(text[m[1]:]) { // "27 in 300 steps"
			continue
		}
		if free(m[0], m[1]) {
			if v, ok := r.lex.Measure(text[m[0]:m[1]], "", false); ok && (v.Feet > 0 || v.Steps > 0 || v.Acres > 0) {
				take(item{is: aMeasure, from: m[0], to: m[1], measure: v})
			}
		}
	}
	simple(parity, aParity)
	r.scanWords(text, free, take)
	simple(setPattern, aSetting)
	simple(restPattern, theRest)
	simple(butPattern, aBut)
	simple(pasturePat, aPasture)
	lists(listPattern, someNests)
	for i := 0; i < len(text); i++ {
		if used[i] {
			continue
		}
		switch text[i] {
		case '.', ';', '\n':
			take(item{is: aStop, from: i, to: i + 1})
		case ',':
			take(item{is: aComma, from: i, to: i + 1})
		case '(', ')':
			take(item{is: aBracket, from: i, to: i + 1, word: text[i : i+1]})
		}
	}
	slices.SortStableFunc(out, func(a, b item) int { return a.from - b.from })
	return out
}

// scanWords finds the states, covers and animals of a text.
func (r *reader) scanWords(text string, free func(from, to int) bool, take func(item)) {
	tokens := lexicon.Scan(text)
	words := make([]string, len(tokens))
	for i, t := range tokens {
		words[i] = t.Word
	}
	for i := 0; i < len(tokens); i++ {
		if !free(tokens[i].From, tokens[i].To) {
			continue
		}
		if mark, n := r.lex.PhraseAt(words, i); n > 0 && saysState(mark, words[i:i+n]) && free(tokens[i].From, tokens[i+n-1].To) && !crossesStop(words[i:i+n]) {
			take(item{is: aState, from: tokens[i].From, to: tokens[i+n-1].To, mark: mark, word: strings.Join(words[i:i+n], " ")})
			i += n - 1
			continue
		}
		if c, n := r.lex.CoverAt(words, i); n > 0 && free(tokens[i].From, tokens[i+n-1].To) && c.How != lexicon.Misspelt {
			take(item{is: aCover, from: tokens[i].From, to: tokens[i+n-1].To, cover: c})
			i += n - 1
			continue
		}
		if a, n := r.lex.AnimalAt(words, i); n > 0 && len(a) > 3 && free(tokens[i].From, tokens[i+n-1].To) {
			take(item{is: anAnimal, from: tokens[i].From, to: tokens[i+n-1].To, word: a})
			i += n - 1
		}
	}
}

func crossesStop(words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return w == "." || w == ";" || w == "," || w == "(" || w == ")" })
}

// saysState leaves out phrases that are states in a cell of their own, and anything in a sentence.
func saysState(m lexicon.Mark, words []string) bool {
	if m == lexicon.SetOut || m == lexicon.Yes || m == lexicon.No || m == lexicon.Unknown {
		return false
	}
	if len(words) > 1 {
		return true
	}
	switch words[0] {
	case "eggs", "egg", "huevos", "i", "x", "right", "here", "well", "over", "out", "all", "todo", "todos", "done", "made", "sun", "wind", "rain", "river", "start", "stock", "people", "person", "res", "tractor", "heat", "full", "live", "shell", "shells", "agua", "calor", "new", "na", "nc", "et", "got", "bad", "creek", "arroyo", "dead", "animal", "ahi", "ai", "weather", "closed", "finished", "mower", "fire", "horse", "horses", "pulled", "bull", "bulls", "ok":
		return words[0] == "ok" || words[0] == "bad" || words[0] == "dead"
	}
	return len([]rune(words[0])) > 1 || words[0] == "√"
}

// listed reads "1", ", 3 and 6" as 1, 3, 6 and "1", " thru 12" as 1 to 12.
func listed(first, rest string) []string {
	out := []string{strings.ToUpper(first)}
	through := false
	for _, m := range listParts.FindAllString(rest, -1) {
		switch low := strings.ToLower(m); {
		case low == "thru" || low == "through" || low == "to" || low == "al" || low == "-" || low == "–" || low == "a" && !strings.Contains(rest, ","):
			through = true
		default:
			if through {
				a, err1 := strconv.Atoi(out[len(out)-1])
				b, err2 := strconv.Atoi(m)
				if err1 == nil && err2 == nil && b > a && b-a < 200 {
					for n := a + 1; n <= b; n++ {
						out = append(out, strconv.Itoa(n))
					}
					through = false
					continue
				}
				through = false
			}
			out = append(out, strings.ToUpper(m))
		}
	}
	return out
}

// A coverRule tells the cover of nests by their number.
type coverRule struct {
	odd, even, all survey.Substrate
	at             *cell
}

func (c *coverRule) of(nest string) survey.Substrate {
	if c == nil {
		return ""
	}
	if c.all != "" {
		return c.all
	}
	i := len(nest)
	for i > 0 && lexicon.Digit(nest[i-1]) {
		i--
	}
	n, err := strconv.Atoi(nest[i:])
	if err != nil {
		return ""
	}
	if n%2 == 1 {
		return c.odd
	}
	return c.even
}

// coverRuleIn finds "odd nests in bunchgrass, even nests in yucca", "puro zacate", "all in bunch grass".
func (r *reader) coverRuleIn(items []item) *coverRule {
	rule := &coverRule{}
	for i, it := range items {
		if it.is != aParity {
			continue
		}
		for _, next := range items[i+1:] {
			if next.is == aParity || next.is == aStop && next.to-next.from > 0 && false {
				break
			}
			if next.is == aCover {
				if it.odd && rule.odd == "" {
					rule.odd = next.cover.Substrate
				} else if !it.odd && rule.even == "" {
					rule.even = next.cover.Substrate
				}
				break
			}
		}
	}
	if rule.odd == "" && rule.even == "" {
		return nil
	}
	return rule
}
