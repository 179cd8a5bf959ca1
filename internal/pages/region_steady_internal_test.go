package pages

import (
	"strconv"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
)

// A ranch that shares by name is steadied by what is published for the reader: with a survival of the cooperative there is a figure, between
// the ranch's own and the published one; without, or where the cell is held, there is none.
func TestSteadiedByWhatIsPublished(t *testing.T) {
	survival := bulletin.Cell{Season: 2026, Measure: bulletin.Survival28, Published: true, Estimate: new(0.6), Low: new(0.55), High: new(0.65), Entities: "20-49"}
	spread := bulletin.Cell{Season: 2026, Measure: bulletin.OwnerSpread, Published: true, Estimate: new(0.3), Entities: "20-49"}
	held := survival
	held.Published = false
	for name, tt := range map[string]struct {
		cells []bulletin.Cell
		want  bool
	}{
		"both":      {[]bulletin.Cell{survival, spread}, true},
		"no spread": {[]bulletin.Cell{survival}, true}, // one is assumed, and said so
		"no figure": {[]bulletin.Cell{spread}, false},
		"held":      {[]bulletin.Cell{held, spread}, false},
	} {
		d := namedData{sharings: []postgres.Sharing{{RanchName: "Cottonwood Draw"}}, survey: SampleSurvey("Cottonwood Draw"), cells: tt.cells}
		page, err := newNamedPage(d, 0)
		if err != nil {
			t.Fatal(err)
		}
		row := page.Ranches[0].Rows[0]
		if (row.Steady != "–") != tt.want {
			t.Errorf("%s: steadied %s", name, row.Steady)
		}
		if own, err := strconv.ParseFloat(row.Figure, 64); err == nil && tt.want {
			got, _ := strconv.ParseFloat(row.Steady, 64)
			if got < min(own, 60)-3 || got > max(own, 60)+3 {
				t.Errorf("%s: steadied %.1f, own %.1f", name, got, own)
			}
		}
	}
}

// What a figure needs is its ranch's own rows and published cells; so other ranches' rows in the same data move nothing.
func TestSteadiedOfOwnRowsAlone(t *testing.T) {
	p := bulletin.Published{Cells: []bulletin.Cell{{Season: 2026, Measure: bulletin.Survival28, Published: true, Estimate: new(0.6), Low: new(0.55), High: new(0.65)}}}
	alone, both := SampleSurvey("Cottonwood Draw"), SampleSurvey("Cottonwood Draw")
	both.Nests = append(both.Nests, SampleSurvey("Two Forks").Nests...)
	want, ok := p.Steadied(findings.Compute(alone, findings.Options{}), "Cottonwood Draw", 2026)
	got, _ := p.Steadied(findings.Compute(both, findings.Options{}), "Cottonwood Draw", 2026)
	if !ok || *got.Survival.Estimate != *want.Survival.Estimate || *got.Survival.Low != *want.Survival.Low {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
