// Inside the package: page structs are its own business.

package pages

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/postgres"
)

// regionPages has filled structs for the region's pages as a biologist sees them. Names and figures are made up.
func regionPages(t *testing.T) map[string]any {
	t.Helper()
	heads := []postgres.BulletinHead{{Season: 2026, Number: 3, PublishedAt: sampleDay, Hash: "9f86d081884c7d65"}, {Season: 2025, Number: 2, PublishedAt: sampleDay}, {Season: 2024, Number: 1, PublishedAt: sampleDay}}
	cells := append(sampleCells(), sampleMix(2025)...)
	areas, err := regionAreas(cells, samplePlaces(), 2026)
	if err != nil {
		t.Fatal(err)
	}
	region := regionPage{base: sampleBase(regionTitle(cells, 2026), "/region", access.Biologist), Views: regionViews(access.Biologist, "/region"), Head: heads[0],
		Heads: heads, Areas: areas, Method: regionMethod(heads[0], cells)}
	noteMethods(region.Areas, heads, cells, 2026)
	if region.Mixes, err = mixesOf(heads, cells); err != nil {
		t.Fatal(err)
	}
	named, err := newNamedPage(namedData{sharings: []postgres.Sharing{
		{RanchName: "Cottonwood Draw", Area: "Sandhill", Purpose: "burn plan", Through: sampleDay}, {RanchName: "North Breaks", Purpose: "cover study", Through: sampleDay}},
		survey: SampleSurvey("Cottonwood Draw"), heads: heads, cells: cells}, 0)
	if err != nil {
		t.Fatal(err)
	}
	named.base, named.Views = sampleBase(sharedTitle(2), "/region/named", access.Biologist), regionViews(access.Biologist, "/region/named")
	return map[string]any{"region": region, "region_named": named}
}

// sampleMix is the predator mix of another season.
func sampleMix(season int) []bulletin.Cell {
	var cells []bulletin.Cell
	for _, part := range []struct {
		name  string
		share float64
	}{{bulletin.OtherOrUnknown, 0.5}, {"coyote", 0.3}, {"raccoon", 0.2}} {
		cells = append(cells, bulletin.Cell{Season: season, Measure: bulletin.PredatorShare, Predator: part.name, Published: true,
			Estimate: new(part.share), Low: new(part.share - 0.1), High: new(part.share + 0.1), Entities: "10-19"})
	}
	return cells
}

// Every figure of the region's pages has a note behind it on how it is made, and nothing drawn or tabled stands
// outside of one.
func TestEveryFigureHasItsNote(t *testing.T) {
	s := sampleServer(t)
	for name, page := range regionPages(t) {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := s.views.Render(&b, name, page); err != nil {
				t.Fatal(err)
			}
			for _, fault := range FiguresWithoutNote(b.String()) {
				t.Error(fault)
			}
			for _, never := range []string{" style=", "NaN", "ZgotmplZ"} {
				if strings.Contains(b.String(), never) {
					t.Errorf("page contains %q", never)
				}
			}
			if *preview != "" {
				writePreview(t, s, name, b.String())
			}
		})
	}
}

var drawn = regexp.MustCompile(`<table|class="strips"|class="mix"|data-options=|class="bars"`)

// FiguresWithoutNote, for the tests outside too, lists the figures of a page that stand behind no data-figure, or whose part has no note.
func FiguresWithoutNote(page string) []string {
	var faults []string
	parts := strings.Split(page, "data-figure=")
	if len(parts) == 1 {
		return []string{"the page has no figure"}
	}
	for i, part := range parts {
		name, _, _ := strings.Cut(strings.TrimPrefix(part, `"`), `"`)
		switch found := drawn.FindString(part); {
		case found == "":
		case i == 0:
			faults = append(faults, "a "+found+" stands before any figure")
		case !strings.Contains(part, `<details class="method">`):
			faults = append(faults, "the figure "+name+" has no note on how it is made")
		}
	}
	return faults
}
