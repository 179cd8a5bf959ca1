package sheet

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// A dialect is how a text keeps its cells apart.
type dialect struct {
	comma     byte // between cells; 0 where each line is one cell
	quote     byte // around cells; 0 where nothing does
	backslash bool // a quote inside is written \" and not ""
	trim      bool // blanks around cells are no part of them
	tight     bool // no blank stands behind a comma
	longDates bool // May 12, 2025 is one cell, though nothing quotes it
	columns   int  // that most rows have
}

func (d dialect) shown() rune { return rune(d.comma) }

// How much of a text decides about its dialect.
const (
	sampleBytes = 64 << 10
	sampleRows  = 400
)

// detect tries the dialects that a text may be in, and takes the one whose rows come out most regular and whose cells
// look most like cells: numbers, days, words, and not pieces of sentences or of several cells. The idea of weighing both
// together is that of van den Burg, Nazábal and Sutton (2019). Where none gives a table, each line is one cell.
//
// A separator given, by the text itself, is taken.
func detect(text string, separator byte) dialect {
	sample := sampleOf(text)
	best, bestScore := dialect{}, 0.2 // prose with commas scores less
	commas := []byte{',', ';', '\t', '|'}
	if separator != 0 {
		commas, bestScore = []byte{separator}, -1
	}
	for _, comma := range commas {
		if strings.IndexByte(sample, comma) < 0 {
			continue
		}
		for _, d := range quotings(sample, comma) {
			if score := d.try(sample); score > bestScore {
				best, bestScore = d, score
			}
		}
	}
	return best
}

// sampleOf returns the whole lines within the first bytes of text.
func sampleOf(text string) string {
	if len(text) <= sampleBytes {
		return text
	}
	sample := text[:sampleBytes]
	if i := strings.LastIndexByte(sample, '\n'); i > 0 {
		return sample[:i+1]
	}
	return sample
}

// quotings returns the ways in which cells between commas may be quoted, as far as the sample shows marks for them.
func quotings(sample string, comma byte) []dialect {
	list := []dialect{{comma: comma, quote: '"', trim: comma == '|'}}
	if strings.Contains(sample, `\"`) {
		d := list[0]
		d.backslash = true
		list = append(list, d)
	}
	if comma == ',' && longDate.MatchString(sample) {
		d := list[0]
		d.longDates = true
		list = append(list, d)
	}
	if lonelyMark(comma).MatchString(sample) { // a mark that fills a cell is a ditto mark
		d := list[0]
		d.quote = 0
		list = append(list, d)
	}
	sep := string(rune(comma)) // an apostrophe quotes only where it stands at both ends of cells
	if opens, closes := strings.Count(sample, sep+"'"), strings.Count(sample, "'"+sep); opens > 0 && closes > 0 && min(opens, closes)*3 > max(opens, closes) {
		d := list[0]
		d.quote = '\''
		list = append(list, d)
		if strings.Contains(sample, `\'`) {
			d.backslash = true
			list = append(list, d)
		}
	}
	return list
}

// lonelyMark finds a cell that holds a double quote and otherwise blanks.
func lonelyMark(comma byte) *regexp.Regexp {
	sep := regexp.QuoteMeta(string(rune(comma)))
	return regexp.MustCompile(`(?m)(?:^|` + sep + `)[ ]*"[ ]*(?:` + sep + `|\r?$)`)
}

// longDate is a date with a comma inside, as it stands between two commas.
var longDate = regexp.MustCompile(`(?m)(?:^|,) ?[A-Za-z]{3,10}\.? \d{1,2}, ?\d{4} ?(?:,|\r?$)`)

// joinDates makes one cell of May 12 and 2025.
func joinDates(cells []string) []string {
	out := cells[:0]
	for i := 0; i < len(cells); i++ {
		if year := strings.TrimSpace(at(cells, i+1)); len(year) == 4 && digitsOnly(year) && monthAndDay(cells[i]) {
			out = append(out, strings.TrimSpace(cells[i])+", "+year)
			i++
			continue
		}
		out = append(out, cells[i])
	}
	return out
}

