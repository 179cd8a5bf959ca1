package disclosure

import (
	"cmp"
	"math"
	"slices"
)

// A Kind says what a rate's scatter is held against.
type Kind int

const (
	// Rates of so many of so many: chance alone scatters them with N·q·(1−q). What an entity keeps secret is its rate.
	Rates Kind = iota
	// Shares likewise, but what an entity keeps secret is its amount.
	Shares
	// Counts over an extent: chance alone scatters them with their number. What an entity keeps secret is its amount.
	Counts
	// Scores are entities' parts in a figure, in the standard errors that it has by chance alone: Kept is the part, and what
	// an entity keeps secret is whether it is higher or lower by MinRange/2 of Of. They add up to 0.
	Scores
)

// Scatter returns the design effect that the intervals of a measure are published with: how much more entities differ
// than chance would have it.
//
// An interval made of each cell's own scatter is no function of totals. It is wide where entities differ and narrow
// where they are alike: two insiders who make all the difference there is would know that the others are alike, and so
// what each one has. So there is one effect for all intervals of a measure:
//
//   - Below EffectEntities it is EffectFloor, whatever the data.
//   - From there on it is that of all entities but the insiders, whoever they are: the mean over the rates of
//     Σ r²·G/(G−1)/v, with r the residual of each of G entities and v chance's scatter, over all but the two who differ
//     most and about the rate of the others, scaled up by what those two would have of it by chance. It stands on steps, EffectRatio times the one
//     before from EffectFloor up: entities may well be more alike than the floor says. And the step is high enough that
//     residuals of up to half of MinRange (more at an end of the scale; or half of the mean amount) would not change it, which is told from
//     denominators and totals alone.
//
// An EffectRatio of 0 gives the effect as it is.
func (p Policy) Scatter(kind Kind, rates ...[]Part) float64 {
	var all []scattered
	for _, parts := range rates {
		if s, ok := scatter(kind, parts); ok {
			all = append(all, s)
		}
	}
	if p.EffectRatio <= 1 {
		return max(1, mean(all, func(s scattered) float64 { return sum(s.share) }))
	}
	entities := math.MaxInt
	for _, s := range all {
		entities = min(entities, s.secret)
	}
	if len(all) == 0 || entities < p.EffectEntities {
		return p.EffectFloor
	}
	own := mean(all, p.trimmed)
	for step := p.EffectFloor; step < 1e6; step *= p.EffectRatio {
		if step >= own && !slices.ContainsFunc(all, func(s scattered) bool { return !p.leavesRoom(kind, s, step) }) {
			return step
		}
	}
	return math.Inf(1)
}

// scattered is one rate with each entity's part in the design effect.
type scattered struct {
	parts  []Part
	rate   float64
	unit   float64   // of the design effect, for a residual of 1
	share  []float64 // unit · r²
	secret int       // how many are not known to all
}

func scatter(kind Kind, parts []Part) (s scattered, ok bool) {
	kept, of := 0.0, 0.0
	for _, e := range parts {
		if e.Of > 0 {
			s.parts = append(s.parts, e)
			kept, of = kept+e.Kept, of+e.Of
		}
	}
	g := float64(len(s.parts))
	if g < 2 {
		return s, false
	}
	s.rate = kept / of
	chance := kept
	switch kind {
	case Rates, Shares:
		chance *= 1 - s.rate
	case Scores:
		chance = 1
	}
	if chance <= 0 {
		return s, false
	}
	s.unit = g / (g - 1) / chance
	for _, e := range s.parts {
		r := e.Kept - s.rate*e.Of
		s.share = append(s.share, s.unit*r*r)
		if !e.Known {
			s.secret++
		}
	}
	return s, true
}

// trimmed is the design effect without the largest insiders: of the residuals about the others' own rate. It is scaled
// up by what the insiders would have of the squares by chance.
func (p Policy) trimmed(s scattered) float64 {
	secret := slices.DeleteFunc(slices.Clone(s.parts), func(e Part) bool { return e.Known })
	away := func(e Part) float64 { return math.Abs(e.Kept - s.rate*e.Of) }
	slices.SortFunc(secret, func(a, b Part) int { return cmp.Or(cmp.Compare(away(b), away(a)), cmp.Compare(a.Entity, b.Entity)) })
	secret = secret[min(p.Coalition, len(secret)):]
	kept, of, squares := 0.0, 0.0, 0.0
	for _, e := range secret {
		kept, of = kept+e.Kept, of+e.Of
	}
	for _, e := range secret {
		r := e.Kept - kept/of*e.Of
		squares += s.unit * r * r
	}
	return squares * p.scale(s)
}

// scale makes up for the entities left out. By chance the i-th largest of n squares of normal deviates is about the
// quantile at (n − i + 5/8)/(n + 1/4) of χ² with one degree of freedom (Blom 1958, for normal order statistics).
func (p Policy) scale(s scattered) float64 {
	n := float64(s.secret)
	left := n
	for i := 1; i <= min(p.Coalition, s.secret); i++ {
		z := math.Erfinv((n - float64(i) + 0.625) / (n + 0.25))
		left -= 2 * z * z
	}
	return float64(len(s.parts)) / max(1, left)
}

// leavesRoom tells whether an effect is wide enough to hold the residual that every secret entity must be free to have:
// r² + r²/(m−1) of the m unknown is then no more than the effect says at most. Half of MinRange to either side is enough of
// a rate in the middle; near an end of the scale the rest of it is to one side.
func (p Policy) leavesRoom(kind Kind, s scattered, effect float64) bool {
	m, scale := float64(s.secret-p.Coalition), p.scale(s)
	for _, e := range s.parts {
		r := p.MinRange / 2 * e.Of
		switch kind {
		case Rates:
			r = max(r, (p.MinRange-min(s.rate, 1-s.rate))*e.Of)
		case Shares, Counts:
			r = p.Remainder / 100 * s.rate * e.Of
		}
		if !e.Known && s.unit*scale*r*r*m/(m-1) > effect {
			return false
		}
	}
	return true
}

func mean[T any](list []T, of func(T) float64) (m float64) {
	for _, x := range list {
		m += of(x) / float64(len(list))
	}
	return m
}
