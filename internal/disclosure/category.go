package disclosure

import (
	"cmp"
	"maps"
	"slices"
)

// A Category is one kind in a mix, with its events by entity.
type Category struct {
	Name string
	// Unnamed marks a category that is never shown by itself, such as what could not be told.
	Unnamed bool
	Events  Amounts
}

// Categories decides which categories of a mix may be named. The others are merged into a rest, whose share the named
// ones give away; so the rest must pass the same rule, and must hold at least two categories that occurred, or the
// smallest named one is merged into it as well. It returns the names that stay, in the given order, and false where
// nothing is left to name: then there is no mix at all.
//
// A category that did not occur is treated as one that is too rare: that nobody has an animal is a statement about
// everybody.
func (p Policy) Categories(all []Category) (named []string, ok bool) {
	var keep []Category
	rest, merged := Amounts{}, 0
	merge := func(c Category) {
		if total(c.Events) > 0 {
			merged++
		}
		for e, x := range c.Events {
			rest[e] += x
		}
	}
	for _, c := range all {
		if c.Unnamed || !p.Common(c.Events) {
			merge(c)
		} else {
			keep = append(keep, c)
		}
	}
	for merged < 2 || !p.Common(rest) {
		if len(keep) == 0 {
			return nil, false
		}
		i := smallest(keep)
		merge(keep[i])
		keep = slices.Delete(keep, i, i+1)
	}
	for _, c := range keep {
		named = append(named, c.Name)
	}
	return named, len(named) > 0
}

// Common tells whether a category has enough events, no entity too many of them, and the p% rule is kept: with two insiders
// it takes four entities at least.
func (p Policy) Common(events Amounts) bool {
	xs := slices.Collect(maps.Values(events))
	slices.SortFunc(xs, func(x, y float64) int { return cmp.Compare(y, x) })
	all := total(events)
	return all > 0 && all >= float64(p.CategoryEvents) && 100*xs[0] <= p.CategoryTop*all && !p.guessable(xs)
}

func total(a Amounts) (t float64) {
	for _, x := range a { // counts: the order of adding them does not matter
		t += x
	}
	return t
}

func smallest(cs []Category) int {
	best := 0
	for i, c := range cs {
		if o := cmp.Or(cmp.Compare(total(c.Events), total(cs[best].Events)), cmp.Compare(c.Name, cs[best].Name)); o < 0 {
			best = i
		}
	}
	return best
}
