// Package disclosure decides which cells of a table may be published, and why not.
//
// The promise it keeps: nobody who reads a bulletin, alone or together with another landowner, works out a
// neighbour's number from it. Three means keep it.
//
//   - Rules on each cell (Policy.Check): enough entities, none of them dominating, and enough left over once the
//     largest other contributors pool what they know.
//   - One partition a season and measure (Policy.Split). Its smallest cells, the atoms, all pass; only unions of
//     atoms are published. Where cells would fail they are merged instead of hidden, so there is never a hole that
//     a total minus the rest would fill.
//   - Figures on a coarse grid (Policy.Rate, Share, Density), from which counts cannot be worked back.
//
// Why unions of safe atoms are safe. Everything published is a function of the atoms' totals. Atoms are disjoint,
// so an entity's part in one atom can be isolated from that atom's total alone or not at all. And for any target t
// and any two others, the rest of atom j is at least T_j less its three largest, at least half the largest, at
// least half of t's part; summed over atoms the same holds for t's whole amount.
//
// An entity is the person or company behind one or more ranches: holdings of one owner are one contributor
// (Handbook on Statistical Disclosure Control, ESSnet, chapter 4: group holdings first).
//
// The package knows no ranches and no measures: amounts by entity come in, verdicts go out.
package disclosure
