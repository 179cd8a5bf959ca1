package bulletin_test

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// The exact attacker knows who is in which figure and how many nests each has in each cover, undoes every rounding, and takes
// beforehand everybody's number of lasting nests for beta-binomial: chances that differ between owners about the cooperative's
// mean. Up to three others pool what they have. What a total T tells of an owner's number y is then exactly
//
//	I(y; T) = H(T) − H(T without y)
//
// bits, H being the entropies of sums over all who are not in the coalition, by convolution. Of several covers it is the sum.

// alikeness is how much one owner's nests share their luck, as the attacker takes it.
const alikeness = 0.1

// betaBinomial is the distribution of the number of n nests that last, with mean p each.
func betaBinomial(n int, p float64) []float64 {
	a, b := p*(1-alikeness)/alikeness, (1-p)*(1-alikeness)/alikeness
	lbeta := func(x, y float64) float64 {
		g, _ := math.Lgamma(x)
		h, _ := math.Lgamma(y)
		k, _ := math.Lgamma(x + y)
		return g + h - k
	}
	f := make([]float64, n+1)
	for k := range f {
		f[k] = math.Exp(lbeta(float64(k)+a, float64(n-k)+b) - lbeta(a, b) - lbeta(float64(k)+1, float64(n-k)+1) - math.Log(float64(n)+1))
	}
	return f
}

func convolved(fs ...[]float64) []float64 {
	all := []float64{1}
	for _, f := range fs {
		next := make([]float64, len(all)+len(f)-1)
		for i, x := range all {
			if x < 1e-15 {
				continue
			}
			for j, y := range f {
				next[i+j] += x * y
			}
		}
		all = next
	}
	return all
}

// entropy in bits, of a total that is known to within a bin of so many.
func entropy(f []float64, bin int) (h float64) {
	for i := 0; i < len(f); i += bin {
		p := 0.0
		for _, x := range f[i:min(len(f), i+bin)] {
			p += x
		}
		if p > 0 {
			h -= p * math.Log2(p)
		}
	}
	return h
}

// told is how many bits totals tell of each owner, pooled against by nobody, one, two and three others: the largest.
type told struct {
	most, sum float64
	cases     int
}

func (t told) mean() float64 { return t.sum / float64(max(1, t.cases)) }

func (t *told) add(u told) {
	t.most, t.sum, t.cases = math.Max(t.most, u.most), t.sum+u.sum, t.cases+u.cases
}

// toldBy attacks what a bulletin publishes on survival.
func toldBy(b bulletin.Bulletin, in bulletin.Input) (t told) {
	nests, _ := amountsOf(in)
	var totals []map[string]int
	bins := []int{}
	covers := map[string]bool{}
	for _, c := range b.Cells {
		if c.Measure == bulletin.Survival28 && c.Published && c.Area == nil && c.Substrate != nil {
			covers[*c.Substrate] = true
		}
	}
	whole, _ := find(b, bulletin.Survival28, "", "", "")
	if !whole.Published {
		return t
	}
	total := func(in func(substrate string) bool) map[string]int {
		of := map[string]int{}
		for s, n := range nests {
			if slices.Contains(b.Covers, s.substrate) && in(s.substrate) {
				of[s.entity] += int(n)
			}
		}
		return of
	}
	if len(covers) > 1 {
		for h := range covers {
			totals, bins = append(totals, total(func(s string) bool { return s == h })), append(bins, 1)
		}
	} else {
		all := total(func(string) bool { return true })
		bin := 1
		if whole.Estimate == nil { // a fifth of the scale
			sum := 0
			for _, n := range all {
				sum += n
			}
			bin = max(1, sum/5)
		}
		totals, bins = append(totals, all), append(bins, bin)
	}
	// When nests were lost, which those that lasted say nothing of: of each owner's losses, whose number is taken for known, those of the first half, and of
	// either half, whose numbers are then taken for known too, those of its first quarter; all to within half a step of 5 points of all nests, for each is given twice.
	chances := make([]float64, len(totals))
	for i := range chances {
		chances[i] = 0.55
	}
	for i, part := range []int{2, 1, 2} {
		if c, _ := find(b, bulletin.LeftMeasures[i], "", "", ""); c.Published {
			all, lost := 0, lossesOf(in, b.Covers)
			for e, n := range total(func(string) bool { return true }) {
				all += n
				lost[e] /= part
			}
			totals, bins, chances = append(totals, lost), append(bins, max(1, all/40)), append(chances, 0.5)
		}
	}
	var owners []string
	for e := range totals[0] {
		owners = append(owners, e)
	}
	slices.Sort(owners)
	type some struct {
		n int
		p float64
	}
	distributions := map[some][]float64{}
	of := func(n int, p float64) []float64 {
		if distributions[some{n, p}] == nil {
			distributions[some{n, p}] = betaBinomial(n, p)
		}
		return distributions[some{n, p}]
	}
	for _, target := range owners {
		for coalition := range 4 {
			bits := 0.0
			for i, have := range totals {
				others := slices.DeleteFunc(slices.Clone(owners), func(e string) bool { return e == target })
				slices.SortFunc(others, func(a, b string) int { return have[b] - have[a] })
				if coalition >= len(others) {
					continue
				}
				var fs [][]float64
				for _, e := range others[coalition:] {
					fs = append(fs, of(have[e], chances[i]))
				}
				rest := convolved(fs...)
				if bins[i] == 1 {
					bits += entropy(convolved(rest, of(have[target], chances[i])), 1) - entropy(rest, 1)
					continue
				}
				// A total to within a bin, and the same where the target's number is known.
				bits += entropy(convolved(rest, of(have[target], chances[i])), bins[i])
				for y, p := range of(have[target], chances[i]) {
					bits -= p * entropy(append(make([]float64, y), rest...), bins[i])
				}
			}
			t.most, t.sum, t.cases = math.Max(t.most, bits), t.sum+bits, t.cases+1
		}
	}
	return t
}

