package pages

import (
	"strings"
	"testing"

	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// TestTells: by the formula of a proportion's half-width, 1.96·√(0.25/n·(1 + (m − 1)·0.1)) with m nests a line: 12 nests a
// line make a design effect of 2.1, so 48 nests know a survival of one half to within 1.96·√(0.25·2.1/48) = 0.2050.
func TestTells(t *testing.T) {
	p := &season.Plan{Purpose: season.Trend, Lines: 4, Stops: 12}
	rows, _ := tells(words.Speaker{}, p, &survey.Data{})
	if len(rows) != 3 || rows[1].Nests != 48 || rows[1].Half != 21 || !rows[1].Own {
		t.Errorf("got %+v", rows)
	}
	// 1.96²·0.25/0.2²·2.1 = 50.4 nests are five lines of 12; /0.1² = 201.7 are 17.
	if w := wanted(words.Speaker{}, p, &survey.Data{}); w[0] != "To within 20 of 100: 5 lines of 12 nests." || w[2] != "To within 10 of 100: 17 lines of 12 nests." {
		t.Errorf("got %q", w)
	}
	// Two covers on every line, 24 nests of each: 1.96·√(2·0.25/24) = 0.2829.
	p.Purpose = season.Covers
	if rows, _ := tells(words.Speaker{}, p, &survey.Data{}); rows[1].Half != 29 {
		t.Errorf("two covers: got %+v", rows[1])
	}
	// Two sorts of pasture, 24 nests on two lines in each: 1.96·√(2·0.25·2.1/24) = 0.4100.
	p.Purpose = season.Rest
	if rows, _ := tells(words.Speaker{}, p, &survey.Data{}); rows[1].Half != 41 && rows[1].Half != 42 {
		t.Errorf("two sorts of pasture: got %+v", rows[1])
	}
	if w := wanted(words.Speaker{}, p, &survey.Data{}); !strings.Contains(w[3], "belts") {
		t.Errorf("got %q", w)
	}
}
