package intake_test

import (
	"bytes"
	encodingcsv "encoding/csv"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
	textunicode "golang.org/x/text/encoding/unicode"

	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/sheet"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A book is a file of text or a workbook as bare cells, so that it can be changed and written again.
type book struct {
	name  string
	comma rune // of text; 0 is a workbook
	tabs  []tab
}

type tab struct {
	name string
	rows [][]string
}

// bare takes a batch apart; false where a file is neither separated text nor a workbook.
func bare(t *testing.T, files []intake.File) ([]book, bool) {
	t.Helper()
	var books []book
	for _, f := range files {
		kind := strings.ToLower(filepath.Ext(f.Name))
		if kind != ".csv" && kind != ".tsv" && kind != ".txt" && kind != ".xlsx" {
			return nil, false
		}
		opened, err := sheet.Open(f.Name, f.Data, words.Speaker{})
		if err != nil {
			return nil, false
		}
		b := book{name: f.Name}
		for _, table := range opened.Tables {
			if kind != ".xlsx" {
				if b.comma = table.Delimiter; b.comma == 0 || b.comma == ' ' {
					return nil, false
				}
			}
			if table.Hidden {
				return nil, false
			}
			one := tab{name: table.Name}
			for row, err := range table.Rows() {
				if err != nil {
					return nil, false
				}
				for len(one.rows) < row.Number-1 {
					one.rows = append(one.rows, nil)
				}
				one.rows = append(one.rows, slices.Clone(row.Cells))
			}
			b.tabs = append(b.tabs, one)
		}
		opened.Close()
		books = append(books, b)
	}
	return books, true
}

func (b book) clone() book {
	b.tabs = slices.Clone(b.tabs)
	for i := range b.tabs {
		b.tabs[i].rows = slices.Clone(b.tabs[i].rows)
		for k := range b.tabs[i].rows {
			b.tabs[i].rows[k] = slices.Clone(b.tabs[i].rows[k])
		}
	}
	return b
}

// file writes a book as it came.
func (b book) file(t *testing.T) intake.File {
	t.Helper()
	var out bytes.Buffer
	if b.comma != 0 {
		w := encodingcsv.NewWriter(&out)
		w.Comma = b.comma
		for _, row := range b.tabs[0].rows {
			if len(row) == 0 {
				w.Flush()
				out.WriteString("\n")
				continue
			}
			w.Write(row)
		}
		w.Flush()
		return intake.File{Name: b.name, Data: out.Bytes()}
	}
	f := excelize.NewFile()
	for i, one := range b.tabs {
		if i == 0 {
			f.SetSheetName("Sheet1", one.name)
		} else {
			f.NewSheet(one.name)
		}
		for r, row := range one.rows {
			for c, text := range row {
				if text == "" {
					continue
				}
				cell, _ := excelize.CoordinatesToCellName(c+1, r+1)
				var v any = text
				if n, unit, ok := lexicon.Number(text, false); ok && unit == "" && fmt.Sprint(n) == text {
					v = n
				}
				f.SetCellValue(one.name, cell, v)
			}
		}
	}
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return intake.File{Name: b.name, Data: out.Bytes()}
}

func filesOf(t *testing.T, books []book) []intake.File {
	var files []intake.File
	for _, b := range books {
		files = append(files, b.file(t))
	}
	return files
}

// A plain is what the reading of a batch told of one plain table: where its headings are and what its columns hold.
type plain struct {
	book, tab, head int
	roles           map[int]string // by column
	dayFirst        bool
}

// plains finds the tables with one row of headings whose columns were read by them, one a tab.
func plains(books []book, res *intake.Result) []plain {
	var out []plain
	for b := range books {
		for i, one := range books[b].tabs {
			p := plain{book: b, tab: i, head: -1, roles: map[int]string{}}
			heads := map[int]string{}
			blocks := map[int]bool{}
			for _, r := range res.Roles {
				if r.File != books[b].name || r.Sheet != one.name {
					continue
				}
				blocks[r.Block] = true
				for c := range 40 {
					if lettered(c) == r.Column {
						p.roles[c], heads[c] = r.Role, r.Heading
					}
				}
			}
			for r, row := range one.rows {
				same := 0
				for c, h := range heads {
					if h != "" && c < len(row) && lexicon.Tidy(row[c]) == h {
						same++
					}
				}
				if same >= 3 && same >= len(heads)-1 {
					p.head = r
					break
				}
			}
			for _, n := range res.Tidied {
				p.dayFirst = p.dayFirst || n.Kind == "day-first"
			}
			if len(blocks) == 1 && p.head >= 0 {
				out = append(out, p)
			}
		}
	}
	return out
}

func (p plain) rows(books []book) [][]string { return books[p.book].tabs[p.tab].rows }

// synonyms are other headings for what a column holds.
var synonyms = map[string][]string{
	"ranch": {"Ranch", "Ranch name", "Rancho"}, "site": {"Pasture", "Unit", "Potrero"}, "season": {"Season", "Year"}, "transect": {"Line", "Transect", "Línea"}, "nest": {"Nest", "Nest no.", "Nido"},
	"substrate": {"Cover", "Substrate", "Cobertura"}, "set_on": {"Set out", "Date set", "Put out"}, "check1_on": {"Check 1 date", "1st check (day)", "First visit date"}, "check1": {"Check 1 found", "First visit: found"},
	"check2_on": {"Check 2 date", "2nd check (day)", "Second visit date"}, "check2": {"Check 2 found", "Second visit: found"}, "checked_on": {"Date checked", "Checked on"}, "state": {"Found", "State"},
	"notes": {"Notes", "Remarks", "Comments"}, "trace": {"Tracks", "Signs"}, "guess": {"Predator guess", "Who did it"}, "observer": {"Observer", "Who checked"},
}

// A mutation changes a batch in a way that a careful person would read through; false where it does not apply.
type mutation struct {
	name   string
	change func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool)
}

