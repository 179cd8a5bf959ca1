// Package disclosure decides which figures may be published, and why not.
//
// The promise it keeps: nobody who reads a bulletin, alone or together with up to three landowners, learns more than half a bit of
// another's results from it. Four means keep it.
//
//   - Rules on each cell (Policy.CheckUnits): enough entities, not too many of them new, none dominating, and enough left over once the
//     largest other contributors pool what they know.
//   - A budget of bits for all of a season's figures about the same results (Policy.Learned). It is calculated from who is in
//     which figure with how many rows, and from no result: whether it is kept says nothing of anybody.
//   - The interval audit (Policy.Audit): where all do nearly alike, the figure itself would tell nearly everybody's.
//   - Figures on a grid, once for each season, from rows that are frozen before anybody sees a figure.
//
// An entity is the person or company behind one or more ranches: holdings of one owner are one contributor
// (Handbook on Statistical Disclosure Control, ESSnet, chapter 4: group holdings first).
//
// The package knows no ranches and no measures: amounts by entity come in, verdicts go out.
//
// # Measured
//
// bulletin.TestT44ExactAttacker is told all that was ever published and knows who is behind each cell, how many nests each has and,
// for up to three of them, their results; it undoes every rounding. bulletin.TestT40BeforeAndAfter reads two seasons side by side
// where one owner left, joined, moved or mended a sheet; bulletin.TestT39Decoys is a coordinator with made-up owners. Each is also
// run with the rule away, and must then succeed. With -long they print the figures:
//
//	go test ./internal/bulletin -run 'T44|T40|T39' -v -long     # bits and correlations
//	go test ./internal/bulletin -run TestYield -v -long         # what readers get, a quarter of an hour
//
// Bits about how one owner's nests lasted, most and mean (T44, 5 to 60 owners and the demo, coalitions of 0 to 3): bars 0.5 and 0.15;
// now 0.47 and 0.06 (demo 0.40 and 0.11); with the rule away 0.52 and 0.30 (no budget, 5 owners).
//
// Correlation with the truth of what is read before and after (T40, 1 000 cases each; chance is 0.095) or from decoys (T39):
//
//	                                               now            with the rule away
//	left, 34 landowners: survival; cover           -0.02; 0.04    0.72 (earlier season estimated again)
//	joined                                         0.02; 0.01     0.72
//	moved (60 landowners)                          0.03; -0.01    0.56
//	mended a sheet                                 -0.01          0.35
//	left, 12 landowners                            0.02; 0 (held) 0.78; 0.41 (clumps given at once, shift known)
//	joined, 12 landowners                          0.02; -0.03    0.76; 0.39
//	left, 26 landowners, the smallest crowd: cover 0.07
//	left, 60 landowners in three places            -0.04; -0.02   0.56
//	decoys' reading (bar 0.15)                     0              1.00 (previews)
//
// Chance is three standard errors, 3/√n, and 0.15 at most: of twenty correlations that are truly 0, one passes that in one run of
// twenty. -seed draws other cooperatives: over seeds 40, 41 and 42 cover is read with 0.07, 0.05 and 0.11 where one of 26 leaves,
// 0.04, 0.06 and 0.04 of 34. So a crowd hides its leavers nearly, not wholly; in two hundred cases it is within chance (0.14). Three
// who pool their own belts, and know the season's shift from them, read 0.09 to 0.16 of 26 and 0.11 to 0.13 of 34: a fiftieth of a
// bit. Below 25 landowners nothing is given, so nothing is read; even a band beside the digits of the season before was read with
// 0.10 of 12, where digits were with 0.12 (20 000 cases). The whole through pages and tokens alone, 200 seasons (TUSSOCK_ATTACK=200
// go test ./internal/pages -run TestT39T40FromOutside -v -timeout 90m): 0 with previews, 0.09 with who left, joined, moved or
// mended, where chance is 0.14.
//
// What readers get for it, of 20 drawn cooperatives each over four seasons: how wide the 95 % ranges of the whole cooperative are, in
// points of 100 or clumps an acre, and how many times as wide as those of an analysis of the same rows without any protection; how
// many animals are named; how many pairs of seasons are told apart of those whose survival truly differs by 10 points or more
// (without protection in brackets); and the bits that all survival figures of a season tell about an owner. Between 0.93 and 0.99 of
// the ranges hold the truth (bulletin.TestRangesHold).
//
//	owners  survival     by cover     clumps       predators    animals  told apart     bits, most; mean
//	6       held         held         a band       held         0        0 of 33 (10)   0
//	8       19 (1.01 ×)  held         85 (1.00 ×)  24 (1.26 ×)  4.3      17 of 35 (11)  0.16; 0.13
//	12      15 (1.13 ×)  held         66 (0.98 ×)  18 (1.12 ×)  5.6      22 of 36 (28)  0.09; 0.07
//	20      11 (1.09 ×)  14 (1.05 ×)  54 (1.04 ×)  14 (1.00 ×)  6.2      29 of 34 (33)  0.13; 0.12
//	34      9 (1.11 ×)   11 (1.09 ×)  40 (1.01 ×)  12 (1.01 ×)  6.7      32 of 32 (32)  0.18; 0.08
//	100     6 (1.32 ×)   7 (1.23 ×)   22 (0.95 ×)  9 (1.14 ×)   6.7      35 of 35 (35)  0.06; 0.03
//
// Whether the model fits is three words a season, and two on cameras where ten landowners have losses on camera, each the same without
// any one landowner (bulletin.TestFitHangsOnNobody); whose cameras recorded what is in no bulletin. The share of nests left on a day
// is in the budget as rows of its own (budget.fitsDays): from twenty landowners on, of days 14 and 28 alone where that of four days
// would tell too much, as in the demo.
//
// Predators stand beside the same method with each nest's own remains, the same start (Jeffreys' half a nest an animal), the key
// taught by the same cameras, unrounded and not widened for how alike an owner's losses are. Below ten owners the published mix is
// made of totals: how many nests look most and second most like which animals. Of 30 cooperatives each at 8, 12 and 34 owners ranges
// are 1.24, 1.11 and 1.00 times as wide under the key as it is, 1.32, 1.12 and 0.97 times where keys are drawn from what is known of
// the key; beside EM with a bootstrap of lines and of the key's rows, the other method that one might take, 1.11, 0.98 and 0.82, and
// 1.03, 0.82 and 0.50 times, though that method's own ranges hold in 0.76 to 0.94 of seasons. Published ranges hold in 0.97, 0.98,
// 0.97 and 0.96 of 200 seasons at 8, 12, 20 and 34 owners under drawn keys, in 0.96, 0.96, 0.98 and 0.97 where owners have mixes of
// their own besides (bulletin.TestMixesHold with -long); under the key exactly as it is in 0.99, 0.97 and 0.91 (30 seasons, 8, 12
// and 34 owners).
//
// Figures by place are given for a season only where a range is 14 points wide at most (Policy.PlaceWidth): two places that differ by
// ten have an even chance then of being told apart. The demo's are not. A window over seasons could only pool what is published for
// each, so it would tell as much of each season's owners as the seasons do.
package disclosure
