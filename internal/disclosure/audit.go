package disclosure

import (
	"cmp"
	"slices"
)

// A Part is one entity's share in a rate: Kept of its Of nests. Everybody knows a Known one.
type Part struct {
	Entity   string
	Known    bool
	Kept, Of float64
}

// Audit is the interval audit of a published rate. It supposes that the rate is known to lie between low and high,
// that everybody's denominators are known, and that a coalition pools its own results; every other entity's rate
// must then still be free over MinRange of the scale. It catches what the rules on amounts cannot: where all do
// well, a figure near 1 says so of each.
//
// With N nests in all and a coalition C, the target t keeps between L = max(0, low·N − kept(C) − of(others)) and
// U = min(of(t), high·N − kept(C)). L and U are taken against the coalition worst for each, so the audit errs on the
// safe side.
func (p Policy) Audit(parts []Part, low, high float64) Reason {
	total, keptByKnown := 0.0, 0.0
	var secret []Part
	for _, e := range parts {
		total += e.Of
		if e.Known {
			keptByKnown += e.Kept
		} else {
			secret = append(secret, e)
		}
	}
	low, high = low*total-keptByKnown, high*total-keptByKnown // of the secret nests
	total = 0
	for _, e := range secret {
		total += e.Of
	}
	for i, t := range secret {
		if t.Of <= 0 {
			continue
		}
		others := slices.Delete(slices.Clone(secret), i, i+1)
		lost := p.coalition(others, func(e Part) float64 { return e.Of - e.Kept })
		kept := p.coalition(others, func(e Part) float64 { return e.Kept })
		least := max(0, low-(total-t.Of)+lost)
		most := min(t.Of, high-kept)
		if (most-least)/t.Of < p.MinRange-1e-9 {
			return TooAlike
		}
	}
	return ""
}

// coalition returns the most that a coalition of insiders can hold of an amount.
func (p Policy) coalition(parts []Part, amount func(Part) float64) float64 {
	slices.SortFunc(parts, func(a, b Part) int { return cmp.Compare(amount(b), amount(a)) })
	held := 0.0
	for _, e := range parts[:min(p.Coalition, len(parts))] {
		held += amount(e)
	}
	return held
}
