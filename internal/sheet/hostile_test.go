package sheet_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"tussock/internal/errs"
	"tussock/internal/sheet"
	"tussock/internal/words"
)

// harmless reads data to its end and holds what comes out to what readers above may rely on.
func harmless(t *testing.T, data []byte) {
	t.Helper()
	sentence := func(err error) {
		if _, ok := errs.Message(err); !ok {
			t.Errorf("%v carries no sentence", err)
		}
	}
	b, err := sheet.Open("file", data, words.Speaker{})
	if err != nil {
		sentence(err)
		return
	}
	for _, table := range b.Tables {
		last := 0
		for row, err := range table.Rows() {
			if err != nil {
				sentence(err)
				return
			}
			if row.Number <= last || len(row.Cells) > sheet.MaxColumns || len(row.Looks) > len(row.Cells) {
				t.Fatalf("row %d after %d has %d cells and %d looks", row.Number, last, len(row.Cells), len(row.Looks))
			}
			last = row.Number
			filled := false
			for c, text := range row.Cells {
				filled = filled || strings.TrimSpace(text) != ""
				if !utf8.ValidString(text) || strings.IndexByte(text, 0) >= 0 || utf8.RuneCountInString(text) > sheet.MaxCell {
					t.Fatalf("row %d, column %d holds %q", row.Number, c, text)
				}
				look := row.Look(c)
				if _, err := time.Parse(time.DateOnly, text); look.Date != sheet.NoDate && err != nil && !strings.HasPrefix(text, "1") && len(text) == 10 {
					t.Fatalf("%q is said to be a date", text)
				}
				table.Merged(row.Number, c)
			}
			if !filled {
				t.Fatalf("row %d holds nothing", row.Number)
			}
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, name := range testFiles(f) {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, s := range []string{"a,b\n1,2\n", "a;b\n\"x\ny\";2\n", "\xff\xfea\x00,\x00", "sep=;\n", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a  b\n1  2\n1  3\n", "|a|b|\n|-|-|\n", "'a','b'\n'1','2'\n", "<table><tr><td>x"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { harmless(t, data) })
}

func testFiles(tb testing.TB) []string {
	list, err := filepath.Glob("testdata/*.[cfhoxz][sodtmliv]*")
	if err != nil || len(list) < 15 {
		tb.Fatalf("%d files, %v", len(list), err)
	}
	return list
}

// FuzzWorkbook changes the parts inside a workbook, which changed bytes of the archive hardly reach.
func FuzzWorkbook(f *testing.F) {
	for _, name := range []string{"season-openpyxl.xlsx", "season-libreoffice.xlsx", "boxes-xlsxwriter.xlsx"} {
		p := partsOf(f, name)
		f.Add(p["xl/worksheets/sheet1.xml"], p["xl/styles.xml"], p["xl/sharedStrings.xml"], p["xl/workbook.xml"])
	}
	base := partsOf(f, "boxes-xlsxwriter.xlsx")
	f.Fuzz(func(t *testing.T, worksheet, styles, strings, book []byte) {
		harmless(t, stored(t, base, map[string][]byte{"xl/worksheets/sheet1.xml": worksheet, "xl/styles.xml": styles, "xl/sharedStrings.xml": strings, "xl/workbook.xml": book}))
	})
}

func FuzzODS(f *testing.F) {
	for _, name := range []string{"season-odfpy.ods", "season-gnumeric.ods"} {
		p := partsOf(f, name)
		f.Add(p["content.xml"], p["styles.xml"])
	}
	base := partsOf(f, "season-odfpy.ods")
	f.Fuzz(func(t *testing.T, content, styles []byte) {
		harmless(t, stored(t, base, map[string][]byte{"content.xml": content, "styles.xml": styles}))
	})
}

// FuzzXLS changes a workbook's stream without the container around it.
func FuzzXLS(f *testing.F) {
	bof := []byte{9, 8, 16, 0, 0, 6, 5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0}
	f.Add(bof)
	for _, name := range []string{"season-xlwt.xls", "season-gnumeric-biff5.xls", "season-gnumeric-biff8.xls", "season-libreoffice.xls"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		// These small files keep the stream in one piece.
		if i := bytes.Index(data, []byte{9, 8}); i >= 0 {
			f.Add(data[i:])
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 6 && data[0] == 9 {
			copy(data[1:], []byte{8, 16, 0, 0})
			data[5] = 5 + data[5]&1
			harmless(t, data)
		}
	})
}

func FuzzUnpack(f *testing.F) {
	for _, name := range []string{"years-zip.zip", "locked-zip.zip"} {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		files, err := sheet.Unpack("file", data, words.Speaker{})
		if _, ok := errs.Message(err); err != nil && !ok {
			t.Errorf("%v carries no sentence", err)
		}
		for _, file := range files {
			if strings.HasPrefix(file.Name, "/") || strings.Contains("/"+file.Name+"/", "/../") || !utf8.ValidString(file.Name) {
				t.Errorf("a file is called %q", file.Name)
			}
		}
	})
}

func partsOf(tb testing.TB, name string) map[string][]byte {
	tb.Helper()
	r, err := zip.OpenReader("testdata/" + name)
	if err != nil {
		tb.Fatal(err)
	}
	defer r.Close()
	parts := map[string][]byte{}
	for _, f := range r.File {
		part, err := f.Open()
		if err != nil {
			tb.Fatal(err)
		}
		var b bytes.Buffer
		if _, err := b.ReadFrom(part); err != nil {
			tb.Fatal(err)
		}
		parts[f.Name] = b.Bytes()
	}
	return parts
}

func stored(tb testing.TB, base, changed map[string][]byte) []byte {
	tb.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, data := range base {
		if c, ok := changed[name]; ok {
			data = c
		}
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err != nil {
			tb.Fatal(err)
		}
		if _, err := w.Write(data); err != nil {
			tb.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// TestHostile: what is small as sent and means to be huge ends soon and takes little memory.
func TestHostile(t *testing.T) {
	const open = `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`
	const cells = `<row><c t="inlineStr"><is><t>`
	xlsx := partsOf(t, "boxes-xlsxwriter.xlsx")
	book := func(part, xml string) []byte { return packed(t, xlsx, part, xml) }
	worksheet := func(xml string) []byte { return book("xl/worksheets/sheet1.xml", xml) }
	longText := withPart(xlsx, "xl/sharedStrings.xml", "<sst><si><t>"+strings.Repeat("x", 30_000)+"</t></si></sst>")
	odsParts := partsOf(t, "season-odfpy.ods")
	ods := func(xml string) []byte {
		return packed(t, odsParts, "content.xml", `<office:document-content><office:body><office:spreadsheet>`+xml+`</office:spreadsheet></office:body></office:document-content>`)
	}
	const odsCell = `<table:table-cell office:value-type="string" table:number-columns-repeated="%d"><text:p>%s</text:p></table:table-cell>`
	laughs := `<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "haha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;"><!ENTITY x SYSTEM "file:///etc/passwd">]>`
	for _, tt := range []struct {
		name string
		data []byte
		says string // of the refusal; "" where the file is read
	}{
		{"a sheet of blanks", worksheet(open + strings.Repeat(" ", 120<<20) + `</sheetData></worksheet>`), ""},
		{"a text of 20 MB", worksheet(open + cells + strings.Repeat("x", 20<<20) + `</t></is></c></row></sheetData></worksheet>`), "damaged"},
		{"a tag of 20 MB", worksheet(open + `<row a="` + strings.Repeat("x", 20<<20)), "damaged"},
		{"entities", worksheet(laughs + open + cells + `&c;&x;</t></is></c></row></sheetData></worksheet>`), ""},
		{"entities in styles", book("xl/styles.xml", laughs+`<styleSheet>&c;</styleSheet>`), "damaged"},
		{"nested", worksheet(open + strings.Repeat("<row>", 1_000_000)), "damaged"},
		{"nested styles", book("xl/styles.xml", strings.Repeat("<a>", 1_000_000)), "damaged"},
		{"a row that never began", worksheet(open + `<c><v>1</v></c></row></sheetData></worksheet>`), "damaged"},
		{"far cells", worksheet(open + `<row r="1"><c r="XFD1"><v>1</v></c></row></sheetData></worksheet>`), "columns"},
		{"a far row", worksheet(open + `<row r="999999999999"><c><v>1</v></c></row></sheetData></worksheet>`), "damaged"},
		{"a worksheet that breaks off", worksheet(open + `<row><c><v>1</v></c></row>`), "damaged"},
		{"one text in every cell", packed(t, longText, "xl/worksheets/sheet1.xml", open+strings.Repeat("<row>"+strings.Repeat(`<c t="s"><v>0</v></c>`, 100)+"</row>", 1000)+`</sheetData></worksheet>`), "unpacks"},
		{"one text along a row", packed(t, longText, "xl/worksheets/sheet1.xml", open+"<row>"+strings.Repeat(`<c t="s"><v>0</v></c>`, 900)+`</row></sheetData></worksheet>`), "unpacks"},
		{"columns of OpenDocument", ods(`<table:table table:name="a"><table:table-row>` + fmt.Sprintf(odsCell, 16_000_000, "x") + `</table:table-row></table:table>`), "columns"},
		{"rows of OpenDocument", ods(`<table:table table:name="a"><table:table-row table:number-rows-repeated="1000000000">` + fmt.Sprintf(odsCell, 1, "x") + `</table:table-row></table:table>`), "200 000"},
		{"rows and columns of OpenDocument", ods(`<table:table table:name="a"><table:table-row table:number-rows-repeated="100000">` + fmt.Sprintf(odsCell, 1000, strings.Repeat("x", 30_000)) + `</table:table-row></table:table>`), "unpacks"},
		{"empty rows of OpenDocument", ods(`<table:table table:name="a">` + strings.Repeat(`<table:table-row table:number-rows-repeated="1000000000"><table:table-cell table:number-columns-repeated="1000000000"/></table:table-row>`, 10_000) + `</table:table>`), ""},
		{"spans of OpenDocument", ods(`<table:table table:name="a">` + strings.Repeat(`<table:table-row><table:table-cell table:number-columns-spanned="16384" table:number-rows-spanned="1000000"/></table:table-row>`, 20_000) + `</table:table>`), ""},
		{"blanks of OpenDocument", ods(`<table:table table:name="a"><table:table-row><table:table-cell><text:p>` + strings.Repeat(`<text:s text:c="1000000"/>`, 100_000) + `</text:p></table:table-cell></table:table-row></table:table>`), ""},
		{"tables within tables of a web page", []byte("<html>" + strings.Repeat("<table><tr><td>x", 200_000)), ""},
		{"spans of a web page", []byte("<table>" + strings.Repeat("<tr><td rowspan=65534 colspan=1000>x", 3_000)), "columns"},
		{"a web page that is one tag", []byte("<html " + strings.Repeat("x", 10<<20)), "damaged"},
		{"quotation marks", []byte("a,b\n" + strings.Repeat(`,"a`, 3_000_000)), "columns"},
		{"quotation marks and line ends", []byte("a,b,c\n" + strings.Repeat(strings.Repeat(`,"a`, 300)+"\n", 10_000)), ""},
		{"blanks only", append([]byte("x\n"), bytes.Repeat([]byte(" "), 19<<20)...), ""},
		{"gutters", []byte(strings.Repeat(strings.Repeat("a  ", 20_000)+"\n", 100)), "characters"},
		{"folders in folders of an old container", folders(100_000), "without a spreadsheet"},
		{"a ring of entries in an old container", ring(t), "without a spreadsheet"},
		{"worksheets that share their records", sharing(1000), "damaged"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			err := drain(tt.data)
			runtime.ReadMemStats(&after)
			message, _ := errs.Message(err)
			if (err != nil) != (tt.says != "") || !strings.Contains(message, tt.says) {
				t.Errorf("got %.300v, want %q", err, tt.says)
			}
			// 20 MB are read as 20 MB of text; what cells hold may be 160 MB.
			if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; mb > 450 {
				t.Errorf("took %d MB", mb)
			}
		})
	}
}

func withPart(base map[string][]byte, name, data string) map[string][]byte {
	out := map[string][]byte{name: []byte(data)}
	for k, v := range base {
		if k != name {
			out[k] = v
		}
	}
	return out
}

func packed(t testing.TB, base map[string][]byte, part, xml string) []byte {
	files := map[string]string{}
	for name, data := range withPart(base, part, xml) {
		files[name] = string(data)
	}
	return zipped(t, files)
}

// record returns one of a stream of an old workbook.
func record(kind uint16, body ...byte) []byte {
	out := binary.LittleEndian.AppendUint16(nil, kind)
	return append(binary.LittleEndian.AppendUint16(out, uint16(len(body))), body...)
}

// sharing returns a stream of many worksheets that all begin within the same 15 MB of empty cells.
func sharing(sheets int) []byte {
	bof := record(0x0809, 0, 6, 5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
	out := bytes.Clone(bof)
	size := len(bof) + sheets*len(record(0x85, 0, 0, 0, 0, 0, 0, 1, 0, 'a')) + len(record(0x0A))
	for i := range sheets {
		at := binary.LittleEndian.AppendUint32(nil, uint32(size+i*len(bof)))
		out = append(out, record(0x85, append(at, 0, 0, 1, 0, 'a')...)...)
	}
	out = append(out, record(0x0A)...)
	out = append(out, bytes.Repeat(bof, sheets)...)
	out = append(out, bytes.Repeat(record(0x0201, 0, 0, 0, 0, 0, 0), 1_500_000)...)
	return append(out, bytes.Repeat(record(0x0A), sheets)...)
}

// folders returns a container of the old office programs in which each folder lies in the one before.
func folders(n int) []byte {
	out := make([]byte, 512, 512+n*130)
	copy(out, "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
	put := func(at, v int) { binary.LittleEndian.PutUint32(out[at:], uint32(v)) }
	out[30] = 9
	sectors := (n + 3) / 4
	tables := (sectors + 127) / 128
	for i := range 109 {
		put(76+4*i, 0xFFFFFFFF)
		if i < tables {
			put(76+4*i, sectors+i)
		}
	}
	put(60, 0xFFFFFFFE)
	put(68, 0xFFFFFFFE)
	for i := range sectors * 4 {
		e := make([]byte, 128)
		copy(e, "a\x00")
		e[64], e[66] = 4, 1
		for _, at := range []int{68, 72} {
			binary.LittleEndian.PutUint32(e[at:], 0xFFFFFFFF)
		}
		binary.LittleEndian.PutUint32(e[76:], uint32(i+1))
		binary.LittleEndian.PutUint32(e[116:], 0xFFFFFFFE)
		out = append(out, e...)
	}
	for i := range tables * 128 {
		out = binary.LittleEndian.AppendUint32(out, uint32(i+1))
	}
	return out
}

// ring returns a container of the old office programs with an entry beside itself.
func ring(t *testing.T) []byte {
	data, err := os.ReadFile("testdata/season-xlwt.xls")
	if err != nil {
		t.Fatal(err)
	}
	data = renamed(data, "Slides")
	at := bytes.Index(data, []byte("S\x00l\x00i\x00d\x00e\x00s\x00"))
	binary.LittleEndian.PutUint32(data[at+68:], 1)
	return data
}
