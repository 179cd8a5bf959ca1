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

	low, high float64 // the ends of the 95 % interval on the scale of the kind, of a figure that was published
}

type kind int

const (
	unknown      kind = iota
	onLog             // log x is Student's t about centre
	onLogLog          // log(−log x) is Student's t about centre
	allLasted         // n of n lasted: x is Beta(n, 1), n in centre
	noneLasted        // 0 of n lasted: x is Beta(1, n)
	counted           // x·se is Gamma(centre): a Poisson count over an area of se
	exactly           // x is centre: a mark, or no change
	published         // log(−log x) is half normal to either side of centre, the 95 % limits at low and high
	publishedLog      // the same of log x
)

// LogLog returns the spread of a survival figure 0 < s < 1 with standard error se, normal on the scale log(−log s),
// where limits can never leave 0 to 1. By the delta method the standard error there is se / (s·|log s|).
func LogLog(s, se, df float64) Spread {
	if !(s > 0 && s < 1) {
		panic(fmt.Sprintf("interval: log(−log) of %v", s))
	}
	return Spread{kind: onLogLog, centre: math.Log(-math.Log(s)), se: se / (s * -math.Log(s)), df: df}
}

// LogHazard is LogLog from the gathered hazard H = −log s and its standard error: the same spread without the loss of
// digits near s = 0 and s = 1.
func LogHazard(hazard, se, df float64) Spread {
	return Spread{kind: onLogLog, centre: math.Log(hazard), se: se / hazard, df: df}
}

// Log returns the spread of a positive figure with standard error se, normal on the log scale.
func Log(x, se, df float64) Spread {
	if !(x > 0) {
		panic(fmt.Sprintf("interval: log of %v", x))
	}
	return Spread{kind: onLog, centre: math.Log(x), se: se / x, df: df}
}

// AllLasted returns the spread where each of n nests lasted. Its quantiles p^(1/n) give the exact limits, (α/2)^(1/n)
// to 1. n counts nests and need not be whole: a nest seen for part of the time counts for that part.
func AllLasted(n float64) Spread { return Spread{kind: allLasted, centre: n} }

// NoneLasted returns the spread where none of n nests lasted, with limits 0 to 1 − (α/2)^(1/n).
func NoneLasted(n float64) Spread { return Spread{kind: noneLasted, centre: n} }

// Counted returns the spread of a density of which x were counted over the given area. Its limits are Garwood's;
// between them it is the gamma distribution with shape x + ½.
func Counted(x int, area float64) Spread { return Spread{kind: counted, centre: float64(x), se: area} }

// Exactly returns the spread of a figure without error, such as a mark that others are held against.
func Exactly(x float64) Spread { return Spread{kind: exactly, centre: x} }

// Published returns the spread of a survival or a share of which an estimate and its 95 % range are all that is known, on the
// scale log(−log x). An end that was not published is 0 or 1. For an estimate of NaN stands the middle, or the end that was
// published where there is one alone.
func Published(x, low, high float64) Spread {
	s := Spread{kind: published, low: math.Log(-math.Log(low)), high: math.Log(-math.Log(high)), centre: math.Log(-math.Log(x))}
	return s.centred()
}

// PublishedLog is Published of a positive figure, on the log scale. An end that was not published is 0 or +Inf.
func PublishedLog(x, low, high float64) Spread {
	s := Spread{kind: publishedLog, low: math.Log(low), high: math.Log(high), centre: math.Log(x)}
	return s.centred()
}

func (s Spread) centred() Spread {
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	switch {
	case finite(s.centre):
	case finite(s.low) && finite(s.high):
		s.centre = (s.low + s.high) / 2
	case finite(s.low):
		s.centre = s.low
	case finite(s.high):
		s.centre = s.high
	default:
		return Spread{}
	}
	return s
}

// at returns the published figure's value on its scale where it lies below that with probability p.
func (s Spread) at(p float64) float64 {
	z, end := Quantile(p, 0)/Quantile((1+Level)/2, 0), s.high
	if z < 0 {
		z, end = -z, s.low
	}
	if z == 0 {
		return s.centre
	}
	return s.centre + z*(end-s.centre)
}

// below is the inverse of at: the probability that the figure lies below t of its scale. Where no end was published nothing
// beyond the estimate is ruled out.
func (s Spread) below(t float64) float64 {
	arm, sign := s.high-s.centre, 1.0
	if (t < s.centre) == (s.low < s.high) {
		arm, sign = s.low-s.centre, -1
	}
	if arm == 0 {
		return (1 + sign) / 2
	}
	return CDF(sign*(t-s.centre)/arm*Quantile((1+Level)/2, 0), 0)
}

// Point returns the estimate that the spread was made from.
func (s Spread) Point() float64 {
	switch s.kind {
	case onLog, publishedLog:
		return math.Exp(s.centre)
	case onLogLog, published:
		return math.Exp(-math.Exp(s.centre))
	case allLasted:
		return 1
	case noneLasted:
		return 0
	case counted:
		return s.centre / s.se
	case exactly:
		return s.centre
	}
	panic("interval: nothing is known")
}

// DF returns the degrees of freedom of Student's t behind the spread, +Inf where it is normal or exact.
func (s Spread) DF() float64 {
	if (s.kind == onLog || s.kind == onLogLog) && s.df > 0 {
		return s.df
	}
	return math.Inf(1)
}

// WithDF returns the spread with other degrees of freedom, +Inf for the normal distribution: those of a difference, of
// which it is one side. Where the spread rests on no t it is returned as it is.
func (s Spread) WithDF(df float64) Spread {
	if math.IsInf(df, 1) {
		df = 0
	}
	if s.kind == onLog || s.kind == onLogLog {
		s.df = df
	}
	return s
}

// Widened returns the spread with a standard error so many times as large, where it has one.
func (s Spread) Widened(times float64) Spread {
	if s.kind == onLog || s.kind == onLogLog {
		s.se *= times
	}
	return s
}

// MarshalText writes a spread so that UnmarshalText reads the very same: its kind and five numbers, "" for the zero Spread.
func (s Spread) MarshalText() ([]byte, error) {
	if !s.Known() {
		return nil, nil
	}
	return fmt.Appendf(nil, "%d %v %v %v %v %v", s.kind, s.centre, s.se, s.df, s.low, s.high), nil
}

// UnmarshalText reads what MarshalText wrote.
func (s *Spread) UnmarshalText(text []byte) error {
	*s = Spread{}
	if len(text) == 0 {
		return nil
	}
	_, err := fmt.Sscan(string(text), &s.kind, &s.centre, &s.se, &s.df, &s.low, &s.high)
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
	case exactly:
		return s.centre, s.centre
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
	case exactly:
		return s.centre
	case published:
		return math.Exp(-math.Exp(s.at(p)))
	case publishedLog:
		return math.Exp(s.at(p))
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
	case exactly:
		if s.centre >= x {
			return 1
		}
		return 0
	case published, publishedLog:
		switch {
		case x <= 0:
			return 1
		case s.kind == publishedLog:
			return 1 - s.below(math.Log(x))
		case x >= 1:
			return 0
		}
		return 1 - s.below(math.Log(-math.Log(x)))
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

func within01(x float64) float64 { return math.Max(0, math.Min(1, x)) }
