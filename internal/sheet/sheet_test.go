package sheet_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"tussock/internal/errs"
	"tussock/internal/sheet"
	"tussock/internal/words"
)

// read returns the rows of every table as "number: cell|cell".
func read(t *testing.T, data []byte) []string {
	t.Helper()
	b, err := sheet.Open("file", data, words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	var got []string
	for _, table := range b.Tables {
		for row, err := range table.Rows() {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, fmt.Sprintf("%s%d: %s", table.Name, row.Number, strings.Join(row.Cells, "|")))
		}
	}
	return got
}

func TestCSV(t *testing.T) {
	utf16file := func(s string) []byte {
		out := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(s)) {
			out = append(out, byte(u), byte(u>>8))
		}
		return out
	}
	tests := []struct {
		name string
		data []byte
		want []string
	}{
		{"comma", []byte("a,b\n1,2\n"), []string{"1: a|b", "2: 1|2"}},
		{"semicolon with decimal commas", []byte("a;b;c\n1,5;2,5;3,5\n"), []string{"1: a|b|c", "2: 1,5|2,5|3,5"}},
		{"tab with an empty cell", []byte("a\tb\tc\n1\t\t3\n"), []string{"1: a|b|c", "2: 1||3"}},
		{"byte order mark and CRLF", []byte("\xef\xbb\xbfa,b\r\n1,2\r\n"), []string{"1: a|b", "2: 1|2"}},
		{"UTF-16", utf16file("a\tb\nniño\t2\n"), []string{"1: a|b", "2: niño|2"}},
		{"Windows-1252", []byte("a,b\nni\xf1o,2\n"), []string{"1: a|b", "2: niño|2"}},
		{"old Macintosh line ends", []byte("a,b\r1,2\r"), []string{"1: a|b", "2: 1|2"}},
		{"sep line", []byte("sep=;\na;b\n1;2\n"), []string{"2: a|b", "3: 1|2"}},
		{"empty lines count", []byte("a,b\n\n\n1,2\n,\n3,4\n"), []string{"1: a|b", "4: 1|2", "6: 3|4"}},
		{"a cell of two lines is one row", []byte("a,b\n\"x\ny\",2\n3,4\n"), []string{"1: a|b", "2: x\ny|2", "3: 3|4"}},
		{"a loose quotation mark", []byte("a,b\n5\" tall,2\n"), []string{"1: a|b", "2: 5\" tall|2"}},
		{"a quoted cell after a space", []byte("a, b\n1, \"x, y\"\n"), []string{"1: a|b", "2: 1|x, y"}},
		{"broken accents", []byte("a,b\nni√±o,niÃ±o\n"), []string{"1: a|b", "2: niño|niño"}},
		{"a check mark is no broken accent", []byte("a,b\n√,√\n"), []string{"1: a|b", "2: √|√"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if diff := cmp.Diff(read(t, tt.data), tt.want); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func workbook(t testing.TB, fill func(*excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	fill(f)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWorkbook(t *testing.T) {
	data := workbook(t, func(f *excelize.File) {
		f.SetCellStr("Sheet1", "A1", "nest")
		f.SetCellValue("Sheet1", "A3", 7)
		f.SetCellValue("Sheet1", "B3", time.Date(2025, 5, 1, 0, 0, 0, 0, time.UTC))
		f.SetCellFormula("Sheet1", "C3", "1+1")
		f.MergeCell("Sheet1", "A3", "A5")
		f.SetRowVisible("Sheet1", 3, false)
		yellow, _ := f.NewStyle(&excelize.Style{Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFFF00"}}})
		f.SetCellStyle("Sheet1", "A3", "A3", yellow)
		f.NewSheet("old")
		f.SetCellStr("old", "B2", "x")
		f.SetSheetVisible("old", false)
	})
	if diff := cmp.Diff(read(t, data), []string{"Sheet11: nest", "Sheet13: 7|2025-05-01|", "old2: |x"}); diff != "" {
		t.Error(diff)
	}
	b, err := sheet.Open("file.csv", data, words.Speaker{}) // the bytes count, not the name
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	first := b.Tables[0]
	if m, ok := first.Merged(5, 0); !ok || m.Top != 3 {
		t.Errorf("Merged(5, 0) = %v, %v; want a block from row 3", m, ok)
	}
	if _, ok := first.Merged(6, 0); ok {
		t.Error("row 6 is said to be merged")
	}
	if !b.Tables[1].Hidden {
		t.Error("the hidden tab is not said to be hidden")
	}
	for row, err := range first.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		for c := range row.Looks {
			want := sheet.Look{}
			switch {
			case row.Number == 3 && c == 0:
				want.Fill = "yellow"
			case row.Number == 3 && c == 1:
				want.Date = sheet.DateYear
			case row.Number == 3 && c == 2:
				want.Unworked = true // a formula without a value
			}
			if got := row.Look(c); got != want {
				t.Errorf("row %d, column %d looks like %+v, want %+v", row.Number, c, got, want)
			}
		}
		if row.Number != 3 {
			continue
		}
		if !row.Hidden {
			t.Error("the hidden row is not said to be hidden")
		}
		if len(row.Looks) < 3 {
			t.Errorf("row 3 has looks of %d cells, want 3", len(row.Looks))
		}
	}
}

// The two date systems follow ECMA-376-1:2016, 18.17.4 (cited from memory); 45415 is what any spreadsheet program shows.
func TestSerialDate(t *testing.T) {
	tests := []struct {
		serial  float64
		mac     bool
		want    string
		because string
	}{
		{1, false, "1900-01-01", "the first day of the 1900 system"},
		{61, false, "1900-03-01", "the day after the 29 February that never was"},
		{45415, false, "2024-05-03", ""},
		{45415.75, false, "2024-05-03", "with a time of day"},
		{0, true, "1904-01-01", "the first day of the 1904 system"},
		{43953, true, "2024-05-03", "1 462 days less"},
	}
	for _, tt := range tests {
		if got := sheet.SerialDate(tt.serial, tt.mac).Format(time.DateOnly); got != tt.want {
			t.Errorf("SerialDate(%v, %v) = %s, want %s %s", tt.serial, tt.mac, got, tt.want, tt.because)
		}
	}
}

func zipped(t testing.TB, names map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, body := range names {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, body); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// claiming returns a workbook with a part that says it unpacks to size bytes.
func claiming(t testing.TB, size uint64) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range []*zip.FileHeader{{Name: "xl/workbook.xml", UncompressedSize64: 1}, {Name: "xl/worksheets/sheet1.xml", UncompressedSize64: size}} {
		if _, err := z.CreateRaw(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// renamed gives the workbook's stream in a container another name.
func renamed(data []byte, name string) []byte {
	entry := func(name string) []byte {
		e := make([]byte, 66)
		for i, u := range utf16.Encode([]rune(name)) {
			binary.LittleEndian.PutUint16(e[2*i:], u)
		}
		e[64] = byte(2*len(name) + 2)
		return e
	}
	return bytes.Replace(data, entry("Workbook"), entry(name), 1)
}

func TestRefused(t *testing.T) {
	ole := "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + strings.Repeat("\x00", 600)
	old, err := os.ReadFile("testdata/season-xlwt.xls")
	if err != nil {
		t.Fatal(err)
	}
	whole := workbook(t, func(f *excelize.File) { f.SetCellStr("Sheet1", "A1", "nest") })
	tests := []struct {
		name string
		data []byte
		kind error
		says string
	}{
		{"empty", nil, errs.Invalid, "is empty"},
		{"over 20 MB", make([]byte, sheet.MaxBytes+1), errs.TooLarge, "20 MB"},
		{"JPEG", []byte("\xff\xd8\xff\xe0"), errs.Invalid, "picture"},
		{"PNG", []byte("\x89PNG\r\n\x1a\n"), errs.Invalid, "picture"},
		{"BMP", []byte("BM\x36\x00\x00\x00\x00\x00\x00\x00\x36\x00\x00\x00"), errs.Invalid, "picture"},
		{"HEIC", []byte("\x00\x00\x00\x18ftypheic0000"), errs.Invalid, "picture"},
		{"PDF", []byte("%PDF-1.7"), errs.Invalid, "PDF"},
		{"password in a broken container", []byte(ole + "E\x00n\x00c\x00r\x00y\x00p\x00t\x00e\x00d\x00P\x00a\x00c\x00k\x00a\x00g\x00e\x00"), errs.Invalid, "password"},
		{"no workbook in an old office file", renamed(old, "Slides"), errs.Invalid, "without a spreadsheet"},
		{"an old text document", renamed(old, "WordDocument"), errs.Invalid, "text document"},
		{"a workbook with a password", renamed(old, "EncryptedPackage"), errs.Invalid, "password"},
		{"an old workbook with a password", []byte("\x09\x08\x10\x00\x00\x06\x05\x00" + strings.Repeat("\x00", 12) + "\x2f\x00\x02\x00\x00\x00"), errs.Invalid, "password"},
		{"an old workbook cut short", old[:5000], errs.Invalid, "damaged"},
		{"a workbook from before 1995", []byte("\x09\x02\x06\x00\x00\x00"), errs.Invalid, "before 1995"},
		{"a web page with its pictures", []byte("MIME-Version: 1.0\r\n"), errs.Invalid, "web page"},
		{"a text document", zipped(t, map[string]string{"mimetype": "application/vnd.oasis.opendocument.text", "content.xml": "<x/>"}), errs.Invalid, "text document"},
		{"an ods with a password", zipped(t, map[string]string{"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": "x", "META-INF/manifest.xml": "<manifest:encryption-data/>"}), errs.Invalid, "password"},
		{"an ods cut short", zipped(t, map[string]string{"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": "<office:document-content><office:body>"}), errs.Invalid, "damaged"},
		{"zip of files", zipped(t, map[string]string{"a.csv": "a,b"}), errs.Invalid, "unpack"},
		{"web page", []byte("<html><table></table></html>"), errs.Invalid, "web page without a table"},
		{"XML", []byte("<?xml version=\"1.0\"?><a/>"), errs.Invalid, "XML"},
		{"zero bytes", []byte("a,b\n1,\x00\n"), errs.Invalid, "CSV UTF-8"},
		{"cut short", whole[:len(whole)/2], errs.Invalid, "damaged"},
		{"unzip bomb", claiming(t, 500<<20), errs.TooLarge, "unpacks"},
		{"rows", []byte(strings.Repeat("1,2\n", sheet.MaxRows+1)), errs.TooLarge, "200 000"},
		{"columns", []byte(strings.Repeat(",", 1500) + "1\n"), errs.TooLarge, "columns"},
		{"a cell without end", []byte("a,b\n" + strings.Repeat("x", 2*sheet.MaxCell) + ",2\n"), errs.TooLarge, "characters"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := drain(tt.data)
			message, ok := errs.Message(err)
			if !errors.Is(err, tt.kind) || !ok || !strings.Contains(message, tt.says) {
				t.Errorf("got %v, want a sentence with %q of kind %v", err, tt.says, tt.kind)
			}
		})
	}
}

func drain(data []byte) error {
	b, err := sheet.Open("file", data, words.Speaker{})
	if err != nil {
		return err
	}
	defer b.Close()
	for _, table := range b.Tables {
		for _, err := range table.Rows() {
			if err != nil {
				return err
			}
		}
	}
	return nil
}
