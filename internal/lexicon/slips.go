package lexicon

import "strings"

// A slipIndex finds words that are written almost like another one, without a walk over all of them: each word is filed
// under its sound and under its sound with each one letter left out.
type slipIndex struct {
	words  []string
	filed  map[string][]int32
	usual  map[string]bool // words of everyday language, which are no slips of anything
	length int             // the shortest word that is taken for a slip
}

func newSlipIndex(shortest int) *slipIndex {
	return &slipIndex{filed: map[string][]int32{}, usual: usualWords, length: shortest}
}

// add files a word of the index.
func (x *slipIndex) add(word string) {
	if len(word) < x.length || len(word) > 24 {
		return
	}
	at := int32(len(x.words))
	x.words = append(x.words, word)
	for key := range variants(sound(word)) {
		x.filed[key] = append(x.filed[key], at)
	}
}

// each calls give with every word that w is a slip of, until give returns false.
func (x *slipIndex) each(w string, give func(word string) bool) {
	if len(w) < x.length || len(w) > 24 || x.usual[w] {
		return
	}
	seen := make([]int32, 0, 16)
	for key := range variants(sound(w)) {
	next:
		for _, at := range x.filed[key] {
			for _, s := range seen {
				if s == at {
					continue next
				}
			}
			seen = append(seen, at)
			if near(x.words[at], w) && !give(x.words[at]) {
				return
			}
		}
	}
}

// variants yields a key and the key with each one letter left out.
func variants(key string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		if !yield(key) {
			return
		}
		for i := range len(key) {
			if i > 0 && key[i] == key[i-1] {
				continue
			}
			if !yield(key[:i] + key[i+1:]) {
				return
			}
		}
	}
}

// near tells whether two words differ by a slip of the hand: one letter wrong, missing, added or changed with its
// neighbor (optimal string alignment distance), or whether they sound alike in the Spanish of the border.
func near(a, b string) bool {
	switch n := min(len(a), len(b)); {
	case n < 4:
		return a == b
	case sound(a) == sound(b):
		return true
	case n < 6 && len(a) == len(b): // of two short words with another letter each is a word: cross and crows
		return sameLetters(a, b)
	}
	return oneSlip(a, b) || min(len(a), len(b)) >= 7 && oneSlip(sound(a), sound(b))
}

// oneSlip tells whether one letter is wrong, missing, added, or changed with its neighbor.
func oneSlip(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	if len(b)-len(a) > 1 {
		return false
	}
	i := 0
	for i < len(a) && a[i] == b[i] {
		i++
	}
	switch {
	case len(a) < len(b):
		return a[i:] == b[i+1:]
	case i == len(a) || a[i+1:] == b[i+1:]:
		return true
	}
	return i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:]
}

// sameLetters tells whether two words of one length have the same letters in another order.
func sameLetters(a, b string) bool {
	var n [256]int
	for i := range len(a) {
		n[a[i]]++
		n[b[i]]--
	}
	return n == [256]int{}
}

// sound writes a word the way it sounds, with double letters once: palmiya is palmilla, sacate zacate, alle halle.
func sound(s string) string {
	var buf [32]byte
	out := buf[:0]
	for i := 0; i < len(s); i++ {
		c := s[i]
		next := byte(0)
		if i+1 < len(s) {
			next = s[i+1]
		}
		switch c {
		case 'l':
			if next == 'l' {
				c = 'y'
				i++
			}
		case 'q', 'c', 'k':
			switch {
			case c == 'q' && next == 'u', c == 'c' && next == 'k':
				c = 'k'
				i++
			case c == 'c' && next == 'h':
				c = 'x'
				i++
			case c == 'c' && (next == 'e' || next == 'i'):
				c = 's'
			default:
				c = 'k'
			}
		case 'z':
			c = 's'
		case 'h':
			continue
		case 'v':
			c = 'b'
		case 'n':
			if next == 'p' || next == 'b' {
				c = 'm'
			}
		case 'g':
			switch {
			case next == 'u' && i+2 < len(s) && (s[i+2] == 'e' || s[i+2] == 'i'):
				i++
			case next == 'e' || next == 'i':
				c = 'j'
			}
		}
		if n := len(out); n > 0 && out[n-1] == c {
			continue
		}
		out = append(out, c)
	}
	return string(out)
}

// usualWords are words of English and Spanish that stand beside states, covers and headings and are one letter away from one.
var usualWords = set(strings.ReplaceAll(usualWordList, ";", " "))
