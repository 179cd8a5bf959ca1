// Package disclosure decides which figures may be published, and why not.
//
// The promise it keeps: nobody who reads a bulletin, alone or together with up to three landowners, learns more than half a bit of
// another's results from it. Four means keep it.
//
//   - Rules on each cell (Policy.CheckUnits): enough entities, not too many of them new, none dominating, and enough left over once the
//     largest other contributors pool what they know.
//   - A budget of bits for all of a season's figures about the same results (Policy.Learned). It is reckoned from who is in
//     which figure with how many rows, and from no result: whether it is kept says nothing of anybody.
//   - The interval audit (Policy.Audit): where all do nearly alike, the figure itself would tell nearly everybody's.
//   - Figures on a grid, once for each season, from rows that are frozen before anybody sees a figure.
//
// An entity is the person or company behind one or more ranches: holdings of one owner are one contributor
// (Handbook on Statistical Disclosure Control, ESSnet, chapter 4: group holdings first).
//
// The package knows no ranches and no measures: amounts by entity come in, verdicts go out.
package disclosure
