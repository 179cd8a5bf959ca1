package sheet_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tussock/internal/sheet"
	"tussock/internal/words"
)

// A dumped is a worksheet as another program's library reads it (testdata/dump.py).
type dumped struct {
	Name          string
	Hidden        bool
	HiddenColumns []int
	Merges        [][4]int // top, bottom, left, right
	Rows          map[string]dumpedRow
}

type dumpedRow struct {
	Hidden   bool
	Cells    map[string]string
	Date     map[string]string // "year" or "no year"
	Fill     map[string]string
	Comment  map[string]string
	Struck   map[string]bool
	Unworked map[string]bool
}

func open(t testing.TB, name string) *sheet.Book {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	b, err := sheet.Open(name, data, words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// dump writes what we read in the same form.
func dump(t testing.TB, b *sheet.Book) []dumped {
	t.Helper()
	var out []dumped
	for _, table := range b.Tables {
		d := dumped{Name: table.Name, Hidden: table.Hidden, HiddenColumns: table.HiddenColumns, Rows: map[string]dumpedRow{}}
		seen := map[sheet.Merge]bool{}
		for row, err := range table.Rows() {
			if err != nil {
				t.Fatal(err)
			}
			r := dumpedRow{Hidden: row.Hidden, Cells: map[string]string{}, Date: map[string]string{}, Fill: map[string]string{},
				Comment: map[string]string{}, Struck: map[string]bool{}, Unworked: map[string]bool{}}
			for c, text := range row.Cells {
				at, look := strconv.Itoa(c), row.Look(c)
				if text != "" {
					r.Cells[at] = text
				}
				if look.Date != sheet.NoDate {
					r.Date[at] = map[sheet.DateLook]string{sheet.DateYear: "year", sheet.DateNoYear: "no year"}[look.Date]
				}
				if look.Fill != "" {
					r.Fill[at] = look.Fill
				}
				if look.Comment != "" {
					r.Comment[at] = look.Comment
				}
				if look.Struck && text != "" {
					r.Struck[at] = true
				}
				if look.Unworked {
					r.Unworked[at] = true
				}
				if m, ok := table.Merged(row.Number, c); ok && !seen[m] {
					seen[m] = true
					d.Merges = append(d.Merges, [4]int{m.Top, m.Bottom, m.Left, m.Right})
				}
			}
			d.Rows[strconv.Itoa(row.Number)] = r
		}
		slices.SortFunc(d.Merges, func(a, b [4]int) int { return a[0] - b[0] })
		out = append(out, d)
	}
	return out
}

// TestAgainstOtherLibraries holds every workbook against what a library of another language reads from it.
func TestAgainstOtherLibraries(t *testing.T) {
	list, err := filepath.Glob("testdata/*.json")
	if err != nil || len(list) < 10 {
		t.Fatalf("%d dumps, %v", len(list), err)
	}
	for _, path := range list {
		name := strings.TrimSuffix(filepath.Base(path), ".json")
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			var want []dumped
			if err := json.Unmarshal(data, &want); err != nil {
				t.Fatal(err)
			}
			opts := cmp.Options{cmpopts.EquateEmpty()}
			if strings.HasSuffix(name, ".xls") { // their library does not tell
				opts = append(opts, cmpopts.IgnoreFields(dumpedRow{}, "Unworked"))
			}
			if strings.HasPrefix(name, "boxes") { // nor theirs of parts of a text
				opts = append(opts, cmpopts.IgnoreFields(dumpedRow{}, "Struck"))
			}
			if diff := cmp.Diff(want, dump(t, open(t, name)), opts); diff != "" {
				t.Errorf("(-theirs +ours)\n%s", diff)
			}
		})
	}
}
