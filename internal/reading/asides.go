package reading

import (
	"maps"
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/narration"
	"tussock/internal/survey"
)

// tallied is a count in strokes with its sum: "||||/ ||||/ || = 12".
var tallied = regexp.MustCompile(`\|(?:[|/\\]|\s+[|])*[|/\\]?\s*=\s*(\d+)`)

// clumpTotal is a number of clumps of no cover.
var clumpTotal = regexp.MustCompile(`(?i)\b\d{1,3}\s+(?:good\s+|big\s+)?(?:clumps?|bunches|macollos|matas)\b`)

// asideBelts reads the belts that lines beside tables tell of: "Strip along line 1: 0.1 acre, 6 foot wide: 31 bunches of
// grass, 9 soapweed".
func (r *reader) asideBelts(sink Sink) {
	t := &told{days: map[narration.Span]survey.Date{}, blocks: map[int]*block{}}
	var passages []narration.Passage
	var from []*caption
	only := r.onlyLines()
	rows := r.beltRows()
	for _, c := range r.captions {
		if c.used != "" && c.used != "line" && c.used != "rule" || r.told != nil && r.told.blocks[c.g.index] != nil && r.told.blocks[c.g.index].kind == proseTable {
			continue
		}
		p := narration.Passage{Text: tallied.ReplaceAllString(wholeText(c.c), ": $1, "), Line: c.scope.lineName(), New: true}
		if p.Line == "" {
			p.Line = only[c.g.index]
		}
		if n := len(from); n > 0 && from[n-1].g == c.g { // only lines that stand together are one talk
			p.New = c.row > from[n-1].row+1
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
		if r.told != nil && r.told.tells(b) {
			continue
		}
		r.toldBelt(t, t.account, b, sink)
		from[b.At.Passage].used = "belt"
	}
	for _, at := range t.account.Unused { // counts of clumps that did not come through are not let go in silence
		c := from[at.Passage]
		if c.used != "belt" && clumpTotal.MatchString(c.c.text) && beltWords.MatchString(c.c.text) {
			r.Refuse(t.place(at), c.c.text, r.Say("We could not read all of these counts. Please write each with its cover, such as “32 bunchgrass, 22 yucca”."))
			c.used = "belt"
			continue
		}
		if items := r.scan(c.c.text); c.used != "belt" && between(items, aMeasure) && between(items, aCover) && beltWords.MatchString(c.c.text) && !slices.ContainsFunc(rows, func(o beltRow) bool { return o.caption == c }) {
			r.Refuse(t.place(at), c.c.text, r.Say("We could not read all of these counts. Please write each with its cover, such as “32 bunchgrass, 22 yucca”."))
			c.used = "belt"
		}
	}
	for _, c := range rows {
		if c.used == "belt" {
			r.use(c.of, "belts")
		} else {
			r.Refuse(at(c.g, c.c), c.c.text, r.Say("We could not read all of these counts. Please write each with its cover, such as “32 bunchgrass, 22 yucca”."))
		}
	}
}

// A beltRow is a row of a table that is read as talk of a belt.
type beltRow struct {
	*caption
	of *block
}

// beltRows takes rows of tables nobody knows for talk of belts where their cells together tell of one: "Line 1 | 600 feet | 25
// grass | 10 yucca".
func (r *reader) beltRows() (rows []beltRow) {
	for _, b := range r.blocks {
		if b.kind != notOurs || b.name != "" || b.tail {
			continue
		}
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			var words []string
			for col := b.left; col < min(b.right, len(l.cells)); col++ {
				if c := &l.cells[col]; c.text != "" && !c.span {
					words = append(words, c.text)
				}
			}
			if len(words) < 2 {
				continue
			}
			joined := cell{text: words[0] + ": " + strings.Join(words[1:], ", "), row: l.number, col: b.left}
			joined.raw = joined.text
			if items := r.scan(joined.text); between(items, aMeasure) && between(items, aCover) && between(items, aLine) {
				c := &caption{g: b.g, c: &joined, row: rec.row, scope: rec.scope}
				rows, r.captions = append(rows, beltRow{c, b}), append(r.captions, c)
			}
		}
	}
	return rows
}

// onlyLines returns, by grid, the one line that the lines of text beside its tables name, where they name no other.
func (r *reader) onlyLines() map[int]string {
	names := map[int][]string{}
	for _, c := range r.captions {
		for _, it := range r.scan(c.c.text) {
			if it.is == aLine {
				names[c.g.index] = append(names[c.g.index], it.list...)
			}
		}
	}
	only := map[int]string{}
	for grid, list := range names {
		if slices.Sort(list); len(slices.Compact(list)) == 1 {
			only[grid] = list[0]
		}
	}
	for _, b := range r.blocks {
		if b.has(lexicon.Line) {
			delete(only, b.g.index)
		}
	}
	return only
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
	for _, b := range r.blocks { // a word of its own beside the nests: "7 sotoles"
		c := b.column(lexicon.Substrate)
		if c == nil || b.kind != nestTable && b.kind != visitTable {
			continue
		}
		for t := range c.distinct {
			word := lexicon.Words(t)
			if _, keyed := c.codes.coverOf(t); keyed || r.kindOf(t).isCover || len(word) < 4 || !isLetters(word) || strings.Contains(word, " ") {
				continue
			}
			own := r.own(t)
			covers[word], covers[word+"s"], covers[word+"es"] = own, own, own
		}
	}
	return covers
}

// tells tells whether the running text of the batch tells of a belt too.
func (t *told) tells(b *narration.Belt) bool {
	return slices.ContainsFunc(t.account.Belts, func(o *narration.Belt) bool {
		return o.Line == b.Line && o.Length == b.Length && maps.Equal(o.Counts, b.Counts)
	})
}
