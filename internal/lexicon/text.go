// Package lexicon knows what the words, marks, dates and measures on season sheets mean, one cell at a time, in English
// and in the Spanish of the border ranches. It sees no table: what the cells around a cell say is for others to weigh.
//
// Every word list is common practice, with no source, unless a line says otherwise.
package lexicon

import (
	"strconv"
	"strings"
	"unicode"
)

// Tidy trims a cell and turns every run of white space into one space.
func Tidy(s string) string {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= 0x80 || c < ' ' || c == ' ' && (i == 0 || i == len(s)-1 || s[i+1] == ' ') {
			return strings.Join(strings.Fields(strings.ReplaceAll(s, "\u00ad", "")), " ") // without hyphens that nobody sees
		}
	}
	return s
}

// Fold brings a word to the form in which names are compared: lower case, without accents, spaces or marks.
func Fold(s string) string {
	plainASCII := true
	for i := 0; i < len(s); i++ {
		c := s[i]
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9') {
			plainASCII = false
			break
		}
	}
	if plainASCII {
		return s
	}
	var b strings.Builder
	for _, c := range s {
		c = plain(unicode.ToLower(c))
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			b.WriteRune(c)
		}
	}
	return b.String()
}

// plain takes the accent off a small letter of Spanish and its neighbors.
func plain(c rune) rune {
	if c < 0x80 {
		return c
	}
	switch c {
	case 'á', 'à', 'â', 'ä', 'ã', 'å':
		return 'a'
	case 'é', 'è', 'ê', 'ë':
		return 'e'
	case 'í', 'ì', 'î', 'ï':
		return 'i'
	case 'ó', 'ò', 'ô', 'ö', 'õ':
		return 'o'
	case 'ú', 'ù', 'û', 'ü':
		return 'u'
	case 'ñ':
		return 'n'
	case 'ç':
		return 'c'
	}
	return c
}

// Words brings a text to lower-case words without accents, with one space between; marks other than / ? + - and the like
// fall away. It is the form in which a sheet's own words are kept once their meaning is settled.
func Words(s string) string {
	var b strings.Builder
	space := false
	for _, c := range s {
		c = plain(unicode.ToLower(c))
		if unicode.IsSpace(c) || strings.ContainsRune("_-–,;!()\":.", c) {
			space = b.Len() > 0
			continue
		}
		if space {
			b.WriteByte(' ')
			space = false
		}
		b.WriteRune(c)
	}
	return b.String()
}

// Tokens cuts a text into lower-case words and numbers without accents. Letters and digits that touch are cut apart
// ("L2N5" is l 2 n 5); a mark that means something on sheets (/ + - = ? √ and its like) is a token of its own, and
// sentence marks (. , ; : and line breaks) are tokens too. An apostrophe inside a word falls away: don't is dont.
func Tokens(s string) []string {
	var out []string
	var b strings.Builder
	kind := 0 // of what is in b: 0 nothing, 1 letters, 2 digits
	flush := func() {
		if b.Len() > 0 {
			out = append(out, b.String())
			b.Reset()
		}
		kind = 0
	}
	runes := []rune(s)
	for i, c := range runes {
		c = plain(unicode.ToLower(c))
		switch {
		case unicode.IsLetter(c):
			if kind == 2 {
				flush()
			}
			kind = 1
			b.WriteRune(c)
		case unicode.IsDigit(c):
			if kind == 1 {
				flush()
			}
			kind = 2
			b.WriteRune(c)
		case (c == '.' || c == ',') && kind == 2 && i+1 < len(runes) && unicode.IsDigit(runes[i+1]) && (i+2 >= len(runes) || !unicode.IsSpace(runes[i+1])):
			b.WriteRune('.')
		case c == '\'' || c == '’' || c == '´' || c == '`':
			if kind != 1 { // a foot mark
				flush()
				out = append(out, "'")
			}
		case c == '\n' || c == '\r':
			flush()
			out = append(out, "\n")
		case strings.ContainsRune("½¼¾⅓⅔⅛", c):
			flush()
			out = append(out, string(c))
		case unicode.IsSpace(c) || c == '_' || c == '*' || c == '"' || c == '“' || c == '”' || c == '«' || c == '»' || c == '|' || c == '¡' || c == '!' || c == '¿':
			flush()
		default:
			flush()
			switch c {
			case '–', '—', '−':
				c = '-'
			case '✓', '✔', '☑', '✅':
				c = '√'
			case '✗', '✘', '☒', '❌':
				c = '✗'
			}
			out = append(out, string(c))
		}
	}
	flush()
	return out
}

