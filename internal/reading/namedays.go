package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
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
	if len(said) == 0 || len(said) < days && len(said) < 2 {
		return
	}
	visit, setting := 0, false
	next := 0
	var open []string // lines named since the last day: "North and Creek May 30"
	dated := false
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
			dated = true
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
}

// nameIn finds a line's own name in a text.
func nameIn(name string) *regexp.Regexp {
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
				if name := lineName(t); len([]rune(name)) > 1 && !hasDigits(name) && !slices.Contains(out, name) {
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
