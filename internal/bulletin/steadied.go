package bulletin

import (
	"math"
	"slices"

	"tussock/internal/findings"
	"tussock/internal/stat/interval"
	"tussock/internal/stat/shrink"
)

// Published is what a reader sees of the bulletins, as it bears on one ranch's figure. Nothing else of the others goes into it.
type Published struct {
	Cells  []Cell
	Covers map[int][]string // the standard covers of each season's bulletin
}

// What stands in for what is not published. All ours.
const (
	// usualSpread is the spread between landowners where none is published, and spreadError the standard error of its logarithm: it may be a third
	// or three times as much.
	usualSpread, spreadError = 0.35, 0.6
	// otherCovers is the standard deviation of the logarithm of the hazard between mixes of cover.
	otherCovers = 0.25
	// otherSeasons is that between seasons of a cooperative.
	otherSeasons = 0.3
)

// DesignEffect returns the published design effect for a season: its own, that of the latest season before, or else that of the first one after; 0
// where none is published for the reader.
func (p Published) DesignEffect(season int) float64 {
	if c := p.nearest(DesignEffect, season); c != nil {
		return *c.Estimate
	}
	return 0
}

// nearest finds a number of the whole cooperative with an estimate, of the season or of the nearest other one, earlier ones first.
func (p Published) nearest(measure string, season int) (best *Cell) {
	for i := range p.Cells {
		c := &p.Cells[i]
		if c.Measure != measure || !c.Published || c.Area != nil || c.Substrate != nil || c.Estimate == nil {
			continue
		}
		switch {
		case best == nil,
			c.Season <= season && (best.Season > season || c.Season > best.Season),
			c.Season > season && best.Season > season && c.Season < best.Season:
			best = c
		}
	}
	return best
}

// About is what is published of the others, for a plan: survival of the season or of the nearest other one, its error and the spread between
// landowners on log(−log S).
func (p Published) About(season int) (survival, se, spread float64, ok bool) {
	c := p.nearest(Survival28, season)
	if c == nil {
		return 0, 0, 0, false
	}
	s, ok := p.told("", c.Season)
	if c.Season != season {
		s.MeanSE = math.Hypot(s.MeanSE, math.Sqrt2*otherSeasons)
	}
	spread = usualSpread
	if c := p.nearest(OwnerSpread, season); c != nil {
		spread = math.Max(0.05, *c.Estimate)
	}
	return shrink.FromLogLog(s.Mean), s.MeanSE, spread, ok
}

// Basis is the cell of the cooperative's survival in the season or the nearest other one, with its numbers of nests and lines; empty where there is none.
func (p Published) Basis(season int) Cell {
	if c := p.nearest(Survival28, season); c != nil {
		return *c
	}
	return Cell{}
}

// Compare adds to the comparisons of r each ranch's figures beside those of the whole cooperative, in the seasons in which they are
// published.
func (p Published) Compare(r *findings.Result) {
	for _, y := range p.seasons() {
		var survival, clumps interval.Spread
		for _, c := range p.Cells {
			if c.Season != y || c.Area != nil || c.Substrate != nil || c.Predator != "" {
				continue
			}
			switch c.Measure {
			case Survival28:
				survival = c.Spread()
			case ClumpsPerAcre:
				clumps = c.Spread()
			}
		}
		r.CompareRegion(y, "the whole cooperative", Mix(p.Covers[y]), survival, clumps)
	}
}

// A Steadied is a ranch's hierarchical figure of a season.
type Steadied struct {
	Survival findings.Range
	Seasons  int     // of the ranch's own with nests that say something
	Spread   float64 // between landowners, on log(−log S)
	Told     bool    // the spread is published; else assumed
	Awaited  bool    // the season's own bulletin is not out: earlier seasons' stand in
}