func at(cells []string, i int) string {
	if i < len(cells) {
		return cells[i]
	}
	return ""
}

func monthAndDay(s string) bool {
	month, day, ok := strings.Cut(strings.TrimSpace(s), " ")
	return ok && len(month) > 2 && letterIn(month) && !strings.ContainsAny(month, "0123456789") && len(day) < 3 && digitsOnly(day)
}

// A tally is what the rows of one length come to.
type tally struct{ length, rows, commas, blanks int }

// A trial is what a sample comes to when it is cut in one dialect.
type trial struct {
	tallies  []tally // by length, the shortest first
	rows     int
	cells    int     // of rows of several
	fit      float64 // how much they look like cells, together
	decimals bool    // all are halves of numbers such as 2,5
}

// cutSample cuts the sample.
func (d dialect) cutSample(sample string) trial {
	t := trial{decimals: true}
	lengths := map[int]tally{}
	c := cutter{dialect: d, text: sample}
	for from := 0; t.rows < sampleRows && c.next(); from = c.at {
		n := len(c.cells)
		if blank(c.cells) {
			continue
		}
		t.rows++
		l := lengths[n]
		lengths[n] = tally{n, l.rows + 1, l.commas + n - 1, l.blanks + strings.Count(sample[from:c.at], string([]byte{d.comma, ' '}))}
		if n == 1 {
			continue
		}
		for _, s := range c.cells {
			t.fit += cellness(s)
			t.cells++
		}
		t.decimals = t.decimals && n == 2 && digitsOnly(c.cells[0]) && digitsOnly(c.cells[1])
	}
	for _, n := range slices.Sorted(maps.Keys(lengths)) {
		t.tallies = append(t.tallies, lengths[n])
	}
	return t
}

// try cuts the sample and scores what comes out from 0 to 1. It notes how many columns most rows have.
func (d *dialect) try(sample string) float64 {
	t := d.cutSample(sample)
	if t.cells == 0 || d.comma == ',' && t.decimals && t.tallies[0].length == 1 { // one column below its heading
		return 0
	}
	var usual, all tally
	for _, l := range t.tallies {
		if l.rows*(l.length-1) > usual.rows*(usual.length-1) {
			usual = l
		}
		all.commas, all.blanks = all.commas+l.commas, all.blanks+l.blanks
	}
	d.columns = usual.length
	regular := 0.0
	for _, l := range t.tallies {
		share := float64(l.rows) * float64(l.length-1) / float64(l.length)
		if l != usual {
			share /= 2
		}
		regular += share
	}
	score := regular / float64(t.rows) * t.fit / float64(t.cells)
	if d.comma == ',' || d.comma == ';' { // sentences have a blank behind each
		d.tight = usual.blanks*10 < usual.commas
		score *= 1 - 0.5*min(1, float64(all.blanks)/float64(max(all.commas, 1)))
	}
	return score
}

func digitsOnly(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// cellness weighs how much a text looks like one cell of a table.
func cellness(s string) float64 {
	s = strings.TrimSpace(s)
	if s == "" {
		return 0.7
	}
	words, digits, inWord := 0, 0, false
	for _, c := range s {
		switch {
		case c == ';' || c == '|' || c == '\t':
			return 0
		case unicode.IsSpace(c):
			inWord = false
			continue
		case c >= '0' && c <= '9':
			digits++
		}
		if !inWord {
			words, inWord = words+1, true
		}
	}
	numeric := digits > 0 && strings.Trim(s, "0123456789.,/:-+%()°½'\"# ") == ""
	switch {
	case numeric && words < 4:
		return 1
	case strings.Contains(s, `\"`) || strings.Contains(s, `\'`): // a mark that was to be read
		return 0
	case strings.Contains(s, ",") && words > 1:
		if day, year, _ := strings.Cut(s, ","); monthAndDay(day) && digitsOnly(strings.TrimSpace(year)) {
			return 1
		}
		return 0.3
	case words <= 4 && len(s) <= 40:
		return 1
	case words <= 8:
		return 0.5
	}
	return 0.15
}
