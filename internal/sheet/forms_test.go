package sheet_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tussock/internal/errs"
	"tussock/internal/sheet"
	"tussock/internal/words"
)

// The flat form says what the packed one does.
func TestFlatODS(t *testing.T) {
	if diff := cmp.Diff(dump(t, open(t, "season-libreoffice.ods")), dump(t, open(t, "season-libreoffice.fods"))); diff != "" {
		t.Errorf("(-packed +flat)\n%s", diff)
	}
}

// A season sheet that three programs wrote in several forms says the same in each, as far as the form goes.
func TestOneSeasonInManyForms(t *testing.T) {
	want := dump(t, open(t, "season-libreoffice.xlsx"))
	for _, name := range []string{"season-libreoffice.xls", "season-gnumeric-biff5.xls", "season-gnumeric-biff8.xls", "season-libreoffice.ods", "season-gnumeric.ods", "season-gnumeric.xlsx"} {
		got := dump(t, open(t, name))
		// One of the programs works a share out as percent, does not hide the tab in its XLSX, and shows a number otherwise.
		for i := range got {
			got[i].Hidden = want[i].Hidden
			for r := range got[i].Rows {
				delete(got[i].Rows[r].Cells, "9")
				delete(want[i].Rows[r].Cells, "9")
			}
		}
		if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s (-want +got)\n%s", name, diff)
		}
	}
}

// Formulas that a program could not work out are told from those that came to nothing.
func TestUnworkedInOldWorkbooks(t *testing.T) {
	if got := dump(t, open(t, "season-xlwt.xls"))[0].Rows["4"].Unworked; !got["7"] {
		t.Errorf("unworked = %v, want column 7", got)
	}
	for _, name := range []string{"season-libreoffice.xls", "season-gnumeric-biff5.xls"} {
		for number, row := range dump(t, open(t, name))[0].Rows {
			if len(row.Unworked) > 0 {
				t.Errorf("%s, row %s: unworked = %v", name, number, row.Unworked)
			}
		}
	}
}