var mutations = []mutation{
	{"headings renamed", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		changed := 0
		for _, p := range plains(books, res) {
			row := p.rows(books)[p.head]
			for c := range row {
				if list := synonyms[p.roles[c]]; list != nil {
					row[c] = list[rng.IntN(len(list))]
					changed++
				}
			}
		}
		return filesOf(t, books), changed > 0
	}},
	{"columns shuffled", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		changed := false
		for _, p := range plains(books, res) {
			rows := p.rows(books)
			width := len(rows[p.head])
			var units [][]int // columns of checks stay together and in order
			checks := -1
			for c := range width {
				if role := p.roles[c]; strings.HasPrefix(role, "check") || role == "state" {
					if checks >= 0 {
						units[checks] = append(units[checks], c)
						continue
					}
					checks = len(units)
				}
				units = append(units, []int{c})
			}
			rng.Shuffle(len(units), func(i, j int) { units[i], units[j] = units[j], units[i] })
			order := slices.Concat(units...)
			changed = changed || !slices.IsSorted(order)
			for r, row := range rows {
				if r < p.head || filledCells(row) < 2 && r != p.head {
					continue
				}
				to := make([]string, len(row))
				if len(row) < width {
					to = make([]string, width)
				}
				copy(to, row)
				for i, from := range order {
					to[i] = ""
					if from < len(row) {
						to[i] = row[from]
					}
				}
				rows[r] = to
			}
		}
		return filesOf(t, books), changed
	}},
	{"blank rows between", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		list := plains(books, res)
		for _, p := range list {
			rows := p.rows(books)
			for range 3 {
				if at := p.head + 2 + rng.IntN(max(len(rows)-p.head-2, 1)); at < len(rows) {
					rows = slices.Insert(rows, at, []string(nil))
				}
			}
			books[p.book].tabs[p.tab].rows = rows
		}
		return filesOf(t, books), len(list) > 0
	}},
	{"a tab split in two", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		for _, p := range plains(books, res) {
			rows := p.rows(books)
			from, to := p.head+1, len(rows)
			for to > from && filledCells(rows[to-1]) < 3 { // what stands below the table stays
				to--
			}
			if to-from < 8 || slices.ContainsFunc(rows[from:to], func(r []string) bool { return filledCells(r) < 2 }) {
				continue
			}
			cut := from + 2 + rng.IntN(to-from-4)
			for cut < to && !standsAlone(p, rows[cut]) {
				cut++
			}
			if cut >= to-1 {
				continue
			}
			second := append(slices.Clone(rows[:p.head+1]), rows[cut:to]...)
			first := append(slices.Clone(rows[:cut]), rows[to:]...)
			books[p.book].tabs[p.tab].rows = first
			if books[p.book].comma == 0 {
				books[p.book].tabs = append(books[p.book].tabs, tab{books[p.book].tabs[p.tab].name + " cont.", second})
			} else {
				ext := filepath.Ext(books[p.book].name)
				books = append(books, book{strings.TrimSuffix(books[p.book].name, ext) + " cont" + ext, books[p.book].comma, []tab{{"", second}}})
			}
			return filesOf(t, books), true
		}
		return nil, false
	}},
	{"other date formats", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		layout := []string{"January 2, 2006", "2 Jan 2006", "1/2/2006", "2006/01/02", "Jan 2, 2006", "2006-01-02"}[rng.IntN(6)]
		changed := 0
		for _, p := range plains(books, res) {
			for r, row := range p.rows(books) {
				for c := range row {
					if r <= p.head || p.roles[c] != "set_on" && !strings.HasSuffix(p.roles[c], "_on") {
						continue
					}
					if day, ok := dayOf(row[c], p.dayFirst); ok {
						row[c] = day.Format(layout)
						changed++
					}
				}
			}
		}
		return filesOf(t, books), changed > 5
	}},
	{"5 % of words misspelled", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		changed := 0
		for _, p := range plains(books, res) {
			for r, row := range p.rows(books) {
				for c := range row {
					role := p.roles[c]
					if r <= p.head || role != "substrate" && role != "state" && (!strings.HasPrefix(role, "check") || strings.Contains(role, "_")) || rng.IntN(20) > 0 {
						continue
					}
					if s, ok := misspelled(row[c], rng); ok {
						row[c] = s
						changed++
					}
				}
			}
		}
		return filesOf(t, books), changed > 0
	}},
	{"another encoding", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		files := filesOf(t, books)
		changed := false
		for i := range files {
			if books[i].comma == 0 {
				continue
			}
			s := string(files[i].Data)
			switch rng.IntN(4) {
			case 0:
				files[i].Data = append([]byte("\xef\xbb\xbf"), files[i].Data...)
			case 1:
				e := textunicode.UTF16(textunicode.LittleEndian, textunicode.UseBOM).NewEncoder()
				if coded, err := e.String(s); err == nil {
					files[i].Data = []byte(coded)
				}
			case 2:
				if coded, err := charmap.Windows1252.NewEncoder().String(s); err == nil {
					files[i].Data = []byte(coded)
				}
			case 3:
				if coded, err := charmap.Macintosh.NewEncoder().String(strings.ReplaceAll(s, "\n", "\r")); err == nil {
					files[i].Data = []byte(coded)
				}
			}
			changed = true
		}
		return files, changed
	}},
	{"text lined up with blanks", func(t *testing.T, books []book, res *intake.Result, rng *rand.Rand) ([]intake.File, bool) {
		if len(books) != 1 || len(books[0].tabs) != 1 || len(plains(books, res)) != 1 {
			return nil, false
		}
		rows := books[0].tabs[0].rows
		var widths []int
		for _, row := range rows {
			if filledCells(row) < 2 {
				continue
			}
			for c, text := range row {
				if strings.Contains(text, "  ") || strings.ContainsAny(text, "\n\t") {
					return nil, false
				}
				for len(widths) <= c {
					widths = append(widths, 0)
				}
				widths[c] = max(widths[c], utf8.RuneCountInString(text))
			}
		}
		var b strings.Builder
		for _, row := range rows {
			var line strings.Builder
			for c, text := range row {
				if filledCells(row) < 2 {
					line.WriteString(text)
					continue
				}
				fmt.Fprintf(&line, "%-*s", widths[c]+3, text)
			}
			b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
		}
		name := strings.TrimSuffix(books[0].name, filepath.Ext(books[0].name)) + ".txt"
		return []intake.File{{Name: name, Data: []byte(b.String())}}, true
	}},
}

