package narration

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A token is a word, a number or a mark, and where it stands.
type token struct {
	from, to int
	word     string  // in lower case and without accents; a mark is itself
	num      float64 // of digits
	kind     tokenKind
	glued    bool // touches the token before it
}

type tokenKind uint8

const (
	letters tokenKind = iota
	digits
	mark
	lineEnd
)

// commaMeasure is a decimal comma within a measure: 152,5 m.
var commaMeasure = regexp.MustCompile(`(?i)^,\d{1,2}\s?(?:m|mts?|metros?|meters?|pies|ft|feet|ha|cm|acres?)\b`)

// tokenize cuts text into tokens. An apostrophe stays within its word; a point stays within a number such as 2.5.
func tokenize(text string) []token {
	var out []token
	for i := 0; i < len(text); {
		c, size := utf8.DecodeRuneInString(text[i:])
		from := i
		t := token{from: from, glued: len(out) > 0 && out[len(out)-1].to == from && out[len(out)-1].kind != lineEnd}
		switch {
		case c == '\n':
			t.kind, t.word, i = lineEnd, "\n", i+1
		case unicode.IsSpace(c):
			i += size
			continue
		case unicode.IsLetter(c):
			for i < len(text) {
				c, size := utf8.DecodeRuneInString(text[i:])
				if !unicode.IsLetter(c) && (c != '\'' && c != '’' || i+size >= len(text) || !isLetterAt(text, i+size)) {
					break
				}
				i += size
			}
			t.kind, t.word = letters, plainWord(text[from:i])
		case c >= '0' && c <= '9':
			point := false
			for i < len(text) && (isDigit(text[i]) || !point && (text[i] == '.' && i+1 < len(text) && isDigit(text[i+1]) || text[i] == ',' && commaMeasure.MatchString(text[i:min(len(text), i+16)]))) {
				point = point || !isDigit(text[i])
				i++
			}
			t.kind, t.word, t.num = digits, text[from:i], numberOf(text[from:i])
		default:
			i += size
			t.kind, t.word = mark, plainMark(c)
		}
		t.to = i
		out = append(out, t)
	}
	return out
}

