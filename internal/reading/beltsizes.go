package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/inquiry"
	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// sizesByUnit gives columns of a table of belts, under words that nobody knows and a unit, the role that their size allows: "Länge
// m" above 180 is a length, "Breite m" above 1.8 a width.
func (r *reader) sizesByUnit(b *block) {
	if !b.has(lexicon.Count) && !b.has(lexicon.Clumps) || b.has(lexicon.Nest) || b.has(lexicon.SetOn) {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		words := strings.FieldsFunc(strings.ToLower(c.head.Text), func(c rune) bool { return strings.ContainsRune(" ()[]/,:._", c) })
		if c.role != lexicon.NoRole || len(words) < 2 || c.share(c.num) < 0.8 {
			continue
		}
		unit := words[len(words)-1]
		per, ok := lexicon.FeetPer(unit)
		switch {
		case !ok:
		case c.minNum*per > 45 && !b.has(lexicon.Length):
			c.role, c.head.Unit = lexicon.Length, unit
		case c.minNum*per >= 1.5 && c.maxNum*per <= 30 && !b.has(lexicon.Width):
			c.role, c.head.Unit = lexicon.Width, unit
		}
	}
}

// bothSizes is a width and a length in either order: "6 ft by 726 ft", "300 x 12 ft", "300 pies de largo por 12 de ancho".
var bothSizes = regexp.MustCompile(`(?i)\b(\d+(?:\.\d+)?)\s*(ft|feet|foot|pies|m|meters|metros|yd|yards|')?\.?\s*(?:long|wide|de largo|de ancho)?\s*,?\s*(?:by|x|×|por|and|y)\s*(\d+(?:\.\d+)?)\s*(ft|feet|foot|pies|m|meters|metros|yd|yards|')?(?:\W|$)`)

// sizesBy reads a length and a width that stand side by side in a note; the longer is the length. One unit may stand for both.
func (r *reader) sizesBy(f *facts, text string) {
	m := bothSizes.FindStringSubmatch(text)
	if m == nil {
		return
	}
	one, ok1 := r.lex.Measure(m[1], strings.ToLower(orWord(m[2], m[4])), false)
	two, ok2 := r.lex.Measure(m[3], strings.ToLower(orWord(m[4], m[2])), false)
	if m[2]+m[4] == "" || !ok1 || !ok2 {
		return
	}
	if one.Feet > two.Feet {
		one, two = two, one
	}
	if one.Feet >= 1.5 && one.Feet <= 60 && two.Feet > 60 {
		f.width, f.length = one.Feet, two
	}
}

// unitNote is a unit that a title or a note tells for the sizes of all belts: "Belts (feet)", "length and width in ft".
var unitNote = regexp.MustCompile(`(?i)(?:\(|\bin\s+|\ben\s+)(ft|feet|foot|pies|meters?|metres?|metros|yards?|yd|yardas)\b\)?`)

// unitSaid is the unit that the tab, a title or a note says for the sizes of its belts; "" for none.
func (r *reader) unitSaid(g *grid) string {
	texts := []string{g.Name}
	for _, c := range r.captions {
		if c.g.index == g.index {
			texts = append(texts, c.c.text)
		}
	}
	for _, t := range texts {
		if m := unitNote.FindStringSubmatch(t); m != nil && (beltWords.MatchString(t) || sizeWords.MatchString(t)) {
			return strings.ToLower(m[1])
		}
	}
	return ""
}

var sizeWords = regexp.MustCompile(`(?i)\b(?:length|width|sizes?|largo|ancho|medidas?|measures?|measurements?)\b`)

