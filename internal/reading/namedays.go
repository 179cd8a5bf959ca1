package reading

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// namedDays takes the days that a text gives lines by their own names: "Check 1: North May 30, Creek May 31". What the days
// are of stands before them: setting, or a check and its number.
func (r *reader) namedDays(c *caption, names []string) {
	text := c.c.text
	items := r.scan(text)
	days := countOf(items, aDate)
	if days == 0 || countOf(items, aLine) > 0 || len(text) > 300 {
		return
	}
	type mention struct {
		name     string
		from, to int
	}
	var said []mention
	for _, name := range names {
		for _, m := range nameIn(name).FindAllStringIndex(text, -1) {
			said = append(said, mention{name, m[0], m[1]})
		}
	}
	slices.SortFunc(said, func(a, b mention) int { return a.from - b.from })
	letters := 0
	for _, m := range said {
		if len(m.name) == 1 {
			letters++
		}
	}
	if len(said) == 0 || len(said) < days && len(said) < 2 || letters == 1 { // a lone A is an article
		return
	}
	visit, setting := 0, false
	next := 0
	var open []string // lines named since the last day: "North and Creek May 30"
	dated, end, first := false, 0, ""
	for i, it := range items {
		for next < len(said) && said[next].from < it.from {
			if dated {
				open, dated = nil, false
			}
			open = append(open, said[next].name)
			next++
		}
		switch it.is {
		case aVisit:
			visit, setting = it.visit, false
		case aSetting:
			visit, setting = 0, true
		case aDate:
			if len(open) == 0 || !setting && visit == 0 && !checkLead.MatchString(text[:it.from]) {
				continue
			}
			if i > 0 && items[i-1].is == aState {
				return // what was found there is for the diary
			}
			dated, end, first = true, it.to, open[0]
			for _, name := range open {
				f := r.lineFacts(name, c.scope)
				switch d := (dayFact{it.date, c.c}); {
				case setting && f.set.at == nil:
					f.set = d
				case !setting:
					f.checks = append(f.checks, checkFact{visit: visit, dayFact: d})
				}
			}
			c.used = "line"
		}
	}
	n := daysLater(text[end:])
	for _, m := range said {
		if m.from < end || n == 0 || first == "" {
			continue
		}
		late := r.lineFacts(m.name, c.scope) // "C and D a day later"
		for _, k := range r.lineFacts(first, c.scope).checks {
			if k.at == c.c {
				k.date = laterBy(k.date, n)
				late.checks = append(late.checks, k)
			}
		}
	}
}

var (
	laterPattern = regexp.MustCompile(`(?i)\b(?:(a|one|1|two|2|un|uno|dos)\s+(?:days?|d[ií]as?)\s+(?:later|after|despu[eé]s)|(?:the\s+)?(?:next|following)\s+day|(?:the\s+)?day\s+after|al\s+d[ií]a\s+siguiente|el\s+otro\s+d[ií]a)\b`)
	twoDaysWord  = map[string]bool{"two": true, "2": true, "dos": true}
)

// daysLater tells how many days later a text says that something was done; 0 where it does not say so.
func daysLater(text string) int {
	m := laterPattern.FindStringSubmatch(text)
	switch {
	case m == nil:
		return 0
	case twoDaysWord[strings.ToLower(m[1])]:
		return 2
	}
	return 1
}

// laterBy is a day of a month some days later.
func laterBy(d lexicon.Date, days int) lexicon.Date {
	if d.Form == lexicon.TextDate {
		on := survey.DateOf(orYear(d.Year, 2023), time.Month(d.A), d.B) + survey.Date(days)
		d.A, d.B = int(on.Time().Month()), on.Time().Day()
	}
	return d
}

// nameIn finds a line's own name in a text. A letter is one where it is written as a capital.
func nameIn(name string) *regexp.Regexp {
	if len(name) == 1 {
		return regexp.MustCompile(`(?:^|[^\pL\d])(` + strings.ToUpper(name) + `)(?:$|[^\pL\d'’])`)
	}
	return regexp.MustCompile(`(?i)(?:^|[^\pL\d])(` + regexp.QuoteMeta(name) + `)(?:$|[^\pL\d])`)
}

// ownNames lists the lines that have names of their own, rather than numbers, each as the nests call it.
func (r *reader) ownNames() []string {
	var out []string
	for _, b := range r.blocks {
		if b.kind != nestTable && b.kind != visitTable && b.kind != lineTable {
			continue
		}
		if c := b.column(lexicon.Line); c != nil {
			for t := range c.distinct {
				if name := lineName(t); name != "" && (len(name) > 1 || isUpper(name[0])) && !hasDigits(name) && !slices.Contains(out, name) {
					out = append(out, name)
				}
			}
		}
	}
	slices.SortFunc(out, func(a, b string) int {
		if len(a) != len(b) {
			return len(b) - len(a)
		}
		return strings.Compare(a, b)
	})
	return out
}
