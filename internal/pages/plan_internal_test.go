package pages

import (
	"strings"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/season"
	"tussock/internal/words"
)

// TestTells: rows by package plan's HalfRange, which is held against simulated seasons there. Without a published design effect 48 nests
// on four lines of 12 know a survival of one half to within 30 of 100, since four lines say little; with one of 2.1, to within 1.96 → t(30):
// half of exp(−ln2·e^∓x) with x = 2.0423·√(2.1·0.5/0.5/48)/ln2 = 0.6163, which is 0.2054.
func TestTells(t *testing.T) {
	p := &season.Plan{Purpose: season.Trend, Lines: 4, Stops: 12}
	rows, _ := tells(words.Speaker{}, p, &findings.Past{}, 2.1)
	if len(rows) != 3 || rows[1].Nests != 48 || rows[1].Half != 21 || !rows[1].Own {
		t.Errorf("got %+v", rows)
	}
	if bare, _ := tells(words.Speaker{}, p, &findings.Past{}, 0); bare[1].Half <= rows[1].Half+5 {
		t.Errorf("four lines with nothing published: within %d, want far more than %d", bare[1].Half, rows[1].Half)
	}
	// One line of 12 more each time, until the range is that narrow: five lines of 12 by 2.0423·√(2.1/60)/ln2 = 0.5512, half 0.1852.
	if w := wanted(words.Speaker{}, p, &findings.Past{}, 2.1); w[0] != "To within 20 of 100: 5 lines of 12 nests." {
		t.Errorf("got %q", w)
	}
	// Two covers on every line, 24 nests of each: 1.96·√(2·0.25/24) = 0.2829.
	p.Purpose = season.Covers
	if rows, _ := tells(words.Speaker{}, p, &findings.Past{}, 2.1); rows[1].Half != 29 {
		t.Errorf("two covers: got %+v", rows[1])
	}
	// Two sorts of pasture, 24 nests on two lines in each: √2 · half, with x = 2.0423·√(2.1/24)/ln2 = 0.8716, half 0.2788: 0.3943.
	p.Purpose = season.Rest
	if rows, _ := tells(words.Speaker{}, p, &findings.Past{}, 2.1); rows[1].Half != 40 {
		t.Errorf("two sorts of pasture: got %+v", rows[1])
	}
	if w := wanted(words.Speaker{}, p, &findings.Past{}, 2.1); !strings.Contains(w[3], "belts") {
		t.Errorf("got %q", w)
	}
}

// Where nothing is published, or no line is planned, nothing is said of the next nests. Where there is, the first row is the narrowest, and in a
// ranch of two pastures with all lines in one of them it lies in the other.
func TestNextNests(t *testing.T) {
	d := &planData{plan: firstPlan}
	for range 4 {
		d.lines = append(d.lines, season.Line{Pasture: "", Stops: 12})
	}
	if nextNests(words.Speaker{}, d, 2027) != nil {
		t.Error("nothing is published, and still there is an answer")
	}
	nests, lines := 600, 60
	d.told = bulletin.Published{Cells: []bulletin.Cell{
		{Season: 2026, Measure: bulletin.Survival28, Published: true, Estimate: new(0.5), Low: new(0.45), High: new(0.55), Entities: "20-49", Basis: bulletin.Basis{Nests: &nests, Transects: &lines}},
		{Season: 2026, Measure: bulletin.DesignEffect, Published: true, Estimate: new(2.0)},
		{Season: 2026, Measure: bulletin.OwnerSpread, Published: true, Estimate: new(0.3)},
	}}
	p := nextNests(words.Speaker{}, d, 2027)
	if p == nil || len(p.Rows) != 3 || !p.Rows[0].Best || !strings.Contains(p.Rows[0].Where, "4 new lines of 6") || len(p.Whole) != 4 {
		t.Fatalf("got %+v", p)
	}
}
