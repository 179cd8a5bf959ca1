// Package names holds what people may call things that others read: a ranch, an owner, an area, where a table comes from. Such a line
// is what it looks like: letters A to Z with or without accents, digits and usual signs, and nothing that hides, breaks the line, turns it
// around or is taken for another letter. It also tells whether a text gives a name away.
package names

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"tussock/internal/errs"
	"tussock/internal/words"
)

// The longest lines, in characters.
const (
	Longest       = 80  // a name
	LongestSource = 200 // where something comes from
)

// Name returns what somebody typed as a name in Unicode's composed form (UAX #15, NFC), with single blanks. It is errs.Invalid where it
// is longer than Longest, has no letter or digit, a character that Visible leaves out, or a letter that is none of A to Z (Plain); "" is "".
func Name(typed string) (string, error) { return line(typed, Longest) }

// Source does the same for a line that says where something comes from, of LongestSource characters at most.
func Source(typed string) (string, error) { return line(typed, LongestSource) }

// Person does the same for what somebody is called, which has no digits.
func Person(typed string) (string, error) {
	name, err := Name(typed)
	if err == nil && strings.ContainsFunc(norm.NFKD.String(name), unicode.IsDigit) {
		return "", errs.New(errs.Invalid, words.Mark("A person’s name has no digits. Write it with letters."))
	}
	return name, err
}

var errForeign = errs.New(errs.Invalid, words.Mark("Write it with the letters A to Z; accents are fine, and so are digits and the usual signs. Other letters can look like these and be none of them."))

func line(typed string, longest int) (string, error) {
	typed = norm.NFC.String(strings.TrimSpace(typed))
	if strings.ContainsFunc(typed, hidden) || piled(typed) {
		return "", errs.New(errs.Invalid, words.Mark("A name or source is one line of letters, digits and signs that can be seen. Yours has a line break, or a character that hides or turns the text around. Type it again instead of pasting it."))
	}
	typed = strings.Join(strings.Fields(typed), " ")
	switch {
	case typed == "":
		return "", nil
	case foreign(typed):
		return "", errForeign
	case len([]rune(typed)) > longest:
		return "", errs.Tell(errs.Invalid, words.Later("That has more than %d characters. Shorten it.", longest), nil)
	case !strings.ContainsFunc(typed, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }):
		return "", errs.New(errs.Invalid, words.Mark("A name or source needs a letter or a digit."))
	}
	return typed, nil
}

// hidden tells whether a character cannot be seen where it stands, or acts on others: controls, line and paragraph separators, marks of
// direction, joiners and what Unicode lists as ignorable by default (UAX #44).
func hidden(r rune) bool {
	return !unicode.IsGraphic(r) || unicode.In(r, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector) || r == '\u2800' || r == '\ufffd'
}

// piled tells whether more than two marks stand on one letter, which no language needs in NFC.
func piled(s string) bool {
	marks := 0
	for _, r := range s {
		if !unicode.Is(unicode.Mn, r) && !unicode.Is(unicode.Me, r) {
			marks = 0
		} else if marks++; marks > 2 {
			return true
		}
	}
	return false
}

// signs are those that may stand in a name or a text beside the printable ones of ASCII.
const signs = "’‘“”«»–—…·•°¿¡§±×÷½¼¾€£"

// folds are the letters that do not come apart into a letter A to Z and accents and are taken all the same, each with what it counts as
// where names are compared. The database has the same table (tussock.fold).
var folds = strings.NewReplacer("ß", "ss", "ẞ", "SS", "æ", "ae", "Æ", "AE", "œ", "oe", "Œ", "OE", "þ", "th", "Þ", "TH", "ø", "o", "Ø", "O", "đ", "d", "Đ", "D",
	"ð", "d", "Ð", "D", "ł", "l", "Ł", "L", "ı", "i", "ŋ", "n", "Ŋ", "N", "ħ", "h", "Ħ", "H", "ŧ", "t", "Ŧ", "T", "ª", "a", "º", "o", "ʼ", "’", "ʻ", "’")

// Plain is a text in letters A to Z without accents, as names are compared. What is no such letter stays.
func Plain(text string) string {
	return folds.Replace(strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(text)))
}

// foreign tells whether a text has a letter or sign that is neither one of A to Z (Plain), a digit, an accent nor a usual sign.
func foreign(text string) bool {
	return strings.ContainsFunc(folds.Replace(norm.NFD.String(text)), func(r rune) bool {
		accent := r >= '\u0300' && r <= '\u0333'
		return !unicode.IsSpace(r) && !(r > ' ' && r <= '~') && !accent && !strings.ContainsRune(signs, r)
	})
}

