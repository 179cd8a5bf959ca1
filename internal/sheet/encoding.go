package sheet

import (
	"bytes"
	"slices"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// singles are the encodings of one byte a letter that sheets still come in, the likeliest first: spreadsheet programs of
// today, of the Macintosh, and of DOS.
var singles = []struct {
	name string
	*charmap.Charmap
}{
	{"Windows-1252", charmap.Windows1252},
	{"Mac Roman", charmap.Macintosh},
	{"DOS 850", charmap.CodePage850},
	{"DOS 437", charmap.CodePage437},
	{"ISO 8859-15", charmap.ISO8859_15},
}

// toUTF8 returns data as UTF-8 without a byte order mark, and the name of the encoding where it was another. Orelse names
// the encoding that fits nearly as well and would give other letters.
//
// What is not marked and not UTF-8 is read in the encoding whose letters are the most plausible, each beside its
// neighbors, in English and Spanish.
func toUTF8(data []byte) (text []byte, encoding, orelse string) {
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		return fromUTF16(data[2:], 0, 1), "UTF-16", ""
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		return fromUTF16(data[2:], 1, 0), "UTF-16", ""
	}
	if low, high, ok := unmarkedUTF16(data); ok {
		return fromUTF16(data, low, high), "UTF-16", ""
	}
	if utf8.Valid(data) {
		return data, "", ""
	}
	if out, ok := mostlyUTF8(data); ok {
		return out, "UTF-8 and Windows-1252", ""
	}
	best, second := rankSingles(data)
	out := decodeSingle(data, singles[best].Charmap)
	if second >= 0 {
		orelse = singles[second].name
	}
	return out, singles[best].name, orelse
}

// decodeSingle reads an encoding of one byte a letter.
func decodeSingle(data []byte, as *charmap.Charmap) []byte {
	out := make([]byte, 0, len(data)+len(data)/16)
	from := 0
	for i, c := range data {
		if c >= utf8.RuneSelf {
			out = utf8.AppendRune(append(out, data[from:i]...), as.DecodeByte(c))
			from = i + 1
		}
	}
	return append(out, data[from:]...)
}

func fromUTF16(data []byte, low, high int) []byte {
	units := make([]uint16, len(data)/2)
	for i := range units {
		units[i] = uint16(data[2*i+low]) | uint16(data[2*i+high])<<8
	}
	return []byte(string(utf16.Decode(units)))
}

// unmarkedUTF16 tells by where the zero bytes stand whether text is UTF-16 without a mark, and which byte comes first.
func unmarkedUTF16(data []byte) (low, high int, ok bool) {
	head := data[:min(len(data), 4<<10)&^1]
	var zeros [2]int
	for i, c := range head {
		if c == 0 {
			zeros[i&1]++
		}
	}
	switch half := len(head) / 2; {
	case half < 2:
	case zeros[1] > half*7/10 && zeros[0] < half/20+1:
		return 0, 1, true
	case zeros[0] > half*7/10 && zeros[1] < half/20+1:
		return 1, 0, true
	}
	return 0, 0, false
}

// mostlyUTF8 reads a file pasted together from two: UTF-8 but for a few bytes, which Windows-1252 reads.
func mostlyUTF8(data []byte) ([]byte, bool) {
	good, bad := 0, 0
	for i := 0; i < len(data); {
		if data[i] < utf8.RuneSelf {
			i++
			continue
		}
		c, size := utf8.DecodeRune(data[i:])
		if c == utf8.RuneError && size == 1 {
			bad++
		} else {
			good++
		}
		i += size
	}
	if good < 3 || bad*2 > good {
		return nil, false
	}
	out := make([]byte, 0, len(data)+bad)
	for i := 0; i < len(data); {
		c, size := utf8.DecodeRune(data[i:])
		if c == utf8.RuneError && size == 1 {
			c = charmap.Windows1252.DecodeByte(data[i])
		}
		out = utf8.AppendRune(out, c)
		i += size
	}
	return out, true
}

// rankSingles returns the best encoding, and the next where it is about as good and any letter of the file would differ;
// else -1.
func rankSingles(data []byte) (best, second int) {
	scores := make([]int, len(singles))
	var seen [256]bool
	n := 0
	for i, c := range data {
		if c < utf8.RuneSelf {
			continue
		}
		if n++; n > 20_000 {
			break
		}
		seen[c] = true
		before, after := neighbor(data, i-1, -1), neighbor(data, i+1, 1)
		for k, s := range singles {
			letter := s.DecodeByte(c)
			scores[k] += plausible(before, letter, after)
			if letter == '’' && (before == sideLower || before == sideUpper) && ownsBehind(data, i+1) { // Hofstad’s
				scores[k] += 4
			}
		}
	}
	order := []int{0, 1, 2, 3, 4}
	slices.SortStableFunc(order, func(a, b int) int { return scores[b] - scores[a] })
	best = order[0]
	for _, k := range order[1:] {
		// A Spanish letter against one of another language decides, and in a longer text a tenth of all.
		if scores[best]-scores[k] >= max(2, scores[best]/10) {
			break
		}
		if differs(best, k, &seen) {
			return best, k
		}
	}
	return best, -1
}

