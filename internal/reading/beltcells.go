package reading

import (
	"regexp"
	"slices"
	"strings"

	"tussock/internal/lexicon"
	"tussock/internal/survey"
)

// headsByContrast takes the first row of a table without headings for them where it is all words above columns of numbers or
// days: headings that no word list has, or whole questions.
func (r *reader) headsByContrast() {
	for _, b := range r.blocks {
		if len(b.heads) > 0 || len(b.records) < 4 || b.right-b.left < 3 {
			continue
		}
		first := &b.g.lines[b.records[0].row]
		words, above, doubts := 0, 0, 0
		seen := map[string]bool{}
		for col := b.left; col < b.right; col++ {
			t := first.at(col).text
			if t == "" {
				continue
			}
			if !r.canHead(t) || seen[t] {
				words = -100
				break
			}
			seen[t] = true
			k := r.kindOf(t)
			if k.words < 3 && (k.sight.Mark != lexicon.Unknown && k.head.Role == lexicon.NoRole || k.isCover && k.head.Role == lexicon.NoRole) {
				doubts++
			}
			words++
			data, all := 0, 0
			for _, rec := range b.records[1:min(len(b.records), sampleRows)] {
				c := b.g.lines[rec.row].at(col)
				if c.text == "" {
					continue
				}
				if c.text == t { // what stands below is like it
					doubts++
				}
				all++
				if k := r.kind(c); k.isNum || r.dateOf(c, true).Form != lexicon.NoDate {
					data++
				}
			}
			if all >= 3 && data*10 >= all*9 {
				above++
			}
		}
		if words < 3 || above == 0 || words < b.right-b.left-1 || doubts > 0 && above < 3*doubts {
			continue
		}
		b.heads, b.records = []int{b.records[0].row}, b.records[1:]
		b.cols = r.headed(b)
	}
}

// headsBelow takes the first record of a table of belts for a second row of headings where it names covers above columns of
// numbers.
func (r *reader) headsBelow(b *block) {
	if len(b.heads) == 0 || len(b.records) < 2 {
		return
	}
	first := &b.g.lines[b.records[0].row]
	var named []int
	for i := range b.cols {
		c := &b.cols[i]
		t := first.at(c.at).text
		switch k := r.kindOf(t); {
		case t == "":
		case !k.isCover || k.cover.Weak || !r.numbersBelow(b, c):
			return
		default:
			named = append(named, i)
		}
	}
	if len(named) < 2 {
		return
	}
	for _, i := range named {
		c := &b.cols[i]
		text := first.at(c.at).text
		c.head = r.lex.Heading(string(r.kindOf(text).cover.Substrate) + " clumps")
		c.head.Text = text
	}
	b.heads = append(b.heads, b.records[0].row)
	b.records = b.records[1:]
}

func (r *reader) numbersBelow(b *block, c *column) bool {
	for _, rec := range b.records[1:] {
		if t := b.g.lines[rec.row].at(c.at).text; t != "" && !r.kindOf(t).whole {
			return false
		}
	}
	return true
}

var (
	clumpParts = regexp.MustCompile(`\s*(?:[,;/&+\n]|\band\b|\by\b)\s*`)
	numberLead = regexp.MustCompile(`^(\d{1,3})\s*(?:x\s*)?(\pL.*)$`)
	numberTail = regexp.MustCompile(`^(\pL.*?)\s*[:=–-]?\s*(\d{1,3})$`)
)

// clumpsTold reads a cell that lists counts of clumps with their covers: "32 bunchgrass, 22 yucca".
func (r *reader) clumpsTold(text string) (map[survey.Substrate]int, bool) {
	counts := map[survey.Substrate]int{}
	for _, part := range clumpParts.Split(strings.Trim(text, " .;"), -1) {
		number, name := "", ""
		if m := numberLead.FindStringSubmatch(part); m != nil {
			number, name = m[1], m[2]
		} else if m := numberTail.FindStringSubmatch(part); m != nil {
			number, name = m[2], m[1]
		}
		cover, ok := r.lex.Cover(name)
		n, isNumber := lexicon.Atoi(number)
		if _, unit := lexicon.FeetPer(strings.ToLower(name)); !ok || !isNumber || name == "" || unit || lexicon.IsStep(strings.ToLower(name)) {
			return nil, false
		}
		counts[cover.Substrate] += n
	}
	return counts, len(counts) > 0
}

// tellsClumps finds the column of a table of belts whose cells list the counts.
func (r *reader) tellsClumps(b *block) *column {
	for i := range b.cols {
		c := &b.cols[i]
		if c.fixed || !slices.Contains([]lexicon.Role{lexicon.NoRole, lexicon.Clumps, lexicon.Count, lexicon.Notes, lexicon.Substrate, lexicon.Found, lexicon.Belt, lexicon.Width, lexicon.Length}, c.role) {
			continue
		}
		told, all := 0, 0
		for _, rec := range b.records[:min(len(b.records), sampleRows)] {
			if t := b.g.lines[rec.row].at(c.at).text; t != "" {
				all++
				if _, ok := r.clumpsTold(t); ok && strings.ContainsAny(t, "0123456789") {
					told++
				}
			}
		}
		if told > 0 && told*10 >= all*7 {
			return c
		}
	}
	return nil
}

// countedBeside finds the one column of numbers beside a column of covers, in a table of lines: a row a kind of clump.
func (r *reader) countedBeside(b *block) *column {
	cover := b.column(lexicon.Substrate)
	if cover == nil || cover.share(cover.cover) < 0.8 || len(b.visits) > 0 {
		return nil
	}
	var found *column
	for i := range b.cols {
		if c := &b.cols[i]; c.role == lexicon.NoRole && c.n > 0 && c.share(c.num) >= 0.8 {
			if found != nil {
				return nil
			}
			found = c
		}
	}
	return found
}
