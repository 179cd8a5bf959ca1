package intake_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A ledger tells what became of the cells of a batch, as far as a reading says so.
type ledger struct {
	rows    map[string]bool // rows of nests, belts and pastures: file, tab, row
	columns map[string]bool // columns that have a role: file, tab, letter; where a table lies on its side, its row's number
	heads   map[string][]string
	named   map[string]bool // cells that a question, a note, a refusal or a reason names: file, tab, row, column; column "" is the row, row 0 the tab
	facts   []string        // ranches, pastures, lines and years of what was read, folded
	quoted  string          // what notes repeat of the sheet
	keys    bool            // some codes were read by a key on the sheet
}

func at(parts ...any) string {
	var s []string
	for _, p := range parts {
		s = append(s, fmt.Sprint(p))
	}
	return strings.Join(s, "\x00")
}

func ledgerOf(res *intake.Result) *ledger {
	l := &ledger{rows: map[string]bool{}, columns: map[string]bool{}, heads: map[string][]string{}, named: map[string]bool{}}
	stands := func(cells []survey.Cell) {
		for _, c := range cells {
			l.rows[at(c.File, c.Sheet, c.Row)] = true
		}
	}
	for _, cells := range res.NestsAt {
		stands(cells)
	}
	for _, cells := range res.BeltsAt {
		stands(cells)
	}
	name := func(cells []survey.Cell) {
		for _, c := range cells {
			l.named[at(c.File, c.Sheet, c.Row, c.Column)] = true
			for _, r := range res.Roles { // a cell may be named by the heading above it
				if r.Heading != "" && r.Heading == c.Column && r.File == c.File && r.Sheet == c.Sheet {
					l.named[at(c.File, c.Sheet, c.Row, r.Column)] = true
				}
			}
		}
	}
	for i := range res.Waiting {
		stands([]survey.Cell{res.Waiting[i].From})
	}
	for i := range res.Data.Sites {
		stands([]survey.Cell{res.Data.Sites[i].From})
	}
	for _, r := range res.Roles {
		l.heads[at(r.File, r.Sheet)] = append(l.heads[at(r.File, r.Sheet)], lexicon.Fold(r.Heading))
		if r.Role != "" {
			l.columns[at(r.File, r.Sheet, r.Column)] = true
		}
	}
	var quoted strings.Builder
	for _, q := range res.Questions { // what is asked of a cell holds its row
		name(q.Cells)
		stands(q.Cells)
		quoted.WriteString(q.Text)
	}
	for _, n := range res.Tidied {
		name(n.Cells)
		quoted.WriteString(n.Text)
		l.keys = l.keys || n.Kind == "key" || n.Kind == "colors"
	}
	for _, s := range res.NotUsed {
		name(s.Cells)
	}
	for _, p := range res.Refused {
		name([]survey.Cell{{File: p.File, Sheet: p.Sheet, Row: p.Row}}) // a refusal leaves the row out
	}
	l.quoted = quoted.String()
	facts := map[string]bool{}
	fact := func(ranch, site, line string, season int) {
		facts[lexicon.Fold(ranch)], facts[lexicon.Fold(site)], facts[lexicon.Fold("line "+line)] = true, true, true
		facts[strconv.Itoa(season)] = true
	}
	for i := range res.Data.Nests {
		n := &res.Data.Nests[i]
		fact(n.Ranch, n.Site, n.Transect, n.Season)
	}
	for i := range res.Waiting {
		n := &res.Waiting[i]
		fact(n.Ranch, n.Site, n.Transect, n.Season)
	}
	for i := range res.Data.Belts {
		b := &res.Data.Belts[i]
		fact(b.Ranch, b.Site, b.Transect, b.Season)
	}
	for f := range facts {
		if len(f) > 1 {
			l.facts = append(l.facts, f)
		}
	}
	return l
}

// tells finds what a title or a note may tell of what stands around it: a day, a line, a width, what odd and even nests sit in.
var tells = regexp.MustCompile(`(?i)\b(?:line|linea|línea|transect|set|puse|puesto|put out|odd|even|nones|pares|wide|ancho|step|paso|pace|look|check|visit|revis|trip|pasture|potrero|belt|strip|franja)`)

