// Inside the package: the views are made from cells without a database.

package pages

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

func regionHTML(t *testing.T, cells []bulletin.Cell) string {
	t.Helper()
	areas, err := regionAreas(words.Speaker{}, cells, samplePlaces(), 2026, findings.CommonMarks, bulletin.KeyNote{})
	if err != nil {
		t.Fatal(err)
	}
	head := postgres.BulletinHead{Season: 2026, Number: 3, PublishedAt: sampleDay, Hash: "00ff"}
	page := regionPage{base: sampleBase("The region", "/region", access.Planner), Head: head, Heads: []postgres.BulletinHead{head}, Areas: areas, Method: regionMethod(words.Speaker{}, head, cells)}
	var b bytes.Buffer
	if err := sampleServer(t).views.Render(&b, "en/region", page); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A cell that is held, one that the database keeps from this reader and one that never was read the same.
func TestHeldCellsLookAlike(t *testing.T) {
	yucca := func(c bulletin.Cell) bool { return text(c.Substrate) == "yucca" && text(c.Area) == "Sandhill" }
	var without []bulletin.Cell
	var held bool
	for _, c := range sampleCells() {
		if yucca(c) {
			held = true
			continue
		}
		without = append(without, c)
	}
	if !held {
		t.Fatal("the sample has no held cell")
	}
	if with, gone := regionHTML(t, sampleCells()), regionHTML(t, without); with != gone {
		t.Error("the page tells a held cell from one that is not there")
	}
}

// What a bulletin's page must never hold: how many stand behind a figure, why one is held, extremes, spread, ranks,
// anybody's id, or more decimals than were published.
func TestRegionHoldsNothingMore(t *testing.T) {
	cells := sampleCells()
	for i := range cells {
		cells[i].N = 7319
		if !cells[i].Published {
			cells[i].HeldBecause = "only Antelope Flat and Cottonwood Draw"
		}
	}
	html := regionHTML(t, cells)
	visible := regexp.MustCompile(`(?s)<svg.*?</svg>|<script.*?</script>|<[^>]*>`).ReplaceAllString(html, " ")
	for _, never := range []string{"7319", "Antelope", "Cottonwood", "fewer than", "minimum", "maximum", "highest", "lowest", "rank", "standard deviation", "standard error", "median"} {
		if strings.Contains(html, never) {
			t.Errorf("the page holds %q", never)
		}
	}
	if found := regexp.MustCompile(`\d\.\d`).FindString(visible); found != "" {
		t.Errorf("the page holds a figure with decimals: %q", found)
	}
	if found := regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-`).FindString(html); found != "" {
		t.Errorf("the page holds an id: %q", found)
	}
	if !strings.Contains(html, notShown) {
		t.Errorf("the page nowhere says %q", notShown)
	}
	if !strings.Contains(visible, "risk a nest would run") {
		t.Error("the page does not say what the figures are not")
	}
}

func TestDensityRow(t *testing.T) {
	number := func(x float64) *float64 { return &x }
	for _, tt := range []struct {
		name           string
		cell           bulletin.Cell
		figure, range_ string
	}{
		{"Figure", bulletin.Cell{Published: true, Estimate: number(240), Low: number(180), High: number(310)}, "240", "180 to 310"},
		{"Band", bulletin.Cell{Published: true, Low: number(200), High: number(400)}, "200 to 400", ""},
		{"OpenBand", bulletin.Cell{Published: true, Low: number(400)}, "400 or more", ""},
		{"Held", bulletin.Cell{HeldBecause: "x"}, notShown, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := densityRow(words.Speaker{}, "2026", tt.cell)
			if got.Figure != tt.figure || got.Range != tt.range_ {
				t.Errorf("densityRow = %q %q, want %q %q", got.Figure, got.Range, tt.figure, tt.range_)
			}
		})
	}
}

// Where all do nearly alike at an end of the scale, only a band is published.
func TestRateRowBands(t *testing.T) {
	number := func(x float64) *float64 { return &x }
	for _, tt := range []struct {
		name string
		cell bulletin.Cell
		want string
	}{
		{"OrMore", bulletin.Cell{Published: true, Low: number(0.85)}, "85 or more of 100"},
		{"OrFewer", bulletin.Cell{Published: true, Low: number(0), High: number(0.15)}, "15 or fewer of 100"},
		{"Between", bulletin.Cell{Published: true, Low: number(0.4), High: number(0.6)}, "40 to 60 of 100"},
		{"Held", bulletin.Cell{}, notShown},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := rateRow(words.Speaker{}, "", tt.cell).Figure; got != tt.want {
				t.Errorf("figure = %q, want %q", got, tt.want)
			}
		})
	}
}

// TestMixIsToldInOneOrder: what is counted first, no sign before all, then the animals in the order of the table of looks, with their
// looks, on My ranch, the region's page and its seasons.
func TestMixIsToldInOneOrder(t *testing.T) {
	say := words.Speaker{}
	region := publishedMix(say, slices.Concat(sampleCells(), sampleFigures()), "", 2026, bulletin.KeyNote{})
	low := findings.Predators{NestsTaken: 9, NoSign: 3, FitsSeveral: 4, FitsOne: 2,
		Shown: []findings.Share{{Predator: "raccoon", Share: 0.3}, {Predator: "coyote", Share: 0.5}, {Predator: findings.Rest, Share: 0.2}}}
	for name, m := range map[string]*mixView{"region": region, "ranch": ownMix(say, &low)} {
		for i, sign := range bulletin.Signs {
			if got := m.Signs[i].Name; got != signWords[sign] {
				t.Errorf("%s: counted row %d is %q, want %q", name, i, got, signWords[sign])
			}
		}
		at := -1
		for _, row := range m.Shares {
			for _, l := range chart.Looks() {
				if capital(predatorName(say, l.Part)) != row.Name {
					continue
				}
				if p := chart.Place(l.Part); p < at {
					t.Errorf("%s: %s stands out of order", name, row.Name)
				} else {
					at = p
				}
				if !strings.Contains(string(row.Swatch), l.ID()) || !strings.Contains(string(m.Bar), l.ID()) {
					t.Errorf("%s: %s is not drawn by %s", name, row.Name, l.ID())
				}
			}
		}
	}
}

// TestPrintTellsHowManyAreHeld: what a coordinator sees of an edition is the print itself and how many figures are held, never which, where or why.
func TestPrintTellsHowManyAreHeld(t *testing.T) {
	cells := sampleCells()
	for i := range cells {
		if !cells[i].Published {
			cells[i].HeldBecause = "only Antelope Flat and Cottonwood Draw"
		}
	}
	page := newEditionPage(words.Speaker{}, postgres.Edition{Season: 2026, Edition: 1, CutAt: sampleDay, ComposedAt: sampleDay, Tries: 1, Held: 7, Ranches: 14, Sheets: 12, Owners: 11, Words: 2}, groupsOf(words.Speaker{}, cells), nil)
	page.base = sampleBase("x", "/cooperative/bulletins/2026/1", access.Coordinator)
	var b bytes.Buffer
	if err := sampleServer(t).views.Render(&b, "en/cooperative_edition", page); err != nil {
		t.Fatal(err)
	}
	for _, never := range []string{"Antelope", "too few", "not shown"} {
		if strings.Contains(b.String(), never) {
			t.Errorf("the page holds %q", never)
		}
	}
	for _, want := range []string{"7 figures are held back", "12 of 14 ranches", "11 landowners count", "It was composed 1 time"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
}
