// Package misfit asks whether the model of package survival fits: one daily hazard before day 14 and one from then on, with luck that the nests of a
// line share. Three tests each look for another fault. Each returns the chance of data as odd as these where the model is true, so that what is
// called a misfit below 0.05 is one by mistake in at most one season of twenty (simulated in package bulletin).
package misfit

import (
	"cmp"
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"tussock/internal/stat/survival"
)

// A Look is one check of one nest that was intact at the look before: From and To are days after setting, 0 ≤ From < To.
type Look struct {
	Owner, Line int // labels: lines of one owner share that owner's luck
	Kind        int // of nest, the index of its Rates
	Nest        int // a label
	From, To    int
	Lost        bool
}

// Rates are the daily hazards of one kind of nest before day 14 and from day 14 on, above 0, as fitted to the same looks.
type Rates [2]float64

// gathered is the hazard that a nest gathers from one day to another in each of the two periods.
func (r Rates) gathered(from, to int) (early, late float64) {
	early = r[0] * float64(max(0, min(to, survival.Cut)-from))
	late = r[1] * float64(max(0, to-max(from, survival.Cut)))
	return early, late
}

// score is the derivative of a look's log likelihood where its hazard grows by x, and weight the expected information of x and y together: of a
// chance 1 − exp(−h) to be lost.
func (l Look) score(h, x float64) float64 {
	if !l.Lost {
		return -x
	}
	return x * odds(h)
}

// odds are those of lasting through a hazard of h.
func odds(h float64) float64 { return math.Exp(-h) / -math.Expm1(-h) }

// Shape asks whether the hazard is constant within each of the two periods: the chance for days 0 to 7 against 7 to 14, for days 14 to 21 against those after, and for
// both periods alike, which finds losses that come early or late in either. Each is 1 where the looks cannot say. Of all three together three times the smallest is the chance.
//
// It is the generalized score test (Boos 1992, The American Statistician 46:327-333) of a hazard that is e^δ times as high in the first week of the
// period and e^−δ times in the rest, the fitted rates of all kinds taken out; the variance is that between owners, with Student's t on one less than their number.
// Looks are weighed as those of a line go together (the working covariance of Liang and Zeger 1986, Biometrika 73:13-22): what tells early from late is lines checked on
// different days, so their luck must not pass for it. A line of bad luck has few nests left to lose later: at weekly looks at lines that differ much (standard
// deviation 0.7) a true season was called a misfit in 17 of 100 before luck was taken out.
func Shape(looks []Look, rates []Rates) (chance [3]float64) {
	const fronts = 2 // directions: the first week of each period, then the two rates of each kind, then luck
	n := fronts + 2*len(rates) + 1
	byLine, owner := map[int]*pull{}, map[int]int{}
	for _, l := range looks {
		if byLine[l.Line] == nil {
			byLine[l.Line], owner[l.Line] = newPull(n), l.Owner
		}
		byLine[l.Line].add(l, rates, fronts)
	}
	luck, all := luckOf(byLine), newPull(n)
	byOwner := map[int][]float64{}
	for _, line := range sorted(byLine) {
		p := byLine[line]
		p.share(luck)
		all.info.AddSym(all.info, p.info)
		if byOwner[owner[line]] == nil {
			byOwner[owner[line]] = make([]float64, n)
		}
		floats.Add(byOwner[owner[line]], p.score)
	}

	chance = [3]float64{1, 1, 1}
	own := mat.NewSymDense(n-1-fronts, nil)
	own.CopySym(all.info.SliceSym(fronts, n-1))
	for i := range n - 1 - fronts {
		own.SetSym(i, i, own.At(i, i)*(1+1e-9)) // so that rates that no look tells apart share out what they explain
	}
	var solved mat.Cholesky
	if !solved.Factorize(own) {
		return chance
	}
	for i, of := range [3][fronts]float64{{1, 0}, {0, 1}, {1, 1}} {
		front := mat.NewVecDense(n, nil)
		copy(front.RawVector().Data, of[:])
		with, out := mat.NewVecDense(n, nil), mat.NewVecDense(n-1-fronts, nil)
		with.MulVec(all.info, front)
		_ = solved.SolveVecTo(out, with.SliceVec(fronts, n-1)) // however badly told apart
		for j := range out.Len() {
			front.SetVec(fronts+j, -out.AtVec(j))
		}
		if !(mat.Dot(front, with) > tells) {
			continue
		}
		sums := map[int]float64{}
		for label, score := range byOwner {
			sums[label] = floats.Dot(front.RawVector().Data, score)
		}
		chance[i] = chanceOf(sums, 0)
	}
	return chance
}

