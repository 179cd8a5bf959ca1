package findings

import (
	"slices"

	"tussock/internal/stat/density"
	"tussock/internal/stat/interval"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// CoverMark is the number of suitable clumps an acre at which cover is commonly called enough. Common practice, no
// source: a mark to talk about, not a threshold of nature.
const CoverMark = 300

// AcresPerHectare follows from the international foot: 10 000 m² over 43 560 · 0.3048² m².
const AcresPerHectare = 10000 / (43560 * 0.3048 * 0.3048)

// Density is one row of results about the belts of a place and season, for one substrate or all counts together.
type Density struct {
	Ranch     string            `json:"ranch"`
	Site      *string           `json:"site"` // nil: the whole ranch
	Season    int               `json:"season"`
	Substrate *survey.Substrate `json:"substrate"` // nil: all clumps counted

	Belts     int     `json:"belts"` // with a known area
	Count     int     `json:"count"`
	AreaAcres float64 `json:"area_acres"`

	PerAcre    Estimate `json:"per_acre"`
	PerHectare Estimate `json:"per_hectare"`
	Reaches300 *float64 `json:"reaches_300"` // the probability that the true density is CoverMark or more

	// Target is the cooperative's own mark, CoverMark where it has set none, and ReachesTarget the same for it.
	Target        float64  `json:"target"`
	ReachesTarget *float64 `json:"reaches_target"`

	Note string `json:"note"`

	Notes []words.Phrase `json:"-"` // the sentences of Note, to be said in any tongue

	PerBelt []float64 `json:"-"` // clumps an acre on each belt, rising

	patchiness float64 // see density.Patchiness; 0 where it cannot be told
	spread     interval.Spread
}

// density returns the rows of one place and season: all clumps, then each substrate.
func (c *computation) density(g group[survey.Belt]) []Density {
	kinds := map[survey.Substrate]bool{}
	for _, b := range g.rows {
		for s := range b.Counts {
			if s != survey.AnyCover {
				kinds[s] = true
			}
		}
	}
	sorted := make([]survey.Substrate, 0, len(kinds))
	for s := range kinds {
		sorted = append(sorted, s)
	}
	slices.Sort(sorted)

	rows := []Density{densityRow(g, func(b *survey.Belt) (int, bool) {
		total := 0
		for _, n := range b.Counts {
			total += n
		}
		return total, len(b.Counts) > 0
	})}
	for _, s := range sorted {
		row := densityRow(g, func(b *survey.Belt) (int, bool) { n, ok := b.Counts[s]; return n, ok })
		row.Substrate = &s
		rows = append(rows, row)
	}
	return rows
}

// densityRow makes the row of the counts that the given function reads; a belt on which a substrate was not counted is no
// belt with none.
func densityRow(g group[survey.Belt], count func(*survey.Belt) (int, bool)) Density {
	row := Density{Ranch: g.ranch, Site: g.sitePointer(), Season: g.season, Target: CoverMark}
	var belts []density.Belt
	noArea, notCounted := 0, 0
	for _, b := range g.rows {
		n, ok := count(b)
		switch {
		case !ok:
			notCounted++
		case !(b.Acres() > 0):
			noArea++
		default:
			belts = append(belts, density.Belt{Count: n, Area: b.Acres()})
			row.PerBelt = append(row.PerBelt, float64(n)/b.Acres())
		}
	}
	slices.Sort(row.PerBelt)
	row.patchiness, _ = density.Patchiness(belts)

	fit := density.Fit(belts)
	row.Belts, row.Count, row.AreaAcres = fit.Belts, fit.Count, fit.Area
	if fit.Basis != density.Nothing {
		row.spread = fit.Spread
		row.PerAcre = estimate(fit.Density, fit.SE, fit.Spread)
		row.PerHectare = row.PerAcre.times(AcresPerHectare)
		row.Reaches300 = number(fit.Spread.AtLeast(CoverMark))
		row.ReachesTarget = row.Reaches300
	}
	n := densityNote(&fit, noArea, notCounted)
	row.Note, row.Notes = n.String(), n
	return row
}

func densityNote(fit *density.Estimate, noArea, notCounted int) note {
	var n note
	switch fit.Basis {
	case density.Nothing:
		n.say(words.Later("No belt with a known length and width, so no density can be told."))
	case density.OneBelt:
		n.say(words.Later("One belt only: clumps are taken to lie at random, so the range is likely too narrow."))
	case density.NoneFound:
		n.say(words.Later("No clump on any belt; the high end is what so little ground cannot rule out."))
	case density.AllAlike:
		n.say(words.Later("The belts came out exactly alike, so clumps are taken to lie at random."))
	}
	if noArea > 0 {
		n.say(words.LaterCount("%d belt was left out for want of a length or a width.", "%d belts were left out for want of a length or a width.", noArea))
	}
	if notCounted > 0 {
		n.say(words.LaterCount("%d belt was left out, where it was not counted.", "%d belts were left out, where it was not counted.", notCounted))
	}
	return n
}

// times returns e in another unit.
func (e Estimate) times(factor float64) Estimate {
	scale := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		return number(*x * factor)
	}
	return Estimate{Range{scale(e.Estimate), scale(e.Low), scale(e.High)}, scale(e.SE)}
}

// FindDensity returns the row of a place, season and substrate; site "" is the whole ranch and substrate "" is all.
func (r *Result) FindDensity(ranch, site string, season int, substrate survey.Substrate) (*Density, bool) {
	for i := range r.Density {
		d := &r.Density[i]
		if d.Ranch == ranch && d.Season == season && deref(d.Site) == site && deref(d.Substrate) == substrate {
			return d, true
		}
	}
	return nil, false
}

// DensityOf returns the row of the whole ranch, all clumps together.
func (r *Result) DensityOf(ranch string, season int) (*Density, bool) {
	return r.FindDensity(ranch, "", season, "")
}
