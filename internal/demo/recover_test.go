package demo_test

import (
	"math"
	"slices"
	"testing"

	"tussock/internal/demo"
	"tussock/internal/stat/density"
	"tussock/internal/stat/predator"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
)

// These tests hold what the engine computes from the demo's nests and belts against the truth from which they were drawn.
// The truth is of these very ranches, so what is left is the luck of transects, nests and belts, which the estimates'
// own standard errors describe: no estimate may be further off than 4 of them (a chance of 1 in 16 000 each if the
// luck is normal), and of all estimates together the 95 % intervals must hold about that share. Nests of many ranches
// are pooled, so one curve stands for many; that bends the estimate by less than half a standard error.

var substrates = []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Shrub}

func everywhere(demo.Stratum) bool { return true }

func TestSurvivalRecovered(t *testing.T) {
	c := theDemo()
	inside, all := 0, 0
	for _, season := range c.Seasons {
		for _, s := range substrates {
			est := survival.Fit(nests(c.Data.Nests, func(n *survey.Nest) bool { return n.Season == season && n.Substrate == s }))
			want := c.Truth.Day28(season, s, everywhere)
			low, high := est.Interval()
			off := (est.S28 - want) / est.SE
			t.Logf("%d %-10s %.3f (%.3f to %.3f), truth %.3f: %+.1f SE, %d nests", season, s, est.S28, low, high, want, off, est.Exposed)
			if math.Abs(off) > 4 {
				t.Errorf("%d %s: %.3f is %.1f standard errors from the truth %.3f", season, s, est.S28, off, want)
			}
			if all++; low <= want && want <= high {
				inside++
			}
		}
	}
	// 15 intervals at 95 %: fewer than 11 hold in less than 1 of 1 000 demos (binomial).
	if inside < 11 {
		t.Errorf("%d of %d intervals hold the truth", inside, all)
	}
}

func TestDensityRecovered(t *testing.T) {
	c := theDemo()
	for _, season := range c.Seasons {
		for _, area := range c.Areas {
			var belts []density.Belt
			in := func(st demo.Stratum) bool { return st.Area == area.Name }
			for i := range c.Data.Belts {
				b := &c.Data.Belts[i]
				if b.Season == season && areaOf(c, b.Ranch) == area.Name {
					belts = append(belts, density.Belt{Count: b.Counts[survey.Bunchgrass], Area: b.Acres()})
				}
			}
			// Belts differ in area by a few in a hundred, the truth weighs them alike: that is far below the tolerance.
			est, want := density.Fit(belts), c.Truth.PerAcre(season, survey.Bunchgrass, in)
			if off := (est.Density - want) / est.SE; math.Abs(off) > 4 {
				t.Errorf("%d %s: %.0f an acre is %.1f standard errors from the truth %.0f", season, area.Name, est.Density, off, want)
			}
		}
	}
}

// TestMixRecovered: the key confuses animals, the mix undoes it. Each share must be within 4 points of the truth: with
// about 2 500 nests a share of a quarter has a standard error of 0.9 points if every animal were known, and remains
// that overlap as the key's do multiply that by less than 2.
func TestMixRecovered(t *testing.T) {
	c := theDemo()
	key := predator.NewKey()
	var losses []predator.Nest
	cameras := 0
	for i := range c.Data.Nests {
		n := &c.Data.Nests[i]
		if n.Fate() != survey.Taken {
			continue
		}
		if n.Camera != "" {
			cameras++
			losses = append(losses, predator.Nest{Transect: i, Likelihood: predator.Certain(slices.Index(predator.Predators(), string(n.Camera)))})
			continue
		}
		seen := n.Signs()
		signs, found := key.Read(func(feature string) string {
			f := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == feature })
			return *survey.Features[f].Value(&seen)
		})
		if found {
			losses = append(losses, predator.Nest{Transect: i, Likelihood: key.Likelihood(signs)})
		}
	}
	t.Logf("%d losses tell something, %d of them by camera", len(losses), cameras)
	mix := predator.Estimate(losses)
	for k, name := range predator.Predators() {
		want := c.Truth.Mix[survey.Predator(name)]
		t.Logf("%-10s %.3f, truth %.3f", name, mix[k], want)
		if math.Abs(mix[k]-want) > 0.04 {
			t.Errorf("%s: share %.3f, truth %.3f", name, mix[k], want)
		}
	}
}

func nests(from []survey.Nest, in func(*survey.Nest) bool) []survival.Nest {
	labels := map[survey.TransectKey]int{}
	var out []survival.Nest
	for i := range from {
		n := &from[i]
		if !in(n) {
			continue
		}
		if _, known := labels[n.Key()]; !known {
			labels[n.Key()] = len(labels)
		}
		seen := survival.Nest{Transect: labels[n.Key()], Intact: n.LastIntact()}
		if n.Fate().Failed() {
			seen.Lost = int(n.Visits[len(n.Visits)-1].On - n.SetOn)
		}
		out = append(out, seen)
	}
	return out
}

func areaOf(c *demo.Cooperative, ranch string) string {
	i := slices.IndexFunc(c.Ranches, func(r demo.Ranch) bool { return r.Name == ranch })
	return c.Ranches[i].Area
}
