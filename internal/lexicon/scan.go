package lexicon

import (
	"strings"
	"unicode"
)

// A Token is a word of a longer text with its place in it. Words that change nothing are left out of runs of tokens.
type Token struct {
	Word     string // as Tokens brings it
	From, To int    // bytes in the text
}

// Scan cuts a longer text into tokens with their places, without the words that change nothing; sentence marks stay.
func Scan(text string) []Token {
	var out []Token
	at := 0
	for _, w := range tokensKept(text) {
		from := at + strings.Index(text[at:], w.raw)
		to := from + len(w.raw)
		at = to
		if littleSet[w.low] || droppedInProse[w.low] {
			continue
		}
		out = append(out, Token{w.low, from, to})
	}
	return out
}

type keptToken struct{ low, raw string }

// tokensKept is Tokens with the spelling of each token.
func tokensKept(s string) []keptToken {
	var out []keptToken
	from, kind := -1, 0
	flush := func(to int) {
		if from >= 0 {
			raw := s[from:to]
			low := strings.Join(Tokens(raw), "")
			if low != "" {
				out = append(out, keptToken{low, raw})
			}
		}
		from, kind = -1, 0
	}
	for i, c := range s {
		k := 3
		switch {
		case unicode.IsLetter(c) || (c == '\'' || c == '’') && kind == 1:
			k = 1
		case unicode.IsDigit(c) || (c == '.' || c == ',') && kind == 2 && i+1 < len(s) && Digit(s[i+1]):
			k = 2
		case unicode.IsSpace(c) && c != '\n' && c != '\r':
			k = 0
		}
		if k == 0 {
			flush(i)
			continue
		}
		if k != kind || k == 3 {
			flush(i)
			from, kind = i, k
		}
	}
	flush(len(s))
	return out
}

// PhraseAt returns the mark of the phrase that begins at token i, and how many tokens it takes: the longest usual one, or
// the shortest that says by itself what became of a nest.
func (l *Lexicon) PhraseAt(words []string, i int) (Mark, int) {
	if m, n := partOf(words, i); n > 0 {
		return m, n
	}
	sn, atLeast := l.states.longest(words, i)
	m := sn.inProse(words[i])
	if sn == ended && words[i] == "ya" { // in a story it was done, not done before
		m = l.states.senseOf(words[i+atLeast-1]).mark()
	}
	if m != Unknown {
		return m, atLeast
	}
	if !l.states.opens(words[i:]) {
		return Unknown, 0
	}
	for n, most := 2, l.states.run(words[i:]); n <= most; n++ {
		if !l.states.closes(words[i:i+n]) || !l.states.tells(words[i:i+n]) {
			continue
		}
		if s := l.Sight(strings.Join(words[i:i+n], " ")); s.Mark >= Skipped && s.Mark <= NotFound && !s.Doubt && !(s.Mark == Skipped && s.Already) {
			return s.Mark, n
		}
	}
	return Unknown, 0
}

// opens tells whether the first of some words waits for what is said of it: not touched, eggs gone, only shells, all eaten.
func (s *stateLexicon) opens(words []string) bool {
	switch sn, _ := s.longest(words, 0); sn {
	case not, nobody, nothing, unable, egg, some, only, unnamed, still, broke:
		return true
	case all:
		next, _ := s.longest(words[min(1, len(words)-1):], 0)
		return len(words) > 1 && next >= gone && next <= over
	}
	return words[0] == "no"
}

// closes tells whether the last of some words says something there.
func (s *stateLexicon) closes(words []string) bool {
	last := len(words) - 1
	switch s.senseOf(words[last]) {
	case strange, filler, not, nobody, of, to, or:
	default:
		return true
	}
	for k := range last {
		if _, n := s.longest(words, k); n == len(words)-k {
			return true
		}
	}
	return false
}

// tells reports whether one of some words says what became of a nest.
func (s *stateLexicon) tells(words []string) bool {
	for k := range words {
		sn, _ := s.longest(words, k)
		if sn >= good && sn <= absent && sn != holds && sn != fair || sn >= find && sn <= ended || sn == shell {
			return true
		}
	}
	return false
}

// longestRun is how many words of a sentence are read together.
const longestRun = 6

// run returns how many words at the head of a sentence may belong to one phrase: known words, without numbers and marks.
func (s *stateLexicon) run(words []string) int {
	if sn := s.senseOf(words[0]); sn == strange || sn == filler || sn == of || sn == to {
		if _, n := s.longest(words, 0); n < 2 {
			return 0
		}
	}
	for n := range min(longestRun, len(words)) {
		w, known := s.words[words[n]]
		if !known || w.sense == amount && !(words[n] == "one" && n > 0 && words[n-1] == "no") || w.sense == but || w.sense == now || w.sense == rest {
			return n
		}
	}
	return min(longestRun, len(words))
}

func (s *stateLexicon) senseOf(word string) sense { return s.words[word].sense }

// inProse is what a word or phrase stands for among sentences, where more words must stay open than in a cell.
func (s sense) inProse(word string) Mark {
	switch s {
	case here:
		if !oneOf(word, "there", "here", "present", "still", "ahi", "ai", "sigue", "siguen") {
			return Unknown
		}
	case fair:
		if vagueInProse[word] {
			return Unknown
		}
	case spent:
		return Taken
	case water:
		return Flooded
	}
	return s.mark()
}

// vagueInProse are words for all right that are said of anything.
var vagueInProse = set("same right normal active stable sound great nice awesome fantastic excellent perfect success lleno llenos tranquilo")

// partOf reads "2 of 3", "2/3" and "had 2 out of 3 eggs left": in a sentence a number alone is more likely a nest's.
func partOf(words []string, i int) (Mark, int) {
	at := i
	for at < len(words) && oneOf(words[at], "had", "only", "just", "still", "hay", "quedan", "quedaban", "solo", "nomas") {
		at++
	}
	n, ok := smallNumber(words, at)
	if !ok {
		return Unknown, 0
	}
	at++
	if at == len(words) || !oneOf(words[at], "/", "of", "de", "out") {
		return Unknown, 0
	}
	if at++; at < len(words) && oneOf(words[at], "of", "de") {
		at++
	}
	total, ok := smallNumber(words, at)
	if !ok || n > total || total < 2 || total > 6 {
		return Unknown, 0
	}
	at++
	if at < len(words) && oneOf(words[at], "egg", "eggs", "huevo", "huevos") {
		at++
	}
	if at < len(words) && oneOf(words[at], "left", "there", "remaining", "here") {
		at++
	} else if at < len(words) && oneOf(words[at], "gone", "missing", "taken", "eaten", "broken") {
		n = total - n
		at++
	}
	if n == total {
		return Intact, at - i
	}
	return Taken, at - i
}

// smallNumber reads a number in figures or in words.
func smallNumber(words []string, i int) (int, bool) {
	if i >= len(words) {
		return 0, false
	}
	if n, ok := Atoi(words[i]); ok {
		return n, true
	}
	n, ok := numberWords[words[i]]
	return n, ok
}

// CoverAt returns the cover that begins at token i, and how many tokens it takes.
func (l *Lexicon) CoverAt(words []string, i int) (Cover, int) {
	s, plant, n, how := l.coverAt(words, i)
	return Cover{Substrate: s, Plant: plant, How: how}, n
}
