package intake_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"tussock/internal/intake"
	"tussock/internal/survey"
	"tussock/internal/words"
)

func blankWorkbook(t *testing.T, say words.Speaker) *excelize.File {
	t.Helper()
	var b bytes.Buffer
	if err := intake.WriteTemplate(&b, say); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// set writes values under their headings in row r.
func set(t *testing.T, f *excelize.File, sheet string, r int, values map[string]any) {
	t.Helper()
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	for c, heading := range rows[0] {
		if v, ok := values[heading]; ok {
			cell, _ := excelize.CoordinatesToCellName(c+1, r)
			if err := f.SetCellValue(sheet, cell, v); err != nil {
				t.Fatal(err)
			}
			delete(values, heading)
		}
	}
	for heading := range values {
		t.Errorf("the sheet %s has no column %s", sheet, heading)
	}
}

func saved(t *testing.T, f *excelize.File) []intake.File {
	t.Helper()
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return []intake.File{{Name: "season.xlsx", Data: b.Bytes()}}
}

func TestTemplateFilledIn(t *testing.T) {
	f := blankWorkbook(t, words.Speaker{})
	on := func(month, day int) any { return survey.DateOf(2025, monthsFrom[month], day).Time() }
	set(t, f, "nests", 3, map[string]any{"ranch": "Bar J", "site": "north", "transect": "01", "nest": 1, "substrate": "yucca", "set_on": on(5, 1), "check1_on": on(5, 15), "check1": "intact", "check2_on": on(5, 29), "check2": "taken", "eggs_left": 1, "bits": "halves", "bits_far_ft": 12, "camera": "skunk", "steps": 10, "bearing": "NE"})
	set(t, f, "nests", 4, map[string]any{"ranch": "Bar J", "site": "north", "transect": "01", "nest": 2, "substrate": "prickly pear", "set_on": on(5, 1), "check1_on": on(5, 15), "check1": "lost"})
	set(t, f, "belts", 3, map[string]any{"ranch": "Bar J", "site": "north", "season": 2025, "transect": "01", "length": 200, "length_unit": "steps", "step_length": 2.5, "width": 6, "width_unit": "ft", "count_bunchgrass": 12, "count_prickly_pear": 0})
	set(t, f, "sites", 3, map[string]any{"ranch": "Bar J", "site": "north", "owner": "J. and Sons", "area": 100, "area_unit": "ha"})

	res := mustRead(t, saved(t, f), intake.Options{Today: today})
	if len(res.Refused)+len(res.Questions) != 0 {
		t.Errorf("a filled-in blank brought %v, %v", res.Refused, res.Questions)
	}
	onlyExplained(t, res, "read me")
	d := res.Data
	if len(d.Nests) != 2 || len(d.Belts) != 1 || len(d.Sites) != 1 {
		t.Fatalf("%d nests, %d belts, %d sites; want 2, 1, 1", len(d.Nests), len(d.Belts), len(d.Sites))
	}
	n := d.Nests[0]
	if n.Transect != "01" || n.Season != 2025 || n.Camera != survey.Skunk || n.EggsLeft != 1 || n.Remains.BitsFar != "3_to_30" || n.Spot.Bearing != "NE" || n.From.Row != 3 {
		t.Errorf("first nest = %+v", n)
	}
	if b := d.Belts[0]; b.LengthFt != 500 || b.WidthFt != 6 || b.Counts[survey.Bunchgrass] != 12 || b.Counts[survey.PricklyPear] != 0 || len(b.Counts) != 2 {
		t.Errorf("belt = %+v", b)
	}
	// 100 ha are 247.105 acres (NIST Special Publication 811, Appendix B.8: 1 acre = 4.046 873 E+03 m², of the survey foot).
	if a := d.Sites[0].Acres; a < 247.104 || a > 247.106 {
		t.Errorf("100 ha = %v acres, want 247.105", a)
	}
}

// onlyExplained fails where anything but the tab that explains the others was set aside.
func onlyExplained(t *testing.T, res *intake.Result, tab string) {
	t.Helper()
	if len(res.NotUsed) != 1 {
		t.Fatalf("set aside was %v", res.NotUsed)
	}
	for _, c := range res.NotUsed[0].Cells {
		if c.Sheet != tab {
			t.Errorf("set aside was %v", c)
		}
	}
}

func TestTemplateAsItIs(t *testing.T) {
	f := blankWorkbook(t, words.Speaker{})
	res := mustRead(t, saved(t, f), intake.Options{Today: today})
	if n := len(res.Data.Nests) + len(res.Data.Belts) + len(res.Data.Sites); n != 0 || len(res.Refused) != 0 {
		t.Errorf("the blank gave %d rows of data and refused %v", n, res.Refused)
	}
	if len(res.Tidied) == 0 || res.Tidied[0].Kind != "example" {
		t.Errorf("nobody said that the example was left out: %v", res.Tidied)
	}
	help, err := f.GetRows("read me")
	if err != nil {
		t.Fatal(err)
	}
	text := ""
	for _, row := range help {
		text += strings.Join(row, " ") + "\n"
	}
	for _, sheet := range []string{"nests", "belts", "sites"} {
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, heading := range rows[0] {
			if !strings.Contains(text, sheet+" "+heading+" ") {
				t.Errorf("the sheet “read me” does not explain %s of %s", heading, sheet)
			}
		}
		lists, err := f.GetDataValidations(sheet)
		if err != nil || len(lists) == 0 {
			t.Errorf("no drop-downs on %s: %v", sheet, err)
		}
	}
	for _, must := range []string{"gloves", "snakes", "rabies", "licensed", "index"} {
		if !strings.Contains(text, must) {
			t.Errorf("the sheet “read me” says nothing of %s", must)
		}
	}
}

// The blank is explained in the reader's tongue; its columns and the words it offers stay, so that every sheet made of
// it is read the same.
func TestTemplateInSpanish(t *testing.T) {
	plain, f := blankWorkbook(t, words.Speaker{}), blankWorkbook(t, spanish(t))
	res := mustRead(t, saved(t, f), intake.Options{Today: today})
	if len(res.Refused)+len(res.Questions) != 0 || len(res.Tidied) == 0 || res.Tidied[0].Kind != "example" {
		t.Errorf("the blank brought %v, %v, %v", res.Refused, res.Questions, res.Tidied)
	}
	onlyExplained(t, res, "léame")
	for _, sheet := range []string{"nests", "belts", "sites"} {
		want, _ := plain.GetRows(sheet)
		if got, err := f.GetRows(sheet); err != nil || strings.Join(got[0], " ") != strings.Join(want[0], " ") {
			t.Errorf("columns of %s = %v, %v; want %v", sheet, got[0], err, want[0])
		}
		lists, err := f.GetDataValidations(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, list := range lists {
			if list.Prompt != nil && (len(*list.Prompt) > 255 || !utf8.ValidString(*list.Prompt)) {
				t.Errorf("the hint %q is too long or broken off in a letter", *list.Prompt)
			}
		}
	}
	help, err := f.GetRows("léame")
	if err != nil {
		t.Fatal(err)
	}
	text := ""
	for _, row := range help {
		text += strings.Join(row, " ") + "\n"
	}
	for _, must := range []string{"guantes", "víboras", "rabia", "licencia", "índice"} {
		if !strings.Contains(text, must) {
			t.Errorf("the sheet “léame” says nothing of %s", must)
		}
	}
	if found := regexp.MustCompile(`\b(the|where|nest was|of|how|what)\b`).FindString(text); found != "" {
		t.Errorf("the sheet “léame” says %q", found)
	}
}
