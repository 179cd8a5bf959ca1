// Package standard puts figures on the same footing: the mean that a ranch would show if its nests stood in the
// standard mix of substrates (direct standardisation).
//
//	S = Σ w_h·S_h,   var S = Σ_h Σ_k w_h·w_k·cov(S_h, S_k)
//
// Two substrates on one transect share a predator, so their figures covary. The covariance comes from the joint sandwich: the
// scores of all substrates are stacked by transect, with the factor G/(G−1) for the G transects of all of them.
// The interval is made on log(−log S) with Student's t on G − 1 degrees of freedom; of fewer than ten transects as
// survival.Resting says.
package standard

import (
	"cmp"
	"math"
	"slices"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/survival"
)

// Shares returns weights divided by their sum. It panics where a weight is negative or all are 0.
func Shares(weights []float64) []float64 {
	var sum float64
	for _, w := range weights {
		if w < 0 {
			panic("standard: a weight is negative")
		}
		sum += w
	}
	if !(sum > 0) {
		panic("standard: the weights add to nothing")
	}
	shares := make([]float64, len(weights))
	for i, w := range weights {
		shares[i] = w / sum
	}
	return shares
}

// A Stratum is one substrate's survival and its share of the standard mix.
type Stratum struct {
	Share float64
	Fit   survival.Estimate // must be Told
}

// An Estimate is a standardised survival. Its daily rates are those of the standardised curve, so that
// s₁¹⁴·s₂¹⁴ = S(28) here too.
type Estimate struct {
	Rates        [2]survival.Rate
	S14, S28, SE float64
	Spread       interval.Spread
	Transects    int
	Rests        survival.Basis
	DesignEffect float64 // sandwich over model variance, as in survival.Estimate

	// Certain lists the strata in which all or none lasted while another stratum carries the variance: they are counted
	// at 1 or 0 with no doubt, which the reader has to be told.
	Certain []int
}

// Interval returns the 95 % interval of S28.
func (e *Estimate) Interval() (low, high float64) { return e.Spread.Interval(interval.Level) }

// Survival standardises survival over strata whose shares add to 1. There must be one stratum at least; one alone
// is returned as it is.
func Survival(strata []Stratum) Estimate {
	if len(strata) == 1 {
		return alone(&strata[0].Fit)
	}
	effects := stack(strata)
	est := Estimate{Transects: len(effects)}
	for h := range strata {
		est.S14 += strata[h].Share * strata[h].Fit.S14
		est.S28 += strata[h].Share * strata[h].Fit.S28
	}

	model := modelCovariance(strata)
	var sandwich [2][2]float64
	if g := float64(len(effects)); g >= 2 {
		sandwich = sum(effects, g/(g-1))
	}
	var times, df float64
	est.Rests, times, df, est.DesignEffect = survival.Resting(sandwich[1][1], model[1][1], len(effects), strata[0].Fit.Published)
	cov := sandwich
	if est.Rests != survival.OnTransects {
		for j := range 2 {
			for k := range 2 {
				cov[j][k] = times * model[j][k]
			}
		}
	}
	est.SE = math.Sqrt(math.Max(0, cov[1][1]))
	est.spread(strata, df)
	est.rates(strata, cov)
	return est
}

func alone(f *survival.Estimate) Estimate {
	return Estimate{
		Rates: f.Rates, S14: f.S14, S28: f.S28, SE: f.SE, Spread: f.Spread,
		Transects: f.Transects, Rests: f.Rests, DesignEffect: f.DesignEffect,
	}
}

// spread says what the figures tell of S28 together.
func (e *Estimate) spread(strata []Stratum, df float64) {
	var edges []int
	all, none := true, true
	for h := range strata {
		c := strata[h].Fit.Case
		all = all && c == survival.AllLasted
		none = none && c == survival.NoneLasted
		if c == survival.AllLasted || c == survival.NoneLasted {
			edges = append(edges, h)
		}
	}

	switch {
	case all:
		e.S28 = 1 // the shares add to it but for rounding
		e.Spread = interval.AllLasted(effective(strata))
	case none:
		e.S28 = 0
		e.Spread = interval.NoneLasted(effective(strata))
	case len(edges) == len(strata):
		// All lasted in one stratum and none in another: no stratum shows any doubt. Each is given the variance it would
		// have with half a nest more on either side.
		e.SE = math.Sqrt(edgeVariance(strata))
		e.Spread = interval.LogLog(e.S28, e.SE, 0)
	default:
		e.Certain = edges
		e.Spread = interval.LogLog(inside(e.S28), e.SE, df)
	}
}