// holds tells whether a reading says what became of a cell. Titles, keys and notes are taken as used where what they tell
// may show in what was read, since a reading lists no cells for them: surely is false then.
func (l *ledger) holds(t *sheet.Table, row int, column int, text string) (holds, surely bool) {
	letter := lettered(column)
	place := []any{t.File, t.Name}
	is := func(m map[string]bool, more ...any) bool { return m[at(append(slices.Clone(place), more...)...)] }
	fold := lexicon.Fold(text)
	heads := l.heads[at(place...)]
	switch {
	case fold == "" || is(l.named, 0, "") || is(l.named, row, "") || is(l.named, row, letter):
		return true, true
	case is(l.rows, row) && (t.Delimiter == 0 && t.Name == "" || is(l.columns, letter) || is(l.columns, strconv.Itoa(row))):
		return true, true
	case slices.ContainsFunc(heads, func(h string) bool {
		return h != "" && (h == fold || len(fold) > 1 && strings.Contains(h, fold) || len(h) > 3 && strings.Contains(fold, h))
	}):
		return true, true
	case is(l.columns, strconv.Itoa(row)): // a table on its side
		return true, true
	case strings.Contains(l.quoted, strings.TrimSpace(text)), l.keys && len(text) < 80, tells.MatchString(text), len(lexicon.FindDates(text)) > 0:
		return true, false
	}
	return slices.ContainsFunc(l.facts, func(f string) bool { return strings.Contains(fold, f) }), false
}

func lettered(column int) string {
	s := ""
	for column++; column > 0; column = (column - 1) / 26 {
		s = string(rune('A'+(column-1)%26)) + s
	}
	return s
}

// unaccounted lists the filled cells of which a reading does not say what became of them, and counts those that it uses by
// all appearances and lists nowhere.
func unaccounted(t testing.TB, files []intake.File, res *intake.Result) (lost []string, filled, guessed int) {
	t.Helper()
	l := ledgerOf(res)
	for _, f := range files {
		inside, err := sheet.Unpack(f.Name, f.Data, words.Speaker{})
		if err != nil {
			continue
		}
		for _, g := range inside {
			b, err := sheet.Open(g.Name, g.Data, words.Speaker{})
			if err != nil {
				continue
			}
			for _, table := range b.Tables {
				for row, err := range table.Rows() {
					if err != nil {
						break
					}
					for c, text := range row.Cells {
						if text = lexicon.Tidy(text); text == "" {
							continue
						}
						filled++
						holds, surely := l.holds(table, row.Number, c, text)
						if holds && !surely {
							guessed++
						}
						if !holds {
							lost = append(lost, fmt.Sprintf("%s!%s %s%d %q", table.File, table.Name, lettered(c), row.Number, text))
						}
					}
				}
			}
			b.Close()
		}
	}
	return lost, filled, guessed
}

// TestLedger reads the sheets of the corpus and lists the filled cells of which nothing is said.
func TestLedger(t *testing.T) {
	roots := os.Getenv("TUSSOCK_CORPUS")
	if roots == "" {
		t.Skip("TUSSOCK_CORPUS names no folders of sheets")
	}
	open, all, sheets, guesses := 0, 0, 0, 0
	for _, dir := range corpusDirs(t, strings.Split(roots, ":")...) {
		_, files, opt := loadCase(t, dir)
		res, err := intake.Read(files, opt)
		if err != nil {
			continue
		}
		lost, filled, guessed := unaccounted(t, files, res)
		guesses += guessed
		all += filled
		if len(lost) > 0 {
			sheets++
			open += len(lost)
			t.Logf("%s: %d of %d cells: %s", filepath.Base(dir), len(lost), filled, strings.Join(lost[:min(4, len(lost))], "; "))
		}
	}
	t.Logf("%d of %d filled cells in %d sheets are in nothing that the reading lists; %d more look used and are not listed", open, all, sheets, guesses)
}