func isLetterAt(text string, i int) bool {
	c, _ := utf8.DecodeRuneInString(text[i:])
	return unicode.IsLetter(c)
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func numberOf(s string) float64 {
	v, under, point := 0.0, 1.0, false
	for i := 0; i < len(s) && i < 12; i++ {
		if s[i] == '.' || s[i] == ',' {
			point = true
			continue
		}
		v = v*10 + float64(s[i]-'0')
		if point {
			under *= 10
		}
	}
	return v / under
}

// plainWord is a word in lower case, without accents and apostrophes.
func plainWord(s string) string {
	return strings.Map(func(c rune) rune {
		switch c = unicode.ToLower(c); c {
		case 'á', 'à':
			return 'a'
		case 'é', 'è':
			return 'e'
		case 'í', 'ì':
			return 'i'
		case 'ó', 'ò':
			return 'o'
		case 'ú', 'ù', 'ü':
			return 'u'
		case 'ñ':
			return 'n'
		case '\'', '’':
			return -1
		}
		return c
	}, s)
}

func plainMark(c rune) string {
	switch c {
	case '–', '—', '−':
		return "-"
	case '“', '”', '«', '»':
		return `"`
	case '…':
		return "."
	}
	return string(c)
}

// Numbers in words. Values of ten and more take a smaller one behind them: twenty three, treinta y dos.
var (
	units = words(`zero 0 one 1 two 2 three 3 four 4 five 5 six 6 seven 7 eight 8 nine 9 ten 10 eleven 11 twelve 12 thirteen 13 fourteen 14 fifteen 15 sixteen 16
		seventeen 17 eighteen 18 nineteen 19 cero 0 uno 1 una 1 un 1 dos 2 tres 3 cuatro 4 cinco 5 seis 6 siete 7 ocho 8 nueve 9 diez 10 once 11 doce 12 trece 13 catorce 14
		quince 15 dieciseis 16 diecisiete 17 dieciocho 18 diecinueve 19 veintiuno 21 veintiun 21 veintidos 22 veintitres 23 veinticuatro 24 veinticinco 25
		veintiseis 26 veintisiete 27 veintiocho 28 veintinueve 29`)
	tens = words(`twenty 20 thirty 30 forty 40 fourty 40 fifty 50 sixty 60 seventy 70 eighty 80 ninety 90 veinte 20 treinta 30 cuarenta 40 cincuenta 50 sesenta 60
		setenta 70 ochenta 80 noventa 90`)
	hundreds = words(`cien 100 ciento 100 doscientos 200 doscientas 200 trescientos 300 trescientas 300 cuatrocientos 400 cuatrocientas 400 quinientos 500 quinientas 500
		seiscientos 600 setecientos 700 ochocientos 800 novecientos 900`)
	halves = map[string]float64{"half": 0.5, "medio": 0.5, "media": 0.5, "quarter": 0.25, "cuarto": 0.25}
)

// words reads a list of words and values.
func words(list string) map[string]float64 {
	m := map[string]float64{}
	fields := strings.Fields(list)
	for i := 0; i+1 < len(fields); i += 2 {
		m[fields[i]] = numberOf(fields[i+1])
	}
	return m
}

func wordSet(list string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(list) {
		m[w] = true
	}
	return m
}

// numberAt reads a number at token i, in digits or in words, and how many tokens it takes; 0 for none.
func numberAt(t []token, i int) (v float64, n int) {
	if i >= len(t) {
		return 0, 0
	}
	if t[i].kind == digits {
		n = 1
		v = t[i].num
		if f, k := fractionAt(t, i+1); k > 0 && v == float64(int(v)) {
			return v + f, 1 + k
		}
		return v, n
	}
	if v, n = wordNumberAt(t, i); n == 0 {
		return 0, 0
	}
	// two and a half, dos y medio
	k := i + n
	if at(t, k) == "and" || at(t, k) == "y" {
		k++
		if at(t, k) == "a" || at(t, k) == "one" {
			k++
		}
		if f, ok := halves[at(t, k)]; ok {
			return v + f, k + 1 - i
		}
	}
	return v, n
}

func wordNumberAt(t []token, i int) (v float64, n int) {
	w := at(t, i)
	small := func(k int) (float64, int) {
		if u, ok := units[at(t, k)]; ok {
			return u, 1
		}
		if d, ok := tens[at(t, k)]; ok {
			m := k + 1
			if at(t, m) == "y" || at(t, m) == "-" {
				m++
			}
			if u, ok := units[at(t, m)]; ok && u > 0 && u < 10 {
				return d + u, m + 1 - k
			}
			return d, 1
		}
		return 0, 0
	}
	if h, ok := hundreds[w]; ok {
		if u, k := small(i + 1); k > 0 {
			return h + u, 1 + k
		}
		return h, 1
	}
	if w == "a" && at(t, i+1) == "hundred" {
		v, n = 1, 1
	} else if v, n = small(i); n == 0 {
		return 0, 0
	}
	if at(t, i+n) == "hundred" && v > 0 && v < 20 {
		v *= 100
		n++
		k := n
		if at(t, i+k) == "and" {
			k++
		}
		if u, m := small(i + k); m > 0 {
			return v + u, k + m
		}
	} else if w == "a" {
		return 0, 0
	}
	return v, n
}

// fractionAt reads 1/2 or ½ at token i.
func fractionAt(t []token, i int) (v float64, n int) {
	switch at(t, i) {
	case "½":
		return 0.5, 1
	case "¼":
		return 0.25, 1
	case "¾":
		return 0.75, 1
	}
	if i+2 < len(t) && t[i].kind == digits && t[i+1].word == "/" && t[i+1].glued && t[i+2].kind == digits && t[i+2].glued {
		switch a, b := t[i].num, t[i+2].num; {
		case b == 2 && a == 1, b == 4 && (a == 1 || a == 3):
			return a / b, 3
		}
	}
	return 0, 0
}

// at is the word of token i, "" beyond the ends.
func at(t []token, i int) string {
	if i < 0 || i >= len(t) {
		return ""
	}
	return t[i].word
}
