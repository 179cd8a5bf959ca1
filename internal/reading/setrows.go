package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// Among the rows of a table of visits some set a nest out. Where no word that we know says which, the rows do: people write what
// a nest sits in once, as they set it, and what they write then they write of each nest, and never again.

// findFirstRows tells of a table of visits that no row of it and nothing else says when the nests were set whether the first row
// of each nest does.
func (e *emitter) findFirstRows() {
	if e.b.kind != visitTable || e.b.tail || e.set != nil || e.event != nil || e.nest == nil || len(e.b.visits) != 1 || e.b.visits[0].on < 0 || e.setElsewhereThan(e.b) {
		return
	}
	found := -1
	if f := e.b.visits[0].found; f >= 0 {
		found = e.b.cols[f].at
	}
	nests, covered, worded, rows := 0, 0, 0, 0
	first, later := map[string]int{}, map[string]bool{}
	met := map[string]bool{}
	line := ""
	for _, rec := range e.b.records {
		l := &e.b.g.lines[rec.row]
		if e.line != nil {
			if t := l.at(e.line.at).text; t != "" && !e.kindOf(t).ditto {
				line = t
			}
		}
		nest, _ := e.nestText(l)
		if nest == "" {
			continue
		}
		key := e.siteText(l) + "\x00" + rec.scope.lineName() + "\x00" + line + "\x00" + nest
		rows++
		cover := e.cover != nil && e.kind(l.at(e.cover.at)).isCover
		text := ""
		if found >= 0 {
			text = strings.ToLower(l.at(found).text)
		}
		if !met[key] {
			met[key] = true
			nests++
			first[text]++
			if cover {
				covered++
			}
		} else {
			later[text] = true
			if cover {
				covered -= 2
			}
		}
	}
	if nests < 3 || rows < nests+nests/2 {
		return
	}
	for t, n := range first {
		switch mark := e.kindOf(t).sight.Mark; {
		case mark == lexicon.SetOut || e.setsInto(t): // they say so themselves
			return
		case t != "" && n >= 3 && !later[t] && mark == lexicon.Unknown:
			worded += n
		}
	}
	if covered*10 < nests*8 && worded*10 < nests*8 {
		return
	}
	for t := range first { // no nest is lost as it is set
		if s := e.kindOf(t).sight; s.Mark.State() != "" && s.Mark != lexicon.Intact {
			return
		}
	}
	e.firstSets = map[string]bool{}
}

// siteText is the pasture that stands in a row.
func (e *emitter) siteText(l *line) string {
	if e.site == nil {
		return ""
	}
	return l.at(e.site.at).text
}

// setElsewhereThan tells whether anything but the rows of a table says when nests were set.
func (r *reader) setElsewhereThan(b *block) bool {
	if b.top.find(func(f *facts) bool { return f.set.at != nil }) != nil {
		return true
	}
	for _, o := range r.blocks {
		if o != b && (o.has(lexicon.SetOn) || o.kind == nestTable) {
			return true
		}
	}
	return false
}

// firstOfNest tells whether a row is the first of its nest, in a table in which that is the row that sets it.
func (e *emitter) firstOfNest() bool {
	if e.firstSets == nil || e.row.Nest == "" {
		return false
	}
	key := e.row.Site + "\x00" + e.row.Line + "\x00" + e.row.Nest
	if e.firstSets[key] {
		return false
	}
	e.firstSets[key] = true
	return true
}
