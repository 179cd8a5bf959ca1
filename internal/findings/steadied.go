package findings

import (
	"math"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/shrink"
	"tussock/internal/survey"
)

// Own is what a row's own nests say of survival to day 28: as many nests with luck of their own as its range stands for. Where all or none
// lasted the nests count for fewer by a design effect, 1 where none is known. It says nothing where survival cannot be told.
func (s *Survival) Own(effect float64) shrink.Own {
	d := s.Day28
	if d.Estimate == nil || d.Low == nil || d.High == nil {
		return shrink.Own{}
	}
	const tail = (1 - interval.Level) / 2
	effect = math.Max(1, effect)
	switch x := *d.Estimate; {
	case x >= 1-1e-9:
		return shrink.Lasted(1, math.Log(tail)/math.Log(*d.Low)/effect)
	case x <= 1e-9:
		return shrink.Lasted(0, math.Log(tail)/math.Log1p(-*d.High)/effect)
	case *d.Low <= 0 || *d.High >= 1:
		return shrink.Own{}
	default:
		return shrink.Lasted(x, shrink.Worth(x, onScale(d.Range)))
	}
}

// onScale is the standard error of log(−log S) that a range of survival stands for.
func onScale(r Range) float64 {
	return (shrink.LogLog(*r.Low) - shrink.LogLog(*r.High)) / (2 * interval.Quantile((1+interval.Level)/2, 0))
}

// What stands beside the estimated spread between few ranches: a usual one, worth so many ranches. Ours, as in the bulletin.
const (
	usualSpread = 0.25
	usualWorth  = 8
)

// Steady gives the rows of whole ranches their hierarchical figure, from the regional model of the same rows: each drawn towards the model's
// season and covers by the model's spread between ranches, and towards the ranch's other seasons. It changes nothing where there is one ranch
// alone, or no model.
func (p *Pooled) Steady(r *Result) {
	if p.RanchSD == nil || p.RanchCount < 2 {
		return
	}
	n := float64(p.RanchCount)
	others := shrink.Others{SD: math.Sqrt((n**p.RanchSD**p.RanchSD + usualWorth*usualSpread*usualSpread) / (n + usualWorth)), LogSD: 0.3, Lasting: -1}
	type key struct {
		ranch     string
		substrate survey.Substrate
	}
	rows := map[key][]*Survival{}
	for i := range r.Survival {
		if s := &r.Survival[i]; s.Site == nil && s.Own(1).Known() {
			k := key{s.Ranch, deref(s.Substrate)}
			rows[k] = append(rows[k], s)
		}
	}
	for _, list := range rows {
		var seasons []shrink.Season
		for _, s := range list {
			one, ok := p.expected(s)
			if !ok {
				seasons = nil
				break
			}
			one.Own = s.Own(1)
			seasons = append(seasons, one)
		}
		for i := range seasons {
			x, low, high := shrink.Together(seasons, i, others).Survival(interval.Level)
			list[i].Steadied = &Range{number(x), number(low), number(high)}
		}
	}
}

// expected is the model's survival of a season in the row's covers, the same weight to each.
func (p *Pooled) expected(s *Survival) (shrink.Season, bool) {
	covers := s.Covers
	if s.Substrate != nil {
		covers = []survey.Substrate{*s.Substrate}
	}
	var mean, se, found float64
	for i := range p.Standardised {
		x := &p.Standardised[i]
		for _, h := range covers {
			if x.Season != s.Season || x.Substrate != h || x.Estimate == nil || !(*x.Low > 0 && *x.High < 1) {
				continue
			}
			found++
			mean += *x.Estimate / float64(len(covers))
			se = math.Max(se, onScale(x.Range))
		}
	}
	return shrink.Season{Mean: shrink.LogLog(mean), MeanSE: se}, len(covers) > 0 && int(found) == len(covers) && mean > 0 && mean < 1
}
