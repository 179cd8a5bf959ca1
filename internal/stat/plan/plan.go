// Package plan tells how much work an answer takes: nests and transects for a wanted precision, the chance of seeing
// a change between two seasons, belts for a density.
//
// Nests on one transect share a predator, so they tell less than as many nests far apart. How much less is the design
// effect, 1 + (m − 1)ρ with m nests a transect and ρ the intraclass correlation (Kish 1965, Survey Sampling, §5.4). ρ
// is best taken from the cooperative's own past seasons, by [ICC].
package plan

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/survival"
)

// Size is how many nests a plan takes.
type Size struct {
	Independent  float64 // nests, were they all independent; not rounded
	DesignEffect float64
	Nests        int // rounded up
	Transects    int // of the given number of nests each, rounded up
}

// DesignEffect is how many times more nests are needed than if they were independent: 1 + ((cv² + 1)·m − 1)·ρ, m
// being the mean number of nests a transect and cv its coefficient of variation, 0 where all have the same (Eldridge,
// Ashby and Kerry 2006, Int. J. Epidemiol. 35:1292-1300). A negative ρ counts as zero: nobody should plan on nests
// that avoid each other's fate.
func DesignEffect(perTransect, cv, icc float64) float64 {
	need(perTransect > 0, "no nests on a transect")
	return math.Max(1, 1+((cv*cv+1)*perTransect-1)*math.Max(0, icc))
}

// HalfRange is half of the width that the 95 % range of a season's survival of about p will have on the average: by the same
// model of errors as the result (survival.Resting), on log(−log p). icc is how alike the nests of one line fare, and published the
// design effect that is published for ranches like these, 0 where none is. With few lines the range rests on what is published, or else
// on the larger of two errors, whose mean is that over the chances of the spread between so few lines.
func HalfRange(p float64, lines, perLine int, icc, published float64) float64 {
	need(p > 0 && p < 1 && lines > 0 && perLine > 0, "a survival outside 0 to 1, or no nests")
	h := -math.Log(p)
	se := math.Sqrt((1-p)/(p*float64(lines*perLine))) / h
	df, effect := float64(lines-1), DesignEffect(float64(perLine), 0, icc)
	switch {
	case lines < survival.Few && published >= 1:
		se, df = se*math.Sqrt(published), survival.PublishedDF
	case lines >= survival.Few:
		se *= math.Sqrt(effect) * meanRoot(df, 0)
	case lines > 1:
		se *= math.Sqrt(effect) * meanRoot(df, 1/effect)
	}
	x, reach := math.Log(h), interval.Quantile((1+interval.Level)/2, df)*se
	return (math.Exp(-math.Exp(x-reach)) - math.Exp(-math.Exp(x+reach))) / 2
}

// meanRoot is the mean of the root of χ²/df, with df degrees of freedom, or of least where that is larger: by a sum over
// quantiles.
func meanRoot(df, least float64) (mean float64) {
	const steps = 400
	chi := distuv.ChiSquared{K: df}
	for i := range steps {
		mean += math.Sqrt(math.Max(least, chi.Quantile((float64(i)+0.5)/steps)/df)) / steps
	}
	return mean
}

// LinesFor is the least number of lines of so many nests each whose range has the wanted half width, and false where a thousand are too
// few.
func LinesFor(p, half float64, perLine int, icc, published float64) (lines int, ok bool) {
	for lines = 1; lines <= 1000; lines++ {
		// Without a published design effect one line alone passes for sure of itself: that is no plan.
		if (lines > 1 || published >= 1) && HalfRange(p, lines, perLine, icc, published) <= half {
			return lines, true
		}
	}
	return lines, false
}

// ForHalfWidth is the nests needed to know a survival of about p to within ± half by the normal approximation, as fractions of one, at
// level 0.95 for 95 %: z²p(1−p)/half² times the design effect. Without an idea of p take 0.5, which asks for the most. It is for what
// does not rest on lines; see [LinesFor] for what does.
func ForHalfWidth(p, half, perTransect, icc, level float64) Size {
	need(p >= 0 && p <= 1 && half > 0 && half < 1, "a survival outside 0 to 1, or no width")
	z := normal(level)
	return size(z*z*p*(1-p)/(half*half), perTransect, icc)
}

// HalfWidth is the reverse: what nests give.
func HalfWidth(p float64, nests, perTransect int, icc, level float64) float64 {
	need(p >= 0 && p <= 1 && nests > 0, "a survival outside 0 to 1, or no nests")
	return normal(level) * math.Sqrt(p*(1-p)*DesignEffect(float64(perTransect), 0, icc)/float64(nests))
}

func size(independent, perTransect, icc float64) Size {
	s := Size{Independent: independent, DesignEffect: DesignEffect(perTransect, 0, icc)}
	s.Nests = up(independent * s.DesignEffect)
	s.Transects = up(independent * s.DesignEffect / perTransect)
	return s
}

// up rounds up, but not for the last digits of a floating-point number.
func up(v float64) int {
	return int(math.Ceil(v * (1 - 1e-12)))
}

