package reading

import "tussock/internal/lexicon"

// notGone tells whether the day of a check says that nobody went any more: "ya no", "done", "--" where the day would stand.
func (e *emitter) notGone(l *line, v *visit, found string) bool {
	if v.on < 0 || found != "" {
		return false
	}
	k := e.kindOf(l.at(e.b.cols[v.on].at).text)
	return k.date.Form == lexicon.NoDate && !k.isNum && (k.sight.Mark == lexicon.Skipped || finished(l.at(e.b.cols[v.on].at).text))
}
