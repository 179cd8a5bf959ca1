package bulletin_test

import (
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/survey"
)

// TestSecondLooks: the share of nests that a second person looked at is given, and how well two agree only where ten
// landowners had second looks.
func TestSecondLooks(t *testing.T) {
	for _, tt := range []struct {
		name   string
		owners int // with second looks
		agree  bool
	}{{"everybody", 12, true}, {"four of them", 4, false}, {"nobody", 0, false}} {
		in := region(3, 1, alike(12, 6))
		ranches := map[string]bool{}
		for _, m := range in.Roster[:tt.owners] {
			ranches[m.Ranch] = true
		}
		seen := map[string]int{}
		for i := range in.Data.Nests {
			n := &in.Data.Nests[i]
			if seen[n.Ranch]++; ranches[n.Ranch] && seen[n.Ranch]%2 == 0 { // every other nest
				v := &n.Visits[len(n.Visits)-1]
				v.Second = v.State
				if seen[n.Ranch]%20 == 0 {
					v.Second = survey.Flooded
				}
			}
		}
		q, ok := body[bulletin.Quality](t, compose(t, in), bulletin.QualityKind)
		if !ok {
			t.Fatalf("%s: no quality", tt.name)
		}
		if got := q.SecondAgree != nil; got != tt.agree {
			t.Errorf("%s: agreement is given: %v, want %v", tt.name, got, tt.agree)
		}
		if tt.owners == 12 && (q.SecondLooks == nil || *q.SecondLooks != 0.5 || *q.SecondAgree < 0.85 || *q.SecondAgree > 0.95) {
			t.Errorf("second looks %v, agreeing %v; want a half and 0.9", q.SecondLooks, q.SecondAgree)
		}
		if tt.owners == 0 && (q.SecondLooks == nil || *q.SecondLooks != 0) {
			t.Errorf("second looks %v, want none", q.SecondLooks)
		}
	}
}