// standsAlone tells whether a row says itself what its nest's line, cover and day of setting are, so that a tab may begin
// with it.
func standsAlone(p plain, row []string) bool {
	for c, role := range p.roles {
		if (role == "transect" || role == "site" || role == "substrate" || role == "set_on") && (c >= len(row) || row[c] == "") {
			return false
		}
	}
	return len(row) > 0 && !slices.ContainsFunc(row, lexicon.IsDitto)
}

func filledCells(row []string) (n int) {
	for _, text := range row {
		if strings.TrimSpace(text) != "" {
			n++
		}
	}
	return n
}

// dayOf reads a day with its year.
func dayOf(text string, dayFirst bool) (time.Time, bool) {
	d := lexicon.ReadDate(lexicon.Tidy(text), false)
	switch {
	case d.Form == lexicon.FullDate:
		return d.Day.Time(), d.Day != 0
	case d.Form == lexicon.TextDate && d.Year != 0:
		day := survey.DateOf(d.Year, time.Month(d.A), d.B)
		return day.Time(), day != 0
	case d.Form == lexicon.SlashDate && d.Year != 0:
		month, of := d.A, d.B
		if dayFirst || d.A > 12 {
			month, of = d.B, d.A
		}
		day := survey.DateOf(d.Year, time.Month(month), of)
		return day.Time(), day != 0
	}
	return time.Time{}, false
}

