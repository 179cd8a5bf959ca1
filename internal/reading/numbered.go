package reading

import (
	"regexp"
	"strings"
)

// A list to choose from may number its choices: "1 - intact", "6 - not found". The number says nothing that the words do not.

var numberedChoice = regexp.MustCompile(`^(\d{1,2})\s*(?:[-–—=:.)]|\s)\s*(\pL.*)$`)

// unnumber takes the numbers off the choices of a column where each number stands with one text alone, and several do.
func (r *reader) unnumber(b *block) {
	if len(b.heads) == 0 || b.kind == keyTable {
		return
	}
	for i := range b.cols {
		at := b.cols[i].at
		words, back := map[string]string{}, map[string]string{}
		n, numbered, clash := 0, 0, false
		for _, rec := range b.records[:min(len(b.records), sampleRows)] {
			t := b.g.lines[rec.row].at(at).text
			if t == "" {
				continue
			}
			n++
			m := numberedChoice.FindStringSubmatch(t)
			if m == nil || !strings.ContainsAny(t, "-–—=:.)") {
				continue
			}
			numbered++
			text := strings.ToLower(m[2])
			clash = clash || words[m[1]] != "" && words[m[1]] != text || back[text] != "" && back[text] != m[1]
			words[m[1]], back[text] = text, m[1]
		}
		if clash || len(words) < 2 || numbered*10 < n*8 || numbered <= len(words) || b.tail {
			continue
		}
		for _, rec := range b.records {
			if l := &b.g.lines[rec.row]; at < len(l.cells) {
				if m := numberedChoice.FindStringSubmatch(l.cells[at].text); m != nil && words[m[1]] == strings.ToLower(m[2]) {
					l.cells[at].text = m[2]
				}
			}
		}
	}
}
