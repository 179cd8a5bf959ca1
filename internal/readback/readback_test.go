package readback_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tussock/internal/intake"
	"tussock/internal/readback"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// read reads files as the owner of Dry Fork sends them, and lays them out.
func read(t *testing.T, opt intake.Options, files ...intake.File) (*intake.Result, *readback.Page, *readback.Layout) {
	t.Helper()
	opt.Ranch, opt.OnlyRanches, opt.Today, opt.Places = "Dry Fork", []string{"Dry Fork"}, survey.DateOf(2026, 11, 30), true
	res, err := intake.Read(files, opt)
	if err != nil {
		t.Fatal(err)
	}
	layout, err := readback.Lay(files, res)
	if err != nil {
		t.Fatal(err)
	}
	page := readback.Say(res, "Dry Fork")
	page.Tables, page.Sums = layout.Tables, layout.Sums
	return res, page, layout
}

func csv(name string, lines ...string) intake.File {
	return intake.File{Name: name, Data: []byte(strings.Join(lines, "\n") + "\n")}
}

// small is a sheet as somebody keeps it: a title, headings, a sum below.
var small = csv("nests 2024.csv",
	"Dry Fork nests 2024,,,,,,,",
	",,,,,,,",
	"Line,Nest,Cover,Set out,Look 1,Saw,Look 2,Saw then",
	"1,1,grass,4/28/2024,5/12/2024,ok,5/26/2024,gone",
	"1,2,yucca,4/28/2024,5/12/2024,gone,,",
	"1,3,grass,4/28/2024,5/12/2024,ok,5/26/2024,ok",
	"2,1,yucca,4/29/2024,5/13/2024,zzyzx,,",
	"TOTAL,4,,,,2,,1 left",
)

// roles lists the tags over the columns of a table's first piece.
func roles(t *readback.Table) (list []string) {
	for _, tag := range t.Cut(t.Rows)[0].Tags {
		list = append(list, fmt.Sprintf("%d %s", tag.Column, tag.Role))
	}
	return list
}

// TestSmallSheet: a short sheet is there whole, each column with its tag, each cell with what became of it.
func TestSmallSheet(t *testing.T) {
	_, page, layout := read(t, intake.Options{}, small)
	if len(page.Tables) != 1 || len(layout.Parts) != 0 {
		t.Fatalf("%d tables and %d parts, want 1 and none", len(page.Tables), len(layout.Parts))
	}
	table := &page.Tables[0]
	if table.Count != 7 || len(table.Rows) != 7 || table.Width != 8 || table.Parts != 0 {
		t.Errorf("table: %d of %d rows, %d columns, %d parts", len(table.Rows), table.Count, table.Width, table.Parts)
	}
	want := []string{"0 transect", "1 nest", "2 substrate", "3 set_on", "4 check1_on", "5 check1", "6 check2_on", "7 check2"}
	if got := roles(table); !slices.Equal(got, want) {
		t.Errorf("tags = %v, want %v", got, want)
	}
	if s := page.Seasons; len(s) != 1 || s[0] != (readback.Season{Season: 2024, Nests: 3, Lines: 1, Intact: 1, Taken: 2, Waiting: 1}) {
		t.Errorf("seasons = %+v", s)
	}
	cell := func(row, col int) readback.Cell {
		for _, r := range table.Rows {
			if r.N == row {
				return r.Cells[col]
			}
		}
		t.Fatalf("no row %d", row)
		return readback.Cell{}
	}
	if c := cell(7, 5); c.Text != "zzyzx" || c.Mark != readback.Asked {
		t.Errorf("a word nobody knows is marked %+v, want asked", c)
	} else if q := page.Questions[c.Ref]; q.Kind != "state" || !strings.Contains(q.Text, "zzyzx") {
		t.Errorf("its mark leads to %+v", q)
	}
	if c := cell(4, 2); c.Mark != readback.Tidied || !strings.Contains(page.Tidied[c.Ref].Text, "bunchgrass") {
		t.Errorf("grass is marked %+v", c)
	}
	if c := cell(8, 0); c.Mark != readback.Aside || !strings.Contains(page.Aside[c.Ref].Text, "total") {
		t.Errorf("the sum is marked %+v", c)
	}
	if c := cell(5, 1); c.Mark != readback.AsIs || c.Text != "2" {
		t.Errorf("a plain number is marked %+v", c)
	}
	if len(page.Sums) != 1 || page.Sums[0].Row != 8 || !slices.Equal(page.Sums[0].Cells, []string{"TOTAL", "4", "2", "1 left"}) {
		t.Errorf("the sheet's own sums = %+v", page.Sums)
	}
}

