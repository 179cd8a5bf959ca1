package bulletin

import "tussock/internal/disclosure"

// CurveSlopes returns the slopes behind the curve, bunchgrass's and that of all other covers, with their standard errors.
func CurveSlopes(in Input) (slopes, errors []float64) {
	c, err := newComposer(disclosure.Default(), in)
	if err != nil {
		panic(err)
	}
	c.survival()
	f := c.line().fit()
	for j, column := range f.columns {
		if column.Term == "density" {
			slopes, errors = append(slopes, f.fit.Coef[j]), append(errors, f.fit.SE(j)*f.wider)
		}
	}
	return slopes, errors
}

// ComposeUnder and ReviseUnder work under another policy, so that tests can turn a rule off.
var (
	ComposeUnder = composeUnder
	ReviseUnder  = reviseUnder
)
