// Package survival estimates how many nests last 28 days from looks at them on whatever days they were made.
//
// A loss is known only to lie between two looks, so the likelihood is that of the intervals: a nest seen intact on
// day a and found failed on day b adds S(a) − S(b), one last seen intact on day a adds S(a), and no day of loss is
// guessed (Bart & Robson 1982; Johnson 1979 for the reasoning). The daily hazard of loss is constant before day 14
// and constant from day 14 on, so
//
//	H(t) = h₁·min(t, 14) + h₂·max(t − 14, 0),   S(t) = exp(−H(t)),   survival to day 28 = S(28) = s₁¹⁴·s₂¹⁴.
//
// With every look on day 14 or 28 and no nest lost from view, S(28) is the plain fraction intact. Checked on day 13
// or 17, the rate puts ranches on the same footing.
//
// Nests on one transect share a predator, so the variance is the sandwich by transect (Liang & Zeger 1986):
// V = A⁻¹ B A⁻¹ with A the observed information and B = G/(G−1)·Σ u_g u_gᵀ, and no other correction. The interval
// is made on log(−log S) with Student's t on G − 1 degrees of freedom. Of fewer than ten transects the sandwich rests on too
// little; what stands in for it there says [Resting].
package survival

import (
	"cmp"
	"math"
	"slices"

	"tussock/internal/stat/interval"
)

// Cut is the day on which the rate may change, and Horizon the day to which survival is quoted.
const (
	Cut     = 14
	Horizon = 28
)

// A Nest is what the looks at one nest say about how long it lasted. A nest lost from view counts up to the last look
// that found it intact; its Lost is 0.
type Nest struct {
	Transect int // a label; nests with equal labels share luck
	Intact   int // the last day after setting on which it was seen intact; 0 where it never was
	Lost     int // the day on which it was found failed, after Intact; 0 where it never was
}

// exposed tells whether the looks say anything.
func (n Nest) exposed() bool { return n.Intact > 0 || n.Lost > 0 }

// A Case says which of the shapes the data have.
type Case int

// The cases of an Estimate. The first three do not tell survival to day 28.
const (
	NoNests    Case = iota // no nest at all
	NoExposure             // no nest was seen again
	NoLateLook             // nothing was seen beyond day 14, so days 14 to 28 cannot be told
	Between                // some lasted and some did not
	AllLasted              // no loss: S = 1
	NoneLasted             // none lasted: S = 0
	OneRate                // as Between, but every look came so that the two rates cannot be told apart: h₁ = h₂
)

// A Rate is a daily survival rate. Where the likelihood is highest at a rate of exactly 1 or 0 it has no standard error.
type Rate struct {
	Known bool
	Daily float64
	SE    float64 // 0 where there is none
}

// An Influence is what one transect adds to the estimates: the variance of S(28) is G/(G−1) times the sum over
// transects of the squares. Estimates from different nests of the same transects covary through it.
type Influence struct {
	Transect int
	S14, S28 float64
}

// An Estimate is a fitted survival.
type Estimate struct {
	Case      Case
	Exposed   int // nests that tell anything
	Transects int // transects with such nests, G
	Losses    int
	LastDay   int // the last day on which anything was seen

	Rates  [2]Rate // before day 14, from day 14 on
	S14    float64 // survival to day 14, where Rates[0] is known
	S28    float64 // survival to day 28
	SE     float64 // of S28; 0 where there is none, as in AllLasted and NoneLasted
	Spread interval.Spread

	Rests        Basis   // what SE and Spread rest on
	DesignEffect float64 // sandwich over model variance of log(−log S28); 0 with one transect, and where transects came out exactly alike
	Published    float64 // the design effect that was handed to FitWith

	Influence  []Influence   // one a transect, in order
	ModelCov   [2][2]float64 // of S14 and S28, as if each nest had luck of its own
	Effective  float64       // the nests behind the exact limit of AllLasted and NoneLasted
	LogLik     float64
	Iterations int
}

// Told tells whether there is an estimate of survival to day 28.
func (e *Estimate) Told() bool { return e.Case > NoLateLook }