// countHeads gives columns of counts in tables of belts, whose headings no list has, the cover that the same word is among the
// nests: people head their counts by the words that they write beside nests. What no nest tells is asked about.
func (r *reader) countHeads() {
	covers := map[string]string{}
	for _, b := range r.blocks {
		c := b.column(lexicon.Substrate)
		if c == nil || b.kind != nestTable && b.kind != visitTable {
			continue
		}
		for t := range c.distinct {
			covers[lexicon.Fold(t)] = t
			if first, _, more := strings.Cut(t, " "); more && len(first) > 3 && r.kindOf(t).isCover {
				if _, known := covers[lexicon.Fold(first)]; !known {
					covers[lexicon.Fold(first)] = t
				}
			}
		}
	}
	for _, b := range r.blocks {
		if b.kind != beltTable || b.tail || len(b.heads) == 0 || !b.has(lexicon.Count) {
			continue
		}
		for i := range b.cols {
			c := &b.cols[i]
			if c.role != lexicon.NoRole || c.why != "" || c.head.Text == "" || c.n*2 < c.rows || c.whole*10 < c.n*9 || c.head.Role != lexicon.NoRole || len(c.head.Text) > 30 || isTotal(c.head.Text) || r.addsUp(b, i) {
				continue
			}
			name := covers[lexicon.Fold(c.head.Text)]
			if name == "" && i > 0 && b.cols[i-1].role == lexicon.Count { // it stands among counts
				name = r.askCount(b, c)
			}
			if name == "" {
				continue
			}
			c.role, c.head.Role, c.head.Sure, c.head.Cover = lexicon.Count, lexicon.Count, 1, survey.Substrate(name)
			if k := r.kindOf(name); k.isCover {
				c.head.Cover = k.cover.Substrate
			}
		}
	}
}

// addsUp tells whether a column holds the sums of the counts beside it.
func (r *reader) addsUp(b *block, i int) bool {
	rows := 0
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		k := r.kind(l.at(b.cols[i].at))
		if !k.whole {
			continue
		}
		sum := 0.0
		for j := range b.cols {
			if b.cols[j].role == lexicon.Count {
				sum += r.kind(l.at(b.cols[j].at)).num
			}
		}
		if sum != k.num {
			return false
		}
		rows++
	}
	return rows > 0
}

// askCount asks which cover a column of counts is of.
func (r *reader) askCount(b *block, c *column) string {
	head := c.head.Text
	p := inquiry.Prompt{
		Kind: "belt", Place: "count\x00" + r.rolePlace(b, c), Weight: inquiry.PleaseLook, Default: "leave-out", Rank: 6,
		Text: func(g *group) string {
			return r.Say("“%s” stands over numbers among the counts of clumps (%s). Which cover is it? Until you say, these numbers do not count.", head, g.Where())
		},
		Choices: append(r.coverChoices(true), inquiry.Choice{ID: "leave-out", Label: r.Say("It is no count of clumps")}),
	}
	a := ""
	for _, rec := range b.records {
		a = r.Ask(survey.Cell{File: b.g.File, Sheet: b.g.Name, Row: rowNumber(&b.g.lines[rec.row]), Column: head}, p)
	}
	switch a {
	case "", "leave-out":
		return ""
	case "keep":
		return head
	}
	return a
}

var twoNumbers = regexp.MustCompile(`^\s*(\d+(?:[.,]\d+)?)\s*(?:x|×|\*|by|por)\s*(\d+(?:[.,]\d+)?)\s*$`)

// splitSizes cuts cells such as "700 × 6", under a heading that names length and width, into two columns.
func (r *reader) splitSizes(b *block) {
	if b.tail || len(b.heads) == 0 || b.kind == keyTable {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		roles := append([]lexicon.Role{c.head.Role}, c.head.Also...)
		both := slices.Contains(roles, lexicon.Length) && slices.Contains(roles, lexicon.Width)
		low := strings.ToLower(c.head.Text)
		both = both || strings.Contains(low, "length") && strings.Contains(low, "width") || strings.Contains(low, "largo") && strings.Contains(low, "ancho")
		if !both {
			continue
		}
		n, two := 0, 0
		for _, rec := range b.records {
			if t := b.g.lines[rec.row].at(c.at).text; t != "" {
				n++
				if twoNumbers.MatchString(t) {
					two++
				}
			}
		}
		if two == 0 || two < n {
			continue
		}
		r.cutColumn(b, c.at, "length", "width", func(t string) (string, string) {
			m := twoNumbers.FindStringSubmatch(t)
			if m == nil {
				return t, ""
			}
			return m[1], m[2]
		})
		return
	}
}
