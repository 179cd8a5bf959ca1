package disclosure

import (
	"maps"
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
//
// Its verdict is known as well: that a rate is given says that no two have too much of it, a coalition's member and the
// target neither. So an insider counts with MinRange of its nests at least, kept and lost: else "it is given" would bring
// everybody down to what the insiders have themselves. The verdict is then the same wherever the target is within
// MinRange, and nothing weaker would do: three who each must be free to keep MinRange make up three times that.
func (p Policy) Audit(parts []Part, low, high float64) Reason {
	if p.MinRange == 0 {
		return ""
	}
	a := p.atomOf(parts)
	for _, t := range a.secret {
		if least, most := p.left(t, a, a.stakes, low*a.of, high*a.of); !p.free(t, least, most) {
			return TooAlike
		}
	}
	return ""
}

// An atom is the parts in a rate: the nests of all, what the known ones among them kept and lost, and what the others may
// have of both as insiders.
type atom struct {
	of, kept, lost float64
	secret         []Part
	stakes         []stake
}

type stake struct {
	entity     string
	kept, lost float64
}

func (p Policy) atomOf(parts []Part) (a atom) {
	for _, e := range parts {
		a.of += e.Of
		if e.Known {
			a.kept, a.lost = a.kept+e.Kept, a.lost+e.Of-e.Kept
			continue
		}
		a.secret = append(a.secret, e)
		a.stakes = append(a.stakes, stake{e.Entity, max(e.Kept, p.MinRange*e.Of), max(e.Of-e.Kept, p.MinRange*e.Of)})
	}
	return a
}

// left is the least and the most that a target may have kept in an atom of which between low and high nests lasted, with
// the worst coalition of those who have stakes.
func (p Policy) left(t Part, a atom, stakes []stake, low, high float64) (least, most float64) {
	others := a.of - a.lost - t.Of // that may have lasted
	least = low - others + p.coalition(stakes, t.Entity, func(s stake) float64 { return s.lost })
	return least, high - a.kept - p.coalition(stakes, t.Entity, func(s stake) float64 { return s.kept })
}

func (p Policy) free(t Part, least, most float64) bool {
	return t.Of <= 0 || min(t.Of, most)-max(0, least) >= (p.MinRange-1e-9)*t.Of
}

// coalition returns the most that a coalition of insiders against a target can hold of an amount.
func (p Policy) coalition(stakes []stake, target string, amount func(stake) float64) float64 {
	by := map[string]float64{}
	for _, s := range stakes {
		if s.entity != target {
			by[s.entity] += amount(s)
		}
	}
	amounts := slices.Sorted(maps.Values(by))
	return sum(amounts[max(0, len(amounts)-p.Coalition):])
}