// A text may go on in the next record, there with letters of two bytes instead of one.
func TestTextOverTwoRecords(t *testing.T) {
	bof := record(0x0809, 0, 6, 5, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
	sst := append(record(0xFC, 1, 0, 0, 0, 1, 0, 0, 0, 6, 0, 0, 'a', 'b', 'c'), record(0x3C, 1, 'd', 0, 0xF1, 0, 'f', 0)...)
	bound := record(0x85, 0, 0, 0, 0, 0, 0, 1, 0, 'a')
	bound[4] = byte(len(bof) + len(bound) + len(sst) + 4)
	stream := slices.Concat(bof, bound, sst, record(0x0A), bof, record(0xFD, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0), record(0x0A))
	if diff := cmp.Diff([]string{"a1: abcdñf"}, read(t, stream)); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// Cells of OpenDocument that name no style have that of their column.
func TestColumnStyles(t *testing.T) {
	content := `<office:document-content><office:automatic-styles><style:style style:name="y" style:family="table-cell"><style:table-cell-properties fo:background-color="#ffff00"/></style:style></office:automatic-styles>
<office:body><office:spreadsheet><table:table table:name="a"><table:table-column table:number-columns-repeated="2"/><table:table-column table:default-cell-style-name="y"/>
<table:table-row><table:table-cell table:number-columns-repeated="3" office:value-type="float" office:value="7"><text:p>7</text:p></table:table-cell></table:table-row></table:table></office:spreadsheet></office:body></office:document-content>`
	b, err := sheet.Open("a.ods", packed(t, partsOf(t, "season-odfpy.ods"), "content.xml", content), words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(map[string]string{"2": "yellow"}, dump(t, b)[0].Rows["1"].Fill); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestWebPage(t *testing.T) {
	got := dump(t, open(t, "season-gnumeric.html"))
	if len(got) != 2 || got[0].Name != "Pasture 3" || got[1].Name != "2024 (old)" {
		t.Fatalf("tables %+v", got)
	}
	first := got[0]
	if c := first.Rows["4"]; c.Cells["3"] != "26-May" || c.Fill["4"] != "green" || c.Cells["10"] != "by the tank" {
		t.Errorf("row 4 = %+v", c)
	}
	if c := first.Rows["7"]; c.Cells["0"] != "" || c.Cells["1"] != "4" || c.Cells["10"] != "two\nlines" {
		t.Errorf("row 7, below a cell that reaches down, = %+v", c)
	}
	if diff := cmp.Diff([][4]int{{1, 1, 0, 4}, {6, 7, 0, 0}, {8, 8, 10, 11}}, first.Merges); diff != "" {
		t.Errorf("merged (-want +got)\n%s", diff)
	}
	page := `<html><head><title>x</title><style>td { color: red }</style></head><body><h1>Dry Fork</h1><p>nests of 2025</p>
<table><tr bgcolor=yellow><th>nest<th>state<tr><td>1<td style="text-decoration:line-through">ok&nbsp;still
<tr style="display:none"><td colspan=2>caf&eacute;</table><table></table></body>`
	b, err := sheet.Open("nests.xls", []byte(page), words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	want := []dumped{{Name: "Dry Fork", Merges: [][4]int{{5, 5, 0, 1}}, Rows: map[string]dumpedRow{
		"1": {Cells: map[string]string{"0": "Dry Fork"}}, "2": {Cells: map[string]string{"0": "nests of 2025"}},
		"3": {Cells: map[string]string{"0": "nest", "1": "state"}, Fill: map[string]string{"0": "yellow", "1": "yellow"}},
		"4": {Cells: map[string]string{"0": "1", "1": "ok still"}, Struck: map[string]bool{"1": true}},
		"5": {Cells: map[string]string{"0": "café"}, Hidden: true},
	}}}
	if diff := cmp.Diff(want, dump(t, b), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestLinesBehindTheLastTableOfAPageAreKept(t *testing.T) {
	b, err := sheet.Open("letter.html", []byte(`<p>Dear Ann,</p><table><tr><td>1<td>ok</table><p>Belts: 300 steps.</p><p>Yours, Jo</p>`), words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	got := dump(t, b)
	if len(got) != 2 || got[0].Rows["1"].Cells["0"] != "Dear Ann," || got[1].Rows["1"].Cells["0"] != "Belts: 300 steps." || got[1].Rows["2"].Cells["0"] != "Yours, Jo" {
		t.Errorf("the page reads %+v", got)
	}
}

func TestXMLOf2003(t *testing.T) {
	want := []dumped{{Name: "plain", Rows: map[string]dumpedRow{
		"1": {Cells: map[string]string{"0": "line", "1": "nest", "2": "set", "3": "state"}},
		"2": {Cells: map[string]string{"0": "A", "1": "1", "2": "2025-05-12", "3": "ok"}, Date: map[string]string{"2": "year"}},
		"3": {Cells: map[string]string{"0": "A", "1": "2", "2": "2025-05-13", "3": "gone"}, Date: map[string]string{"2": "year"}},
	}}}
	if diff := cmp.Diff(want, dump(t, open(t, "plain-libreoffice.xml")), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	book := `<?xml version="1.0" encoding="windows-1252"?><?mso-application progid="Excel.Sheet"?>
<Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet" xmlns:ss="urn:schemas-microsoft-com:office:spreadsheet">
<Styles><Style ss:ID="s1"><NumberFormat ss:Format="d\-mmm"/><Interior ss:Color="#FFFF00" ss:Pattern="Solid"/></Style><Style ss:ID="s2"><Font ss:StrikeThrough="1"/></Style></Styles>
<Worksheet ss:Name="2025"><Table><Column ss:Index="2" ss:Hidden="1"/>
<Row><Cell ss:MergeAcross="1"><Data ss:Type="String">ni` + "\xf1" + `os &amp; nests</Data></Cell><Cell><Data ss:Type="String">x</Data><Comment><ss:Data><B>seen</B> twice</ss:Data></Comment></Cell></Row>
<Row ss:Index="4" ss:Hidden="1"><Cell ss:Index="3" ss:StyleID="s1"><Data ss:Type="DateTime">2025-05-12T00:00:00.000</Data></Cell><Cell ss:StyleID="s2"><Data ss:Type="Number">1.2000000000000002</Data></Cell><Cell ss:Formula="=1"/><Cell><Data ss:Type="Boolean">1</Data></Cell></Row>
</Table><WorksheetOptions xmlns="urn:schemas-microsoft-com:office:excel"><Visible>SheetHidden</Visible></WorksheetOptions></Worksheet></Workbook>`
	b, err := sheet.Open("nests.xls", []byte(book), words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	want = []dumped{{Name: "2025", Hidden: true, HiddenColumns: []int{1}, Merges: [][4]int{{1, 1, 0, 1}}, Rows: map[string]dumpedRow{
		"1": {Cells: map[string]string{"0": "niños & nests", "2": "x"}, Comment: map[string]string{"2": "seen twice"}},
		"4": {Cells: map[string]string{"2": "2025-05-12", "3": "1.2", "5": "TRUE"}, Date: map[string]string{"2": "no year"}, Fill: map[string]string{"2": "yellow"},
			Struck: map[string]bool{"3": true}, Unworked: map[string]bool{"4": true}, Hidden: true},
	}}}
	if diff := cmp.Diff(want, dump(t, b), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestBoxes(t *testing.T) {
	b := open(t, "boxes-xlsxwriter.xlsx")
	if diff := cmp.Diff([]string{"O = ok\nX = hit"}, b.Tables[0].Boxes); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	rows := dump(t, b)[0].Rows
	if !rows["3"].Struck["1"] || rows["2"].Struck["1"] {
		t.Error("what is crossed out, part by part, is not told from what is not")
	}
}

// Comments with answers stand in a part of their own, and again as plain ones with a preface of the program's.
func TestThreadedComments(t *testing.T) {
	const ns = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	const rel = `<Relationship Id="r%" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/`
	data := zipped(t, map[string]string{
		"[Content_Types].xml":        `<Types/>`,
		"_rels/.rels":                `<Relationships>` + rel + `officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml":            `<workbook ` + ns + `><sheets><sheet name="a" sheetId="1" r:id="r%" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships>` + rel + `worksheet" Target="/xl/worksheets/sheet1.xml"/></Relationships>`,
		"xl/worksheets/sheet1.xml":   `<x:worksheet xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><x:sheetData><x:row><x:c t="inlineStr"><x:is><x:t>ok</x:t></x:is></x:c><x:c><x:v>1E1</x:v></x:c></x:row></x:sheetData></x:worksheet>`,
		"xl/worksheets/_rels/sheet1.xml.rels": `<Relationships>` + rel + `comments" Target="../comments1.xml"/>` +
			`<Relationship Id="r2" Type="http://schemas.microsoft.com/office/2017/10/relationships/threadedComment" Target="../threadedComments/t1.xml"/></Relationships>`,
		"xl/comments1.xml":           `<comments ` + ns + `><authors><author>x</author></authors><commentList><comment ref="A1" authorId="0"><text><t>[Threaded comment] Your version…</t></text></comment></commentList></comments>`,
		"xl/threadedComments/t1.xml": `<ThreadedComments><threadedComment ref="A1"><text>sure?</text></threadedComment><threadedComment ref="A1"><text>yes</text></threadedComment></ThreadedComments>`,
	})
	b, err := sheet.Open("a.xlsx", data, words.Speaker{})
	if err != nil {
		t.Fatal(err)
	}
	want := dumpedRow{Cells: map[string]string{"0": "ok", "1": "10"}, Comment: map[string]string{"0": "sure?\nyes"}}
	if diff := cmp.Diff(want, dump(t, b)[0].Rows["1"], cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestUnpack(t *testing.T) {
	file := func(name string) []byte {
		data, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	names := func(files []sheet.File) (out []string) {
		for _, f := range files {
			out = append(out, f.Name)
		}
		return out
	}
	t.Run("Folders", func(t *testing.T) {
		files, err := sheet.Unpack("years.zip", file("years-zip.zip"), words.Speaker{})
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]string{"2024/nests.csv", "2025/nests.csv", "2025/photo.jpg"}, names(files), cmpopts.SortSlices(strings.Compare)); diff != "" {
			t.Errorf("(-want +got)\n%s", diff)
		}
		for _, f := range files {
			_, err := sheet.Open(f.Name, f.Data, words.Speaker{})
			if message, _ := errs.Message(err); strings.HasSuffix(f.Name, "jpg") != strings.Contains(message, "2025/photo.jpg is a picture") {
				t.Errorf("%s: %v", f.Name, err)
			}
		}
	})
	t.Run("NoArchive", func(t *testing.T) {
		for _, name := range []string{"season-openpyxl.xlsx", "season-odfpy.ods", "spanish-utf-8.csv", "season-xlwt.xls"} {
			files, err := sheet.Unpack(name, file(name), words.Speaker{})
			if diff := cmp.Diff([]sheet.File{{Name: name, Data: file(name)}}, files); diff != "" || err != nil {
				t.Errorf("%s came back as %v, %v", name, names(files), err)
			}
		}
	})
	t.Run("ArchiveInside", func(t *testing.T) {
		inner := file("years-zip.zip")
		files, err := sheet.Unpack("all.zip", zipped(t, map[string]string{"../../etc/b.zip": string(inner)}), words.Speaker{})
		if err != nil || len(files) != 1 || files[0].Name != "etc/b.zip" {
			t.Fatalf("got %v, %v", names(files), err)
		}
		_, err = sheet.Open(files[0].Name, files[0].Data, words.Speaker{})
		if message, _ := errs.Message(err); !strings.Contains(message, "etc/b.zip is a packed folder") {
			t.Errorf("got %v", err)
		}
	})
	many := map[string]string{}
	for i := range sheet.MaxFiles + 1 {
		many[strings.Repeat("a", i+1)+".csv"] = "x"
	}
	for _, tt := range []struct {
		name string
		data []byte
		kind error
		says string
	}{
		{"password", file("locked-zip.zip"), errs.Invalid, "password"},
		{"nothing inside", zipped(t, map[string]string{"__MACOSX/a": "x", "b/.DS_Store": "x", "Thumbs.db": "x", "~$nests.xlsx": "x"}), errs.Invalid, "nothing in it"},
		{"too many", zipped(t, many), errs.TooLarge, "more than 200 files"},
		{"a bomb that lies", lying(zipped(t, map[string]string{"a.csv": strings.Repeat("0", 2*sheet.MaxBytes)})), errs.Invalid, "damaged"},
		{"bomb", zipped(t, map[string]string{"a.csv": strings.Repeat("0", sheet.MaxBytes+1)}), errs.TooLarge, "unpacks"},
	} {
		_, err := sheet.Unpack("years.zip", tt.data, words.Speaker{})
		if message, _ := errs.Message(err); !errors.Is(err, tt.kind) || !strings.Contains(message, tt.says) {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// lying says of the one file in an archive that it is small.
func lying(data []byte) []byte {
	binary.LittleEndian.PutUint32(data[bytes.Index(data, []byte("PK\x01\x02"))+24:], 100)
	return data
}
