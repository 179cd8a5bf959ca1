package reading

import (
	"regexp"

	"tussock/internal/lexicon"
)

// marked counts what was read in a column of states, to hold it against the sums that the sheet itself has.
func (e *emitter) marked(visit int, s lexicon.Sight) {
	for len(e.marks) <= visit {
		e.marks = append(e.marks, [256]int{})
	}
	e.marks[visit][s.Mark]++
	if s.Mark == lexicon.Taken && s.Eggs > 0 {
		e.marks[visit][partly]++
	}
}

// partly counts nests of which some eggs were gone; some count them with the whole ones.
const partly = lexicon.Mark(255)

var (
	wholeWords = regexp.MustCompile(`(?i)\b(?:still there|intact|ok|okay|good|left|lasted|survived|made it|there|whole|complet[oa]s|buen[oa]s|quedan|quedaron|duraron|enter[oa]s)\b`)
	bareTotal  = regexp.MustCompile(`(?i)^(?:totals?|totales|tot|sum|suma)[.:]?$`)
	goneWords  = regexp.MustCompile(`(?i)\b(?:gone|lost|taken|eaten|hit|destroyed|perdid[oa]s|comid[oa]s|faltan)\b`)
)

// lookedMarks are what can be found at a nest: intact first.
var lookedMarks = []lexicon.Mark{lexicon.Intact, lexicon.Taken, lexicon.Spoiled, lexicon.Trampled, lexicon.Flooded, lexicon.NotFound}

// compareTotals tells where a sum below the table says otherwise than the marks above it.
func (e *emitter) compareTotals() {
	for _, t := range e.totals {
		if t.block != e.b {
			continue
		}
		l := &t.g.lines[t.row]
		label := ""
		for col := t.left; col < t.right; col++ {
			if c := l.at(col); c.text != "" && !e.kind(c).isNum {
				label = c.text
				break
			}
		}
		whole, gone := wholeWords.MatchString(label), goneWords.MatchString(label)
		bare := bareTotal.MatchString(label)
		if whole == gone && !bare {
			continue
		}
		for k, v := range e.b.visits {
			if v.found < 0 || k >= len(e.marks) {
				continue
			}
			col := &e.b.cols[v.found]
			c := l.at(col.at)
			says := e.kind(c)
			if !says.whole {
				continue
			}
			n := int(says.num)
			if bare { // which may also count what is gone, or eggs, of which there are more
				all := 0
				for _, m := range lookedMarks {
					all += e.marks[k][m]
				}
				if n > all || n == all-e.marks[k][lexicon.Intact] {
					continue
				}
			}
			e.compareTotal(n, whole || bare, &e.marks[k], c, col)
		}
	}
}

// compareTotal holds one sum against the marks of its column, counted in the ways that people count them.
func (e *emitter) compareTotal(says int, whole bool, marks *[256]int, c *cell, col *column) {
	intact, lost := marks[lexicon.Intact], 0
	for _, m := range lookedMarks[1:] {
		lost += marks[m]
	}
	have := intact
	if !whole {
		have = lost
	}
	if says == have || says == intact+marks[partly] || says == lost-marks[partly] || !whole && says == marks[lexicon.Taken] || says == lost-marks[lexicon.NotFound] {
		return
	}
	cell := e.place(c, col)
	e.Note(cell, "total", e.key(col.at), "", func(g *group) string {
		if whole {
			return e.Say("The sheet says %d still there under “%s”; its marks say %d. Is a mark missing, or the sum off?", says, cell.Column, have)
		}
		return e.Say("The sheet says %d gone under “%s”; its marks say %d. Is a mark missing, or the sum off?", says, cell.Column, have)
	})
}
