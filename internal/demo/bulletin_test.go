package demo_test

import (
	"math"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/demo"
	"tussock/internal/survey"
)

// TestBulletinsTellTheTruth composes the five bulletins and holds the published figures of the whole cooperative against the
// truth of the ranches that agreed to be counted.
//
// A published figure may differ from the truth by half a step of its grid and by sampling: 4 standard errors, read off
// the published range, which is 2 × 1.96 of them wide or, rounded outward, a little more.
func TestBulletinsTellTheTruth(t *testing.T) {
	c := theDemo()
	agreed := map[string]bool{}
	in := bulletin.Input{Data: &c.Data}
	for _, r := range c.Ranches {
		agreed[r.Name] = r.Consent >= 1
		in.Roster = append(in.Roster, bulletin.Member{Ranch: r.Name, Entity: r.Owner, Area: r.Area, Consent: r.Consent})
	}
	for _, a := range c.Areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: a.Name, Group: a.Group})
	}
	counted := func(s demo.Stratum) bool { return agreed[s.Ranch] }
	held, survival := 0, 0
	for _, season := range c.Seasons {
		in.Season = season
		b, err := bulletin.Compose(in)
		if err != nil {
			t.Fatal(err)
		}
		in.Before = &b.Log
		for _, cell := range b.Cells {
			if !cell.Published {
				held++
				continue
			}
			if cell.Area != nil || cell.Estimate == nil {
				continue
			}
			var want float64
			switch {
			case cell.Measure == bulletin.Survival28 && cell.Substrate != nil:
				want = c.Truth.Day28(season, survey.Substrate(*cell.Substrate), counted)
				survival++
			case cell.Measure == bulletin.PredatorShare && cell.Substrate == nil && cell.Predator != bulletin.OtherOrUnknown:
				want = c.Truth.Mix[survey.Predator(cell.Predator)]
			default:
				continue
			}
			tolerance := 0.05 // half of the coarsest grid
			if cell.Low != nil && cell.High != nil {
				tolerance += 4 * (*cell.High - *cell.Low) / (2 * 1.96)
			}
			t.Logf("%d %s %s%s: published %.2f, truth %.3f", season, cell.Measure, cell.Predator, text(cell.Substrate), *cell.Estimate, want)
			if math.Abs(*cell.Estimate-want) > tolerance {
				t.Errorf("%d %s %s%s: published %.2f, truth %.3f, more than %.3f apart", season, cell.Measure, cell.Predator, text(cell.Substrate), *cell.Estimate, want, tolerance)
			}
		}
	}
	if survival != 3*len(c.Seasons) {
		t.Errorf("%d survivals of the whole cooperative by substrate are published, want 3 a season", survival)
	}
	t.Logf("%d cells held", held)
}

func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
