// Package stat documents the statistics of Tussock: the notation, units and references that its methods share. The
// methods are the packages below it, one each, and know nothing of files, databases and pages.
//
// # Notation
//
//	i, g      a nest; the transect it is on
//	a, b      days since the nest was set: last seen intact on day a, found failed on day b
//	h, s      the daily hazard of loss and the daily survival rate, s = exp(−h)
//	H(t)      the hazard gathered up to day t; S(t) = exp(−H(t)) is survival to day t
//	G         the transects that tell anything
//	u, A, B   a transect's score, the observed information, the spread of the scores: variance A⁻¹ B A⁻¹
//	w         the share of a stratum (a substrate) in a standard mix; shares add to 1
//	D         density, clumps an acre
//	π         the shares of the predators among the losses
//
// Days are counted from the day a nest was set, day 0. Survival, shares and rates are fractions of 1. Densities are
// per international acre (43 560 square feet of 0.3048 m, 4046.8564224 m²: NIST Handbook 44, Appendix C). Intervals
// are two-sided at 95 % unless a function takes the level.
//
// # What every method promises
//
// The order of the rows changes nothing. Nothing that a sheet can hold gives NaN or an infinity: what the data cannot
// say is absent, and the result says why. Counts that no sheet can hold (negative ones, lists of unequal length) are
// the caller's mistake and panic.
//
// # References
//
//	Bart & Robson 1982    Ecology 63:1078–1090. Maximum likelihood from visits at uneven intervals
//	Brown, Cai & DasGupta 2001  Statistical Science 16:101–133. Intervals for a proportion
//	Clopper & Pearson 1934      Biometrika 26:404–413
//	Cochran 1977          Sampling Techniques, 3rd ed., ch. 6. The ratio estimator
//	Dawid & Skene 1979    Applied Statistics 28:20–28. EM for what cannot be seen directly
//	Garwood 1936          Biometrika 28:437–442. Exact limits for a Poisson count
//	Goodman 1965          Technometrics 7:247–254. Simultaneous limits for shares
//	Johnson 1979          Auk 96:651–661. Nest survival as maximum likelihood
//	Kish 1965             Survey Sampling. Effective sample sizes under unequal weights
//	Liang & Zeger 1986    Biometrika 73:13–22. The sandwich variance by clusters
//	Mayfield 1961, 1975   Wilson Bulletin 73:255–261, 87:456–466. Losses by exposure days
//	Rogan & Gladen 1978   American Journal of Epidemiology 107:71–76. Shares seen through an imperfect test
//	Rao & Scott 1992      Biometrics 48:577–585. Design effects of clustered proportions
//	Wilson 1927           Journal of the American Statistical Association 22:209–212
package stat
