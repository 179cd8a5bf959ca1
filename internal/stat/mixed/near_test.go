package mixed_test

import (
	"fmt"
	"math"
	"testing"

	"tussock/internal/stat/mixed"
)

// TestNear leaves out one ranch after the other and holds the fit from near by against the whole one: coefficients and
// standard deviations to a thousandth of a standard error, standard errors to 2 %.
func TestNear(t *testing.T) {
	for _, size := range [][4]int{{10, 1, 4, 12}, {12, 5, 4, 12}, {30, 3, 4, 8}, {30, 5, 4, 8}} {
		for seed := range uint64(2) {
			t.Run(fmt.Sprint(size, seed), func(t *testing.T) {
				g := mixed.Group(cooperative(seed, size[0], size[1], size[2], size[3]))
				columns := []mixed.Column{mixed.Intercept()}
				for _, f := range []mixed.Factor{mixed.BySubstrate(), mixed.BySeason(), mixed.BySiteType()} {
					columns = append(columns, f.Columns(f.Levels(g.Settings))...)
				}
				model := g.Model(columns, g.Periods())
				whole := model.Run()
				var apart, wider, steps float64
				for r := range g.Ranches {
					rest := *model
					rest.Counts = nil
					for _, c := range model.Counts {
						if g.Of[c.Transect] != r {
							rest.Counts = append(rest.Counts, c)
						}
					}
					near, far := rest.Near(whole), rest.Run()
					steps += float64(near.Lookups) / float64(far.Lookups) / float64(len(g.Ranches))
					n := far.Cov.SymmetricDim()
					for j := range n {
						se := math.Sqrt(far.Cov.At(j, j))
						if se == 0 {
							continue
						}
						wider = max(wider, math.Abs(math.Sqrt(near.Cov.At(j, j))/se-1))
						if j < len(far.Coef) {
							apart = max(apart, math.Abs(near.Coef[j]-far.Coef[j])/se)
						}
					}
					apart = max(apart, math.Abs(near.RanchSD-far.RanchSD), math.Abs(near.TransectSD-far.TransectSD))
				}
				t.Logf("coefficients %.2g standard errors apart, standard errors %.2g, lookups %.2g of a whole fit's", apart, wider, steps)
				if apart > 1e-3 {
					t.Errorf("coefficients %g standard errors apart", apart)
				}
				if wider > 0.02 {
					t.Errorf("standard errors are off by %g", wider)
				}
			})
		}
	}
}

// TestLess leaves out ranches of a large cooperative by one step, and fits again what is left.
func TestLess(t *testing.T) {
	for seed := range uint64(2) {
		g := mixed.Group(cooperative(seed, 100, 3, 3, 6))
		columns := []mixed.Column{mixed.Intercept()}
		for _, f := range []mixed.Factor{mixed.BySubstrate(), mixed.BySeason(), mixed.BySiteType()} {
			columns = append(columns, f.Columns(f.Levels(g.Settings))...)
		}
		model := g.Model(columns, g.Periods())
		whole := model.Run()
		var apart, wider, loglik float64
		for r := 0; r < len(g.Ranches); r += 5 {
			rest := *model
			rest.Counts = nil
			for _, c := range model.Counts {
				if g.Of[c.Transect] != r {
					rest.Counts = append(rest.Counts, c)
				}
			}
			less, far := whole.Less([]int{r}), rest.Run()
			if less == nil {
				t.Fatal("one step is not enough")
			}
			if less.RanchesSeen != far.RanchesSeen || less.TransectsSeen != far.TransectsSeen {
				t.Errorf("%d ranches and %d transects, want %d and %d", less.RanchesSeen, less.TransectsSeen, far.RanchesSeen, far.TransectsSeen)
			}
			for j := range far.Coef {
				apart = max(apart, math.Abs(less.Coef[j]-far.Coef[j])/far.SE(j))
				wider = max(wider, math.Abs(less.SE(j)/far.SE(j)-1))
			}
			loglik = max(loglik, math.Abs(less.LogLik-far.LogLik))
		}
		t.Logf("coefficients %.2g standard errors apart, standard errors %.2g, log likelihood %.2g", apart, wider, loglik)
		if apart > 0.01 || wider > 0.05 || loglik > 0.02 {
			t.Errorf("coefficients %g standard errors apart, standard errors %g, log likelihood %g", apart, wider, loglik)
		}
	}
}