// lossesOf counts each owner's nests that were lost in some covers.
func lossesOf(in bulletin.Input, covers []string) map[string]int {
	entity, lost := map[string]string{}, map[string]int{}
	for _, m := range in.Roster {
		if m.Consent > 0 {
			entity[m.Ranch] = m.Entity
		}
	}
	for i := range in.Data.Nests {
		if n := &in.Data.Nests[i]; n.Season == in.Season && entity[n.Ranch] != "" && n.Fate().Failed() && slices.Contains(covers, string(n.Substrate)) {
			lost[entity[n.Ranch]]++
		}
	}
	return lost
}

// sized makes a season of owners of so many nests in each of some covers.
func sized(seed uint64, covers []survey.Substrate, nests ...int) bulletin.Input {
	hs := many("East", len(nests))
	for i := range hs {
		hs[i].nests, hs[i].clumps = nests[i], -1
	}
	return withoutRemains(input(2025, seed, covers, hs...))
}

// TestT44ExactAttacker: at most half a bit of any owner's results ever, 0.15 in the mean: of cooperatives of 5 to 60 owners, alike
// in size and not, with one cover and with three; and of the demo. With the budget of bits off, the same attacker goes beyond.
func TestT44ExactAttacker(t *testing.T) {
	all, found := attackExactly(disclosure.Default())
	t.Logf("cooperatives of 5 to 60 owners: %.3f bits at most, %.3f in the mean", all.most, all.mean())
	if found != "" {
		t.Error(found)
	}
	in, seasons := demoInput()
	for _, season := range seasons {
		in.Season = season
		b := compose(t, in)
		of := toldBy(b, in)
		t.Logf("the demo's %d: %.3f bits at most, %.3f in the mean", season, of.most, of.mean())
		if of.most > 0.5 || of.mean() > 0.15 {
			t.Errorf("the demo's %d tells too much", season)
		}
	}
	p := disclosure.Default()
	p.BitsMost = 0
	if _, found := attackExactly(p); found == "" {
		t.Error("without the budget the attacker learns no more: it is too weak to prove anything")
	} else {
		t.Log("without the budget: " + found)
	}
}

// attackExactly ends at the first cooperative of which too much is told.
func attackExactly(p disclosure.Policy) (all told, found string) {
	three := []survey.Substrate{survey.Bunchgrass, survey.Shrub, survey.Yucca}
	r := rand.New(rand.NewPCG(44, 44))
	for _, n := range []int{5, 6, 7, 8, 9, 12, 16, 18, 20, 34, 60} {
		for _, skew := range []float64{0, 0.3, 0.6, 0.9} {
			for _, covers := range [][]survey.Substrate{three[:1], three} {
				sizes := make([]int, n)
				for i := range sizes {
					sizes[i] = max(4, int(18*math.Exp(skew*r.NormFloat64()-skew*skew/2)))
				}
				in := sized(uint64(n), covers, sizes...)
				of := toldBy(composeWith(p, in), in)
				all.add(of)
				if of.most > 0.5 || of.mean() > 0.15 {
					return all, fmt.Sprintf("%d owners of %v nests in %d covers: %.2f bits at most, %.3f in the mean", n, sizes, len(covers), of.most, of.mean())
				}
			}
		}
	}
	return all, ""
}

