package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// A form for two languages says each thing twice: "Set / Poner" above days, "Todo bien / All there" as a choice. What neither
// language tells in the whole text, one of its parts may.

// twoTongues cuts a text that could say one thing in two languages: words on both sides of a stroke between spaces.
func twoTongues(text string) (one, two string, ok bool) {
	one, two, ok = strings.Cut(text, " / ")
	if !ok || len(text) > 80 || strings.Contains(two, " / ") || !hasLetters(one) || !hasLetters(two) || strings.EqualFold(one, two) {
		return "", "", false
	}
	return strings.TrimSpace(one), strings.TrimSpace(two), true
}

func hasLetters(s string) bool {
	return strings.ContainsFunc(s, func(c rune) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c > 0x7f })
}

// saidInBoth fills in what a text could be from its parts, where these do not contradict each other.
func (r *reader) saidInBoth(k *kind, text string) {
	one, two, ok := twoTongues(text)
	if !ok {
		return
	}
	a, b := r.kindOf(one), r.kindOf(two)
	if k.sight.Mark == lexicon.Unknown || k.sight.Weak {
		switch {
		case b.sight.Mark == lexicon.Unknown, a.sight.Mark == b.sight.Mark && !a.sight.Weak:
			k.sight = a.sight
		case a.sight.Mark == lexicon.Unknown, a.sight.Mark == b.sight.Mark:
			k.sight = b.sight
		}
	}
	if !k.isCover || k.cover.Weak {
		switch {
		case a.isCover && b.isCover && a.cover.Substrate != b.cover.Substrate:
		case a.isCover && !a.cover.Weak || a.isCover && !b.isCover:
			k.cover, k.isCover = a.cover, true
		case b.isCover:
			k.cover, k.isCover = b.cover, true
		}
	}
	if best := a.head; k.head.Sure < 1 && min(len(one), len(two)) >= 3 && !lexicon.IsAcre(two) && !lexicon.IsHectare(two) {
		switch {
		case best.Role == lexicon.NoRole:
			best = b.head
		case b.head.Role != lexicon.NoRole && b.head.Role != best.Role: // "Line / Nest" are two things
			return
		case b.head.Sure > best.Sure:
			best = b.head
		}
		if best.Role != lexicon.NoRole && best.Sure > k.head.Sure {
			best.Text = k.head.Text
			k.head = best
		}
	}
}

// inTwoTongues tells whether the cells of a column say one thing twice: each first part stands with one second part alone, and
// they do not contradict each other.
func (r *reader) inTwoTongues(b *block, at int) bool {
	with, back := map[string]string{}, map[string]string{}
	n := 0
	for _, rec := range b.records {
		t := b.g.lines[rec.row].at(at).text
		if t == "" {
			continue
		}
		one, two, ok := twoTongues(strings.Replace(strings.ReplaceAll(t, " / ", "/"), "/", " / ", 1))
		if !ok && r.kindOf(t).sight.Mark == lexicon.Skipped {
			continue
		}
		if !ok || with[one] != "" && with[one] != two || back[two] != "" && back[two] != one {
			return false
		}
		if x, y := r.kindOf(one).sight.Mark, r.kindOf(two).sight.Mark; x != y && x != lexicon.Unknown && y != lexicon.Unknown {
			return false
		}
		with[one], back[two] = two, one
		n++
	}
	return len(with) >= 2 && n > len(with)
}
