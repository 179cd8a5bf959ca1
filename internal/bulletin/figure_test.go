package bulletin_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/demo"
	"tussock/internal/findings"
	"tussock/internal/stat/cover"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/trend"
	"tussock/internal/survey"
)

// region invents a cooperative in which owners, transects, seasons and cover differ. sizes are the transects that each
// owner has a season; six nests are on each.
func region(seed uint64, seasons int, sizes []int) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, 7))
	in := bulletin.Input{Data: &survey.Data{}, Season: 2020 + seasons, WithFigures: true, Open: map[string]bool{}}
	for owner, transects := range sizes {
		ranch := fmt.Sprintf("Ranch %03d", owner)
		in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Entity: fmt.Sprintf("Owner %03d", owner), Area: "North", Consent: 1})
		in.Open[ranch] = r.IntN(4) == 0
		u, acre := 0.4*r.NormFloat64(), 250*math.Exp(0.4*r.NormFloat64())
		for season := 2021; season <= in.Season; season++ {
			for g := range transects {
				transect(r, in.Data, ranch, season, g, acre, -3.6+u+0.3*r.NormFloat64()+0.2*float64(season%3))
			}
		}
	}
	in.Areas = []bulletin.Area{{Name: "North"}}
	return in
}

func transect(r *rand.Rand, d *survey.Data, ranch string, season, g int, acre, hazard float64) {
	set := survey.DateOf(season, 5, 10)
	d.Belts = append(d.Belts, survey.Belt{Ranch: ranch, Season: season, Transect: fmt.Sprint(g), LengthFt: 660, WidthFt: 6.6,
		Counts: map[survey.Substrate]int{survey.Bunchgrass: int(0.1 * acre * (0.8 + 0.4*r.Float64()))}})
	for i := range 6 {
		n := survey.Nest{Ranch: ranch, Season: season, Transect: fmt.Sprint(g), Number: fmt.Sprint(i), Substrate: survey.Yucca, SetOn: set, EggsLeft: -1}
		h := math.Exp(hazard)
		if i%2 == 0 {
			n.Substrate = survey.Bunchgrass
			h *= math.Pow(acre/220, -0.6)
		}
		ends := r.ExpFloat64() / h
		for _, day := range []int{12 + r.IntN(6), 26 + r.IntN(4)} {
			v := survey.Visit{On: set + survey.Date(day), State: survey.Intact}
			if ends < float64(day) {
				v.State = survey.Taken
			}
			n.Visits = append(n.Visits, v)
			if v.State == survey.Taken {
				break
			}
		}
		d.Nests = append(d.Nests, n)
	}
}

func alike(owners, transects int) []int {
	sizes := make([]int, owners)
	for i := range sizes {
		sizes[i] = transects
	}
	return sizes
}

// body returns the whole cooperative's figure of a kind.
func body[T any](t *testing.T, b bulletin.Bulletin, kind string) (x T, ok bool) {
	t.Helper()
	for _, f := range b.Figures {
		if f.Kind == kind && f.Place == nil {
			if err := f.Into(&x); err != nil {
				t.Fatal(err)
			}
			return x, true
		}
	}
	return x, false
}

// screenedFrom is where owners are screened by one step of the models before anything is fitted without them.
const screenedFrom = 60

