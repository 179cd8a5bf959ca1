package disclosure

import (
	"cmp"
	"slices"
)

// AuditEditions is the interval audit of a rate that is published twice, before and after some entities' results changed.
// Whoever lays both side by side has what changed as a rate of its own: of the changed entities' nests in both editions those
// lost before or kept after. Like Audit with low equal to high it supposes that roundings are undone, and moreover that
// everybody knows who changed; every other entity's rate must still be free over MinRange, in either edition.
//
// A target may have less where the others who are no insiders could have more to make up for it: in its edition, in the other
// one if it did not change, and in what changed if it did.
func (p Policy) AuditEditions(before, after []Part) Reason {
	if p.MinRange == 0 {
		return ""
	}
	type pair struct{ one, two Part }
	pairs := map[string]pair{}
	for _, e := range before {
		pairs[e.Entity] = pair{one: e, two: Part{Entity: e.Entity, Known: e.Known}}
	}
	for _, e := range after {
		x := pairs[e.Entity]
		x.two, x.one.Known = e, e.Known
		pairs[e.Entity] = x
	}
	lost := func(e Part) float64 { return e.Of - e.Kept }
	kept := func(e Part) float64 { return e.Kept }
	left := func(parts []Part, amount func(Part) float64) float64 { // without the insiders who have most
		xs := make([]float64, len(parts))
		for i, e := range parts {
			xs[i] = amount(e)
		}
		slices.SortFunc(xs, func(x, y float64) int { return cmp.Compare(y, x) })
		return sum(xs[min(p.Coalition, len(xs)):])
	}
	for entity, t := range pairs {
		if t.two.Known {
			continue
		}
		var one, two, change []Part // of the others
		for e, x := range pairs {
			if e == entity || x.two.Known {
				continue
			}
			one, two = append(one, x.one), append(two, x.two)
			if x.one != x.two {
				change = append(change, Part{Kept: lost(x.one) + kept(x.two), Of: x.one.Of + x.two.Of})
			}
		}
		fewer1, more1 := min(kept(t.one), left(one, lost)), min(lost(t.one), left(one, kept))
		fewer2, more2 := min(kept(t.two), left(two, lost)), min(lost(t.two), left(two, kept))
		if same := t.one.Kept == t.two.Kept && t.one.Of == t.two.Of; same {
			fewer1, more1 = min(fewer1, fewer2), min(more1, more2)
			fewer2, more2 = fewer1, more1
		} else {
			down, up := left(change, lost), left(change, kept)
			fewer1, more1 = min(fewer1, up+kept(t.two)), min(more1, down+lost(t.two))
			fewer2, more2 = min(fewer2, down+kept(t.one)), min(more2, up+lost(t.one))
		}
		if fewer1+more1 < p.MinRange*t.one.Of-1e-9 || fewer2+more2 < p.MinRange*t.two.Of-1e-9 {
			return TooAlike
		}
	}
	return ""
}