// TestLongSheet: of a long sheet the page has the first rows and every row with something to say, as far as there is room; all
// rows are in parts, each once and in order.
func TestLongSheet(t *testing.T) {
	lines := []string{"Line,Nest,Cover,Set out,Look 1,Saw"}
	for i := range 3000 {
		saw := "ok"
		if i == 1700 {
			saw = "zzyzx"
		}
		lines = append(lines, fmt.Sprintf("%d,%d,yucca,4/28/2024,5/12/2024,%s", i/12+1, i%12+1, saw))
	}
	_, page, layout := read(t, intake.Options{}, csv("long.csv", lines...))
	table := &page.Tables[0]
	if table.Count != 3001 || len(table.Rows) > 400 || len(table.Rows) < 11 {
		t.Errorf("%d of %d rows stand on the page", len(table.Rows), table.Count)
	}
	if last := table.Rows[len(table.Rows)-1]; last.N != 1702 || last.Gap == 0 || last.Cells[5].Mark != readback.Asked {
		t.Errorf("the last row on the page is %+v, want row 1702, which is asked about", last)
	}
	if table.Parts != len(layout.Parts) || table.Part != 0 {
		t.Fatalf("parts %d from %d, of %d", table.Parts, table.Part, len(layout.Parts))
	}
	n := 0
	for i, body := range layout.Parts {
		part, err := readback.UnpackPart(body)
		if err != nil || part == nil || part.Table != 0 {
			t.Fatalf("part %d: %+v, %v", i, part, err)
		}
		for _, r := range part.Rows {
			if n++; r.N != n {
				t.Fatalf("part %d has row %d, want %d", i, r.N, n)
			}
		}
		if asked := slices.Contains(part.Refs, readback.Ref{Mark: readback.Asked, Ref: 0}); asked != (part.Rows[0].N <= 1702 && part.Rows[len(part.Rows)-1].N >= 1702) {
			t.Errorf("part %d refers to the question: %v", i, asked)
		}
	}
	if n != 3001 {
		t.Errorf("the parts have %d rows, want 3001", n)
	}
	body, err := page.Pack()
	if err != nil {
		t.Fatal(err)
	}
	if again, err := readback.Unpack(body); err != nil || len(again.Tables[0].Rows) != len(table.Rows) {
		t.Errorf("what is kept is not what was made: %v", err)
	}
	if len(body) > 60_000 {
		t.Errorf("the page takes %d bytes to keep", len(body))
	}
}

// TestTags: where a tab has several tables, below each other or side by side, each row stands under the tags of its own.
func TestTags(t *testing.T) {
	for name, tt := range map[string]struct {
		lines []string
		at    map[int]string // tags at a row, as column and role
	}{
		"Below": {[]string{
			"LINE 1 set Apr 29", "nest,cover,5/11,5/26", "1,yucca,ok,ok", "2,grass,gone,", "3,grass,ok,gone", "",
			"LINE 2 set Apr 30", "cover,nest,5/12,5/25", "yucca,1,ok,ok", "grass,2,ok,gone", "yucca,3,gone,"},
			map[int]string{3: "0 nest 1 substrate 2 check1 3 check2", 9: "0 substrate 1 nest 2 check1 3 check2"}},
		"Beside": {[]string{
			"Line,Nest,Cover,Set,Look 1,Saw,,Line,Length,Width,Grass", "1,1,yucca,4/28/2024,5/12/2024,ok,,1,300 ft,6 ft,12",
			"1,2,grass,4/28/2024,5/12/2024,gone,,2,300 ft,6 ft,9", "2,1,grass,4/28/2024,5/12/2024,ok,,,,,", "2,2,yucca,4/28/2024,5/12/2024,ok,,,,,"},
			map[int]string{2: "0 transect 1 nest 2 substrate 3 set_on 4 check1_on 5 check1 7 transect 8 length 9 width 10 count_bunchgrass"}},
		"BesideAndLower": {[]string{
			"Line,Nest,Cover,Set,Look 1,Saw,,,,,", "1,1,yucca,4/28/2024,5/12/2024,ok,,Line,Length,Width,Grass",
			"1,2,grass,4/28/2024,5/12/2024,gone,,1,300 ft,6 ft,12", "2,1,grass,4/28/2024,5/12/2024,ok,,2,300 ft,6 ft,9", "2,2,yucca,4/28/2024,5/12/2024,ok,,,,,"},
			map[int]string{2: "0 transect 1 nest 2 substrate 3 set_on 4 check1_on 5 check1 7 transect 8 length 9 width 10 count_bunchgrass"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, page, _ := read(t, intake.Options{Season: 2024}, csv("tags.csv", tt.lines...))
			table := &page.Tables[0]
			if n := len(table.Cut(table.Rows)); strings.HasPrefix(name, "Beside") && n != 1 {
				t.Errorf("tables side by side are cut in %d", n)
			}
			seen := 0
			for _, piece := range table.Cut(table.Rows) {
				var list []string
				for _, tag := range piece.Tags {
					if tag.Role != "" {
						list = append(list, fmt.Sprintf("%d %s", tag.Column, tag.Role))
					}
				}
				for _, r := range piece.Rows {
					want, ok := tt.at[r.N]
					if !ok {
						continue
					}
					if seen++; strings.Join(list, " ") != want {
						t.Errorf("over row %d: %s\nwant %s", r.N, strings.Join(list, " "), want)
					}
				}
			}
			if seen != len(tt.at) {
				t.Errorf("%d of %d rows are there", seen, len(tt.at))
			}
		})
	}
}

