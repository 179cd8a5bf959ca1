package bulletin_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/stat/differ"
	"tussock/internal/stat/interval"
	"tussock/internal/survey"
)

// TestPublishedComparisons: of published figures, and of ranches beside them, at most one in twenty is said to differ where nothing
// does, and at most one to be alike where the truth is past the margin; of cooperatives of 8, 15 and 34 owners with three to six lines
// a ranch. Seasons, covers, owners and the cover target are compared; how often a fall from 50 to 30 of 100, and clumps at half the
// target, are told is printed. In the short form the bar is what so many tell at three standard errors.
func TestPublishedComparisons(t *testing.T) {
	runs := 8
	if *long {
		runs = 200
	}
	usualHazard := coverHazard
	defer func() { coverHazard = usualHazard }()
	for _, owners := range []int{8, 15, 34} {
		for _, fall := range []bool{false, true} {
			coverHazard = map[survey.Substrate]float64{survey.Bunchgrass: 0, survey.Shrub: 0, survey.Yucca: 0}
			times := 1.0
			if fall {
				coverHazard = map[survey.Substrate]float64{survey.Bunchgrass: 0, survey.Shrub: 0.55, survey.Yucca: 0}
				times = 0.5
			}
			differs, alike, of := map[string]int{}, map[string]int{}, map[string]int{}
			count := func(kind string, list ...differ.Outcome) {
				if len(list) == 0 {
					return
				}
				of[kind]++
				told, same := false, false
				for _, o := range list {
					told, same = told || o.Verdict == differ.Differs, same || o.Verdict == differ.Alike
				}
				if told {
					differs[kind]++
				}
				if same {
					alike[kind]++
				}
			}
			for run := range runs {
				r := rand.New(rand.NewPCG(uint64(run), uint64(owners)))
				c := usual(owners)
				c.bare, c.spread, c.cover, c.moist, c.lost, c.lines, c.nests = true, 0, 0, 0, 0, 3+r.IntN(4), 6+r.IntN(4)
				g := c.draw(r)
				for i := range g.coverOf {
					g.coverOf[i] *= times
				}
				in, _ := g.seasonOf(r, 2024, truth{good: 0.1}, nil)
				then := compose(t, in)
				shift := 0.1
				if fall {
					shift += 0.55
				}
				in, _ = g.seasonOf(r, 2025, truth{good: shift}, nil)
				now := compose(t, in)

				after, ok := find(now, bulletin.Survival28, "", "", "")
				before, also := find(then, bulletin.Survival28, "", "", "")
				if !ok || !also || !after.Published || !before.Published {
					continue
				}
				count("seasons", findings.Published(after.Spread(), before.Spread(), "", "", 1).Outcome)
				var covers []bulletin.Cell
				for _, h := range now.Covers {
					if cell, ok := find(now, bulletin.Survival28, "", h, ""); ok && cell.Published && cell.Low != nil {
						covers = append(covers, cell)
					}
				}
				var list []differ.Outcome
				for i, a := range covers {
					for _, b := range covers[i+1:] {
						if fall && *a.Substrate != string(survey.Shrub) && *b.Substrate != string(survey.Shrub) {
							continue // these two do not differ
						}
						list = append(list, findings.Published(a.Spread(), b.Spread(), "", "", len(covers)*(len(covers)-1)/2).Outcome)
					}
				}
				count("covers", list...)
				if cell, ok := find(now, bulletin.ClumpsPerAcre, "", "", ""); ok && cell.Published {
					count("target", differ.Together([]differ.Question{{Of: cell.Spread(), With: interval.Exactly(300), Margin: differ.Density, Fixed: true}})...)
				}
				beside := after
				if fall {
					beside = before // this season's ranches beside last season's cooperative
				}
				own := findings.Compute(in.Data, findings.Options{Mix: bulletin.Mix(now.Covers)})
				for i := range owners {
					if s, ok := own.SurvivalOf(fmt.Sprintf("ranch %03d", i), 2025); ok {
						count("ranches", s.Beside(beside.Spread()))
					}
				}
			}
			for _, kind := range []string{"seasons", "covers", "target", "ranches"} {
				n := of[kind]
				if n == 0 {
					t.Logf("%2d owners: no %s to compare", owners, kind)
					continue
				}
				told, same := float64(differs[kind])/float64(n), float64(alike[kind])/float64(n)
				t.Logf("%2d owners, changed %v, %s: differs %.3f, alike %.3f of %d", owners, fall, kind, told, same, n)
				bar := 0.05
				if !*long {
					bar += 3 * math.Sqrt(2*0.05*0.95/float64(n))
				}
				if !fall && told > bar {
					t.Errorf("%d owners: %s differ in %.3f where nothing does", owners, kind, told)
				}
				if fall && same > bar {
					t.Errorf("%d owners: %s alike in %.3f of true differences", owners, kind, same)
				}
			}
		}
	}
}
