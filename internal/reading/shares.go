package reading

import (
	"regexp"
	"strconv"
	"strings"

	"tussock/internal/lexicon"
)

var (
	percentHead = regexp.MustCompile(`(?i)%|\b(?:percent|pct|por ?ciento|porcentaje)\b`)
	eggHead     = regexp.MustCompile(`(?i)^(?:eggs?|huevos?|e)\s*#?\s*([1-6a-fA-F])$`)
)

// shareColumns reads plain numbers below a heading in percent as shares of a nest's eggs.
func (r *reader) shareColumns(b *block) {
	if b.tail || len(b.heads) == 0 || !b.hasHead(lexicon.Nest) {
		return
	}
	for i := range b.cols {
		c := &b.cols[i]
		if !percentHead.MatchString(c.head.Text) || c.head.Role == lexicon.Area || r.kindOf(c.head.Text).isCover {
			continue
		}
		shares, others := 0, 0
		for _, rec := range b.records {
			switch t := b.g.lines[rec.row].at(c.at).text; {
			case t == "" || r.kindOf(t).sight.Mark == lexicon.Skipped:
			case r.lex.Sight(t+"%").Eggs >= 0:
				shares++
			default:
				others++
			}
		}
		if shares < 3 || others > 0 {
			continue
		}
		for _, rec := range b.records {
			l := &b.g.lines[rec.row]
			if t := l.at(c.at).text; t != "" && r.lex.Sight(t+"%").Eggs >= 0 {
				l.cells[c.at].text = t + "%"
			}
		}
		if c.head.Role == lexicon.NoRole {
			c.head.Role, c.head.Sure = lexicon.Found, 0.8
		}
	}
}

// eggColumnsJoined makes one column of those that each tell of one egg of a nest: "Egg 1 | Egg 2 | Egg 3" above yes and no. It
// counts the eggs that are there.
func (r *reader) eggColumnsJoined(b *block) {
	if b.tail || len(b.heads) == 0 {
		return
	}
	for i := 0; i < len(b.cols); i++ {
		end := i
		for end < len(b.cols) {
			m := eggHead.FindStringSubmatch(strings.TrimSpace(b.g.lines[b.heads[len(b.heads)-1]].at(b.cols[end].at).text))
			if m == nil || eggNumber(m[1]) != end-i+1 {
				break
			}
			end++
		}
		if end-i < 2 || !r.eggsTold(b, i, end) {
			continue
		}
		r.joinEggs(b, i, end)
		i = end - 1
	}
}

// eggNumber is the place of an egg called 1, 2, 3 or a, b, c.
func eggNumber(s string) int {
	if n, ok := lexicon.Atoi(s); ok {
		return n
	}
	return int(strings.ToLower(s)[0]-'a') + 1
}

// oneEgg tells whether one egg is there.
func (r *reader) oneEgg(t string) (there, known bool) {
	switch m := r.kindOf(t).sight.Mark; m {
	case lexicon.Yes, lexicon.Intact, lexicon.One:
		return true, true
	case lexicon.No, lexicon.Zero, lexicon.Taken:
		return false, true
	}
	return false, false
}

// eggsTold tells whether most cells of some columns say of one egg whether it is there.
func (r *reader) eggsTold(b *block, from, to int) bool {
	told, n := 0, 0
	for _, rec := range b.records {
		for i := from; i < to; i++ {
			if t := b.g.lines[rec.row].at(b.cols[i].at).text; t != "" {
				n++
				if _, known := r.oneEgg(t); known {
					told++
				}
			}
		}
	}
	return n > 0 && told*10 >= n*7
}

// joinEggs counts the eggs of each record into the first of their columns. Where a mark is not understood it stands there
// itself, to be asked about.
func (r *reader) joinEggs(b *block, from, to int) {
	for _, rec := range b.records {
		l := &b.g.lines[rec.row]
		there, filled, odd := 0, 0, ""
		for i := from; i < to; i++ {
			t := l.at(b.cols[i].at).text
			if t == "" {
				continue
			}
			filled++
			yes, known := r.oneEgg(t)
			if yes {
				there++
			}
			if !known {
				odd = t
			}
		}
		if filled == 0 {
			continue
		}
		for i := from; i < to; i++ {
			if at := b.cols[i].at; at < len(l.cells) {
				l.cells[at].text = ""
			}
		}
		c := &l.cells[b.cols[from].at]
		if c.text = strconv.Itoa(there) + "/" + strconv.Itoa(to-from); odd != "" || filled < to-from {
			if c.text = odd; odd == "" {
				c.text = strconv.Itoa(there) + " of " + strconv.Itoa(filled) // the others are not written down
			}
		}
		if c.row == 0 {
			c.row, c.col = l.number, b.cols[from].at
		}
	}
	first := &b.cols[from]
	first.head = lexicon.Heading{Text: first.head.Text, Role: lexicon.Found, Sure: 1, Feature: -1}
	for i := from + 1; i < to; i++ {
		b.cols[i].head = lexicon.Heading{Text: b.cols[i].head.Text, Role: lexicon.Passed, Feature: -1}
		b.cols[i].why = "ticks"
	}
}