// effective returns the number of nests in one sample that would tell as much as the strata do, 1/Σ(w²/n): all of
// them where the strata have the shares of the mix, fewer elsewhere (Kish 1965).
func effective(strata []Stratum) float64 {
	var v float64
	for h := range strata {
		v += strata[h].Share * strata[h].Share / strata[h].Fit.Effective
	}
	return 1 / v
}

func edgeVariance(strata []Stratum) float64 {
	var v float64
	for h := range strata {
		n := strata[h].Fit.Effective
		p := (n + 0.5) / (n + 1)
		v += strata[h].Share * strata[h].Share * p * (1 - p) / n
	}
	return v
}

// inside keeps a figure from rounding to 0 or 1, where log(−log) has no value.
func inside(s float64) float64 { return math.Min(math.Max(s, 1e-300), 1-1e-15) }

// rates fills in the daily rates of the standardised curve where each stratum tells them.
func (e *Estimate) rates(strata []Stratum, cov [2][2]float64) {
	for h := range strata {
		if !strata[h].Fit.Rates[0].Known {
			return
		}
	}
	s1 := math.Pow(e.S14, 1.0/survival.Cut)
	e.Rates[0] = survival.Rate{Known: true, Daily: s1}
	if 0 < s1 && s1 < 1 {
		e.Rates[0].SE = s1 / survival.Cut / e.S14 * math.Sqrt(cov[0][0])
	}

	if e.S14 == 0 {
		return
	}
	s2 := math.Min(1, math.Pow(e.S28/e.S14, 1.0/(survival.Horizon-survival.Cut)))
	e.Rates[1] = survival.Rate{Known: true, Daily: s2}
	if 0 < s2 && s2 < 1 {
		v := cov[1][1]/(e.S28*e.S28) - 2*cov[0][1]/(e.S28*e.S14) + cov[0][0]/(e.S14*e.S14)
		e.Rates[1].SE = s2 / (survival.Horizon - survival.Cut) * math.Sqrt(math.Max(0, v))
	}
}

// stack adds up what each transect does to the standardised S14 and S28, over all strata, in order of transect.
func stack(strata []Stratum) []survival.Influence {
	var all []survival.Influence
	for h := range strata {
		for _, f := range strata[h].Fit.Influence {
			w := strata[h].Share
			all = append(all, survival.Influence{Transect: f.Transect, S14: w * f.S14, S28: w * f.S28})
		}
	}
	slices.SortStableFunc(all, func(a, b survival.Influence) int { return cmp.Compare(a.Transect, b.Transect) })

	out := all[:0]
	for _, f := range all {
		if len(out) > 0 && out[len(out)-1].Transect == f.Transect {
			out[len(out)-1].S14 += f.S14
			out[len(out)-1].S28 += f.S28
			continue
		}
		out = append(out, f)
	}
	return out
}

// sum returns factor·Σ f·fᵀ.
func sum(effects []survival.Influence, factor float64) (cov [2][2]float64) {
	for _, f := range effects {
		x := [2]float64{f.S14, f.S28}
		for j := range 2 {
			for k := range 2 {
				cov[j][k] += factor * x[j] * x[k]
			}
		}
	}
	return cov
}

// modelCovariance is that of nests with luck of their own, where strata do not covary.
func modelCovariance(strata []Stratum) (cov [2][2]float64) {
	for h := range strata {
		for j := range 2 {
			for k := range 2 {
				cov[j][k] += strata[h].Share * strata[h].Share * strata[h].Fit.ModelCov[j][k]
			}
		}
	}
	return cov
}