// misspelled slips once in a word of five letters or more.
func misspelled(text string, rng *rand.Rand) (string, bool) {
	letters := []rune(text)
	run := 0
	for i, r := range letters {
		if !unicode.IsLetter(r) {
			run = 0
			continue
		}
		if run++; run < 5 {
			continue
		}
		at := i - 1 - rng.IntN(2)
		switch rng.IntN(3) {
		case 0:
			letters[at], letters[at+1] = letters[at+1], letters[at]
		case 1:
			letters = slices.Delete(letters, at, at+1)
		case 2:
			letters = slices.Insert(letters, at, letters[at])
		}
		return string(letters), string(letters) != text
	}
	return text, false
}

// truthFrom takes what was read for the truth, to hold another reading against it.
func truthFrom(res *intake.Result) *truth {
	tr := &truth{}
	for i := range res.Data.Nests {
		n := &res.Data.Nests[i]
		of := truthNest{Ranch: n.Ranch, Site: n.Site, Season: n.Season, Transect: n.Transect, Nest: n.Number, Substrate: string(n.Substrate), SetOn: n.SetOn.String()}
		for _, v := range n.Visits {
			of.Checks = append(of.Checks, struct{ On, State string }{v.On.String(), string(v.State)})
		}
		tr.Nests = append(tr.Nests, of)
	}
	for i := range res.Data.Belts {
		b := &res.Data.Belts[i]
		counts := map[string]int{}
		for s, n := range b.Counts {
			counts[string(s)] = n
		}
		tr.Belts = append(tr.Belts, truthBelt{Ranch: b.Ranch, Site: b.Site, Season: b.Season, Transect: b.Transect, LengthFt: b.LengthFt, WidthFt: b.WidthFt, Counts: counts})
	}
	return tr
}