// tells is the least information on a logarithm of a hazard that a test rests on: below it the checks came on too few different days. Ours.
const tells = 2

// A pull is what looks say of the logarithm of the hazard: the score in several directions, of which the last is the same at all looks, and its information.
type pull struct {
	score []float64
	info  *mat.SymDense
}

func newPull(directions int) *pull {
	return &pull{make([]float64, directions), mat.NewSymDense(directions, nil)}
}

func (p *pull) add(l Look, rates []Rates, fronts int) {
	r, d := rates[l.Kind], mat.NewVecDense(len(p.score), nil)
	early, late := r.gathered(l.From, l.To)
	h := early + late
	for period := range fronts {
		start := period * survival.Cut
		week, end := start+survival.Cut/2, start+survival.Cut
		if period == fronts-1 {
			end = math.MaxInt
		}
		days := func(from, to int) int { return max(0, min(l.To, to)-max(l.From, from)) }
		d.SetVec(period, r[period]*float64(days(start, week)-days(week, end))/h)
	}
	d.SetVec(fronts+2*l.Kind, early/h)
	d.SetVec(fronts+2*l.Kind+1, late/h)
	d.SetVec(len(p.score)-1, 1)
	floats.AddScaled(p.score, l.score(h, h), d.RawVector().Data)
	p.info.SymRankOne(p.info, odds(h)*h*h, d)
}

// share takes out what all looks of a line share, where the logarithm of its hazard varies between lines by so much.
func (p *pull) share(variance float64) {
	last := len(p.score) - 1
	luck := mat.NewVecDense(len(p.score), nil)
	for i := range p.score {
		luck.SetVec(i, p.info.At(i, last))
	}
	part := variance / (1 + variance*p.info.At(last, last))
	floats.AddScaled(p.score, -part*p.score[last], luck.RawVector().Data)
	p.info.SymRankOne(p.info, -part, luck)
}

// luckOf is the variance of the logarithm of the hazard between lines, by moments: a line's score varies by its information i and i² times that variance.
func luckOf(lines map[int]*pull) float64 {
	beyond, squares := 0.0, 0.0
	for _, line := range sorted(lines) {
		p := lines[line]
		last := len(p.score) - 1
		u, i := p.score[last], p.info.At(last, last)
		beyond, squares = beyond+u*u-i, squares+i*i
	}
	if squares == 0 {
		return 0
	}
	return max(0, beyond/squares)
}

// chanceOf tells how likely sums that are further than the slack from 0 in all are where the mean of all is within it: Student's t on one less than their number, 1 where there are fewer than three.
func chanceOf(sums map[int]float64, slack float64) float64 {
	n, all := float64(len(sums)), 0.0
	if n < 3 {
		return 1
	}
	for _, label := range sorted(sums) {
		all += sums[label]
	}
	between := 0.0
	for _, label := range sorted(sums) {
		d := sums[label] - all/n
		between += d * d
	}
	if between == 0 {
		return 1
	}
	t := max(0, math.Abs(all)-slack) / math.Sqrt(between*n/(n-1))
	return 2 * distuv.StudentsT{Sigma: 1, Nu: n - 1}.Survival(t)
}

// A Record is the loss of one nest as a camera recorded it: the nest was last seen intact From days after setting and found gone after To, From < To, and was
// lost on Day, by the camera's calendar.
type Record struct {
	Owner    int // a label: records of one owner, or of one line of a ranch, may go together
	Kind     int // of nest, the index of its Rates
	From, To int
	Day      int
}

// Inside tells whether the camera and the looks agree.
func (r Record) Inside() bool { return r.From <= r.Day && r.Day <= r.To }