// Interval returns the 95 % interval of S28, 0 to 1 where it is not told.
func (e *Estimate) Interval() (low, high float64) {
	if !e.Told() {
		return 0, 1
	}
	return e.Spread.Interval(interval.Level)
}

// Fit estimates survival from any number of nests, with the rate cut at day 14, where nothing else is known of how nests of
// one transect share their luck.
func Fit(nests []Nest) Estimate { return fit(nests, Cut, 0) }

// FitWith is Fit where a design effect of transects like these is published, 1 or more.
func FitWith(nests []Nest, published float64) Estimate { return fit(nests, Cut, published) }

// FitConstant estimates survival with one rate for all days: the model of Mayfield and Johnson. It is for comparison
// with the literature; Fit is what Tussock shows.
func FitConstant(nests []Nest) Estimate { return fit(nests, math.MaxInt, 0) }

func fit(nests []Nest, cut int, published float64) Estimate {
	d := collect(nests, cut)
	est := Estimate{Exposed: len(d.nests), Losses: d.losses, LastDay: d.lastDay, Published: published}
	est.Transects = d.transects()

	switch {
	case len(nests) == 0:
		est.Case = NoNests
		return est
	case est.Exposed == 0:
		est.Case = NoExposure
		return est
	}

	m := maximise(d)
	est.Iterations = m.iterations
	est.LogLik = m.logLik
	est.Case = m.shape
	m.describe(&est, d)
	return est
}

// data are the nests that tell anything, in order of transect, with what the likelihood needs of them.
type data struct {
	cut     int
	nests   []Nest
	intact  days   // nest-days seen intact, summed
	cells   []cell // the losses, equal ones together
	losses  int
	lastDay int
}

// days are nest-days before the cut and after it.
type days [2]float64

// A cell is n losses that each lie within the same days.
type cell struct {
	x days
	n float64
}

func collect(nests []Nest, cut int) *data {
	d := &data{cut: cut, nests: make([]Nest, 0, len(nests))}
	for _, n := range nests {
		if n.Intact < 0 || n.Lost < 0 || n.Lost > 0 && n.Lost <= n.Intact {
			panic("survival: a nest must be lost after it was last intact")
		}
		if !n.exposed() {
			continue
		}
		d.nests = append(d.nests, n)
		d.intact = d.intact.plus(d.split(0, n.Intact))
		d.lastDay = max(d.lastDay, n.Intact, n.Lost)
		if n.Lost > 0 {
			d.losses++
			d.cells = append(d.cells, cell{d.split(n.Intact, n.Lost), 1})
		}
	}
	slices.SortFunc(d.nests, func(a, b Nest) int { return cmp.Compare(a.Transect, b.Transect) })
	d.cells = gather(d.cells)
	return d
}

// split returns the days from a to b, before the cut and after it.
func (d *data) split(a, b int) days {
	return days{float64(min(b, d.cut) - min(a, d.cut)), float64(max(b, d.cut) - max(a, d.cut))}
}

func (d *data) transects() int {
	g := 0
	for i := range d.nests {
		if i == 0 || d.nests[i].Transect != d.nests[i-1].Transect {
			g++
		}
	}
	return g
}

// gather puts equal cells together, so that the fit costs as much as there are different intervals.
func gather(cells []cell) []cell {
	slices.SortFunc(cells, func(a, b cell) int {
		return cmp.Or(cmp.Compare(a.x[0], b.x[0]), cmp.Compare(a.x[1], b.x[1]))
	})
	out := cells[:0]
	for _, c := range cells {
		if len(out) > 0 && out[len(out)-1].x == c.x {
			out[len(out)-1].n += c.n
			continue
		}
		out = append(out, c)
	}
	return out
}

func (d days) plus(e days) days { return days{d[0] + e[0], d[1] + e[1]} }

// dot returns the hazard gathered over d. No days at a boundless hazard gather none.
func (d days) dot(h [2]float64) float64 {
	var z float64
	for k := range 2 {
		if d[k] > 0 {
			z += d[k] * h[k]
		}
	}
	return z
}
