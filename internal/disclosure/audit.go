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
// With low equal to high it supposes that rounding is undone altogether: then the verdict holds whatever else is
// published of the same totals. For whatever the target may have, the other secret entities can make up for it without
// a change to any total.
//
// With N nests in all and a coalition C, the target t keeps between L = max(0, low·N − kept(C) − of(others)) and
// U = min(of(t), high·N − kept(C)). L and U are taken against the coalition worst for each, so the audit errs on the
// safe side.
func (p Policy) Audit(parts []Part, low, high float64) Reason {
	if p.MinRange == 0 {
		return ""
	}
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

// A Rated is one atom of a published rate with what is published of it.
type Rated struct {
	Parts     []Part
	Low, High float64 // the atom's rate is known to lie between these
}

// AuditTogether is the interval audit of atoms whose union is published as well, at a rate between low and high: what is
// known of the union and of the others narrows each. It returns the verdict on each atom.
//
// The total of atom j lies between its own bounds and the union's less those of the others. Others' bounds are taken
// with what a coalition may have in them, so the audit errs on the safe side.
func (p Policy) AuditTogether(atoms []Rated, low, high float64) []Reason {
	verdicts := make([]Reason, len(atoms))
	if !p.Together {
		return verdicts
	}
	least, most, size := make([]float64, len(atoms)), make([]float64, len(atoms)), make([]float64, len(atoms))
	all, sumLeast, sumMost := 0.0, 0.0, 0.0
	for i, a := range atoms {
		keptKnown, lostKnown := 0.0, 0.0
		var secret []Part
		for _, e := range a.Parts {
			size[i] += e.Of
			if e.Known {
				keptKnown, lostKnown = keptKnown+e.Kept, lostKnown+e.Of-e.Kept
			} else {
				secret = append(secret, e)
			}
		}
		least[i] = max(a.Low*size[i], keptKnown+p.coalition(secret, func(e Part) float64 { return e.Kept }))
		most[i] = min(a.High*size[i], size[i]-lostKnown-p.coalition(secret, func(e Part) float64 { return e.Of - e.Kept }))
		all, sumLeast, sumMost = all+size[i], sumLeast+least[i], sumMost+most[i]
	}
	for i, a := range atoms {
		from := max(a.Low*size[i], low*all-(sumMost-most[i]))
		to := min(a.High*size[i], high*all-(sumLeast-least[i]))
		if size[i] > 0 {
			verdicts[i] = p.Audit(a.Parts, from/size[i], to/size[i])
		}
	}
	return verdicts
}
