package demo

import (
	"math"

	"tussock/internal/survey"
)

// The numbers behind the cooperative. They are invented; their size is only plausible: about half
// of the nests last four weeks where there are 220 clumps of bunchgrass an acre and 80 to 100 of yucca and shrub.
const (
	ranchSD      = 0.25 // of the log daily hazard, between ranches
	transectSD   = 0.40 // and between the transects of a ranch and season
	coverSD      = 0.22 // of the log of clumps an acre, between the ranches of an area
	secondPeriod = 0.85 // the daily hazard from day 14 on, as a multiple of that before
	otherEnds    = 0.08 // of all ends: hooves, water, rot
	coverSlope   = -0.6 // of the log daily hazard in bunchgrass, for each unit of log clumps an acre
)

var substrates = []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Shrub}

// logHazard is the log of the daily hazard before day 14 on an average ranch and transect. In bunchgrass it falls as clumps
// get denser; in yucca and shrub it does not.
func logHazard(season int, siteType string, s survey.Substrate, perAcre map[survey.Substrate]float64) float64 {
	h := math.Log(0.0235)
	switch s {
	case survey.Bunchgrass:
		h += coverSlope * math.Log(perAcre[survey.Bunchgrass]/220)
	case survey.Yucca:
		h = math.Log(0.0195)
	case survey.Shrub:
		h = math.Log(0.0255)
	}
	if siteType == "sandy" {
		h += 0.08
	}
	return h + map[int]float64{2023: -0.10, droughtYear: 0.40, 2025: 0.10, 2026: -0.08}[season]
}

// areaCover is an area's usual bunchgrass clumps an acre.
func areaCover(area string) float64 {
	return map[string]float64{
		"Upper Willet": 245, "Lower Willet": 295, "Chalk Benches": 190, "Long Draw": 150,
		"Sedge Lakes": 310, "Antler Divide": 215, "Blowout Hills": 125,
	}[area]
}

// seasonCover is how much of its usual cover a season has: the drought leaves two thirds.
func seasonCover(season int) float64 {
	return map[int]float64{2022: 1, 2023: 1.05, droughtYear: 0.68, 2025: 0.82, 2026: 0.95}[season]
}

// predatorMix is who takes the nests, the same everywhere and always, so that a test can look for it.
func predatorMix() map[survey.Predator]float64 {
	return map[survey.Predator]float64{
		survey.Skunk: 0.25, survey.Coyote: 0.20, survey.Raccoon: 0.17, survey.Badger: 0.13,
		survey.Bird: 0.12, survey.Fox: 0.08, survey.Rodent: 0.05,
	}
}

// Truth is what an ideal survey without any sampling error would find, for the very ranches of the demo.
type Truth struct {
	Strata []Stratum
	Mix    map[survey.Predator]float64 // shares of nests taken
}

// A Stratum is the truth of one substrate in one pasture in one season.
type Stratum struct {
	Ranch, Area, Site string
	Season            int
	Substrate         survey.Substrate
	Nests             int     // set out in it
	Belts             int     // walked in its pasture
	Day28             float64 // the chance to last to day 28, over all transects there could be
	PerAcre           float64 // clumps
}

func (t *Truth) add(f *field) {
	t.Mix = predatorMix()
	for _, p := range f.place {
		for _, s := range substrates {
			h := logHazard(f.season, f.ranch.SiteType, s, p.perAcre) + f.effect
			st := Stratum{Ranch: f.ranch.Name, Area: f.ranch.Area, Site: p.name, Season: f.season, Substrate: s,
				Day28: averaged(h), PerAcre: p.perAcre[s]}
			for i := range f.nests {
				if f.nests[i].Site == p.name && f.nests[i].Substrate == s {
					st.Nests++
				}
			}
			for i := range f.belts {
				if f.belts[i].Site == p.name {
					st.Belts++
				}
			}
			t.Strata = append(t.Strata, st)
		}
	}
}

// averaged is the survival to day 28 over transects: exp(-14 (1 + secondPeriod) e^(h + v)) integrated over v ~ N(0, transectSD²)
// by the midpoint rule, whose error is far below any rounding here. It is more than the survival of the average transect.
func averaged(h float64) float64 {
	const steps, reach = 400, 6.0
	var sum, weight float64
	for i := range steps {
		z := -reach + (float64(i)+0.5)*2*reach/steps
		w := math.Exp(-z * z / 2)
		sum += w * math.Exp(-14*(1+secondPeriod)*math.Exp(h+transectSD*z))
		weight += w
	}
	return sum / weight
}

// Day28 is the true survival to day 28 of one substrate and season over the nests that ranches in the given set put out.
func (t *Truth) Day28(season int, s survey.Substrate, in func(Stratum) bool) float64 {
	return t.mean(season, s, in, func(st Stratum) (value, weight float64) { return st.Day28, float64(st.Nests) })
}

// PerAcre is the true density of one substrate over the belts that ranches in the given set walked.
func (t *Truth) PerAcre(season int, s survey.Substrate, in func(Stratum) bool) float64 {
	return t.mean(season, s, in, func(st Stratum) (value, weight float64) { return st.PerAcre, float64(st.Belts) })
}

func (t *Truth) mean(season int, s survey.Substrate, in func(Stratum) bool, of func(Stratum) (value, weight float64)) float64 {
	var sum, weight float64
	for _, st := range t.Strata {
		if st.Season == season && st.Substrate == s && in(st) {
			v, w := of(st)
			sum += v * w
			weight += w
		}
	}
	return sum / weight
}
