package survey

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// SameLine brings a line's name to the form in which all spellings of one name are equal: 1, 01, １, #1, 1.0, Line 1, T1 and "transect no. 1"
// are all 1, and A-2 is a2. Whether two rows are of one line is asked of this form alone. The words are common practice, no source.
func SameLine(name string) string { return same(name, lineWords) }

// SameNest is SameLine for a nest's name within its line.
func SameNest(name string) string { return same(name, nestWords) }

// SamePasture is SameLine for a pasture's name, of which no word is taken off.
func SamePasture(name string) string { return same(name, called{}) }

// called are the words that say what a name is of, and those of them that say so only before a bare number.
type called struct{ always, short map[string]bool }

var (
	lineWords = called{words("line lines transect transects linea lineas linia transecto transectos"), words("l t tr ln lin trans tran no nr num numero number")}
	nestWords = called{words("nest nests nido nidos"), words("n no nr num numero number")}
)

func words(list string) map[string]bool {
	m := map[string]bool{}
	for w := range strings.FieldsSeq(list) {
		m[w] = true
	}
	return m
}

// numerals are numbers that people write out as names.
var numerals = map[string]string{
	"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12",
	"uno": "1", "una": "1", "dos": "2", "tres": "3", "cuatro": "4", "cinco": "5", "seis": "6", "siete": "7", "ocho": "8", "nueve": "9", "diez": "10", "once": "11", "doce": "12",
}

// A token is a run of letters or of digits in a name.
type token struct {
	text   string
	number bool
	point  bool // a decimal point stands between it and the number before
}

func same(name string, c called) string {
	if bare(name) {
		return name
	}
	list := tokens(name)
	kept := list[:0:0]
	for i, t := range list {
		if t.number {
			if t.point && strings.Trim(t.text, "0") == "" && (i+1 == len(list) || !list[i+1].point) { // 1.0
				continue
			}
			if t.text = strings.TrimLeft(t.text, "0"); t.text == "" {
				t.text = "0"
			}
		}
		if !c.always[t.text] {
			kept = append(kept, t)
		}
	}
	if len(kept) == 2 && kept[1].number && c.short[kept[0].text] {
		kept = kept[1:]
	}
	if len(kept) == 1 && numerals[kept[0].text] != "" {
		return numerals[kept[0].text]
	}
	if len(kept) == 0 {
		kept = list
	}
	var b strings.Builder
	for i, t := range kept {
		if i > 0 && t.number && kept[i-1].number {
			b.WriteByte(' ')
		}
		b.WriteString(t.text)
	}
	if b.Len() == 0 {
		return strings.ToLower(strings.TrimSpace(name))
	}
	return b.String()
}

// bare tells whether a name is a number as most are written.
func bare(name string) bool {
	for i := 0; i < len(name); i++ {
		if name[i] < '0' || name[i] > '9' {
			return false
		}
	}
	return name != "" && (name[0] != '0' || len(name) == 1)
}

// tokens cuts a name into runs of small plain letters and of digits, without accents, and without what nobody sees.
func tokens(name string) (list []token) {
	var run []rune
	number, point, after := false, false, rune(0) // of the run; the mark after the run before
	end := func() {
		if len(run) > 0 {
			list, run, point = append(list, token{string(run), number, point}), run[:0], false
		}
	}
	for _, r := range norm.NFKD.String(name) {
		switch {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf, unicode.Variation_Selector): // accents, and marks that nobody sees
			continue
		case unicode.IsDigit(r):
			if len(run) > 0 && !number {
				end()
			}
			if len(run) == 0 {
				point = (after == '.' || after == ',') && len(list) > 0 && list[len(list)-1].number
			}
			number, after = true, 0
			run = append(run, digit(r))
		case unicode.IsLetter(r):
			if len(run) > 0 && number {
				end()
			}
			number, after = false, 0
			run = append(run, letter(unicode.ToLower(r)))
		default:
			end()
			if after != 0 { // two marks are no decimal point
				r = ' '
			}
			after = r
		}
	}
	end()
	return list
}

// digit is 0 to 9 for a digit of any script; those of a script stand in order.
func digit(r rune) rune {
	for n := range rune(10) {
		if !unicode.IsDigit(r - n - 1) {
			return '0' + n
		}
	}
	return r
}

// letter is the Latin letter that a small letter of another script looks like.
func letter(r rune) rune {
	for i, other := range otherLetters {
		if r == other {
			return latinLetters[i]
		}
	}
	return r
}

var (
	otherLetters = []rune("авекмнорстухѕіјԛԝүӏһԁѵгьαβεικνορτυχγηωıɑɡ")
	latinLetters = []rune("abekmhopctyxsijqwylhdvrbabeikvoptuxynwiag")
)
