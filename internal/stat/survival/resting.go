package survival

// A Basis is what the variance of a figure rests on.
type Basis int

// The bases.
const (
	OnNests     Basis = iota // nests with luck of their own
	OnTransects              // the spread between the transects: the sandwich
	OnPublished              // nests with luck of their own, times the published design effect
)

// Few is the number of transects below which their own spread tells too little of how nests of one transect share their
// luck. PublishedDF are the degrees of freedom of Student's t where a published design effect stands in.
const (
	Few         = 10
	PublishedDF = 30
)

// Resting picks what the range of a figure rests on, of its variance by the sandwich and by the model of independent nests:
//
//	from ten transects on    the sandwich, t with G − 1 degrees of freedom
//	of fewer, with a         the model's times the design effect, t with 30: one number for all ranches, which none of them
//	published design effect  made by its luck
//	of fewer, without one    the larger of the two, t with G − 1
//	of one, without one      the model's, taken as known: likely too narrow
//
// With 3 to 6 transects a sandwich often comes out below the model's variance by chance, and those ranges hold the truth
// in 54 to 85 of 100. Where ten transects or more came out exactly alike the sandwich is nought, which would be certainty from
// chance: then the model's variance stands, taken as known. times is by how much the model's variance is multiplied where it is
// used, and effect the sandwich over the model's variance, 0 where it cannot be told.
func Resting(sandwich, model float64, transects int, published float64) (rests Basis, times, df, effect float64) {
	if model > 0 && sandwich/model >= 1e-9 {
		effect = sandwich / model
	}
	own := float64(max(0, transects-1))
	switch {
	case model == 0:
		return OnNests, 1, 0, 0
	case transects < Few && published >= 1:
		return OnPublished, published, PublishedDF, effect
	case transects >= Few && effect > 0, effect > 1:
		return OnTransects, 1, own, effect
	case transects >= Few:
		return OnNests, 1, 0, effect
	}
	return OnNests, 1, own, effect
}
