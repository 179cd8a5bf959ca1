package lexicon

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// A term is a word, a phrase, a number or a mark of a cell, with what it does there.
type term struct {
	text   string // as compared: lower case, without accents
	word   int32  // in stateLexicon.words; -1 for one that is not there
	sense  sense
	n      int  // of an amount
	of     int  // of an amount: 2 of 3
	mark   byte // of a stop
	glued  bool // no space stands before it
	slip   bool // a word with a slip of the hand
	inside bool // may stand inside a phrase without changing it
	day    bool // a date
}

// mostTerms is how long a cell may be that is read as a sentence; longer ones are stories.
const mostTerms = 80

// terms cuts a cell into terms. It returns nil where the cell is too long.
func (s *stateLexicon) terms(raw string, buf []term) []term {
	t, ok := pieces(simplified(raw), buf)
	if !ok {
		return nil
	}
	for i := range t {
		if t[i].sense != stop && t[i].sense != amount {
			s.look(&t[i])
		}
	}
	t = counted(t)
	return s.joined(t)
}

// simplified brings a text to lower case without accents, with the marks that mean something on sheets in one form each.
// Apostrophes within and before words fall away.
func simplified(raw string) string {
	plainASCII := true
	for i := 0; i < len(raw) && plainASCII; i++ {
		c := raw[i]
		plainASCII = c < 0x80 && (c < 'A' || c > 'Z') && c != '\'' && c != '`'
	}
	if plainASCII {
		return smiles(raw)
	}
	var b strings.Builder
	b.Grow(len(raw) + 8)
	letter := false // before this one
	for i, c := range raw {
		c = plain(unicode.ToLower(c))
		switch c {
		case '\'', '’', '´', '`', '‘':
			if letter || startsWord(raw[i:]) {
				continue
			}
			c = '\''
		case '–', '—', '−', '‐', '‑':
			c = '-'
		case '→', '⇒':
			c = '>'
		case '✓', '✔', '☑', '✅', '√', '👍':
			b.WriteString(" √ ")
			continue
		case '✗', '✘', '☒', '❌', '✖', '×':
			b.WriteString(" ✗ ")
			continue
		case '☺', '😀', '🙂', '😊':
			b.WriteString(" ☺ ")
			continue
		case '\ufe0f', '\u00ad':
			continue
		}
		letter = unicode.IsLetter(c)
		b.WriteRune(c)
	}
	return smiles(b.String())
}

// smiles turns smiling faces of letters into one mark.
func smiles(s string) string {
	if !strings.ContainsAny(s, ":") {
		return s
	}
	return faces.Replace(s)
}

var faces = strings.NewReplacer(":-)", " ☺ ", ":)", " ☺ ", ":-d", " ☺ ")

// startsWord tells whether an apostrophe at the head of a text leads a word: 'em.
func startsWord(s string) bool {
	_, n := utf8.DecodeRuneInString(s)
	c, _ := utf8.DecodeRuneInString(s[n:])
	return unicode.IsLetter(c)
}

// tooMany stands for a number of more digits than eggs ever have.
const tooMany = 1_000_000

// pieces cuts a simplified text into words, numbers and marks; ok is false where there are too many.
func pieces(s string, buf []term) (out []term, ok bool) {
	out = buf[:0]
	gap := true
	for i := 0; i < len(s); {
		c := s[i]
		if c == ' ' || c == '\t' || c == '_' || c == '*' || c == '"' || c == '!' || c == '|' {
			if c == '!' && len(out) > 0 && out[len(out)-1].sense != stop {
				out = append(out, term{text: ".", sense: stop, mark: '.', word: -1})
			}
			gap = true
			i++
			continue
		}
		if len(out) == mostTerms {
			return nil, false
		}
		kind, end := pieceAt(s, i)
		t := term{text: s[i:end], word: -1, glued: !gap && len(out) > 0}
		switch kind {
		case 'd':
			t.sense = amount
			n, ok := Atoi(t.text)
			if t.n = n; !ok {
				t.n = tooMany
			}
		case 'm':
			t.sense, t.mark = stop, c
		}
		if kind != 0 {
			out = append(out, t)
		}
		gap = kind == 0
		i = end
	}
	return out, true
}

