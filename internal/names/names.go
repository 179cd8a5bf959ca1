// Package names holds what people may call things that others read: a ranch, an owner, an area, where a table comes from. Such a line
// is what it looks like: it has no characters that hide, break the line or turn it around. It also tells whether a text gives a name away.
package names

import (
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
// is longer than Longest, has no letter or digit, or has a character that Visible leaves out; "" is "".
func Name(typed string) (string, error) { return line(typed, Longest) }

// Source does the same for a line that says where something comes from, of LongestSource characters at most.
func Source(typed string) (string, error) { return line(typed, LongestSource) }

func line(typed string, longest int) (string, error) {
	typed = norm.NFC.String(strings.TrimSpace(typed))
	if strings.ContainsFunc(typed, hidden) || piled(typed) {
		return "", errs.New(errs.Invalid, words.Mark("A name or source is one line of letters, digits and signs that can be seen. Yours has a line break, or a character that hides or turns the text around. Type it again instead of pasting it."))
	}
	typed = strings.Join(strings.Fields(typed), " ")
	switch {
	case typed == "":
		return "", nil
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

// Text is a text of several lines without what Name refuses.
func Text(typed string) string {
	lines := strings.Split(strings.TrimSpace(strings.ReplaceAll(typed, "\r\n", "\n")), "\n")
	for i := range lines {
		lines[i] = Visible(lines[i])
	}
	return strings.Join(lines, "\n")
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

// alike are letters and digits that are taken for others, each for the one that it is taken for, after lower case.
var alike = strings.NewReplacer(pairs(
	"авекмнорстухѕіјԛԝүһԁѵгьαεικνορτυχγηωıɑɡø0134578@$|!і", "abekmhopctyxsijqwyhdvrbaeikvoptuxynwiagooleastbaslll")...)

func pairs(from, to string) (list []string) {
	t := []rune(to)
	for i, r := range []rune(from) {
		list = append(list, string(r), string(t[i]))
	}
	return append(list, "i", "l")
}

// twins are two letters that are taken for one.
var twins = strings.NewReplacer("rn", "m", "vv", "w")

// folded returns the words of a text so that those which look alike are the same: no accents, no case, no hidden characters.
func folded(text string) []string {
	text = strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) || unicode.Is(unicode.Me, r) || hidden(r) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, norm.NFKD.String(text))
	text = alike.Replace(alike.Replace(strings.ToLower(text)))
	return strings.Fields(twins.Replace(strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return ' '
	}, text)))
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
