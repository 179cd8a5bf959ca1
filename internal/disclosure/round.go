package disclosure

import "math"

// A Figure is a number as it is published, on its grid with the ends of its range. Estimate is nil where only a range or a
// band is published, High where the band has no upper end.
type Figure struct {
	Estimate, Low, High *float64
}

// Rate puts a survival rate of n entities on its grid. The rounding is deterministic: noise drawn again would average
// out, and an unrounded rate beside its interval can fit a single pair of counts.
func (p Policy) Rate(n int, estimate, low, high float64) Figure {
	return onGrid(points(p.SurvivalSteps, n), estimate, low, high)
}

// Share puts a share of a mix on its grid.
func (p Policy) Share(n int, estimate, low, high float64) Figure {
	return onGrid(points(p.ShareSteps, n), estimate, low, high)
}

// Extreme publishes a rate near an end of the scale as an open band, "85 % or more" or "15 % or less", for cells
// whose rate on the grid would tell nearly everybody's. It returns false for a rate that is near neither.
func (p Policy) Extreme(rate float64) (Figure, bool) {
	const end = 0.15
	switch {
	case rate >= 1-end:
		return Figure{Low: new(1 - end), High: new(1.0)}, true
	case rate <= end:
		return Figure{Low: new(0.0), High: new(end)}, true
	}
	return Figure{}, false
}

// Window publishes a rate by a range alone, of four tenths of the scale about a fifth of it that holds the rate: where an
// estimate would tell too much. It returns false where the rate's own range does not lie in it.
func (p Policy) Window(rate, low, high float64) (Figure, bool) {
	fifth := min(math.Floor(5*rate), 4)
	from, to := max(0, fifth/5-0.1), min(1, fifth/5+0.3)
	from, to = math.Round(10*from)/10, math.Round(10*to)/10
	return Figure{Low: &from, High: &to}, low >= from && high <= to
}

// Density publishes clumps an acre with two significant digits.
func (p Policy) Density(estimate, low, high float64) Figure {
	return Figure{Estimate: new(twoDigits(estimate)), Low: new(twoDigits(low)), High: new(twoDigits(high))}
}

// Band returns the density band the estimate falls in. It has no estimate: a midpoint would look like one.
func (p Policy) Band(estimate float64) Figure {
	i := len(p.DensityBands) - 1
	for i > 0 && estimate < p.DensityBands[i] {
		i--
	}
	band := Figure{Low: new(p.DensityBands[i])}
	if i+1 < len(p.DensityBands) {
		band.High = new(p.DensityBands[i+1])
	}
	return band
}

// EntityBand returns the only form in which a number of entities is published.
func EntityBand(n int) string {
	switch {
	case n >= 50:
		return "50+"
	case n >= 20:
		return "20-49"
	case n >= 10:
		return "10-19"
	case n >= 5:
		return "5-9"
	}
	return ""
}

// Points returns the width of the survival grid for n entities, in percentage points.
func (p Policy) Points(n int) float64 { return points(p.SurvivalSteps, n) }

func points(steps []Step, n int) float64 {
	width := steps[0].Points
	for _, s := range steps {
		if n >= s.Entities {
			width = s.Points
		}
	}
	return width
}

func onGrid(points, estimate, low, high float64) Figure {
	// The ends to the nearest step as well: outward they would be a step too wide, and roundings are taken for undone anyhow.
	at := func(x float64) *float64 { return new(min(1, max(0, math.Round(100*x/points)*points/100))) }
	return Figure{Estimate: at(estimate), Low: at(low), High: at(high)}
}

// twoDigits rounds x to two significant digits.
func twoDigits(x float64) float64 {
	if x <= 0 {
		return 0
	}
	exponent := int(math.Floor(math.Log10(x))) - 1
	if exponent < 0 { // dividing by a power of ten is exact where multiplying by its inverse is not
		scale := math.Pow10(-exponent)
		return math.Round(x*scale) / scale
	}
	scale := math.Pow10(exponent)
	return math.Round(x/scale) * scale
}
