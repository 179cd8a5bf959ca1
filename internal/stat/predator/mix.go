package predator

import (
	"math"
	"math/rand/v2"
	"slices"

	"tussock/internal/stat/interval"
)

// A Nest is one loss that tells something: a transect and the likelihood of what was seen under each animal.
type Nest struct {
	Transect   int
	Likelihood []float64 // all of one length, each with an element above 0
}

// A Share is one animal's part of the losses with its 95 % range.
type Share struct {
	Estimate, Low, High float64
}

// Bootstrap says how the ranges are made. The seed makes them the same each time.
type Bootstrap struct {
	Replicates int // 0: DefaultReplicates
	Seed       uint64
}

// Negligible is a share that is none: EM brings the share of an animal that explains nothing ever nearer to 0. Such a share has no
// profile likelihood in its range, since nobody is shown it.
const Negligible = 0.0005

// DefaultReplicates settles the ends of a 95 % range to a few points in a hundred, finer than so few nests can tell.
const DefaultReplicates = 200

// Mix estimates the shares of the animals with their ranges: the percentiles of a bootstrap over transects, widened
// where one of two others is wider. Few nests often show one animal alone, and then every resample of them does so too,
// which would look like certainty. So no range is narrower than Wilson's for the same share of that many nests, as if
// each were certain, nor than the shares that the likelihood does not refuse (profile likelihood, χ² with one degree of
// freedom), which knows how little each nest's remains tell. Without nests it returns nil.
func Mix(nests []Nest, b Bootstrap) []Share {
	if len(nests) == 0 {
		return nil
	}
	kinds, kind := distinct(nests)
	_, times := counted(nests)
	mix := maximum(kinds, times, nil, 1e-9)

	shares := make([]Share, len(mix))
	resampled := resample(kinds, transects(nests, kind), mix, b)
	for k := range shares {
		low, high := interval.WilsonShare(mix[k], float64(len(nests)), interval.Level)
		draws := resampled[k]
		slices.Sort(draws)
		low = math.Min(low, percentile(draws, (1-interval.Level)/2))
		high = math.Max(high, percentile(draws, (1+interval.Level)/2))
		if mix[k] >= Negligible {
			low, high = notRefused(kinds, times, mix, k, low, 0), notRefused(kinds, times, mix, k, high, 1)
		}
		shares[k] = Share{mix[k], low, high}
	}
	return shares
}

// distinct returns the different nests, and for each nest which of them it is: nests that left the same remains are one
// to the likelihood, which is then faster to compute.
func distinct(nests []Nest) (kinds []Nest, kind []int) {
	kind = make([]int, len(nests))
	at := map[float64][]int{} // by a sum, so that few have to be compared
	for i, n := range nests {
		key := sum(n.Likelihood)
		kind[i] = -1
		for _, k := range at[key] {
			if slices.Equal(kinds[k].Likelihood, n.Likelihood) {
				kind[i] = k
				break
			}
		}
		if kind[i] < 0 {
			kind[i] = len(kinds)
			at[key] = append(at[key], len(kinds))
			kinds = append(kinds, n)
		}
	}
	return kinds, kind
}

// transects returns the kinds of the nests of each transect, in order of transect.
func transects(nests []Nest, kind []int) [][]int {
	groups := group(nests)
	for _, g := range groups {
		for i := range g {
			g[i] = kind[g[i]]
		}
	}
	return groups
}

// notRefused returns the share of animal k farthest from its estimate toward end (0 or 1) at which the profile
// log-likelihood lies within half the χ² quantile of its maximum, or the given limit where that is farther. The profile is
// concave, so halving finds the place; half a point in a hundred is near enough.
func notRefused(nests []Nest, times, mix []float64, k int, limit, end float64) float64 {
	const near = 0.005
	z := interval.Quantile((1+interval.Level)/2, 0)
	floor := logLik(nests, times, mix) - z*z/2
	holds := func(share float64) bool {
		return logLik(nests, times, held(nests, times, mix, k, share)) >= floor
	}
	if !holds(limit) {
		return limit
	}
	if holds(end) {
		return end
	}
	out := end
	for math.Abs(out-limit) > near {
		if mid := (limit + out) / 2; holds(mid) {
			limit = mid
		} else {
			out = mid
		}
	}
	return limit
}

