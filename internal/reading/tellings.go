package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// A telling is one visit told within a longer text: "May 12: all there".
type telling struct {
	date  lexicon.Date
	visit int // by its number, where no day is named
	set   bool
	sight lexicon.Sight
	cover lexicon.Cover
	when  string // the day as written
	text  string
}

// dated tells whether a text holds a day and what was found.
func (r *reader) dated(k *kind) (lexicon.DateForm, bool) {
	if !k.isDated {
		k.isDated = true
		k.day, k.state = r.datedCell(k.text)
	}
	return k.day, k.state
}

// datedCell tells whether a cell holds a day and what was found: "19 de mayo - completo", "gone 5/26".
func (r *reader) datedCell(text string) (lexicon.DateForm, bool) {
	d := lexicon.FindDates(text)
	if day, rest, ok := leadDay(text); ok && len(d) == 0 {
		s := r.lex.Sight(rest)
		return readDay(day).Form, s.Mark != lexicon.Unknown && s.Mark != lexicon.SetOut && s.Mark != lexicon.Blank
	}
	if len(d) != 1 {
		return lexicon.NoDate, false
	}
	rest := strings.Trim(text[:d[0].From]+" "+text[d[0].To:], " -–—:,;()|")
	if rest == "" {
		return d[0].Form, false
	}
	s := r.lex.Sight(rest)
	return d[0].Form, s.Mark != lexicon.Unknown && s.Mark != lexicon.SetOut && s.Mark != lexicon.Blank
}

// noLook tells whether a sentence says that nobody was there.
func (r *reader) noLook(text string) bool {
	return r.lex.Sight(text).Mark == lexicon.Skipped || finished(text)
}

var ordinalLead = regexp.MustCompile(`(?i)(?:^|[\s.;,|])(1st|2nd|3rd|first|second|third|1a|2a|3a|wk ?2|wk ?4|week 2|week 4)\s*(?:look|check|visit|time|vuelta|revisi[oó]n)?\s*[:\-–—]\s*`)

// tellings takes the visits out of a text that tells several: by days, or by "1st: … 2nd: …". Those whose words nobody
// knows are left out.
func (r *reader) tellings(text string) []telling {
	return slices.DeleteFunc(r.allTellings(text), func(t telling) bool { return !t.set && t.sight.Mark == lexicon.Unknown })
}

func (r *reader) allTellings(text string) []telling {
	dates := lexicon.FindDates(text)
	type mark struct {
		from, to int
		date     lexicon.Date
		visit    int
	}
	var marks []mark
	for _, d := range dates {
		marks = append(marks, mark{d.From, d.To, d.Date, 0})
	}
	if len(marks) == 0 {
		for _, m := range ordinalLead.FindAllStringSubmatchIndex(text, -1) {
			w := strings.ToLower(strings.ReplaceAll(text[m[2]:m[3]], " ", ""))
			n := map[string]int{"1st": 1, "first": 1, "1a": 1, "wk2": 1, "week2": 1, "2nd": 2, "second": 2, "2a": 2, "wk4": 2, "week4": 2, "3rd": 3, "third": 3, "3a": 3}[w]
			marks = append(marks, mark{m[2], m[1], lexicon.Date{}, n})
		}
	}
	var out []telling
	for i, m := range marks {
		end := len(text)
		if i+1 < len(marks) {
			end = marks[i+1].from
		}
		before := ""
		start := 0
		if i > 0 {
			start = marks[i-1].to
		}
		before = text[start:m.from]
		if cut := strings.LastIndexAny(before, ".;|\n"); cut >= 0 {
			before = before[cut+1:]
		} else if i > 0 {
			before = ""
		}
		after := text[m.to:end]
		if i+1 < len(marks) { // words that lead to the next day belong to it
			if cut := strings.LastIndexAny(after, ".;|\n"); cut >= 0 {
				after = after[:cut]
			}
		}
		t := telling{date: m.date, visit: m.visit, when: text[m.from:m.to]}
		head := strings.Trim(before, " -–—:,;()|")
		body := strings.Trim(after, " -–—:,;()|.\n")
		t.set = setPattern.MatchString(head)
		if t.set {
			if c, ok := r.lex.Cover(setPattern.ReplaceAllString(head, " ")); ok {
				t.cover = c
			}
		}
		t.text = body
		t.sight = r.lex.Sight(body)
		if one, rest, more := strings.Cut(body, ". "); more && t.sight.Mark == lexicon.Unknown && r.noLook(rest) { // "ok. 2 week check not made"
			t.text, t.sight = one, r.lex.Sight(one)
		}
		t.set = t.set || t.sight.Mark == lexicon.SetOut && head == "" // "5/18 set."
		if body == "" || t.sight.Mark == lexicon.Unknown {
			joined := strings.TrimSpace(head + " " + body)
			if s := r.lex.Sight(joined); s.Mark != lexicon.Unknown && !t.set {
				t.sight, t.text = s, joined
			}
		}
		if !t.set && (t.sight.Mark == lexicon.Unknown || t.sight.Mark == lexicon.Blank || t.sight.Mark == lexicon.SetOut) && len(marks) > 1 && i == 0 && r.lex.Sight(head).Mark == lexicon.SetOut {
			t.set = true
		}
		if t.set || body != "" && t.sight.Mark != lexicon.Blank && t.sight.Mark != lexicon.SetOut || body == "" && t.sight.Mark != lexicon.Unknown && t.sight.Mark != lexicon.Blank && t.sight.Mark != lexicon.SetOut {
			out = append(out, t)
		}
	}
	return out
}