// ForChange is the nests needed in each of two seasons to see a change from p1 to p2 with the given power, testing at
// 1 − level (two-sided). Normal approximation without continuity correction (Fleiss, Levin and Paik 2003, Statistical
// Methods for Rates and Proportions, eq. 4.14). Equal p1 and p2 would take no end of nests: ok is false.
func ForChange(p1, p2, power, perTransect, icc, level float64) (s Size, ok bool) {
	need(fraction(p1) && fraction(p2) && power > 0 && power < 1, "a survival or power outside 0 to 1")
	if p1 == p2 {
		return Size{}, false
	}
	mean := (p1 + p2) / 2
	root := normal(level)*math.Sqrt(2*mean*(1-mean)) +
		distuv.UnitNormal.Quantile(power)*math.Sqrt(p1*(1-p1)+p2*(1-p2))
	if root <= 0 { // less power than chance alone gives
		return size(0, perTransect, icc), true
	}
	return size(root*root/((p1-p2)*(p1-p2)), perTransect, icc), true
}

// Power is the chance of seeing a change from p1 to p2 with nests in each of two seasons, by the same approximation.
func Power(p1, p2 float64, nests, perTransect int, icc, level float64) float64 {
	need(fraction(p1) && fraction(p2) && nests > 0, "a survival outside 0 to 1, or no nests")
	n := float64(nests) / DesignEffect(float64(perTransect), 0, icc)
	mean := (p1 + p2) / 2
	spread := math.Sqrt(p1*(1-p1) + p2*(1-p2))
	if spread == 0 { // both certain: a change is seen for sure, none never is
		if p1 != p2 {
			return 1
		}
		return 0
	}
	return distuv.UnitNormal.CDF((math.Abs(p1-p2)*math.Sqrt(n) - normal(level)*math.Sqrt(2*mean*(1-mean))) / spread)
}

// Belts is how many belts of equal area give a density to within ± relative of itself, cv being the coefficient of
// variation between belts: the least n with t·cv/√n ≤ relative, t Student's with n − 1 degrees of freedom. Two belts
// at least.
func Belts(cv, relative, level float64) int {
	need(cv >= 0 && relative > 0, "a negative spread, or no error allowed")
	z := normal(level)
	// t is above z, so the normal answer is a floor. From there the need only falls as n grows.
	n := max(2, up(z*z*cv*cv/(relative*relative)))
	for student(level, float64(n-1))*cv > relative*math.Sqrt(float64(n)) {
		n++
	}
	return n
}

// BeltCV is the coefficient of variation between belts of the areas a with counts n, as in the variance of the ratio
// estimator: √(Σ(n_j − D·a_j)²/(m − 1)) / n̄ with D = Σn/Σa. ok is false with fewer than two belts or nothing counted.
func BeltCV(counts, areas []float64) (cv float64, ok bool) {
	need(len(counts) == len(areas), "counts and areas differ in length")
	var n, a float64
	for j := range counts {
		n, a = n+counts[j], a+areas[j]
	}
	m := float64(len(counts))
	if m < 2 || n <= 0 || a <= 0 {
		return 0, false
	}
	var sum float64
	for j := range counts {
		d := counts[j] - n/a*areas[j]
		sum += d * d
	}
	return math.Sqrt(sum/(m-1)) / (n / m), true
}

// Transect is one transect's nests in the past.
type Transect struct{ Nests, Intact int }

// Correlation is what the past says of how alike the nests of one transect fare.
type Correlation struct {
	Known       bool    // false with fewer than two transects, or one nest on each, or all nests alike
	ICC         float64 // can be negative: then transects differ less than chance would make them
	MSB, MSW    float64 // mean squares between and within transects
	PerTransect float64 // n₀, the mean number of nests a transect weighed for their being unequal
}

// ICC is the intraclass correlation by analysis of variance of the nests' fates, 0 or 1 (Fleiss 1981; Ridout,
// Demétrio and Firth 1999, Biometrics 55:137-148): (MSB − MSW) / (MSB + (n₀ − 1)·MSW). Transects without nests are
// left out.
func ICC(past []Transect) Correlation {
	var k, n, intact, squares, within float64
	for _, t := range past {
		need(t.Nests >= 0 && t.Intact >= 0 && t.Intact <= t.Nests, "more nests intact than there were")
		if t.Nests == 0 {
			continue
		}
		m, p := float64(t.Nests), float64(t.Intact)/float64(t.Nests)
		k++
		n += m
		intact += float64(t.Intact)
		squares += m * m
		within += m * p * (1 - p)
	}
	if k < 2 || n <= k {
		return Correlation{}
	}
	mean := intact / n
	var between float64
	for _, t := range past {
		if t.Nests > 0 {
			d := float64(t.Intact)/float64(t.Nests) - mean
			between += float64(t.Nests) * d * d
		}
	}
	c := Correlation{MSB: between / (k - 1), MSW: within / (n - k), PerTransect: (n - squares/n) / (k - 1)}
	if total := c.MSB + (c.PerTransect-1)*c.MSW; total > 0 {
		c.Known = true
		c.ICC = (c.MSB - c.MSW) / total
	}
	return c
}

func fraction(p float64) bool { return p >= 0 && p <= 1 }

// normal is the half-width in standard errors of a two-sided interval at level.
func normal(level float64) float64 {
	need(level > 0 && level < 1, "a level outside 0 to 1")
	return distuv.UnitNormal.Quantile(1 - (1-level)/2)
}

func student(level, df float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(1 - (1-level)/2)
}

// need panics on what only a caller can get wrong: pages check what people type first.
func need(ok bool, what string) {
	if !ok {
		panic("plan: " + what)
	}
}