// TestFiguresHangOnNobody is the second ruling, computed again from the rows: each owner's rows are taken out, the
// models are fitted anew from the start, and no published estimate may have moved by more than a step of the one grid that
// its number of owners has. In the short form owners are the largest and every fourth.
func TestFiguresHangOnNobody(t *testing.T) {
	t.Parallel()
	shown := 0
	for seed, sizes := range [][]int{
		alike(12, 4), {9, 8, 7, 6, 5, 4, 4, 3, 3, 2, 2, 2}, append(alike(60, 2), 6, 5, 4), alike(32, 2), alike(10, 4), {10, 6, 5, 5, 4, 3, 3, 2, 2, 2, 2, 1, 1, 1},
	} {
		if seed > 2 && !*long {
			break
		}
		in := region(uint64(seed), 3, sizes)
		b := compose(t, in)
		standardised, _ := body[bulletin.Standardised](t, b, bulletin.StandardisedKind)
		yearly, _ := body[bulletin.Trend](t, b, bulletin.TrendKind)
		gaps, _ := body[bulletin.Cover](t, b, bulletin.CoverKind)
		quality, _ := body[bulletin.Quality](t, b, bulletin.QualityKind)
		survivalStep, yearlyStep, gapStep := 0.02, 1.05, 1.2
		if len(sizes) >= 30 {
			survivalStep, yearlyStep, gapStep = 0.01, 1.02, 1.1
		}
		for i, m := range in.Roster {
			if largest := sizes[i] > 3 && sizes[i] != sizes[len(sizes)/2]; !*long && !largest && i%6 != 0 || len(sizes) > screenedFrom && !largest && i%20 != 0 {
				continue
			}
			d := without(in.Data, m.Ranch)
			pooled := map[string]findings.Range{}
			for _, p := range findings.Pool(d, findings.Options{}).Standardised {
				pooled[fmt.Sprint(p.Season, p.Substrate)] = p.Range
			}
			for _, r := range standardised.Rates {
				if r.Substrate == nil || r.Estimate == nil {
					continue
				}
				shown++
				stays(t, fmt.Sprintf("%d: survival %d %s without %s", seed, r.Season, *r.Substrate, m.Ranch),
					*r.Estimate/survivalStep, *pooled[fmt.Sprint(r.Season, *r.Substrate)].Estimate/survivalStep)
			}
			factor := func(x, step float64) float64 { return math.Log(x) / math.Log(step) }
			if y := yearly.Yearly.Estimate; y != nil {
				shown++
				stays(t, fmt.Sprintf("%d: yearly without %s", seed, m.Ranch),
					factor(*y, yearlyStep), factor(trend.Fit(findings.Intervals(d, nil), interval.Level).HazardRatio, yearlyStep))
			}
			if len(gaps.Gaps) > 0 {
				line := cover.Fit(findings.Intervals(d, perAcre(d)), interval.Level)
				for _, g := range gaps.Gaps {
					gap := line.Gap(g.A, g.B)
					for _, p := range g.Curve {
						shown++
						stays(t, fmt.Sprintf("%d: gap at %v without %s", seed, p.Density, m.Ranch),
							factor(*p.Estimate, gapStep), gap.At(p.Density).Gap/math.Log(gapStep))
					}
				}
			}
			if q := quality.FirstOnDay; q != nil {
				shown++
				first, on := 0.0, 0.0
				for _, n := range d.Nests {
					if n.Season == in.Season {
						first++
						if day := n.Visits[0].On - n.SetOn; day >= 11 && day <= 17 {
							on++
						}
					}
				}
				stays(t, fmt.Sprintf("%d: first checks without %s", seed, m.Ranch), 20**q, 20*on/first)
			}
		}
	}
	if shown < 100 {
		t.Errorf("only %d numbers were looked at", shown)
	}
}

// stays fails where a published value is not on its grid or has moved by more than a step; both are in steps. A hundredth of
// a step is left for values that lie just between two. Factors are printed with three digits, which moves one by a tenth of
// a step at most.
func stays(t *testing.T, what string, shown, now float64) {
	t.Helper()
	at := math.Round(shown)
	if math.Abs(shown-at) > 0.1 {
		t.Errorf("%s: %v steps is not on the grid", what, shown)
	}
	if near := min(math.Abs(math.Round(now-0.01)-at), math.Abs(math.Round(now+0.01)-at)); near > 1 {
		t.Errorf("%s: published at %v steps, now at %v", what, at, now)
	}
}