// Cameras asks whether losses come as late between two looks as the model has it: with h gathered since the look before, a loss that lies between the looks comes with chance
// (1 − exp(−h))/(1 − exp(−h in all)) by then (the probability integral transform; Rosenblatt 1952, Annals of Mathematical Statistics 23:470-472; from memory), ½ in the mean.
// Of each day the middle of its own chances is taken, looks being at noon. It returns the mean, above ½ where losses come late, with the chance of a mean that is further than leeway
// from ½, by the variance between owners; 0 and 1 of no records. Records that are not inside tell nothing here.
func Cameras(records []Record, rates []Rates) (mean, chance float64) {
	byOwner, n := map[int]float64{}, 0.0
	for _, r := range records {
		if !r.Inside() || r.From == r.To {
			continue
		}
		h := rates[r.Kind]
		by := func(day float64) float64 {
			day = min(max(day, float64(r.From)), float64(r.To))
			return math.Expm1(h.upTo(float64(r.From))-h.upTo(day)) / math.Expm1(h.upTo(float64(r.From))-h.upTo(float64(r.To)))
		}
		middle := (by(float64(r.Day)-0.5) + by(float64(r.Day)+0.5)) / 2
		byOwner[r.Owner] += middle - 0.5
		mean, n = mean+middle, n+1
	}
	if n == 0 {
		return 0, 1
	}
	return mean / n, chanceOf(byOwner, leeway*n)
}

// leeway is how far the mean may be from ½ without a fault: of looks at eight in the morning it is 0.01, of lines whose hazards lie a factor of two apart, of which the worst lose
// most and soonest, 0.03 (simulated in TestCameras).
const leeway = 0.03

// upTo is the hazard that a nest gathers up to a day.
func (r Rates) upTo(day float64) float64 {
	return r[0]*min(day, survival.Cut) + r[1]*max(0, day-survival.Cut)
}

// Periods asks whether landowners who lose more before day 14 lose more from day 14 on in the same proportion, as one luck for all days has it: of each line what its late score
// is beyond what its luck over both periods explains, over its standard deviation, by the F test of an analysis of variance between the owners against lines of one owner. Lines count
// that expect half a loss in each period, of owners with two such lines; it is 1 where fewer than ten owners are left.
func Periods(looks []Look, rates []Rates) float64 {
	const fewest = 10
	byOwner := map[int][]float64{}
	for _, t := range turns(looks, rates) {
		byOwner[t.owner] = append(byOwner[t.owner], t.z)
	}
	var between, within, owners, all, sum float64
	for _, owner := range sorted(byOwner) {
		n, mean := float64(len(byOwner[owner])), 0.0
		if n < 2 {
			continue
		}
		for _, z := range byOwner[owner] {
			mean += z / n
		}
		for _, z := range byOwner[owner] {
			within += (z - mean) * (z - mean)
		}
		between += n * mean * mean
		owners, all, sum = owners+1, all+n, sum+n*mean
	}
	if between -= sum * sum / all; owners < fewest || within == 0 {
		return 1
	}
	return distuv.F{D1: owners - 1, D2: all - owners}.Survival(between / (owners - 1) / (within / (all - owners)))
}

// A turn is what a line's late score is beyond what its luck over both periods explains, over its standard deviation.
type turn struct {
	owner int
	z     float64
}

// turns lists those of the lines that expect half a loss in each period, in order of label.
func turns(looks []Look, rates []Rates) (list []turn) {
	type line struct {
		owner    int
		score    [2]float64
		info     [2][2]float64
		expected [2]float64
	}
	lines := map[int]*line{}
	for _, l := range looks {
		o := lines[l.Line]
		if o == nil {
			o = &line{owner: l.Owner}
			lines[l.Line] = o
		}
		early, late := rates[l.Kind].gathered(l.From, l.To)
		h := early + late
		for i, a := range [2]float64{early, late} {
			o.score[i] += l.score(h, a)
			o.expected[i] += -math.Expm1(-h) * a / h
			for j, b := range [2]float64{early, late} {
				o.info[i][j] += odds(h) * a * b
			}
		}
	}
	const least = 0.5
	for _, label := range sorted(lines) {
		o := lines[label]
		if o.expected[0] < least || o.expected[1] < least {
			continue
		}
		both := o.info[0][0] + 2*o.info[0][1] + o.info[1][1]
		share := (o.info[1][1] + o.info[0][1]) / both
		r := o.score[1] - share*(o.score[0]+o.score[1])
		list = append(list, turn{o.owner, r / math.Sqrt(o.info[1][1]-share*share*both)})
	}
	return list
}