// TestRefusals: what cannot be used is said once for all its places, and not at all where a question is about it.
func TestRefusals(t *testing.T) {
	lines := []string{"transect,nest,substrate,set_on,check1_on,check1"}
	for i := range 40 {
		lines = append(lines, fmt.Sprintf("%d,%d,yucca,2024-04-28,,ok", i/12+1, i%12+1))
	}
	res, page, _ := read(t, intake.Options{}, csv("refused.csv", lines...))
	if len(res.Refused) < 40 {
		t.Skipf("only %d rows are refused: the reader makes more of them now", len(res.Refused))
	}
	said := map[string]bool{}
	for _, r := range page.Refused {
		if said[r.Text] {
			t.Errorf("said twice: %s", r.Text)
		}
		said[r.Text] = true
	}
	if n := page.Refused[0].N; len(page.Refused) > 2 || n != 40 {
		t.Errorf("%d sentences, the first of %d places: %+v", len(page.Refused), n, page.Refused)
	}
}

// TestElsewhere: rows of another ranch are counted apart.
func TestElsewhere(t *testing.T) {
	files := []intake.File{csv("two.csv", "ranch,transect,nest,substrate,set_on,check1_on,check1",
		"Dry Fork,1,1,yucca,2024-04-28,2024-05-12,ok", "Long Draw,1,1,yucca,2024-04-28,2024-05-12,ok", "Long Draw,1,2,yucca,2024-04-28,2024-05-12,gone")}
	res, err := intake.Read(files, intake.Options{Ranch: "Dry Fork", OnlyRanches: []string{"Dry Fork", "Long Draw"}})
	if err != nil {
		t.Fatal(err)
	}
	page := readback.Say(res, "Dry Fork")
	if len(page.Seasons) != 1 || page.Seasons[0].Nests != 1 || len(page.Elsewhere) != 1 || page.Elsewhere[0] != (readback.Place{Ranch: "Long Draw", Nests: 2}) {
		t.Errorf("seasons %+v, elsewhere %+v", page.Seasons, page.Elsewhere)
	}
}

// TestAnotherVersion: what another version of the program kept is not misread.
func TestAnotherVersion(t *testing.T) {
	body, err := readback.Failed("no").Pack()
	if err != nil {
		t.Fatal(err)
	}
	if p, err := readback.Unpack(body); err != nil || p == nil || p.Problem != "no" {
		t.Errorf("a page of our own: %+v, %v", p, err)
	}
	if p, err := readback.Unpack([]byte("not packed")); err == nil || p != nil {
		t.Errorf("what is no page: %+v, %v", p, err)
	}
}

func TestNest(t *testing.T) {
	n := survey.Nest{Transect: "A", Number: "3", Substrate: survey.Yucca, SetOn: survey.DateOf(2024, 4, 28),
		Visits: []survey.Visit{{On: survey.DateOf(2024, 5, 12), State: survey.Intact}, {On: survey.DateOf(2024, 5, 26), State: survey.Taken}}}
	const want = "Nest 3 on line A, in yucca, set April 28, 2024: eggs all there on May 12, 2024 and taken by May 26, 2024."
	if got := readback.Nest(words.Speaker{}, &n); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
