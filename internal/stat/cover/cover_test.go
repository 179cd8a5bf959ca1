package cover_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"tussock/internal/stat/cover"
	"tussock/internal/stat/mixed"
)

func gapData(t *testing.T) []mixed.Interval {
	t.Helper()
	f, err := os.Open("testdata/gap.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var list []mixed.Interval
	for _, c := range lines[1:] {
		v := mixed.Interval{Ranch: c[0], Transect: c[1], Substrate: c[2], Intact: c[7] == "1"}
		v.Season, _ = strconv.Atoi(c[3])
		v.X, _ = strconv.ParseFloat(c[4], 64)
		v.From, _ = strconv.ParseFloat(c[5], 64)
		v.To, _ = strconv.ParseFloat(c[6], 64)
		list = append(list, v)
	}
	return list
}

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g (within %g)", what, got, want, tolerance)
	}
}

// testdata/gap.R: lme4 1.1-31, with Fieller's interval from its fit by root finding.
func TestGapAgainstLme4(t *testing.T) {
	m := cover.Fit(gapData(t), 0.95)
	g := m.Gap("bunchgrass", "yucca")
	if !g.Known || !g.Crossing.Found || !g.Crossing.Closed {
		t.Fatalf("got %+v", g)
	}
	at := g.At(300)
	close(t, "gap at 300", at.Gap, 0.006537485796, 2e-5)
	close(t, "its band", at.High-at.Gap, 1.959963984540054*0.09274305719, 2e-5)
	close(t, "slope", g.Slope, -0.8732683446, 2e-5)
	close(t, "its standard error", g.SE, 0.1156322946, 2e-5)
	close(t, "crossing", g.Crossing.Density, 302.2542959, 0.02)
	close(t, "from", g.Crossing.Low, 252.8613809, 0.02)
	close(t, "to", g.Crossing.High, 393.546821, 0.02)
	close(t, "lowest density", m.Low, 86, 0)
	close(t, "highest density", m.High, 601, 0)
}

func TestGapIsTheSameBothWays(t *testing.T) {
	m := cover.Fit(gapData(t), 0.95)
	a, b := m.Gap("bunchgrass", "yucca"), m.Gap("yucca", "bunchgrass")
	for _, d := range []float64{90, 300, 550} {
		close(t, "gap", a.At(d).Gap, -b.At(d).Gap, 1e-12)
		close(t, "band", a.At(d).High, -b.At(d).Low, 1e-12)
	}
	close(t, "crossing", a.Crossing.Low, b.Crossing.Low, 1e-9)
	// At Fieller's limits zero is just on the edge of the band.
	close(t, "edge", a.At(a.Crossing.Low).Low, 0, 1e-9)
	close(t, "edge", a.At(a.Crossing.High).High, 0, 1e-9)
	if n := len(a.Curve(m.Low, m.High, 41)); n != 41 {
		t.Errorf("got %d points", n)
	}
}

func TestSites(t *testing.T) {
	list := gapData(t)
	m := cover.Fit(list, 0.95)
	sites := m.Sites("bunchgrass", "yucca")
	if len(sites) < 30 || len(sites) > 36 {
		t.Errorf("got %d sites of 36", len(sites))
	}
	// Within a site all intervals are 14 days long, so each rate is by hand −log(kept/n)/14.
	first := sites[0]
	rate := func(substrate string) float64 {
		n, kept := 0.0, 0.0
		for _, v := range list {
			if v.Ranch == first.Ranch && v.X == first.Density && v.Substrate == substrate {
				n++
				if v.Intact {
					kept++
				}
			}
		}
		return math.Log(-math.Log(kept / n))
	}
	close(t, "gap", first.Gap, rate("bunchgrass")-rate("yucca"), 1e-5)
}

func TestWhatIf(t *testing.T) {
	m := cover.Fit(gapData(t), 0.95)
	thin, ok := m.WhatIf("", "bunchgrass", "", 2024, 120)
	thick, ok2 := m.WhatIf("", "bunchgrass", "", 2024, 500)
	if !ok || !ok2 || !(thin.Value < thick.Value) {
		t.Errorf("bunchgrass: thin %+v, thick %+v", thin, thick)
	}
	if e, ok := m.WhatIf("3", "yucca", "", 2025, 300); !ok || !(e.Low < e.Value && e.Value < e.High) {
		t.Errorf("a ranch: got %+v, %v", e, ok)
	}
	for _, bad := range []func() (mixed.Estimate, bool){
		func() (mixed.Estimate, bool) { return m.WhatIf("nobody", "yucca", "", 2025, 300) },
		func() (mixed.Estimate, bool) { return m.WhatIf("3", "prickly pear", "", 2025, 300) },
		func() (mixed.Estimate, bool) { return m.WhatIf("3", "yucca", "", 1999, 300) },
		func() (mixed.Estimate, bool) { return m.WhatIf("3", "yucca", "", 2025, 0) },
	} {
		if _, ok := bad(); ok {
			t.Error("answered what it cannot know")
		}
	}
}