// Turns asks the same of the lines of one landowner: whether those that lose more before day 14 lose more from day 14 on in the same proportion. The squares of what each late score is
// beyond what the line's luck explains add up to chi-squared; it is 1 where fewer than eight lines expect half a loss in each period.
func Turns(looks []Look, rates []Rates) float64 {
	list := turns(looks, rates)
	sum := 0.0
	for _, t := range list {
		sum += t.z * t.z
	}
	if len(list) < 8 {
		return 1
	}
	return distuv.ChiSquared{K: float64(len(list) - 1)}.Survival(sum)
}

// Lines are the numbers of losses on lines, under luck that they do not share.
type Lines struct {
	Labels  []int // in order
	Owners  []int // of each
	list    []line
	hazards []float64 // of nests, each once
	nests   []float64 // how many there are of each
	lost    float64
}

// A line has what each of its nests gathers of hazard to the end of its checks, and how many of them were lost.
type line struct {
	owner int
	h     []float64
	lost  int
}

// LinesOf gathers the lines of looks, in order of label. A nest that was lost counts as long as its line was checked.
func LinesOf(looks []Look, rates []Rates) *Lines {
	last := map[int]int{}
	ends := map[int]Look{}
	for _, l := range looks {
		last[l.Line] = max(last[l.Line], l.To)
		if was, seen := ends[l.Nest]; !seen || l.To > was.To {
			ends[l.Nest] = l
		}
	}
	at := map[int]*line{}
	all, nests := &Lines{}, map[float64]float64{}
	for _, nest := range sorted(ends) {
		l := ends[nest]
		if at[l.Line] == nil {
			at[l.Line] = &line{owner: l.Owner}
		}
		to := l.To
		if l.Lost {
			to = last[l.Line]
			at[l.Line].lost++
			all.lost++
		}
		early, late := rates[l.Kind].gathered(0, to)
		at[l.Line].h = append(at[l.Line].h, early+late)
		nests[early+late]++
	}
	for _, label := range sorted(at) {
		all.Labels, all.Owners, all.list = append(all.Labels, label), append(all.Owners, at[label].owner), append(all.list, *at[label])
	}
	all.hazards = sorted(nests)
	for _, h := range all.hazards {
		all.nests = append(all.nests, nests[h])
	}
	return all
}

// Longest is the number of nests on the line that has most.
func (all *Lines) Longest() (most int) {
	for _, l := range all.list {
		most = max(most, len(l.h))
	}
	return most
}

