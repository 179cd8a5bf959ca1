package interval

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// A Spread is what the data say about a figure whose true value is not known: a distribution of confidence, whose
// 2.5 % and 97.5 % quantiles are the ends of the 95 % interval. The zero Spread says nothing.
//
// It answers the questions people ask in their own words: twenty equally likely values, or how sure it is that
// more than half lasted.
type Spread struct {
	kind   kind
	centre float64 // on the scale of the kind
	se     float64
	df     float64 // of Student's t; 0 is the normal distribution
}

type kind int

const (
	unknown    kind = iota
	onLog           // log x is Student's t about centre
	onLogLog        // log(−log x) is Student's t about centre
	allLasted       // n of n lasted: x is Beta(n, 1), n in centre
	noneLasted      // 0 of n lasted: x is Beta(1, n)
	counted         // x·se is Gamma(centre): a Poisson count over an area of se
)

// LogLog returns the spread of a survival figure 0 < s < 1 with standard error se, normal on the scale log(−log s),
// where limits can never leave 0 to 1. By the delta method the standard error there is se / (s·|log s|).
func LogLog(s, se, df float64) Spread {
	if !(s > 0 && s < 1) {
		panic(fmt.Sprintf("interval: log(−log) of %v", s))
	}
	return Spread{onLogLog, math.Log(-math.Log(s)), se / (s * -math.Log(s)), df}
}

// LogHazard is LogLog from the gathered hazard H = −log s and its standard error: the same spread without the loss of
// digits near s = 0 and s = 1.
func LogHazard(hazard, se, df float64) Spread {
	return Spread{onLogLog, math.Log(hazard), se / hazard, df}
}

// Log returns the spread of a positive figure with standard error se, normal on the log scale.
func Log(x, se, df float64) Spread {
	if !(x > 0) {
		panic(fmt.Sprintf("interval: log of %v", x))
	}
	return Spread{onLog, math.Log(x), se / x, df}
}

// AllLasted returns the spread where each of n nests lasted. Its quantiles p^(1/n) give the exact limits, (α/2)^(1/n)
// to 1. n counts nests and need not be whole: a nest seen for part of the time counts for that part.
func AllLasted(n float64) Spread { return Spread{kind: allLasted, centre: n} }

// NoneLasted returns the spread where none of n nests lasted, with limits 0 to 1 − (α/2)^(1/n).
func NoneLasted(n float64) Spread { return Spread{kind: noneLasted, centre: n} }

// Counted returns the spread of a density of which x were counted over the given area. Its limits are Garwood's;
// between them it is the gamma distribution with shape x + ½.
func Counted(x int, area float64) Spread { return Spread{kind: counted, centre: float64(x), se: area} }

// MarshalText writes a spread so that UnmarshalText reads the very same: its kind and three numbers, "" for the zero Spread.
func (s Spread) MarshalText() ([]byte, error) {
	if !s.Known() {
		return nil, nil
	}
	return fmt.Appendf(nil, "%d %v %v %v", s.kind, s.centre, s.se, s.df), nil
}

// UnmarshalText reads what MarshalText wrote.
func (s *Spread) UnmarshalText(text []byte) error {
	*s = Spread{}
	if len(text) == 0 {
		return nil
	}
	_, err := fmt.Sscan(string(text), &s.kind, &s.centre, &s.se, &s.df)
	return err
}

// Known tells whether the spread says anything.
func (s Spread) Known() bool { return s.kind != unknown }

// Interval returns the ends of the two-sided interval at the given level.
func (s Spread) Interval(level float64) (low, high float64) {
	switch s.kind {
	case unknown:
		panic("interval: nothing is known")
	case allLasted:
		return s.Quantile((1 - level) / 2), 1
	case noneLasted:
		return 0, s.Quantile((1 + level) / 2)
	case counted:
		low, high = Garwood(int(s.centre), level)
		return low / s.se, high / s.se
	}
	return s.Quantile((1 - level) / 2), s.Quantile((1 + level) / 2)
}

// Quantile returns the value below which the figure lies with probability p, 0 < p < 1.
func (s Spread) Quantile(p float64) float64 {
	switch s.kind {
	case onLog:
		return math.Min(math.Exp(s.centre+s.se*Quantile(p, s.df)), math.MaxFloat64)
	case onLogLog:
		return math.Exp(-math.Exp(s.centre + s.se*Quantile(1-p, s.df)))
	case allLasted:
		return math.Pow(p, 1/s.centre)
	case noneLasted:
		return 1 - math.Pow(1-p, 1/s.centre)
	case counted:
		return gammaQuantile(p, s.centre+0.5) / s.se
	}
	panic("interval: nothing is known")
}

// AtLeast returns the probability that the figure is x or more.
func (s Spread) AtLeast(x float64) float64 {
	switch s.kind {
	case onLog:
		if x <= 0 {
			return 1
		}
		return s.above(math.Log(x))
	case onLogLog:
		switch {
		case x <= 0:
			return 1
		case x >= 1:
			return 0
		}
		return 1 - s.above(math.Log(-math.Log(x)))
	case allLasted:
		return 1 - math.Pow(within01(x), s.centre)
	case noneLasted:
		return math.Pow(1-within01(x), s.centre)
	case counted:
		if x <= 0 {
			return 1
		}
		return mathext.GammaIncRegComp(s.centre+0.5, x*s.se)
	}
	panic("interval: nothing is known")
}

// above returns the probability that the transformed figure is above t.
func (s Spread) above(t float64) float64 {
	if s.se == 0 {
		if t < s.centre {
			return 1
		}
		return 0
	}
	return CDF((s.centre-t)/s.se, s.df)
}

// Less returns the probability that a figure with spread s is truly below one with spread t, the two being told from
// different nests. It is a plain sum over 200 equally likely values of s.
func (s Spread) Less(t Spread) float64 {
	const n = 200
	var p float64
	for i := range n {
		p += t.AtLeast(s.Quantile((float64(i)+0.5)/n)) / n
	}
	return p
}

func within01(x float64) float64 { return math.Max(0, math.Min(1, x)) }
