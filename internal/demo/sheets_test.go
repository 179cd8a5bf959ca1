package demo_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tussock/internal/demo"
	"tussock/internal/intake"
	"tussock/internal/survey"
)

// TestSheetsReadBack: what intake reads from the sheets is what was written on them, whatever each crew calls things and
// however it writes a date; nothing is refused, and only the one sheet leaves questions open.
func TestSheetsReadBack(t *testing.T) {
	c := theDemo()
	var got survey.Data
	for _, s := range c.Sheets {
		var files []intake.File
		for _, f := range s.Files {
			files = append(files, intake.File{Name: f.Name, Data: f.Data})
		}
		read, err := intake.Read(files, intake.Options{Ranch: s.Ranch, OnlyRanches: []string{s.Ranch}, Season: s.Season})
		if err != nil {
			t.Fatalf("%s %d: %v", s.Ranch, s.Season, err)
		}
		for _, p := range read.Refused {
			t.Errorf("%s row %d, %s %q: %s", p.File, p.Row, p.Column, p.Value, p.Problem)
		}
		if open := len(read.Questions) > 0; open != s.Open {
			t.Errorf("%s %d has %d questions: %+v", s.Ranch, s.Season, len(read.Questions), read.Questions)
		}
		if s.Open {
			for _, q := range read.Questions {
				t.Logf("%s %d asks (%s): %s", s.Ranch, s.Season, q.Kind, q.Text)
			}
			continue
		}
		got.Nests = append(got.Nests, read.Data.Nests...)
		got.Belts = append(got.Belts, read.Data.Belts...)
		got.Sites = append(got.Sites, read.Data.Sites...)
	}
	want := survey.Data{Sites: c.Data.Sites}
	open := func(ranch string, season int) bool { return ranch == demo.QuestionRanch && season == 2026 }
	for _, n := range c.Data.Nests {
		if !open(n.Ranch, n.Season) {
			want.Nests = append(want.Nests, n)
		}
	}
	for _, b := range c.Data.Belts {
		if !open(b.Ranch, b.Season) {
			want.Belts = append(want.Belts, b)
		}
	}
	ignore := cmp.Options{cmpopts.IgnoreFields(survey.Nest{}, "From"), cmpopts.IgnoreFields(survey.Belt{}, "From"), cmpopts.IgnoreFields(survey.Site{}, "From"),
		cmpopts.EquateApprox(1e-12, 0),
		cmpopts.SortSlices(func(a, b survey.Site) bool { return a.Ranch+a.Name < b.Ranch+b.Name })}
	if len(got.Nests) != len(want.Nests) || len(got.Belts) != len(want.Belts) {
		t.Fatalf("%d nests and %d belts, want %d and %d", len(got.Nests), len(got.Belts), len(want.Nests), len(want.Belts))
	}
	wrong := 0
	for i := range want.Nests {
		if diff := cmp.Diff(want.Nests[i], got.Nests[i], ignore); diff != "" && wrong < 5 {
			wrong++
			t.Errorf("nest %d (-want +got):\n%s", i, diff)
		}
	}
	if diff := cmp.Diff(want.Belts, got.Belts, ignore); diff != "" {
		t.Errorf("belts (-want +got):\n%.2000s", diff)
	}
	if diff := cmp.Diff(want.Sites, got.Sites, ignore); diff != "" {
		t.Errorf("sites (-want +got):\n%.2000s", diff)
	}
}
