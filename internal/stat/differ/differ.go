// Package differ says whether two figures differ, are alike, or cannot be told apart yet. No other package may: every
// sentence that compares rests on an [Outcome] of [Compare].
//
// The interval of the difference is made from the intervals of the two figures by recovering their variances at the
// limits (Zou & Donner 2008, Statistics in Medicine 27:1693–1702; for two proportions Newcombe 1998, Statistics in
// Medicine 17:873–890, method 10), so that each may be skewed, rest on few transects or lie at 0 or 1:
//
//	low  = (a − b) − √((a − l₁)² + (u₂ − b)² − 2ρ·(a − l₁)·(u₂ − b))
//	high = (a − b) + √((u₁ − a)² + (b − l₂)² − 2ρ·(u₁ − a)·(b − l₂))
//
// with a and b the estimates, l and u their limits, ρ the correlation of their errors. The limits are those of Student's t with the
// degrees of freedom of the difference (Welch 1947, Biometrika 34:28–35), at the level 1 − 0.05/m where m
// comparisons are made at once (Bonferroni). Shares of something (densities) are compared on the logarithm.
//
// Of figures that do not differ at most one family in twenty is said to; of figures further apart than the margin at most one in
// twenty is said to be alike.
package differ

import (
	"math"

	"tussock/internal/stat/interval"
)

// A Margin is the difference that matters: what is smaller is alike. The margins are common practice, no source.
type Margin struct {
	Size   float64
	Factor bool // differences are counted as a share of the second figure, else in the figures' own unit
}

// The margins that matter where nobody says otherwise.
var (
	Survival = Margin{Size: 0.10}               // 10 points of 100
	Share    = Margin{Size: 0.10}               // 10 points of 100
	Density  = Margin{Size: 0.25, Factor: true} // a quarter
)

// A Question sets the figure Of against the figure With.
type Question struct {
	Of, With    interval.Spread
	Correlation float64 // of the errors of the two: their covariance over the product of their standard errors; 0 where told from different nests
	Margin      Margin
	Many        int  // how many comparisons are made at once; 0 counts as 1
	Fixed       bool // whether With stays as it is whatever is walked from now on: a mark, or what was published
}

// A Verdict is what can be said.
type Verdict int

// The verdicts. The zero verdict claims nothing.
const (
	CannotTell Verdict = iota // the interval holds no difference, and differences that matter
	Differs                   // the interval leaves out no difference
	Alike                     // the interval lies inside the margin
)

// String returns the verdict as programs read it.
func (v Verdict) String() string { return [...]string{"cannot tell", "differs", "alike"}[v] }

// An Outcome is the answer to a Question. Estimate, Low and High are of the difference Of − With, or where the margin is a
// factor of Of/With − 1; Low and High are the ends of its interval at the level 1 − 0.05/Many, infinite where there is no end.
type Outcome struct {
	Verdict             Verdict
	Estimate, Low, High float64
	Margin              float64
	Many                int

	// Times is about how many times as many lines (on both sides, or behind Of alone where With is Fixed) would show a
	// difference of the margin four times in five; 0 where no number would, or that cannot be told. It does not rest on the
	// difference that was seen.
	Times float64
}

// Lower and Higher tell whether Of differs from With, and to which side.
func (o Outcome) Lower() bool  { return o.Verdict == Differs && o.High < 0 }
func (o Outcome) Higher() bool { return o.Verdict == Differs && o.Low > 0 }

// power is the normal quantile of the four times in five of Times.
const power = 0.8416212335729143

