package sheet_test

import (
	"fmt"
	"strings"
	"testing"

	"tussock/internal/sheet"
	"tussock/internal/words"
)

// Expected texts are what a spreadsheet program shows for such numbers in a wide column, but for decimals that only pad.
func TestShownNumbers(t *testing.T) {
	const day = "45789" // 12 May 2025
	tests := []struct {
		format, value, want string
		date                sheet.DateLook
	}{
		{"General", "12", "12", 0},
		{"General", "12.0", "12", 0},
		{"General", "1.2000000000000002", "1.2", 0},
		{"General", "0.1", "0.1", 0},
		{"General", "-0", "0", 0},
		{"General", "1E+3", "1000", 0},
		{"General", "123456789012", "123456789012", 0},
		{"General", day, "45789", 0},
		{"0.00", "3", "3", 0},
		{"#,##0.00", "1234.5", "1234.5", 0},
		{"0.00E+00", "12345", "12345", 0},
		{"# ?/?", "0.5", "0.5", 0},
		{"0%", "0.75", "75%", 0},
		{"000", "7", "007", 0},
		{"000", "1234", "1234", 0},
		{`&quot;T&quot;0`, "3", "T3", 0},
		{`0.0&quot; ft&quot;`, "2.5", "2.5 ft", 0},
		{`&quot;$&quot;#,##0`, "40", "40", 0},
		{`_(* #,##0_);_(* \(#,##0\)`, "12", "12", 0},
		{"[Red]0", "5", "5", 0},
		{"@", "5", "5", 0},
		{"m/d/yyyy", day, "2025-05-12", sheet.DateYear},
		{"[$-409]m/d/yy\\ h:mm\\ AM/PM;@", day + ".75", "2025-05-12", sheet.DateYear},
		{"[$-F800]dddd\\,\\ mmmm\\ dd\\,\\ yyyy", day, "2025-05-12", sheet.DateYear},
		{"d-mmm", day, "2025-05-12", sheet.DateNoYear},
		{"m/d", day, "2025-05-12", sheet.DateNoYear},
		{"ddd", day, "2025-05-12", sheet.DateNoYear},
		{"mmmm", day, "2025-05-12", sheet.DateNoYear},
		{`d &quot;de&quot; mmmm`, day, "2025-05-12", sheet.DateNoYear},
		{"mmm-yy", day, "2025-05-12", sheet.DateYear},
		{"m/d/yyyy", "0.5", "12:00", 0},
		{"m/d/yyyy", "-3", "-3", 0},
		{"m/d/yyyy", "9999999", "9999999", 0},
		{"h:mm", "0.3125", "7:30", 0},
		{"h:mm AM/PM", day + ".6875", "16:30", 0},
		{"h:mm:ss", "0.3125115740740741", "7:30:01", 0},
		{"[h]:mm", "1.25", "30:00", 0},
		{"mm:ss.0", "0.0104166666666667", "0:15", 0},
	}
	base := partsOf(t, "boxes-xlsxwriter.xlsx")
	for _, tt := range tests {
		styles := fmt.Sprintf(`<styleSheet><numFmts><numFmt numFmtId="200" formatCode="%s"/></numFmts><cellXfs><xf/><xf numFmtId="200"/></cellXfs></styleSheet>`, tt.format)
		book := stored(t, withPart(base, "xl/styles.xml", styles), map[string][]byte{"xl/worksheets/sheet1.xml": []byte(`<worksheet><sheetData><row r="1"><c r="A1" s="1"><v>` + tt.value + `</v></c></row></sheetData></worksheet>`)})
		b, err := sheet.Open("file", book, words.Speaker{})
		if err != nil {
			t.Fatal(err)
		}
		for row, err := range b.Tables[0].Rows() {
			if err != nil || row.Cells[0] != tt.want || row.Look(0).Date != tt.date {
				t.Errorf("%s as %s reads %q, %d, %v; want %q, %d", tt.value, tt.format, row.Cells[0], row.Look(0).Date, err, tt.want, tt.date)
			}
		}
	}
}

// The colors are those that spreadsheet programs offer first: the standard row, a theme's column, the old palette.
func TestFills(t *testing.T) {
	base := partsOf(t, "boxes-xlsxwriter.xlsx")
	for color, want := range map[string]string{
		`rgb="FFC00000"`: "red", `rgb="FFFF0000"`: "red", `rgb="FFFFC000"`: "orange", `rgb="FFFFFF00"`: "yellow", `rgb="FF92D050"`: "green", `rgb="FF00B050"`: "green",
		`rgb="FF00B0F0"`: "blue", `rgb="FF0070C0"`: "blue", `rgb="FF002060"`: "blue", `rgb="FF7030A0"`: "purple", `rgb="FFFFC7CE"`: "pink", `rgb="FFC6EFCE"`: "green", `rgb="FFFFEB9C"`: "yellow",
		`rgb="FFFFFFFF"`: "", `rgb="FFD9D9D9"`: "grey", `rgb="nonsense"`: "coloured", `rgb="FFFF99CC"`: "pink", `rgb="FF993300"`: "brown",
		`theme="0"`: "", `theme="0" tint="-0.249977111117893"`: "grey", `theme="4"`: "blue", `theme="5" tint="0.599993896298105"`: "pink", `theme="6" tint="0.4"`: "green", `theme="99"`: "coloured",
		`indexed="13"`: "yellow", `indexed="10"`: "red", `indexed="64"`: "",
	} {
		styles := `<styleSheet><fills><fill/><fill/><fill><patternFill patternType="solid"><fgColor ` + color + `/></patternFill></fill></fills><cellXfs><xf/><xf fillId="2"/></cellXfs></styleSheet>`
		book := stored(t, withPart(base, "xl/styles.xml", styles), map[string][]byte{"xl/worksheets/sheet1.xml": []byte(`<worksheet><sheetData><row r="1"><c r="A1" s="1"><v>1</v></c></row></sheetData></worksheet>`)})
		b, err := sheet.Open("file", book, words.Speaker{})
		if err != nil {
			t.Fatal(err)
		}
		for row, err := range b.Tables[0].Rows() {
			if got := row.Look(0).Fill; err != nil || got != want {
				t.Errorf("%s is %q, %v; want %q", color, got, err, want)
			}
		}
	}
}

// What may be forgotten, a sender would miss: cells that are empty but colored, and what stands in hidden columns.
func TestColoredEmptyCells(t *testing.T) {
	rows := dump(t, open(t, "boxes-xlsxwriter.xlsx"))[0].Rows
	if rows["4"].Fill["1"] != "orange" || rows["4"].Cells["1"] != "" {
		t.Errorf("row 4 = %+v", rows["4"])
	}
	if got := open(t, "season-openpyxl.xlsx").Tables[0].HiddenColumns; len(got) != 1 || got[0] != 8 {
		t.Errorf("hidden columns %v", got)
	}
	if !strings.Contains(dump(t, open(t, "season-openpyxl.xlsx"))[0].Rows["4"].Cells["8"], "4") {
		t.Error("the hidden column lost its text")
	}
}