// held runs EM with the share of animal k held fast.
func held(nests []Nest, times, mix []float64, k int, share float64) []float64 {
	const most, stop = 200, 1e-3
	at := make([]float64, len(mix))
	for i := range at {
		at[i] = (0.9*mix[i] + 0.1/float64(len(mix)))
	}
	hold(at, k, share)
	next := make([]float64, len(mix))
	for range most {
		step(nests, times, at, next)
		hold(next, k, share)
		var moved float64
		for i := range at {
			moved = math.Max(moved, math.Abs(next[i]-at[i]))
		}
		at, next = next, at
		if moved < stop {
			break
		}
	}
	return at
}

// hold sets one share and scales the others to make up the rest.
func hold(mix []float64, k int, share float64) {
	rest := sum(mix) - mix[k]
	for i := range mix {
		if rest > 0 {
			mix[i] *= (1 - share) / rest
		}
	}
	mix[k] = share
}

// Estimate returns the shares alone, the maximum of the likelihood.
func Estimate(nests []Nest) []float64 {
	if len(nests) == 0 {
		return nil
	}
	kinds, times := counted(nests)
	return maximum(kinds, times, nil, 1e-9)
}

// Near is Estimate for nests whose shares are near those of others, to five digits: faster, because EM starts there.
func Near(nests []Nest, others []float64) []float64 {
	if len(nests) == 0 {
		return nil
	}
	kinds, times := counted(nests)
	return maximum(kinds, times, spreadOut(others), 1e-6)
}

// counted returns the different nests and how many there are of each.
func counted(nests []Nest) (kinds []Nest, times []float64) {
	kinds, kind := distinct(nests)
	times = make([]float64, len(kinds))
	for _, k := range kind {
		times[k]++
	}
	return kinds, times
}

// spreadOut spreads a tenth of a mix over all animals: EM cannot leave a share of 0.
func spreadOut(mix []float64) []float64 {
	start := make([]float64, len(mix))
	for k := range start {
		start[k] = 0.9*mix[k] + 0.1/float64(len(mix))
	}
	return start
}

// Prior returns the mix with which single nests are read: the shares among the losses that cameras settled, with one
// imagined loss to each animal added, so that a few nests never rule an animal out. The mix that EM finds will
// not do here: it was found from the same remains, which would then count twice, and with few nests it often is one
// animal alone.
func Prior(byCamera []float64, cameras int) []float64 {
	prior := make([]float64, len(byCamera))
	for k, share := range byCamera {
		prior[k] = (float64(cameras)*share + 1) / float64(cameras+len(byCamera))
	}
	return prior
}

// Standardised returns Σ w_h·π_h: the shares as they would be with losses in the standard mix of strata.
func Standardised(weights []float64, mixes [][]float64) []float64 {
	if len(weights) != len(mixes) || len(mixes) == 0 {
		panic("predator: weights and mixes differ in length")
	}
	out := make([]float64, len(mixes[0]))
	for h, mix := range mixes {
		for k, share := range mix {
			out[k] += weights[h] * share
		}
	}
	return out
}

// Differ tests whether two sets of nests have different mixes. The statistic is twice the gain in log-likelihood of two mixes
// over one. Its p-value is the part of the permutations of whole transects between the two sets, the one seen
// included, that gain as much; it cannot be below 1/(replicates+1).
func Differ(a, b []Nest, boot Bootstrap) (statistic, p float64) {
	all := slices.Concat(a, b)
	if len(a) == 0 || len(b) == 0 {
		return 0, 1
	}
	// A transect keeps its label within its own set: transect 1 of a is not transect 1 of b.
	groups := slices.Concat(group(a), shifted(group(b), len(a)))
	inA := make([]bool, len(groups))
	for i := range group(a) {
		inA[i] = true
	}
	together := logLik(all, ones(len(all)), Estimate(all))
	gain := func(inA []bool) float64 {
		wa, wb := make([]float64, len(all)), make([]float64, len(all))
		for g, members := range groups {
			for _, i := range members {
				if inA[g] {
					wa[i] = 1
				} else {
					wb[i] = 1
				}
			}
		}
		return 2 * (logLik(all, wa, maximum(all, wa, nil, 1e-9)) + logLik(all, wb, maximum(all, wb, nil, 1e-9)) - together)
	}

	statistic = math.Max(0, gain(inA))
	rng := rand.New(rand.NewPCG(boot.Seed, 2))
	atLeast := 1
	for range boot.replicates() {
		rng.Shuffle(len(inA), func(i, j int) { inA[i], inA[j] = inA[j], inA[i] })
		if gain(inA) >= statistic-1e-6 {
			atLeast++
		}
	}
	return statistic, float64(atLeast) / float64(boot.replicates()+1)
}