func without(d *survey.Data, ranch string) *survey.Data {
	return &survey.Data{
		Nests: slices.DeleteFunc(slices.Clone(d.Nests), func(n survey.Nest) bool { return n.Ranch == ranch }),
		Belts: slices.DeleteFunc(slices.Clone(d.Belts), func(b survey.Belt) bool { return b.Ranch == ranch }),
	}
}

// perAcre is the density of a ranch in a season.
func perAcre(d *survey.Data) func(*survey.Nest) float64 {
	type key struct {
		ranch  string
		season int
	}
	clumps, acres := map[key]float64{}, map[key]float64{}
	for _, b := range d.Belts {
		for _, n := range b.Counts {
			clumps[key{b.Ranch, b.Season}] += float64(n)
		}
		acres[key{b.Ranch, b.Season}] += b.Acres()
	}
	return func(n *survey.Nest) float64 { k := key{n.Ranch, n.Season}; return clumps[k] / acres[k] }
}

// TestFiguresNeedTen: nine landowners have no figure, ten have; a level-3 owner, whom all know, does not count; nor may
// one have more than a quarter of the nests.
func TestFiguresNeedTen(t *testing.T) {
	for _, tt := range []struct {
		name   string
		sizes  []int
		change func(*bulletin.Input)
		want   bool
	}{
		{"nine", alike(9, 6), nil, false},
		{"ten", alike(10, 6), nil, true},
		{"ten ranches of nine owners", alike(10, 6), func(in *bulletin.Input) { in.Roster[9].Entity = in.Roster[8].Entity }, false},
		{"ten of whom one is private", alike(10, 6), func(in *bulletin.Input) { in.Roster[4].Consent = 0 }, false},
		{"ten of whom one is known by name", alike(10, 6), func(in *bulletin.Input) { in.Roster[4].Consent = 3 }, false},
		{"ten of whom one is new and not vouched for", alike(10, 6), func(in *bulletin.Input) { in.Roster[4].Unvouched = true }, false},
		{"one with a quarter", append(alike(10, 3), 10), nil, true},
		{"one with more", append(alike(10, 3), 11), nil, false},
	} {
		in := region(3, 2, tt.sizes)
		if tt.change != nil {
			tt.change(&in)
		}
		if b := compose(t, in); len(b.Figures) > 0 != tt.want {
			t.Errorf("%s: %d figures, want some: %v", tt.name, len(b.Figures), tt.want)
		}
		in.WithFigures = false
		if b := compose(t, in); len(b.Figures) > 0 {
			t.Errorf("%s: figures that nobody asked for", tt.name)
		}
	}
	in := region(3, 1, alike(12, 6))
	for _, f := range compose(t, in).Figures {
		if f.N < 10 {
			t.Errorf("%s rests on %d", f.Kind, f.N)
		}
	}
}

// TestFiguresStayAsTheyAre: the order of rows changes nothing, and the hash covers every number.
func TestFiguresStayAsTheyAre(t *testing.T) {
	in := region(5, 3, alike(14, 3))
	b := compose(t, in)
	r := rand.New(rand.NewPCG(1, 1))
	r.Shuffle(len(in.Data.Nests), func(i, j int) { in.Data.Nests[i], in.Data.Nests[j] = in.Data.Nests[j], in.Data.Nests[i] })
	r.Shuffle(len(in.Data.Belts), func(i, j int) { in.Data.Belts[i], in.Data.Belts[j] = in.Data.Belts[j], in.Data.Belts[i] })
	r.Shuffle(len(in.Roster), func(i, j int) { in.Roster[i], in.Roster[j] = in.Roster[j], in.Roster[i] })
	again := compose(t, in)
	if b.Hash != again.Hash || len(b.Figures) == 0 {
		t.Errorf("%d figures with hash %s, in another order %d with %s", len(b.Figures), b.Hash, len(again.Figures), again.Hash)
	}
	for i, f := range b.Figures {
		rewritten, err := f.Rewritten()
		if err != nil || !bytes.Equal(rewritten.Body, f.Body) {
			t.Errorf("figure %d is written %s and then %s: %v", i, f.Body, rewritten.Body, err)
		}
		for _, word := range []string{"Owner", "Ranch", "NaN", "Inf", "entity"} {
			if strings.Contains(string(f.Body), word) {
				t.Errorf("%q stands in %s", word, f.Body)
			}
		}
	}
	in.WithFigures = false
	if plain := compose(t, in); plain.Hash == b.Hash {
		t.Error("the hash does not cover the figures")
	}
}

