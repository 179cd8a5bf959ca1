package bulletin_test

import (
	"fmt"
	"maps"
	"math"

	"tussock/internal/bulletin"
	"tussock/internal/survey"
)

// A plot is what a ranch has in an area in a season.
type plot struct {
	ranch  string
	season int
}

// cover adds what the densities of all seasons say, as if an entity's cover were one secret for all of them: the case that
// gives most away. In another season it is that many times as much as everybody can see, and so it is in each area; a generous
// attacker.
func (a *attacker) cover() {
	last := a.releases[len(a.releases)-1]
	who := map[string]bulletin.Member{} // also of those who left
	for _, r := range a.releases {
		maps.Copy(who, members(r.in))
	}
	grown, acres := map[plot]float64{}, map[plot]float64{}
	for _, b := range last.in.Data.Belts {
		if _, ok := who[b.Ranch]; ok {
			grown[plot{b.Ranch, b.Season}] += float64(b.Counts[survey.Bunchgrass])
			acres[plot{b.Ranch, b.Season}] += b.Acres()
		}
	}
	newest := map[string]plot{} // by ranch
	for k := range acres {
		if k.season >= newest[k.ranch].season {
			newest[k.ranch] = k
		}
	}
	a.clumps = map[string]float64{}
	for ranch, k := range newest {
		a.clumps[who[ranch].Entity] += grown[k]
	}
	a.grown = map[string]int{}
	for _, e := range namesIn(a.clumps) {
		if !a.insiders[e] {
			a.grown[e] = a.unknown(math.Inf(1), a.clumps[e])
		}
	}
	for _, r := range a.releases {
		if r.first != nil { // a final edition leaves densities alone
			continue
		}
		label, in := labels(r.Bulletin), members(r.in)
		since := 0 // of the roster that it is given for, each ranch with its last belts; 0 is all of today
		for _, step := range r.Log.Steps {
			if step.Cell == bulletin.ClumpsPerAcre && step.Gate == "roster" && step.Held == "" {
				since = r.Log.RosterSince
			}
		}
		for _, c := range r.Cells {
			if c.Measure != bulletin.ClumpsPerAcre || !c.Published {
				continue
			}
			low, high := *c.Low, math.Inf(1)
			if c.Estimate != nil {
				half := math.Pow10(int(math.Floor(math.Log10(math.Max(*c.Estimate, 1))))-1) / 2
				low, high = *c.Estimate-half, *c.Estimate+half
			} else if c.High != nil {
				high = *c.High
			}
			area, own, coef := 0.0, 0.0, map[int]float64{}
			for ranch, m := range in {
				at := plot{ranch, r.Season}
				if since > 0 {
					if acres[plot{ranch, since}] == 0 {
						continue
					}
					for acres[at] == 0 {
						at.season--
					}
				}
				if acres[at] == 0 || c.Area != nil && label[m.Area] != *c.Area {
					continue
				}
				area += acres[at]
				switch i, secret := a.grown[m.Entity]; {
				case !secret:
					own += grown[at]
				case a.clumps[m.Entity] > 0:
					coef[i] += grown[at] / a.clumps[m.Entity]
				default: // that there is none is not known
					coef[i] = 1
				}
			}
			a.bound(coef, low*area-own, high*area-own)
		}
	}
}

// askCover asks for the target's clumps. Of one season's total the p% rule promises that nobody comes as near as half of them from
// above. Laid side by side, the totals of two seasons leave whoever came between them alone, and no rule on amounts holds. Digits of
// both are of one roster; and a band is as wide as its lower end, so that a newcomer beside it, who has no more than half of
// all, keeps a range of half the own amount.
func (a *attacker) askCover(found *report) {
	i, ok := a.grown[a.target]
	if !ok || a.clumps[a.target] == 0 {
		return
	}
	sum, seasons := map[int]float64{i: 1}, map[int]bool{}
	for _, r := range a.releases {
		seasons[r.Season] = true
	}
	if len(seasons) == 1 {
		a.room(found, ofCover, fmt.Sprint("clumps in ", a.releases[0].Season), sum, 0, math.Inf(1))
	} else {
		a.width(found, ofNewcomers, fmt.Sprintf("clumps in %d seasons", len(seasons)), sum, a.clumps[a.target])
	}
}