// correlation of two lists; 0 where one of them is constant: nothing is read then.
func correlation(x, y []float64) float64 {
	mean := func(v []float64) (m float64) {
		for _, a := range v {
			m += a / float64(len(v))
		}
		return m
	}
	mx, my := mean(x), mean(y)
	var xy, xx, yy float64
	for i := range x {
		xy, xx, yy = xy+(x[i]-mx)*(y[i]-my), xx+(x[i]-mx)*(x[i]-mx), yy+(y[i]-my)*(y[i]-my)
	}
	if xx < 1e-18 || yy < 1e-18 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

// sumOf adds up how much every figure of a kind went up from one bulletin to the other, each in widths of its range.
func sumOf(before, after bulletin.Bulletin, place string, measures ...string) (sum float64) {
	type name struct {
		measure, area, substrate string
		clumps                   float64
	}
	of := func(c bulletin.Cell) name {
		n := name{c.Measure, text(c.Area), text(c.Substrate), 0}
		if c.Clumps != nil {
			n.clumps = *c.Clumps
		}
		return n
	}
	at := map[name]bulletin.Cell{}
	for _, c := range before.Cells {
		at[of(c)] = c
	}
	for _, c := range after.Cells {
		b := at[of(c)]
		if !slices.Contains(measures, c.Measure) || text(c.Area) != place || c.Low == nil || b.Low == nil || c.High == nil || b.High == nil {
			continue
		}
		sum += (middle(c) - middle(b)) / math.Max(*c.High-*c.Low, 0.01)
	}
	return sum
}

// middle is the estimate of a cell, or where it has none the middle of its range.
func middle(c bulletin.Cell) float64 {
	switch {
	case c.Estimate != nil:
		return *c.Estimate
	case c.High == nil:
		return *c.Low
	}
	return (*c.Low + *c.High) / 2
}

var ofSurvival = []string{bulletin.Survival28, bulletin.SurvivalAt}

// lasted is the share of an owner's nests that lasted, less that of all: what a reader would like to know.
func lasted(in bulletin.Input, ranch string) float64 {
	own, of, kept, all := 0.0, 0.0, 0.0, 0.0
	for i := range in.Data.Nests {
		n := &in.Data.Nests[i]
		last := 0.0
		if !n.Fate().Failed() {
			last = 1
		}
		kept, all = kept+last, all+1
		if n.Ranch == ranch {
			own, of = own+last, of+1
		}
	}
	return own/of - kept/all
}

// TestT40BeforeAndAfter: one owner leaves, joins, moves or mends a sheet. Two bulletins are laid side by side and all their
// figures summed: what is read goes with that owner's truth no more than by chance. The same reading finds it where a rule is away: in bulletins
// that estimate the season before again on today's roster, as they once did; and in those that give clumps an acre at once of
// whoever is there, to a reader who knows how the cover of the season moved. Two hundred and fifty cases in the short form; a thousand of each kind on demand, and of
// smaller cooperatives, of the smallest crowd and of places as well; -seed draws others.
func TestT40BeforeAndAfter(t *testing.T) {
	t.Parallel()
	kinds := []change{{"leaves", 34, 1}, {"joins", 34, 1}, {"moves", 60, 3}, {"mends", 34, 1}, {"leaves", 12, 1}}
	cases, away := 50, 30 // away with a rule
	if *long {
		cases, away = 1000, 300
		kinds = append(kinds, change{"joins", 12, 1}, change{"leaves", 26, 1}, change{"leaves", 60, 3})
	}
	all := reading{}
	for _, k := range kinds {
		t.Run(fmt.Sprintf("one of %d in %d places %s", k.owners, k.areas, k.what), func(t *testing.T) {
			of := reading{}
			for run := range cases {
				of.join(k.read(t, uint64(run), run < away))
			}
			t.Log(of)
			all.join(of)
			if *long {
				of.judge(t)
			}
		})
	}
	t.Logf("together: %v", all)
	all.judge(t)
}

// A change is what one owner of so many does between two seasons.
type change struct {
	what          string
	owners, areas int
}

// What is read, and whether it must be: where a rule is away.
const (
	survivalRead = "survival"
	coverRead    = "cover"
	knownRead    = "cover where the season's own shift is known" // in cooperatives that are no crowd
	againRead    = "survival, the season before estimated again"
	soonRead     = "cover where nobody waits, the season's own shift known"
)

// A reading is what was read of owners, and what was true of them.
type reading map[string]*pairs

type pairs struct{ read, truth []float64 }

func (r reading) add(what string, read, truth float64) {
	r.join(reading{what: {[]float64{read}, []float64{truth}}})
}

func (r reading) join(o reading) {
	for what, of := range o {
		if r[what] == nil {
			r[what] = &pairs{}
		}
		r[what].read, r[what].truth = append(r[what].read, of.read...), append(r[what].truth, of.truth...)
	}
}

func (p *pairs) r() float64 { return correlation(p.read, p.truth) }

func (r reading) String() string {
	var list []string
	for _, what := range slices.Sorted(maps.Keys(r)) {
		list = append(list, fmt.Sprintf("%s %.3f (%d)", what, r[what].r(), len(r[what].read)))
	}
	return "r = " + strings.Join(list, ", ")
}

// chance is how large a correlation of n pairs becomes that is truly 0: three standard errors, which of the twenty correlations of the long form one
// passes in one run of twenty. The design allows 0.15 at most.
func chance(n int) float64 { return min(0.15, 3/math.Sqrt(float64(n))) }

func (r reading) judge(t *testing.T) {
	t.Helper()
	for name, of := range r {
		found := math.Abs(of.r())
		switch most := chance(len(of.read)); {
		case (name == againRead || name == soonRead) && found < 0.3:
			t.Errorf("%s is read with r = %.3f: the reading is too weak to prove anything", name, of.r())
		case name != againRead && name != soonRead && found > most:
			t.Errorf("%s is read with r = %.3f, and chance allows %.3f", name, of.r(), most)
		}
	}
}

// read draws a cooperative and two seasons, makes both bulletins, and reads them; with once, it makes one of them again as bulletins once did.
func (k change) read(t *testing.T, run uint64, once bool) reading {
	r := rand.New(rand.NewPCG(run, *seed))
	c := usual(k.owners)
	c.areas, c.bare = k.areas, true
	g := c.draw(r)
	who := r.IntN(k.owners)
	ranch := fmt.Sprintf("ranch %03d", who)
	others := func(owner int) bool { return owner != who }
	without := func(in bulletin.Input) bulletin.Input {
		in.Roster = slices.DeleteFunc(slices.Clone(in.Roster), func(m bulletin.Member) bool { return m.Ranch == ranch })
		return in
	}
	var firstOf, secondOf func(int) bool
	switch k.what {
	case "leaves":
		secondOf = others
	case "joins":
		firstOf = others
	}
	first, was := g.season(r, 2024, firstOf)
	second, is := g.season(r, 2025, secondOf)
	truth, sign, place := 0.0, 1.0, ""
	if k.what == "leaves" && k.areas > 1 {
		place = first.Roster[who].Area
	}
	var again bulletin.Input // the older season, with what came later
	switch k.what {
	case "leaves":
		truth, sign, again = lasted(first, ranch), -1, without(first)
	case "joins":
		truth = lasted(second, ranch)
	case "mends":
		truth, sign = float64(1+r.IntN(6)), -1
		again = changeRanch(first, ranch, int(truth))
		truth = (truth - 3.5) / 40 // as a share of an owner's nests
	case "moves":
		truth, place, again = lasted(first, ranch), "area 0", first
		again.Roster = slices.Clone(first.Roster)
		if again.Roster[who].Area == place {
			place = "area 1"
		}
		again.Roster[who].Area, second.Roster[who].Area = place, place
	}
	one := compose(t, first)
	second.Before = &one.Log
	two := compose(t, second)
	rise := func(after bulletin.Bulletin, measures ...string) float64 {
		read := sumOf(one, after, place, measures...)
		if place != "" { // against the whole, which moves with the season
			read -= sumOf(one, after, "", measures...)
		}
		return read
	}
	got := reading{}
	got.add(survivalRead, rise(two, ofSurvival...), sign*truth)
	cover := sign * math.Log(g.coverOf[who]) // less that of all, as with survival
	for _, of := range g.coverOf {
		cover -= sign * math.Log(of) / float64(k.owners)
	}
	// known is how far clumps went up beyond the season's own shift, which somebody may know from the own belts.
	known := func(after bulletin.Bulletin) float64 {
		if place != "" {
			return rise(after, bulletin.ClumpsPerAcre)
		}
		x, _ := find(one, bulletin.ClumpsPerAcre, "", "", "")
		y, _ := find(after, bulletin.ClumpsPerAcre, "", "", "")
		if x.Low == nil || y.Low == nil {
			return 0
		}
		return math.Log(middle(y)/middle(x)) - (is.moist - was.moist)
	}
	if k.what != "mends" {
		got.add(coverRead, rise(two, bulletin.ClumpsPerAcre), cover)
		if k.owners < 20 {
			got.add(knownRead, known(two), cover)
		}
	}
	if k.what != "mends" && k.owners < 20 {
		soon := second
		soon.Data = &survey.Data{Belts: second.Data.Belts}
		p := disclosure.Default()
		p.Waits = false
		got.add(soonRead, known(composeWith(p, soon)), cover)
	}
	if !once {
		return got
	}
	if k.what == "joins" { // the season they joined in, without them and then with them
		got.add(againRead, sumOf(compose(t, without(second)), two, "", ofSurvival...), sign*truth)
	} else {
		got.add(againRead, sumOf(one, compose(t, again), place, ofSurvival...), sign*truth)
	}
	return got
}

// changeRanch turns so many of a ranch's lasting nests into taken ones.
func changeRanch(in bulletin.Input, ranch string, nests int) bulletin.Input {
	d := *in.Data
	d.Nests = slices.Clone(d.Nests)
	for i := range d.Nests {
		if n := &d.Nests[i]; nests > 0 && n.Ranch == ranch && n.Fate() == survey.Intact {
			n.Visits = append(slices.Clone(n.Visits[:len(n.Visits)-1]), survey.Visit{On: n.Visits[len(n.Visits)-1].On, State: survey.Taken})
			nests--
		}
	}
	in.Data = &d
	return in
}

// TestT39Decoys: a coordinator puts ten ranches of their own beside a target, changes how many nests these lose, and looks each time at the
// preview. Where previews were made anew from what is in just then, the figure takes a step at an exact count, and tells the target's
// losses. A print that was made once from what was in at the cut-off says the same each time.
func TestT39Decoys(t *testing.T) {
	t.Parallel()
	season := func(targetLost, decoysLost int) bulletin.Input {
		rs := []record{{40 - targetLost, 40}}
		for i := range 10 {
			lost := decoysLost / 10
			if i < decoysLost%10 {
				lost++
			}
			rs = append(rs, record{20 - lost, 20})
		}
		return keeping(rs...)
	}
	half := func(in bulletin.Input) bool {
		c, _ := find(compose(t, in), bulletin.Survival28, "", "", "")
		return c.Estimate != nil && *c.Estimate >= 0.5
	}
	read := func(preview func(decoysLost int) bool) float64 { // by halving: eight previews
		least, most := 60, 140
		if preview(least) == preview(most) {
			return 0 // nothing to find between them
		}
		for least+1 < most {
			if mid := (least + most) / 2; preview(mid) {
				least = mid
			} else {
				most = mid
			}
		}
		return float64(-most)
	}
	var truths, live, frozen []float64
	for run := range 200 {
		target := 5 + rand.New(rand.NewPCG(uint64(run), 39)).IntN(30)
		truths = append(truths, float64(target))
		live = append(live, read(func(decoys int) bool { return half(season(target, decoys)) }))
		print := half(season(target, 100)) // as it was at the cut-off, whatever is sent later
		frozen = append(frozen, read(func(int) bool { return print }))
	}
	if r := correlation(frozen, truths); math.Abs(r) > 0.15 {
		t.Errorf("a print made once is read with r = %.3f", r)
	}
	if r := correlation(live, truths); math.Abs(r) < 0.5 {
		t.Errorf("previews made anew are read with r = %.3f: the reading is too weak to prove anything", r)
	} else {
		t.Logf("made anew, previews are read with r = %.3f; made once, with %.3f", r, correlation(frozen, truths))
	}
}