// TestFiguresOfLittle: no season, one season, no belts, all intact, none intact: fewer figures, and no fault.
func TestFiguresOfLittle(t *testing.T) {
	for name, change := range map[string]func(*survey.Data){
		"nothing":     func(d *survey.Data) { *d = survey.Data{} },
		"no belts":    func(d *survey.Data) { d.Belts = nil },
		"all intact":  func(d *survey.Data) { ends(d, survey.Intact) },
		"none intact": func(d *survey.Data) { ends(d, survey.Taken) },
		"all lost":    func(d *survey.Data) { ends(d, survey.Lost) },
		"no clumps": func(d *survey.Data) {
			for i := range d.Belts {
				d.Belts[i].Counts = map[survey.Substrate]int{survey.Bunchgrass: 0}
			}
		},
	} {
		for _, seasons := range []int{1, 2, 5} {
			in := region(8, seasons, alike(11, 3))
			change(in.Data)
			t.Logf("%s, %d seasons: %d figures", name, seasons, len(compose(t, in).Figures))
		}
	}
}

func ends(d *survey.Data, state survey.State) {
	for i := range d.Nests {
		d.Nests[i].Visits = d.Nests[i].Visits[:1]
		d.Nests[i].Visits[0].State = state
	}
}

// TestFiguresTellTheTruth holds the demo's last season against what the demo was made with. Survival may differ from the
// truth of the ranches that are counted by half a step and four standard errors, read off the published range; the other
// truths must lie within the published range, and the density where bunchgrass and shrub do alike within a quarter.
func TestFiguresTellTheTruth(t *testing.T) {
	t.Parallel()
	c := demo.Generate(demo.Seed)
	in := bulletin.Input{Data: &c.Data, Season: 2026, WithFigures: true}
	agreed := map[string]bool{}
	for _, r := range c.Ranches {
		agreed[r.Name] = r.Consent >= 1
		in.Roster = append(in.Roster, bulletin.Member{Ranch: r.Name, Entity: r.Owner, Area: r.Area, Consent: r.Consent})
	}
	for _, a := range c.Areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: a.Name, Group: a.Group})
	}
	b := compose(t, in)
	standardised, _ := body[bulletin.Standardised](t, b, bulletin.StandardisedKind)
	seen := 0
	for _, r := range standardised.Rates {
		if r.Substrate == nil || r.Estimate == nil {
			continue
		}
		seen++
		want := c.Truth.Day28(r.Season, survey.Substrate(*r.Substrate), func(s demo.Stratum) bool { return agreed[s.Ranch] })
		if tolerance := 0.025 + 4*(*r.High-*r.Low)/(2*1.96); math.Abs(*r.Estimate-want) > tolerance {
			t.Errorf("%d %s: published %v, truth %.3f", r.Season, *r.Substrate, *r.Estimate, want)
		}
	}
	if seen < 12 {
		t.Errorf("%d survivals are published, want most of 3 substrates in 5 seasons", seen)
	}

	// Seasons were made with log hazards 0, −0.10, 0.40, 0.10 and −0.08: a slope of 0.004 a year, and the drought in the
	// middle scatters about any line.
	yearly, _ := body[bulletin.Trend](t, b, bulletin.TrendKind)
	if y := yearly.Yearly; y.Estimate == nil || *y.Low > math.Exp(0.004) || *y.High < math.Exp(0.004) || yearly.Verdict != bulletin.NoClearChange {
		t.Errorf("trend %+v, want one that holds 1.004 and no clear change", yearly)
	}

	// In bunchgrass the log hazard falls by 0.6 with the log of its own density, from log 0.0235 at 220; in shrub it is log
	// 0.0255. They meet at 192 clumps of bunchgrass, beside which stand, at the median, about 90 of the other two kinds.
	truth := 220*math.Pow(0.0235/0.0255, 1/0.6) + 90
	gaps, _ := body[bulletin.Cover](t, b, bulletin.CoverKind)
	for _, g := range gaps.Gaps {
		if g.B != string(survey.Shrub) {
			continue
		}
		x := g.Crossing
		if x.Said != bulletin.CrossingFound || x.Low == nil || truth < *x.Low || truth > *x.High || math.Abs(*x.Estimate/truth-1) > 0.25 {
			t.Errorf("bunchgrass and shrub do alike at %v (%v to %v): %s; truth %.0f", *x.Estimate, x.Low, x.High, x.Said, truth)
		}
	}
	if len(gaps.Gaps) != 2 {
		t.Errorf("%d gaps, want bunchgrass against shrub and yucca", len(gaps.Gaps))
	}
}

