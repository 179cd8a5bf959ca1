package predator

import "gonum.org/v1/gonum/mat"

// Covariance returns the variances and covariances that estimated shares have by chance, each nest having luck of its own: those of the
// maximum of the likelihood under Σ π = 1,
//
//	V = I⁻¹ − π·π′/N,   I_kl = Σ L_k·L_l / (Σ π·L)²
//
// with I the observed information over the animals whose share is not negligible (Lehmann and Casella 1998, Theory of Point Estimation, 6.5). Where
// all nests are certain it is the multinomial's. It is nil where the nests do not tell the animals apart.
func Covariance(nests []Nest, shares []float64) [][]float64 {
	var at []int
	for k, share := range shares {
		if share >= Negligible {
			at = append(at, k)
		}
	}
	if len(at) == 0 {
		return nil
	}
	information := mat.NewSymDense(len(at), nil)
	for _, n := range nests {
		p := 0.0
		for k, l := range n.Likelihood {
			p += shares[k] * l
		}
		for i, k := range at {
			for j, q := range at[:i+1] {
				information.SetSym(i, j, information.At(i, j)+n.Likelihood[k]*n.Likelihood[q]/(p*p))
			}
		}
	}
	var factor mat.Cholesky
	var inverse mat.SymDense
	if !factor.Factorize(information) || factor.Cond() > 1e12 || factor.InverseTo(&inverse) != nil {
		return nil
	}
	cov := make([][]float64, len(shares))
	for k := range cov {
		cov[k] = make([]float64, len(shares))
	}
	for i, k := range at {
		for j, q := range at {
			cov[k][q] = inverse.At(i, j) - shares[k]*shares[q]/float64(len(nests))
		}
	}
	return cov
}