// Compare answers a question. A figure of which nothing is known cannot be told from any other; the ends are infinite then. It
// panics where the correlation is not between −1 and 1 or the margin not above 0.
func Compare(q Question) Outcome {
	if !(q.Correlation >= -1 && q.Correlation <= 1) || !(q.Margin.Size > 0) {
		panic("differ: a correlation outside −1 to 1, or no margin")
	}
	o := Outcome{Margin: q.Margin.Size, Many: max(q.Many, 1), Estimate: math.NaN(), Low: math.Inf(-1), High: math.Inf(1)}
	if !q.Of.Known() || !q.With.Known() {
		return o
	}
	level := 1 - (1-interval.Level)/float64(o.Many)
	df := freedom(q)
	of, with := arms(q.Of.WithDF(df), level, q.Margin.Factor), arms(q.With.WithDF(df), level, q.Margin.Factor)

	o.Estimate = of.at - with.at
	o.Low = o.Estimate - together(of.at-of.low, with.high-with.at, q.Correlation)
	o.High = o.Estimate + together(of.high-of.at, with.at-with.low, q.Correlation)
	if math.IsInf(of.at, 0) || math.IsInf(with.at, 0) { // none found: the limits are all there is
		o.Low, o.High = of.low-with.high, of.high-with.low
	}
	if q.Margin.Factor {
		o.Estimate, o.Low, o.High = math.Expm1(o.Estimate), math.Expm1(o.Low), math.Expm1(o.High)
	}
	switch {
	case o.Low > -o.Margin && o.High < o.Margin:
		o.Verdict = Alike
	case o.Low > 0 || o.High < 0:
		o.Verdict = Differs
	}
	o.Times = times(q, level)
	return o
}

// arm is a figure with its limits, on the scale that differences are taken on.
type arm struct{ at, low, high float64 }

func arms(s interval.Spread, level float64, factor bool) arm {
	low, high := s.Interval(level)
	a := arm{s.Point(), low, high}
	if factor {
		a = arm{math.Log(a.at), math.Log(low), math.Log(high)}
	}
	return a
}

// together is the length of two arms of correlated errors laid together.
func together(x, y, correlation float64) float64 {
	return math.Sqrt(max(0, x*x+y*y-2*correlation*x*y))
}

// freedom is Welch's number for the difference, from the variances that the normal limits imply: +Inf where neither figure rests
// on a t.
func freedom(q Question) float64 {
	v1, v2 := variance(q.Of, q.Margin.Factor), variance(q.With, q.Margin.Factor)
	sum := v1*v1/q.Of.DF() + v2*v2/q.With.DF()
	if sum == 0 || math.IsInf(sum, 0) || math.IsNaN(sum) {
		return min(q.Of.DF(), q.With.DF())
	}
	return (v1 + v2) * (v1 + v2) / sum
}

func variance(s interval.Spread, factor bool) float64 {
	a := arms(s.WithDF(math.Inf(1)), interval.Level, factor)
	half := (a.high - a.low) / 2 / interval.Quantile((1+interval.Level)/2, 0)
	return half * half
}

func times(q Question, level float64) float64 {
	margin := q.Margin.Size
	if q.Margin.Factor {
		margin = math.Log1p(margin)
	}
	wanted := margin / (interval.Quantile((1+level)/2, 0) + power)
	wanted *= wanted // the variance that would do
	v1, v2 := variance(q.Of, q.Margin.Factor), variance(q.With, q.Margin.Factor)
	grows, stays := v1+v2-2*q.Correlation*math.Sqrt(v1*v2), 0.0
	if q.Fixed {
		grows, stays = v1, v2
	}
	if n := grows / (wanted - stays); n > 0 && !math.IsInf(n, 0) {
		return n
	}
	return 0
}

// Together answers several questions in one breath: at the level of one comparison where each then differs to the same side,
// since a claim about all holds where it holds of each (Berger 1982, Technometrics 24:295–300); else each at the level of as
// many as there are.
func Together(list []Question) []Outcome {
	answer := func(many int) []Outcome {
		out := make([]Outcome, len(list))
		for i, q := range list {
			q.Many = many
			out[i] = Compare(q)
		}
		return out
	}
	joined := answer(1)
	lower, higher := 0, 0
	for _, o := range joined {
		if o.Lower() {
			lower++
		}
		if o.Higher() {
			higher++
		}
	}
	if lower == len(list) || higher == len(list) {
		return joined
	}
	return answer(len(list))
}