// TestWhatLimits: where a third of the mark's clumps stand, cover is short; where twice as many, it is not, and half of
// the nests last or do not.
func TestWhatLimits(t *testing.T) {
	for _, tt := range []struct {
		name   string
		clumps int // on a tenth of an acre
		hazard float64
		want   string
	}{
		{"few clumps", 10, -3.5, bulletin.CoverShort},
		{"few clumps where nests last", 10, -5, bulletin.CoverShort},
		{"enough, and losses", 60, -2.8, bulletin.LossesHigh},
		{"enough, and few losses", 60, -4.5, bulletin.LastingWell},
	} {
		in := region(2, 1, nil)
		r := rand.New(rand.NewPCG(4, 4))
		for i := range 12 {
			ranch := fmt.Sprint("Ranch ", i)
			in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Area: "North", Consent: 1})
			for g := range 4 {
				transect(r, in.Data, ranch, in.Season, g, 220, tt.hazard)
				in.Data.Belts[len(in.Data.Belts)-1].Counts = map[survey.Substrate]int{survey.Bunchgrass: tt.clumps + r.IntN(5)}
			}
		}
		l, ok := body[bulletin.Limits](t, compose(t, in), bulletin.LimitsKind)
		if !ok || l.Verdict != tt.want || l.Talk == nil || l.Talk.First == "" {
			t.Errorf("%s: got %+v, want %s", tt.name, l, tt.want)
		}
	}
}

// BenchmarkFigures composes a season with five behind it, of forty ranches and of three hundred.
func BenchmarkFigures(b *testing.B) {
	for _, owners := range []int{40, 300} {
		in := region(1, 5, alike(owners, 7))
		b.Run(fmt.Sprintf("owners=%d", owners), func(b *testing.B) {
			for b.Loop() {
				if _, err := bulletin.Compose(in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestT19FiguresAllAlike: a model's rate of a cooperative in which nearly every nest lasted is not shown, as the cell is not:
// it would tell nearly everybody's.
func TestT19FiguresAllAlike(t *testing.T) {
	hs := owners("East", "ABCDEFGHIJKL")
	for i := range hs {
		hs[i].nests, hs[i].kept = 40, 0.965
	}
	in := input(2025, 21, grassAndPear, hs...)
	in.WithFigures = true
	b := compose(t, in)
	rates := 0
	for _, v := range b.Verdicts {
		if v.Kind != bulletin.StandardisedKind {
			continue
		}
		if rates++; v.HeldBecause == "" {
			t.Errorf("%s is shown", v.Number)
		}
	}
	if rates == 0 {
		t.Error("no rate was looked at")
	}
}