func (b Bootstrap) replicates() int {
	if b.Replicates == 0 {
		return DefaultReplicates
	}
	return b.Replicates
}

// resample returns for each animal its share in each replicate.
func resample(nests []Nest, transects [][]int, mix []float64, b Bootstrap) [][]float64 {
	draws := make([][]float64, len(mix))
	for k := range draws {
		draws[k] = make([]float64, 0, b.replicates())
	}
	start := spreadOut(mix)
	rng := rand.New(rand.NewPCG(b.Seed, 1))
	weights := make([]float64, len(nests))
	for range b.replicates() {
		clear(weights)
		for range transects {
			for _, i := range transects[rng.IntN(len(transects))] {
				weights[i]++
			}
		}
		for k, share := range maximum(nests, weights, start, 1e-4) { // enough for a range, which other draws would move by more
			draws[k] = append(draws[k], share)
		}
	}
	return draws
}

// maximum runs EM from the given shares, or from equal ones, until no share moves by more than the tolerance.
func maximum(nests []Nest, weights, start []float64, stop float64) []float64 {
	const most = 20000
	kinds := len(nests[0].Likelihood)
	mix := slices.Clone(start)
	if mix == nil {
		mix = make([]float64, kinds)
		for k := range mix {
			mix[k] = 1 / float64(kinds)
		}
	}
	next := make([]float64, kinds)
	for range most {
		step(nests, weights, mix, next)
		var moved float64
		for k := range mix {
			moved = math.Max(moved, math.Abs(next[k]-mix[k]))
		}
		mix, next = next, mix
		if moved < stop {
			break
		}
	}
	return mix
}

// step is one round of EM: share the nests out by the mix, then count.
func step(nests []Nest, weights, mix, next []float64) {
	clear(next)
	var total float64
	for i, n := range nests {
		if weights[i] == 0 {
			continue
		}
		var p float64
		for k, l := range n.Likelihood {
			p += mix[k] * l
		}
		if p == 0 { // only where a share is held at 0 or 1
			continue
		}
		total += weights[i]
		f := weights[i] / p
		for k, l := range n.Likelihood {
			next[k] += f * l
		}
	}
	if total == 0 {
		copy(next, mix)
		return
	}
	for k := range next {
		next[k] *= mix[k] / total
	}
}

func logLik(nests []Nest, weights, mix []float64) float64 {
	var l float64
	for i, n := range nests {
		if weights[i] == 0 {
			continue
		}
		var p float64
		for k, v := range n.Likelihood {
			p += mix[k] * v
		}
		l += weights[i] * math.Log(p) // −∞ where a share is held at 0 that a camera denies
	}
	return l
}

// group returns the numbers of the nests of each transect, in order of transect.
func group(nests []Nest) [][]int {
	at := map[int][]int{}
	for i, n := range nests {
		at[n.Transect] = append(at[n.Transect], i)
	}
	labels := make([]int, 0, len(at))
	for t := range at {
		labels = append(labels, t)
	}
	slices.Sort(labels)
	out := make([][]int, len(labels))
	for i, t := range labels {
		out[i] = at[t]
	}
	return out
}

func shifted(groups [][]int, by int) [][]int {
	for _, g := range groups {
		for i := range g {
			g[i] += by
		}
	}
	return groups
}

// percentile returns the p-quantile of sorted values, between the two nearest.
func percentile(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

func ones(n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	return w
}
