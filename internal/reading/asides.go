package reading

import (
	"tussock/internal/lexicon"
	"tussock/internal/narration"
	"tussock/internal/survey"
)

// asideBelts reads the belts that lines beside tables tell of: "Strip along line 1: 0.1 acre, 6 foot wide: 31 bunches of
// grass, 9 soapweed".
func (r *reader) asideBelts(sink Sink) {
	t := &told{days: map[narration.Span]survey.Date{}, blocks: map[int]*block{}}
	var passages []narration.Passage
	var from []*caption
	for _, c := range r.captions {
		if c.used != "" && c.used != "line" && c.used != "rule" || r.told != nil && r.told.blocks[c.g.index] != nil && r.told.blocks[c.g.index].kind == proseTable {
			continue
		}
		p := narration.Passage{Text: wholeText(c.c), Line: c.scope.lineName(), Gap: true, New: t.blocks[c.g.index] == nil}
		if n := len(from); n > 0 && from[n-1].g == c.g {
			p.Gap = c.row > from[n-1].row+1
		}
		t.places = append(t.places, toldPlace{c.g, c.c, c.scope})
		t.blocks[c.g.index] = &block{g: c.g, top: c.scope}
		passages, from = append(passages, p), append(from, c)
	}
	if len(passages) == 0 {
		return
	}
	t.doc = narration.NewDocument(r.lex, passages)
	t.doc.Known, t.doc.Covers = r.nameLines(), r.keyedCovers()
	t.account = t.doc.Read(func(d lexicon.Date, near survey.Date, at narration.Span) survey.Date {
		return d.On(false, 2000)
	}, false)
	for _, b := range t.account.Belts {
		r.toldBelt(t, t.account, b, sink)
		from[b.At.Passage].used = "belt"
	}
}

// keyedCovers returns the words for covers that keys of the batch explain.
func (r *reader) keyedCovers() map[string]survey.Substrate {
	covers := map[string]survey.Substrate{}
	for _, k := range r.codes {
		if !k.covers {
			continue
		}
		for code, m := range k.codes {
			if word := lexicon.Words(code); len(word) > 1 && m.cover.Substrate != "" && isLetters(word) {
				covers[word] = m.cover.Substrate
			}
		}
	}
	return covers
}