// TestMutations changes the sheets of the corpus that are read whole as people change sheets. No figure may change in
// silence: the same nests and belts come out, or what differs is asked about or refused.
func TestMutations(t *testing.T) {
	roots := os.Getenv("TUSSOCK_CORPUS")
	if roots == "" {
		t.Skip("TUSSOCK_CORPUS names no folders of sheets")
	}
	type tally struct{ sheets, same, asked, silent, nests, nestsSame, nestsAsked int }
	tallies := make([]tally, len(mutations))
	whole := 0
	for k, dir := range corpusDirs(t, strings.Split(roots, ":")...) {
		tr, files, opt := loadCase(t, dir)
		first, err := intake.Read(files, opt)
		if err != nil {
			continue
		}
		if sc := grade(&tr, first); sc.right != sc.nests || sc.wrong+sc.extra+sc.spare+sc.beltsWrong != 0 || sc.beltsRight != sc.belts {
			continue
		}
		books, ok := bare(t, files)
		if !ok {
			continue
		}
		base, err := intake.Read(filesOf(t, books), opt)
		if err != nil {
			continue
		}
		if sc := grade(&tr, base); sc.right != sc.nests || sc.spare != 0 || sc.beltsRight != sc.belts {
			continue // it rests on what bare cells do not show
		}
		whole++
		want := truthFrom(base)
		for m, change := range mutations {
			rng := rand.New(rand.NewPCG(uint64(k), uint64(m)))
			var again []book
			for _, b := range books {
				again = append(again, b.clone())
			}
			changed, ok := change.change(t, again, base, rng)
			if !ok {
				continue
			}
			res, err := intake.Read(changed, opt)
			if err != nil {
				res = &intake.Result{}
			}
			sc := grade(want, res)
			silent := sc.wrong + sc.extra + sc.beltsWrong
			if err != nil {
				silent, sc.asked = 0, sc.nests // it was refused aloud
			}
			y := &tallies[m]
			y.sheets++
			y.nests, y.nestsSame, y.nestsAsked = y.nests+sc.nests, y.nestsSame+sc.right, y.nestsAsked+sc.asked
			switch {
			case silent > 0:
				y.silent++
				t.Errorf("%s, %s: %d nests or belts changed in silence: %s", filepath.Base(dir), change.name, silent, strings.Join(changes(sc.lines), "; "))
				keep(t, filepath.Base(dir)+" "+change.name, changed)
			case sc.right == sc.nests && sc.beltsRight == sc.belts:
				y.same++
			default:
				y.asked++
			}
		}
	}
	t.Logf("%d sheets are read whole from their bare cells", whole)
	for m, y := range tallies {
		t.Logf("%-26s %3d sheets: %3d the same, %3d asked or refused, %3d changed in silence; of %4d nests %4d the same, %4d asked", mutations[m].name, y.sheets, y.same, y.asked, y.silent, y.nests, y.nestsSame, y.nestsAsked)
	}
}

// changes picks the lines of a score that tell of silence.
func changes(lines []string) []string {
	var out []string
	for _, l := range lines {
		if l = strings.TrimSpace(l); !strings.HasPrefix(l, "asked") && !strings.HasPrefix(l, "waits") && !strings.HasPrefix(l, "belt ") && !strings.HasPrefix(l, "site") && len(out) < 3 {
			out = append(out, l)
		}
	}
	return out
}

// keep writes changed files below TUSSOCK_MUTATIONS, where that is set, to look at.
func keep(t *testing.T, name string, files []intake.File) {
	root := os.Getenv("TUSSOCK_MUTATIONS")
	if root == "" {
		return
	}
	dir := filepath.Join(root, strings.ReplaceAll(name, " ", "-"))
	if err := os.MkdirAll(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
}