// Number reads a number with or without words after it: 300, 1,200, 12,5 (where the comma is the decimal mark), 300 ft,
// 6', 2 1/2, 2½. The rest is what follows it.
func Number(s string, decimalComma bool) (value float64, rest string, ok bool) {
	s = strings.TrimLeft(Tidy(s), "~≈± ")
	end := 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || (s[end] == '.' || s[end] == ',') && end+1 < len(s) && s[end+1] >= '0' && s[end+1] <= '9' || s[end] == '-' && end == 0) {
		end++
	}
	digits, rest := s[:end], strings.TrimSpace(s[end:])
	comma, point := strings.LastIndexByte(digits, ','), strings.LastIndexByte(digits, '.')
	switch {
	case comma >= 0 && point >= 0 && comma > point: // 1.200,5
		digits = strings.ReplaceAll(strings.ReplaceAll(digits, ".", ""), ",", ".")
	case comma >= 0 && point >= 0: // 1,200.5
		digits = strings.ReplaceAll(digits, ",", "")
	case comma >= 0 && (decimalComma || len(digits)-comma-1 != 3):
		digits = strings.Replace(digits, ",", ".", 1)
	case comma >= 0:
		digits = strings.ReplaceAll(digits, ",", "")
	}
	if digits == "" {
		if v, after, found := fraction(s); found {
			return v, after, true
		}
		return 0, s, false
	}
	value, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		return 0, s, false
	}
	if under, after, ok := denominator(rest); ok { // 1/4 mile
		return value / under, after, true
	}
	if v, after, found := fraction(rest); found && value == float64(int(value)) {
		return value + v, after, true
	}
	return value, rest, true
}

// denominator reads "/4" at the head of a text, but not the "/6/23" of a day.
func denominator(s string) (under float64, rest string, ok bool) {
	if !strings.HasPrefix(s, "/") {
		return 0, s, false
	}
	end := 1
	for end < len(s) && Digit(s[end]) {
		end++
	}
	n, found := Atoi(s[1:end])
	if !found || n != 2 && n != 3 && n != 4 && n != 5 && n != 8 && n != 10 && n != 16 || end < len(s) && (s[end] == '/' || s[end] == '.') {
		return 0, s, false
	}
	return float64(n), strings.TrimSpace(s[end:]), true
}

// fraction reads ½ or 1/2 at the head of a text.
func fraction(s string) (value float64, rest string, ok bool) {
	for mark, v := range map[string]float64{"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1. / 3, "⅔": 2. / 3, "⅛": 0.125} {
		if after, found := strings.CutPrefix(s, mark); found {
			return v, strings.TrimSpace(after), true
		}
	}
	if len(s) >= 3 && Digit(s[0]) && s[1] == '/' && Digit(s[2]) && s[2] != '0' && (len(s) == 3 || !Digit(s[3])) && s[0] < s[2] {
		return float64(s[0]-'0') / float64(s[2]-'0'), strings.TrimSpace(s[3:]), true
	}
	return 0, s, false
}

// Atoi reads up to six digits and nothing else.
func Atoi(s string) (int, bool) {
	if s == "" || len(s) > 6 {
		return 0, false
	}
	n := 0
	for i := 0; i < len(s); i++ {
		if !Digit(s[i]) {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}

// Digit tells whether c is one of 0 to 9.
func Digit(c byte) bool { return c >= '0' && c <= '9' }

// numberWords are the small numbers people write out.
var numberWords = map[string]int{
	"zero": 0, "none": 0, "cero": 0, "ninguno": 0, "ningun": 0,
	"one": 1, "uno": 1, "un": 1, "una": 1, "two": 2, "dos": 2, "three": 3, "tres": 3, "four": 4, "cuatro": 4, "five": 5, "cinco": 5,
	"six": 6, "seis": 6, "seven": 7, "siete": 7, "eight": 8, "ocho": 8, "nine": 9, "nueve": 9, "ten": 10, "diez": 10,
}

// IsDitto tells whether a cell only says that it holds the same as the one above.
func IsDitto(s string) bool {
	switch s {
	case `"`, `""`, `''`, `""""`, "”", "“", "〃", "″", "´´", "''''", ",,", "||", "ditto", "Ditto", "do.", "do", "same", "Same", "SAME", "same as above", "idem", "ídem", "Ídem", "Idem", "igual", "Igual", "lo mismo", "\" \"", "“ ”", "'' ''", "- \" -", `-"-`, "same day", "mismo", "misma", "mismo dia", "mismo día":
		return true
	}
	return false
}

func oneOf(s string, list ...string) bool {
	for _, l := range list {
		if s == l {
			return true
		}
	}
	return false
}

// set makes a set of the words of a list.
func set(words string) map[string]bool {
	m := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		m[w] = true
	}
	return m
}

// squeeze takes out the words that change nothing, and the sentence marks.
func squeeze(tokens []string) []string {
	out := make([]string, 0, len(tokens))
	for _, t := range tokens {
		if littleSet[t] || droppedInProse[t] || oneOf(t, ".", ",", ";", ":", "\n", "(", ")", "[", "]", "#", "…", "&") {
			continue
		}
		out = append(out, t)
	}
	return out
}

// droppedInProse are little words that do say something in a cell about a nest.
var droppedInProse = set("of to de del i we")
