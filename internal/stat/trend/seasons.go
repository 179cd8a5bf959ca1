package trend

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"tussock/internal/stat/interval"
)

// A Season is a survival as it was published, with the ends of its 95 % range: fractions of 1, above 0 and below 1.
type Season struct {
	Year                int
	Estimate, Low, High float64
}

// Published reads a trend off published survivals, in the order of years, and their ranges alone: a meta-analysis of published
// figures. What a range says of an estimate is its width on the scale log(−log S) over 2·1.96; roundings are in it.
func Published(seasons []Season) Line {
	years, y := make([]int, len(seasons)), make([]float64, len(seasons))
	if len(seasons) == 0 {
		return Line{}
	}
	cov := mat.NewSymDense(len(seasons), nil)
	mean := 0.0
	for i, s := range seasons {
		years[i], y[i] = s.Year, logLog(s.Estimate)
		se := (logLog(s.Low) - logLog(s.High)) / (2 * interval.Quantile((1+interval.Level)/2, 0))
		cov.SetSym(i, i, se*se)
		mean += y[i] / float64(len(seasons))
	}
	return through(years, y, cov, math.Exp(-math.Exp(mean)), math.Inf(1))
}

func logLog(s float64) float64 { return math.Log(-math.Log(s)) }