// ownsBehind tells whether an s stands alone at a place, as behind the apostrophe of an owner.
func ownsBehind(data []byte, i int) bool {
	if i >= len(data) || data[i] != 's' {
		return false
	}
	s := neighbor(data, i+1, 1)
	return s != sideLower && s != sideUpper && s != sideHigh
}

// differs tells whether two encodings read any of the bytes seen otherwise.
func differs(a, b int, seen *[256]bool) bool {
	for c := utf8.RuneSelf; c < 256; c++ {
		if seen[c] && singles[a].DecodeByte(byte(c)) != singles[b].DecodeByte(byte(c)) {
			return true
		}
	}
	return false
}

// A side is what stands beside a letter.
type side uint8

const (
	sideEnd side = iota // of a cell or line
	sideSpace
	sideDigit
	sideLower
	sideUpper
	sideHigh // another byte above 127
	sideOther
)

func neighbor(data []byte, i, step int) side {
	if i < 0 || i >= len(data) {
		return sideEnd
	}
	switch c := data[i]; {
	case c >= utf8.RuneSelf:
		// Two accents in a row are rare: the letter beyond tells the case.
		if j := i + step; j >= 0 && j < len(data) && data[j] < utf8.RuneSelf {
			if s := neighbor(data, j, step); s == sideLower || s == sideUpper {
				return s
			}
		}
		return sideHigh
	case c >= 'a' && c <= 'z':
		return sideLower
	case c >= 'A' && c <= 'Z':
		return sideUpper
	case c >= '0' && c <= '9':
		return sideDigit
	case c == ' ':
		return sideSpace
	case bytes.IndexByte([]byte(",;|\t\r\n\""), c) >= 0:
		return sideEnd
	}
	return sideOther
}

// plausible weighs a letter by its neighbors: 3 for one that Spanish or English writes there, down to -4.
func plausible(before side, c rune, after side) int {
	letter := func(s side) bool { return s == sideLower || s == sideUpper }
	apart := func(s side) bool { return s == sideEnd || s == sideSpace }
	switch {
	case runeIn("áéíóúñü", c):
		switch {
		case before == sideUpper && after == sideUpper:
			return -2
		case letter(before) || after == sideLower:
			return 3
		case apart(before) && apart(after):
			return 1 // "ó" stands alone between numbers, "é" hardly
		}
		return 1
	case runeIn("ÁÉÍÓÚÑÜ", c):
		switch {
		case before == sideLower:
			return -3
		case before == sideUpper || after == sideUpper:
			return 3
		case after == sideLower && apart(before):
			return 2
		}
		return 0
	case runeIn("¿¡", c):
		return weigh(letter(after) && !letter(before), 3)
	case runeIn("½¼¾", c):
		return weigh(!letter(before) && !letter(after), 2)
	case c == '°' || c == 'º' || c == 'ª':
		return weigh(before == sideDigit || before == sideSpace || c == 'º' && letter(before), 2)
	case c == '√' || c == '✓':
		return weigh(apart(before) && apart(after), 3)
	case c == '“' || c == '‘':
		return weigh(apart(before) && !apart(after), 2)
	case c == '”':
		return weigh(!apart(before) && !letter(after), 2)
	case c == '’':
		return weigh(letter(before), 2)
	case c == '–' || c == '—':
		if letter(before) && letter(after) {
			return -1
		}
		return weigh(letter(before) == letter(after), 2)
	case c == '…' || c == '\u00a0' || c == '×' || c == '±' || c == '€' || c == '·' || c == '•':
		return 1
	case runeIn("àèìòùâêîôûäëïöçãõåø", c):
		return weigh(before == sideLower && (after == sideLower || apart(after)), 1)
	case unicode.IsLetter(c) && c < 0x250:
		return -1
	case unicode.IsControl(c) || c == utf8.RuneError:
		return -4
	case c >= 0x2500 && c <= 0x259f && (before == sideHigh || after == sideHigh): // a drawn line
		return 2
	case unicode.IsLetter(c) || c >= 0x2200 && c <= 0x25ff: // Greek, mathematics, frames
		return -3
	}
	return -1
}

func weigh(fits bool, n int) int {
	if fits {
		return n
	}
	return -2
}

func runeIn(list string, c rune) bool {
	return c >= utf8.RuneSelf && bytes.ContainsRune([]byte(list), c)
}
