package demo_test

import (
	"reflect"
	"sync"
	"testing"

	"tussock/internal/access"
	"tussock/internal/demo"
	"tussock/internal/survey"
)

const seed = demo.Seed

// theDemo is the cooperative that "tussock demo" loads, made once for all tests; none changes it.
var theDemo = sync.OnceValue(func() *demo.Cooperative { return demo.Generate(seed) })

func TestGenerateShape(t *testing.T) {
	c := theDemo()
	owners := map[string]bool{}
	for _, r := range c.Ranches {
		owners[r.Owner] = true
	}
	for _, tt := range []struct {
		what      string
		got, want int
	}{
		{"ranches", len(c.Ranches), 40},
		{"owners", len(owners), 34},
		{"areas", len(c.Areas), 7},
		{"seasons", len(c.Seasons), 5},
	} {
		if tt.got != tt.want {
			t.Errorf("%d %s, want %d", tt.got, tt.what, tt.want)
		}
	}
	shown := map[access.Role]int{}
	for _, p := range c.People {
		if p.Shown {
			shown[p.Role]++
		}
	}
	for _, r := range access.Roles {
		if shown[r] != 1 {
			t.Errorf("%d sign-ins shown for a %s, want 1", shown[r], r)
		}
	}
}

func TestGenerateIsAPureFunctionOfItsSeed(t *testing.T) {
	one := theDemo()
	if !reflect.DeepEqual(one, demo.Generate(seed)) {
		t.Error("one seed gave two cooperatives")
	}
	if reflect.DeepEqual(one.Data, demo.Generate(seed+1).Data) {
		t.Error("two seeds gave the same data")
	}
}

// TestSeasonSizes holds the demo to what crews can do: 24 to 96 nests a ranch and season, 6 to 12 on a transect, first
// looked at on day 11 to 20, and last on day 26 to 33.
func TestSeasonSizes(t *testing.T) {
	type season struct {
		ranch string
		year  int
	}
	ranches, transects := map[season]int{}, map[survey.TransectKey]int{}
	data := theDemo().Data
	for i := range data.Nests {
		n := &data.Nests[i]
		ranches[season{n.Ranch, n.Season}]++
		transects[n.Key()]++
		for v, visit := range n.Visits {
			day, low, high := int(visit.On-n.SetOn), 11, 20
			if v == 1 {
				low, high = 26, 33
			}
			if v > 1 || day < low || day > high {
				t.Errorf("%v nest %s: visit %d on day %d", n.Key(), n.Number, v+1, day)
			}
		}
	}
	for s, n := range ranches {
		if n < 24 || n > 96 {
			t.Errorf("%v has %d nests, want 24 to 96", s, n)
		}
	}
	for k, n := range transects {
		if n < 6 || n > 12 {
			t.Errorf("%v has %d nests, want 6 to 12", k, n)
		}
	}
	t.Logf("%d nests, %d belts, %d ranch-seasons", len(data.Nests), len(data.Belts), len(ranches))
}

// TestTruthShape: what the demo is to show. Bunchgrass does better where it is dense, yucca does not care, and the
// drought year is the worst.
func TestTruthShape(t *testing.T) {
	truth := theDemo().Truth
	all := func(demo.Stratum) bool { return true }
	dense := func(s demo.Stratum) bool { return s.Area == "Lower Willet" }
	thin := func(s demo.Stratum) bool { return s.Area == "Blowout Hills" || s.Area == "Long Draw" }
	for _, s := range []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Shrub} {
		for year := 2022; year <= 2026; year++ {
			day28, perAcre := truth.Day28(year, s, all), truth.PerAcre(year, s, all)
			t.Logf("%d %-10s %.3f at %.0f an acre", year, s, day28, perAcre)
			if year != 2024 && day28 <= truth.Day28(2024, s, all) {
				t.Errorf("%s: %d is no better than the drought year", s, year)
			}
		}
	}
	grass := truth.Day28(2022, survey.Bunchgrass, dense) - truth.Day28(2022, survey.Bunchgrass, thin)
	yucca := truth.Day28(2022, survey.Yucca, dense) - truth.Day28(2022, survey.Yucca, thin)
	if grass < 0.1 || grass < yucca+0.1 {
		t.Errorf("denser cover is worth %.3f in bunchgrass and %.3f in yucca; want bunchgrass to gain clearly more", grass, yucca)
	}
}