// pieceAt tells what begins at i and where it ends: l letters, d digits, m a mark, 0 what says nothing.
func pieceAt(s string, i int) (kind byte, end int) {
	c := s[i]
	switch {
	case Digit(c):
		for end = i; end < len(s) && Digit(s[end]); end++ {
		}
		return 'd', end
	case c >= 'a' && c <= 'z' || c >= 0x80:
		for end = i; end < len(s); {
			if s[end] >= 'a' && s[end] <= 'z' {
				end++
				continue
			}
			if s[end] < 0x80 {
				break
			}
			r, n := utf8.DecodeRuneInString(s[end:])
			if !unicode.IsLetter(r) {
				if end > i {
					break
				}
				if r == '√' || r == '✗' || r == '☺' {
					return 'l', end + n
				}
				return 0, end + n
			}
			end += n
		}
		return 'l', end
	case strings.IndexByte(",.;:()[]-/+=>?%#&\n\r'", c) >= 0:
		return 'm', i + 1
	}
	return 0, i + 1
}

// look finds a word, or the word it is a slip of.
func (s *stateLexicon) look(t *term) {
	w, ok := s.words[t.text]
	if !ok {
		slip := s.slipOf(t.text)
		if slip == "" {
			if len(t.text) <= 2 || len(t.text) == 3 && !strings.ContainsAny(t.text, "aeiouy") { // initials
				t.sense = filler
			}
			return
		}
		w = s.words[slip]
		t.text, t.slip = slip, true
	}
	t.word, t.sense = w.id, w.sense
	t.inside = w.sense == little || insideWords[t.text]
	if n, ok := numberWords[t.text]; ok && w.sense == amount {
		t.n = n
	}
}

// insideWords may stand inside a phrase without changing it: cleaned plum out.
var insideWords = set("plum plumb completely totally clean right just real really all very pretty still em her him too also even ever already")

// slipOf returns the one word that a misspelled one stands for; "" where there is none, or where two do different things.
func (s *stateLexicon) slipOf(w string) string {
	found := ""
	s.slips.each(w, func(word string) bool {
		if found != "" && s.words[word].sense != s.words[found].sense {
			found = ""
			return false
		}
		if found == "" || len(word) < len(found) {
			found = word
		}
		return true
	})
	return found
}

// joined puts the words of phrases together.
func (s *stateLexicon) joined(t []term) []term {
	out := t[:0]
	for i := 0; i < len(t); {
		sense, end := s.phraseAt(t, i)
		if end == 0 {
			out = append(out, t[i])
			i++
			continue
		}
		joined := t[i]
		joined.sense, joined.word, joined.inside = sense, -1, false
		if sense == predator {
			joined.text = textOf(t[i:end])
		}
		out = append(out, joined)
		i = end
	}
	return out
}

func textOf(t []term) string {
	words := make([]string, 0, len(t))
	for i := range t {
		if t[i].sense != stop {
			words = append(words, t[i].text)
		}
	}
	return strings.Join(words, " ")
}

// phraseAt returns the sense of the longest phrase of two words or more that begins at i, and where it ends; 0 for none.
func (s *stateLexicon) phraseAt(t []term, i int) (found sense, end int) {
	if t[i].word < 0 {
		return strange, 0
	}
	node := uint32(0)
	next, ok := s.turns[turnKey(node, t[i].word)]
	if !ok {
		return strange, 0
	}
	node = next.node
	for k := i + 1; k < len(t) && k < i+14; k++ {
		if t[k].word >= 0 {
			if next, ok := s.turns[turnKey(node, t[k].word)]; ok {
				node = next.node
				if next.ends {
					found, end = next.sense, k+1
				}
				continue
			}
		}
		if t[k].inside || t[k].sense == stop && t[k].mark == '-' && t[k].glued {
			continue
		}
		break
	}
	return found, end
}