// middle is the mean of luck, whose standard deviation is given, under which as many losses are expected in all as there were.
func (all *Lines) middle(luck float64) float64 {
	nodes, weights := normal()
	low, high := -4.0, 4.0
	for range 24 {
		mid, expected := (low+high)/2, 0.0
		for k, z := range nodes {
			times := math.Exp(mid + luck*z)
			for i, h := range all.hazards {
				expected += weights[k] * all.nests[i] * -math.Expm1(-h*times)
			}
		}
		if expected < all.lost {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// chances are those of fewer losses on each line than there were, and of so many or fewer.
func (all *Lines) chances(luck float64) (below, upTo []float64) {
	nodes, weights := normal()
	middle := all.middle(luck)
	below, upTo = make([]float64, len(all.list)), make([]float64, len(all.list))
	for k, z := range nodes {
		times := math.Exp(middle + luck*z)
		for i, l := range all.list {
			for y, x := range losses(l.h, times)[:l.lost+1] {
				if upTo[i] += weights[k] * x; y < l.lost {
					below[i] += weights[k] * x
				}
			}
		}
	}
	return below, upTo
}

// Luck is the standard deviation of the logarithm of the hazard that makes the shares of lines that last vary as much as they would where they were
// proportional to it, with the given variance of the logarithm: published variances are of that kind.
func (all *Lines) Luck(variance float64) float64 {
	nodes, weights := normal()
	hazard, nests := 0.0, 0.0
	for i, h := range all.hazards {
		hazard, nests = hazard+all.nests[i]*h, nests+all.nests[i]
	}
	if nests == 0 {
		return 0
	}
	hazard /= nests
	want := variance * math.Pow(hazard*math.Exp(-hazard), 2)
	low, high := 0.0, 4.0
	for range 14 {
		luck := (low + high) / 2
		middle, mean, square := all.middle(luck), 0.0, 0.0
		for k, z := range nodes {
			s := math.Exp(-hazard * math.Exp(middle+luck*z))
			mean, square = mean+weights[k]*s, square+weights[k]*s*s
		}
		if square-mean*mean < want {
			low = luck
		} else {
			high = luck
		}
	}
	return low
}

// Residuals are randomized quantile residuals (Dunn and Smyth 1996, Journal of Computational and Graphical Statistics 5:236-244), one a line in order of label: standard
// normal where the logarithm of the hazard is normal between lines with the standard deviation luck, above 0 where more was lost than that expects. The draws come from
// the seed.
//
// A line's number of losses is the sum of its nests', each with a chance of its own to be lost by the end of its checks, mixed over the line's luck.
func (all *Lines) Residuals(luck float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 1996))
	below, upTo := all.chances(luck)
	residuals := make([]float64, len(below))
	for i := range residuals {
		u := below[i] + r.Float64()*(upTo[i]-below[i])
		residuals[i] = distuv.UnitNormal.Quantile(min(max(u, 1e-9), 1-1e-9))
	}
	return residuals
}

// losses is the distribution of the number of nests lost, of nests that gather hazards of h each, times so many.
func losses(h []float64, times float64) []float64 {
	p := make([]float64, len(h)+1)
	p[0] = 1
	for n, x := range h {
		lost := -math.Expm1(-x * times)
		for y := n + 1; y > 0; y-- {
			p[y] = p[y]*(1-lost) + p[y-1]*lost
		}
		p[0] *= 1 - lost
	}
	return p
}

// normal returns nodes and weights of the standard normal distribution, by the midpoint rule.
func normal() (nodes, weights []float64) {
	const n, reach = 21, 4.0
	sum := 0.0
	for i := range n {
		z := -reach + (float64(i)+0.5)*2*reach/n
		nodes, weights = append(nodes, z), append(weights, math.Exp(-z*z/2))
		sum += weights[i]
	}
	for i := range weights {
		weights[i] /= sum
	}
	return nodes, weights
}

// Tails is the chance of so many residuals or more beyond ±1.96, of which one in twenty is expected: the larger of two. By the binomial distribution all lines stand alone; but
// lines of one owner go together, and where the spread that residuals are made with is a little short, more are beyond: so also by the variance between owners, whose labels
// stand beside the residuals, with Student's t.
func Tails(residuals []float64, owners []int) (beyond int, chance float64) {
	more := map[int]float64{}
	for i, r := range residuals {
		more[owners[i]] -= 0.05
		if math.Abs(r) > 1.959964 {
			beyond++
			more[owners[i]]++
		}
	}
	n := float64(len(residuals))
	if float64(beyond) <= 0.05*n {
		return beyond, 1
	}
	alone := 1 - distuv.Binomial{N: n, P: 0.05}.CDF(float64(beyond)-1)
	return beyond, max(alone, chanceOf(more, 0)/2)
}

func sorted[K cmp.Ordered, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }

// Far tells how likely each line's number of losses, or one further out on the same side, is where its luck is drawn as that of the other lines is: in order of label, the smaller of the two
// tails, doubled, and whether it is that of many losses. How much lines differ is not known: the tails are means over standard deviations of the logarithm of the hazard from 0 to 1.2, each
// weighed by the likelihood of the other lines' losses (the predictive distribution of Bayesian statistics with an even prior). They hold for one line; of n lines
// one is far out where its chance is below 1/n of what is asked of one.
func (all *Lines) Far() (chances []float64, many []bool) {
	const steps, step = 13, 0.1
	below, upTo := make([][]float64, steps), make([][]float64, steps)
	logs, total := make([][]float64, steps), make([]float64, steps)
	for k := range steps {
		below[k], upTo[k] = all.chances(step * float64(k))
		for i := range all.list {
			l := math.Log(max(upTo[k][i]-below[k][i], 1e-300))
			logs[k], total[k] = append(logs[k], l), total[k]+l
		}
	}
	for i := range all.list {
		few, far, sum := 0.0, 0.0, 0.0
		most := math.Inf(-1)
		for k := range steps {
			most = max(most, total[k]-logs[k][i])
		}
		for k := range steps {
			w := math.Exp(total[k] - logs[k][i] - most)
			few, far, sum = few+w*upTo[k][i], far+w*(1-below[k][i]), sum+w
		}
		chances, many = append(chances, min(1, 2*min(few, far)/sum)), append(many, far < few)
	}
	return chances, many
}
