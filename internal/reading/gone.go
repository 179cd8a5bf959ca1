package reading

import (
	"strings"

	"tussock/internal/lexicon"
)

// notGone tells whether the day of a check says that nobody went any more: "ya no", "done", "--" where the day would stand.
func (e *emitter) notGone(l *line, v *visit, found string) bool {
	if v.on < 0 || found != "" {
		return false
	}
	k := e.kind(l.at(e.b.cols[v.on].at))
	return k.date.Form == lexicon.NoDate && !k.isNum && (k.sight.Mark == lexicon.Skipped || finished(l.at(e.b.cols[v.on].at).text))
}

// sumsRow tells whether a row among numbered nests is of sums: words where the nest's number stands, numbers behind them, no
// cover and no day of setting.
func (e *emitter) sumsRow(l *line, nest string) bool {
	if e.nest == nil || e.cover == nil || len(nest) < 4 || e.nest.share(e.nest.whole) < 0.7 || e.kindOf(nest).isID || hasDigits(nest) && e.kindOf(nest).words < 3 || l.at(e.cover.at).text != "" {
		return false
	}
	if e.set != nil && l.at(e.set.at).text != "" {
		return false
	}
	numbers := 0
	for i := range e.b.cols {
		c := &e.b.cols[i]
		t := l.at(c.at).text
		if t == "" || c == e.nest || c.role == lexicon.Notes && e.kindOf(t).words < 3 {
			continue
		}
		switch k := e.kindOf(t); {
		case k.isNum || strings.HasSuffix(t, "%"):
			numbers++
		case k.sight.Mark.State() != "" || k.date.Form != lexicon.NoDate || c.role == lexicon.Notes:
			return false
		}
	}
	return numbers > 0
}

// sumsUnnamed tells whether a row without a nest's number is of sums: a word such as "left", numbers where other rows say what was
// found, no cover and no day.
func (e *emitter) sumsUnnamed(l *line) bool {
	if e.nest == nil || e.b.kind != nestTable || e.b.tail || e.nest.n*10 < e.nest.rows*7 {
		return false
	}
	numbers, word := 0, false
	for i := range e.b.cols {
		c := &e.b.cols[i]
		t := l.at(c.at).text
		if t == "" {
			continue
		}
		k := e.kindOf(t)
		word = word || !k.isNum && c != e.line && (wholeWords.MatchString(t) || goneWords.MatchString(t) || isTotal(t))
		switch {
		case c.visit >= 0 && k.whole:
			numbers++
		case c.visit >= 0, k.isCover, k.date.Form != lexicon.NoDate && !k.isNum:
			return false
		}
	}
	return word && numbers > 0
}