// Steadied draws a ranch's survival in a season towards the published figures, by package shrink, with the ranch's other seasons. It is
// false where no bulletin gives survival for the reader, or nothing was told by the ranch's own nests of the season.
func (p Published) Steadied(r *findings.Result, ranch string, season int) (Steadied, bool) {
	own, ok := r.SurvivalOf(ranch, season)
	if !ok || !own.Own(p.DesignEffect(season)).Known() {
		return Steadied{}, false
	}
	others := shrink.Others{SD: usualSpread, LogSD: spreadError, Lasting: -1}
	s := Steadied{}
	if c := p.nearest(OwnerSpread, season); c != nil {
		others.SD, others.LogSD, s.Told = math.Max(0.05, *c.Estimate), 0.4, true
		if c.Entities == "50+" {
			others.LogSD = 0.2
		}
	}
	s.Spread = others.SD
	var seasons []shrink.Season
	at := -1
	for _, y := range r.Seasons(ranch) {
		row, _ := r.SurvivalOf(ranch, y)
		one, out, told := p.season(r, ranch, y)
		if !told {
			return Steadied{}, false
		}
		if one.Own = row.Own(p.DesignEffect(y)); !one.Own.Known() {
			continue
		}
		if y == season {
			at, s.Awaited = len(seasons), !out
		}
		seasons = append(seasons, one)
	}
	s.Seasons = len(seasons)
	x, low, high := shrink.Together(seasons, at, others).Survival(interval.Level)
	s.Survival = findings.Range{Estimate: &x, Low: &low, High: &high}
	return s, true
}

// season is what is published of the others for a season, on the ranch's own covers as far as that can be had, and whether the season's
// bulletin gives it.
func (p Published) season(r *findings.Result, ranch string, year int) (s shrink.Season, out, ok bool) {
	var covers []string
	if row, ok := r.SurvivalOf(ranch, year); ok {
		for _, h := range row.Covers {
			covers = append(covers, string(h))
		}
	}
	if s, ok := p.on(covers, year); ok {
		return s, true, true
	}
	var sum, errors, n float64
	for _, y := range p.seasons() {
		if s, ok := p.on(covers, y); ok {
			sum, errors, n = sum+s.Mean, errors+s.MeanSE*s.MeanSE, n+1
		}
	}
	if n == 0 {
		return s, false, false
	}
	return shrink.Season{Mean: sum / n, MeanSE: math.Sqrt(otherSeasons*otherSeasons*(1+1/n) + errors/n)}, false, true
}

func (p Published) seasons() (years []int) {
	for i := range p.Cells {
		years = append(years, p.Cells[i].Season)
	}
	slices.Sort(years)
	return slices.Compact(years)
}

// on is the published survival of a season on some covers: by cover where each is published, else over all, with how covers may
// differ where they are not the same.
func (p Published) on(covers []string, year int) (s shrink.Season, ok bool) {
	if standard := p.Covers[year]; !slices.Equal(slices.Sorted(slices.Values(covers)), slices.Sorted(slices.Values(standard))) {
		var mean, se float64
		for _, h := range covers {
			one, ok := p.told(h, year)
			if !ok {
				mean = 0
				break
			}
			mean += shrink.FromLogLog(one.Mean) / float64(len(covers))
			se = math.Max(se, one.MeanSE)
		}
		if mean > 0 && mean < 1 {
			return shrink.Season{Mean: shrink.LogLog(mean), MeanSE: se}, true
		}
		s, ok = p.told("", year)
		s.MeanSE = math.Hypot(s.MeanSE, otherCovers)
		return s, ok
	}
	return p.told("", year)
}

// told reads one published survival with its error, on log(−log S).
func (p Published) told(cover string, year int) (s shrink.Season, ok bool) {
	for i := range p.Cells {
		c := &p.Cells[i]
		of := ""
		if c.Substrate != nil {
			of = *c.Substrate
		}
		if c.Measure != Survival28 || c.Season != year || !c.Published || c.Area != nil || of != cover || c.Low == nil || c.High == nil {
			continue
		}
		low, high := math.Max(0.01, *c.Low), math.Min(0.99, *c.High)
		if low >= high {
			return s, false
		}
		middle, reach := (low+high)/2, math.Sqrt(3) // a band: even between its ends
		if c.Estimate != nil {
			middle, reach = math.Min(0.99, math.Max(0.01, *c.Estimate)), interval.Quantile((1+interval.Level)/2, 0)
		}
		return shrink.Season{Mean: shrink.LogLog(middle), MeanSE: (shrink.LogLog(low) - shrink.LogLog(high)) / (2 * reach)}, true
	}
	return s, false
}