// Text is a text of several lines without what cannot be seen. It is errs.Invalid where it has other letters than a name may have.
func Text(typed string) (string, error) {
	lines := strings.Split(strings.TrimSpace(strings.ReplaceAll(norm.NFC.String(typed), "\r\n", "\n")), "\n")
	for i := range lines {
		if lines[i] = Visible(lines[i]); foreign(lines[i]) {
			return "", errForeign
		}
	}
	return strings.Join(lines, "\n"), nil
}

// Visible leaves out what Name refuses, of names from before it did.
func Visible(s string) string {
	return strings.Map(func(r rune) rune {
		if hidden(r) {
			return -1
		}
		return r
	}, s)
}

// alike are digits and signs that are taken for letters, each with that letter; i and l are one.
var alike = strings.NewReplacer("0", "o", "1", "l", "3", "e", "4", "a", "5", "s", "7", "t", "8", "b", "@", "a", "$", "s", "|", "l", "!", "l", "i", "l")

// twins are two letters that are taken for one.
var twins = strings.NewReplacer("rn", "m", "vv", "w")

// folded returns the words of a text so that those which look alike are the same: no accents, no case, no hidden characters.
func folded(text string) []string {
	text = strings.Map(func(r rune) rune {
		if hidden(r) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, Plain(norm.NFKD.String(text)))
	return strings.Fields(twins.Replace(strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return ' '
	}, alike.Replace(strings.ToLower(text)))))
}

// trade are words that stand with the name of a ranch or an owner and say nothing without it.
var trade = foldedAll("the ranch ranches rancho land lands cattle livestock company co inc llc lp ltd family farm farms trust estate place and y de la el del los las mr mrs ms")

func foldedAll(list string) map[string]bool {
	set := map[string]bool{}
	for _, w := range folded(list) {
		set[w] = true
	}
	return set
}

// core returns the words of a name that tell it from others; all of them where none does.
func core(name string) []string {
	all := folded(name)
	some := slices.DeleteFunc(slices.Clone(all), func(w string) bool { return trade[w] })
	if len(some) == 0 {
		return all
	}
	return some
}

// Gives tells whether a text has a name in it: its words one after the other, in any order and however they are spaced, with look-alike
// letters and digits, without "ranch", "company" and the like. Initials, nicknames and misspellings it does not find.
func Gives(text, name string) bool {
	want := core(name)
	if len(want) == 0 {
		return false
	}
	joined := strings.Join(want, "")
	sorted := slices.Sorted(slices.Values(want))
	has := slices.DeleteFunc(folded(text), func(w string) bool { return trade[w] && !slices.Contains(want, w) })
	// Between other letters a name is found where it is long enough that no other words have it in them by chance.
	if len(want) > 1 && len(joined) >= 8 && strings.Contains(strings.Join(has, ""), joined) ||
		len(joined) >= 9 && slices.ContainsFunc(has, func(w string) bool { return strings.Contains(w, joined) }) {
		return true
	}
	for i := range has {
		run := ""
		for _, w := range has[i:] {
			if run += w; run == joined || run == joined+"s" {
				return true
			}
			if len(run) > len(joined) {
				break
			}
		}
		if i+len(want) <= len(has) && slices.Equal(sorted, slices.Sorted(slices.Values(has[i:i+len(want)]))) {
			return true
		}
	}
	return false
}

// Address tells whether a text has an e-mail address in it.
func Address(text string) bool { return address.MatchString(text) }

var address = regexp.MustCompile(`[^\s@]\s*@\s*[^\s@]+\.\pL`)

// Tells tells whether the name of a person says something about a ranch: it has the ranch's name in it, of two words or more, beside others.
func Tells(person, ranch string) bool {
	called := core(ranch)
	return len(called) > 1 && len(core(person)) > len(called) && Gives(person, ranch)
}

// Family returns the family name in the name of a person, "" where there is none of four letters or more.
func Family(name string) string {
	family, given, turned := strings.Cut(name, ",")
	list := strings.Fields(family)
	if len(list) == 0 || len(list) < 2 && (!turned || strings.TrimSpace(given) == "") {
		return ""
	}
	last := list[len(list)-1]
	if len([]rune(last)) < 4 || !strings.ContainsFunc(last, unicode.IsLetter) {
		return ""
	}
	return last
}
