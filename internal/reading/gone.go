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