func TestEdges(t *testing.T) {
	with := func(f func(*mixed.Interval)) []mixed.Interval {
		list := gapData(t)
		for i := range list {
			f(&list[i])
		}
		return list
	}
	tests := []struct {
		name  string
		list  []mixed.Interval
		known bool
		found bool
	}{
		{"Nothing", nil, false, false},
		{"NoDensity", with(func(v *mixed.Interval) { v.X = 0 }), false, false},
		{"OneDensity", with(func(v *mixed.Interval) { v.X = 300 }), false, false},
		{"TwoDensities", with(func(v *mixed.Interval) { v.X = math.Copysign(100, 1) + 100*float64(v.Season-2024) }), false, false},
		{"AllIntact", with(func(v *mixed.Interval) { v.Intact = true }), false, false},
		{"OneSideAllIntact", with(func(v *mixed.Interval) { v.Intact = v.Intact || v.Substrate == "yucca" }), false, false},
		{"OnlyYucca", with(func(v *mixed.Interval) { v.Substrate = "yucca" }), false, false},
		{"OutOfRange", with(func(v *mixed.Interval) { v.X *= math.Pow(v.X/1e4, 0.2) }), true, true},
		{"Fine", with(func(*mixed.Interval) {}), true, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := cover.Fit(tt.list, 0.95)
			g := m.Gap("bunchgrass", "yucca")
			if g.Known != tt.known || g.Crossing.Found != tt.found {
				t.Errorf("got %+v", g)
			}
			if !g.Known && g.Why == "" {
				t.Error("no reason given")
			}
			for _, v := range []float64{g.Slope, g.SE, g.Crossing.Density, g.Crossing.Low, g.Crossing.High} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("got %+v", g)
				}
			}
			m.Sites("bunchgrass", "yucca")
		})
	}
}

// Where density makes no difference and the substrates do, the lines do not cross where anyone looked; the interval
// is open.
func TestNoCrossing(t *testing.T) {
	g := cover.Fit(invented(3, 0, 0.8), 0.95).Gap("bunchgrass", "yucca")
	if !g.Known || g.Crossing.Found || g.Crossing.Why == "" {
		t.Errorf("got %+v", g)
	}
}

// invented has 12 ranches with a density each, the gap being level + slope·log(D/300).
func invented(seed uint64, slope, level float64) []mixed.Interval {
	rng := rand.New(rand.NewPCG(seed, 3))
	var list []mixed.Interval
	for r := range 12 {
		d := 100 * math.Pow(6, float64(r)/11)
		u := 0.3 * rng.NormFloat64()
		for g := range 5 {
			v := 0.3 * rng.NormFloat64()
			for i := range 16 {
				substrate, gap := "yucca", 0.0
				if i%2 == 0 {
					substrate, gap = "bunchgrass", level+slope*math.Log(d/300)
				}
				h := math.Exp(-3.6 + gap + u + v)
				from := 0.0
				for _, to := range []float64{14, 28} {
					lost := rng.ExpFloat64() < 14*h
					list = append(list, mixed.Interval{Ranch: fmt.Sprint(r), Transect: fmt.Sprint(g), Substrate: substrate, Season: 2025,
						X: d, From: from, To: to, Intact: !lost})
					if lost {
						break
					}
					from = to
				}
			}
		}
	}
	return list
}

// Fieller's interval should hold the true crossing in about 95 of 100 invented regions, open ones counting as holding it.
func TestFiellerCoverage(t *testing.T) {
	replicates, slack := 150, 0.05
	if os.Getenv("TUSSOCK_LONG") != "" {
		replicates, slack = 2000, 0.02
	}
	held := 0
	for i := range replicates {
		c := cover.Fit(invented(uint64(100+i), -0.8, 0.1), 0.95).Gap("bunchgrass", "yucca").Crossing
		truth := 300 * math.Exp(0.1/0.8)
		if !c.Closed || c.Low <= truth && truth <= c.High {
			held++
		}
	}
	t.Logf("covered in %.3f of %d", float64(held)/float64(replicates), replicates)
	if share := float64(held) / float64(replicates); math.Abs(share-0.95) > slack {
		t.Errorf("covered in %.3f of %d", share, replicates)
	}
}

// Two kinds of site, losses worked out so that the gap is log 2 at 100 clumps an acre, 0 at 200 and −log 2 at 400:
// bunchgrass does worse where it is thin, and as well as yucca at 200. On one ranch with one transect the model is an
// ordinary regression, and the line goes through all three.
func ExampleFit() {
	var list []mixed.Interval
	add := func(density float64, substrate string, intact, n int) {
		for i := range n {
			list = append(list, mixed.Interval{Ranch: "North", Transect: "1", Substrate: substrate, Season: 2025, X: density, To: 14, Intact: i < intact})
		}
	}
	for _, density := range []float64{100, 200, 400} {
		add(density, "yucca", 160, 200) // 80 % intact after 14 days
	}
	add(100, "bunchgrass", 128, 200) // 0.8²: twice the hazard
	add(200, "bunchgrass", 160, 200)
	add(400, "bunchgrass", 179, 200) // about √0.8: half the hazard
	g := cover.Fit(list, 0.95).Gap("bunchgrass", "yucca")
	fmt.Printf("hazard ratio at 100: %.1f, at 400: %.1f; alike at about %.0f\n",
		math.Exp(g.At(100).Gap), math.Exp(g.At(400).Gap), g.Crossing.Density)
	// Output:
	// hazard ratio at 100: 2.0, at 400: 0.5; alike at about 200
}
