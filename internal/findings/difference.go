package findings

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"tussock/internal/stat/differ"
	"tussock/internal/stat/interval"
	"tussock/internal/survey"
)

// The measures that are compared.
const (
	Survival28    = "survival_28"
	ClumpsPerAcre = "clumps_per_acre"
)

// What is compared with what.
const (
	Seasons    = "season"    // with the season before that was run
	Substrates = "substrate" // two covers of one season
	Sites      = "site"      // two pastures of one season
	Region     = "region"    // a ranch with what a bulletin publishes
)

// A Comparison sets two figures of a ranch against each other. Difference is of Of less With: in survival so many of 1, in
// clumps an acre a share of With.
type Comparison struct {
	Ranch      string  `json:"ranch"`
	Season     int     `json:"season"`
	Measure    string  `json:"measure"`
	What       string  `json:"what"`
	Of         string  `json:"of"`
	With       string  `json:"with"`
	Verdict    string  `json:"verdict"`
	Difference Range   `json:"difference"`
	Margin     float64 `json:"margin"`
	OfMany     int     `json:"of_many"` // how many comparisons of this kind are made of the ranch and season at once

	Outcome differ.Outcome `json:"-"`
	lines   float64        // behind each of the two, on average; 0 where not known
}

func (c *Comparison) take(o differ.Outcome) {
	c.Outcome, c.Verdict, c.Margin, c.OfMany = o, o.Verdict.String(), o.Margin, o.Many
	c.Difference = Range{number(o.Estimate), number(o.Low), number(o.High)}
}

// fewestBelts is how many belts a density needs to be compared: the spread between two says next to nothing, and one has
// none.
const fewestBelts = 3

// sharedLines is how many transects it takes to tell how the errors of two covers on them go together.
const sharedLines = 10

// compared is what a figure's comparisons rest on: at least the error that nests with luck of their own would have, since few
// transects may come out alike by chance, and nothing where one transect hides all spread between them.
func (s *Survival) compared() interval.Spread {
	if s.Transects < 2 {
		return interval.Spread{}
	}
	spread := s.spread
	if s.DesignEffect == nil {
		return spread.WithDF(float64(s.Transects - 1))
	}
	return spread.Widened(math.Sqrt(max(1, 1 / *s.DesignEffect)))
}

// compared is the same of a density: at least the error of clumps at random, and nothing of fewer than three belts. The plain
// variance of a ratio is too small where clumps stand in patches; the jackknife's is m/(m − 1) times as large for m belts of one
// area (Cochran 1977, Sampling Techniques, on the ratio estimator; from memory).
func (d *Density) compared() interval.Spread {
	if d.Belts < fewestBelts {
		return interval.Spread{}
	}
	if d.PerAcre.SE == nil || d.Count == 0 {
		return d.spread
	}
	m, se := float64(d.Belts), *d.PerAcre.SE
	random := math.Sqrt(float64(d.Count)) / d.AreaAcres
	return d.spread.Widened(max(math.Sqrt(m/(m-1)), random/se))
}

// correlation is that of the errors of two covers of one ranch and season, which may stand on the same transects.
func correlation(all []lineUp, a, b survey.Substrate) float64 {
	ab, shared := product(all, a, b)
	aa, _ := product(all, a, a)
	bb, _ := product(all, b, b)
	if shared < sharedLines || aa == 0 || bb == 0 {
		return 0 // on the safe side: lines that are good for one cover are hardly bad for another
	}
	return min(max(0, ab/math.Sqrt(aa*bb)), 1)
}

// compare fills in the comparisons of every ranch and season.
func (r *Result) compare() {
	r.Comparisons = []Comparison{}
	for _, p := range r.ranchSeasons() {
		r.compareSurvival(p)
		r.compareDensity(p)
	}
}

// ranchSeasons lists each ranch with each of its seasons, in order.
func (r *Result) ranchSeasons() []place {
	var list []place
	add := func(ranch string, site *string, season int) {
		if p := (place{ranch: ranch, whole: true, season: season}); site == nil && !slices.Contains(list, p) {
			list = append(list, p)
		}
	}
	for i := range r.Survival {
		add(r.Survival[i].Ranch, r.Survival[i].Site, r.Survival[i].Season)
	}
	for i := range r.Density {
		add(r.Density[i].Ranch, r.Density[i].Site, r.Density[i].Season)
	}
	slices.SortFunc(list, comparePlaces)
	return list
}

func (r *Result) compareSurvival(p place) {
	var covers, sites, seasons []*Survival
	for i := range r.Survival {
		s := &r.Survival[i]
		switch {
		case s.Ranch != p.ranch:
		case s.Season == p.season && s.Site == nil && s.Substrate != nil:
			covers = append(covers, s)
		case s.Season == p.season && s.Site != nil && s.Substrate == nil:
			sites = append(sites, s)
		case s.Season <= p.season && s.Site == nil && s.Substrate == nil && s.Nests > 0:
			seasons = append(seasons, s)
		}
	}
	start := func(what, of, with string, a, b *Survival) Comparison {
		return Comparison{Ranch: p.ranch, Season: p.season, Measure: Survival28, What: what, Of: of, With: with, lines: float64(a.Transects+b.Transects) / 2}
	}
	if n := len(seasons); n > 1 && seasons[n-1].Season == p.season {
		now, then := seasons[n-1], seasons[n-2]
		c := start(Seasons, strconv.Itoa(now.Season), strconv.Itoa(then.Season), now, then)
		c.take(differ.Compare(differ.Question{Of: now.compared(), With: then.compared(), Margin: differ.Survival}))
		r.Comparisons = append(r.Comparisons, c)
	}
	var lines []lineUp
	if all, ok := r.SurvivalOf(p.ranch, p.season); ok {
		lines = all.lines
	}
	pairs(covers, func(a, b *Survival, many int) {
		c := start(Substrates, string(*a.Substrate), string(*b.Substrate), a, b)
		c.take(differ.Compare(differ.Question{Of: a.compared(), With: b.compared(), Correlation: correlation(lines, *a.Substrate, *b.Substrate), Margin: differ.Survival, Many: many}))
		r.Comparisons = append(r.Comparisons, c)
	})
	pairs(sites, func(a, b *Survival, many int) {
		c := start(Sites, *a.Site, *b.Site, a, b)
		c.take(differ.Compare(differ.Question{Of: a.compared(), With: b.compared(), Margin: differ.Survival, Many: many}))
		r.Comparisons = append(r.Comparisons, c)
	})
}

func (r *Result) compareDensity(p place) {
	var sites, seasons []*Density
	for i := range r.Density {
		d := &r.Density[i]
		switch {
		case d.Ranch != p.ranch || d.Substrate != nil:
		case d.Season == p.season && d.Site != nil:
			sites = append(sites, d)
		case d.Season <= p.season && d.Site == nil:
			seasons = append(seasons, d)
		}
	}
	add := func(what, of, with string, a, b *Density, many int) {
		c := Comparison{Ranch: p.ranch, Season: p.season, Measure: ClumpsPerAcre, What: what, Of: of, With: with, lines: float64(a.Belts+b.Belts) / 2}
		c.take(differ.Compare(differ.Question{Of: a.compared(), With: b.compared(), Margin: differ.Density, Many: many}))
		r.Comparisons = append(r.Comparisons, c)
	}
	if n := len(seasons); n > 1 && seasons[n-1].Season == p.season {
		now, then := seasons[n-1], seasons[n-2]
		add(Seasons, strconv.Itoa(now.Season), strconv.Itoa(then.Season), now, then, 1)
	}
	pairs(sites, func(a, b *Density, many int) { add(Sites, *a.Site, *b.Site, a, b, many) })
}

// Published sets two published survivals against each other, one of so many such comparisons made at once.
func Published(of, with interval.Spread, ofName, withName string, many int) Comparison {
	c := Comparison{Measure: Survival28, Of: ofName, With: withName}
	c.take(differ.Compare(differ.Question{Of: of, With: with, Margin: differ.Survival, Many: many}))
	return c
}

// CompareRegion adds to the comparisons of a season each ranch's survival and clumps an acre beside what a place published, given as
// spreads. Mix is the covers that the published survival is standardised over, as Beside has it.
func (r *Result) CompareRegion(season int, place string, mix map[survey.Substrate]float64, survival, clumps interval.Spread) {
	for _, p := range r.ranchSeasons() {
		if p.season != season {
			continue
		}
		add := func(measure string, o differ.Outcome) {
			c := Comparison{Ranch: p.ranch, Season: season, Measure: measure, What: Region, Of: p.ranch, With: place}
			c.take(o)
			r.Comparisons = append(r.Comparisons, c)
		}
		if o, ok := r.Beside(p.ranch, season, mix, survival); ok && survival.Known() {
			add(Survival28, o)
		}
		if d, ok := r.DensityOf(p.ranch, season); ok && d.PerAcre.Estimate != nil && clumps.Known() {
			add(ClumpsPerAcre, d.Beside(clumps))
		}
	}
	slices.SortStableFunc(r.Comparisons, func(a, b Comparison) int {
		return cmp.Or(cmp.Compare(a.Ranch, b.Ranch), cmp.Compare(a.Season, b.Season))
	})
}

// pairs calls do with each two of a list, and how many pairs there are.
func pairs[T any](list []T, do func(a, b T, many int)) {
	many := len(list) * (len(list) - 1) / 2
	for i, a := range list {
		for _, b := range list[i+1:] {
			do(a, b, many)
		}
	}
}

// Compared lists the comparisons of one kind of a ranch and season.
func (r *Result) Compared(ranch string, season int, measure, what string) []Comparison {
	var list []Comparison
	for _, c := range r.Comparisons {
		if c.Ranch == ranch && c.Season == season && c.Measure == measure && c.What == what {
			list = append(list, c)
		}
	}
	return list
}

// Foremost returns what is said of several comparisons where one sentence has room: the widest difference of those that are
// told, else the widest of all that cannot be told, else of those that are alike.
func Foremost(list []Comparison) (Comparison, bool) {
	rank := func(c Comparison) int {
		return slices.Index([]differ.Verdict{differ.Differs, differ.CannotTell, differ.Alike}, c.Outcome.Verdict)
	}
	if len(list) == 0 {
		return Comparison{}, false
	}
	return slices.MinFunc(list, func(a, b Comparison) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(breadth(b.Outcome), breadth(a.Outcome)))
	}), true
}

func breadth(o differ.Outcome) float64 {
	if math.IsNaN(o.Estimate) {
		return -1
	}
	return math.Abs(o.Estimate)
}

// AgainstMark sets densities against a mark of so many clumps an acre. Where all of them lie to one side, that is told together.
func AgainstMark(list []*Density, mark float64) []differ.Outcome {
	qs := make([]differ.Question, len(list))
	for i, d := range list {
		qs[i] = differ.Question{Of: d.compared(), With: interval.Exactly(mark), Margin: differ.Density, Fixed: true}
	}
	return differ.Together(qs)
}

// Beside sets a ranch's survival in shares of covers (nil: in equal shares of those it has) beside a published one in the same shares,
// given as its spread; false where the ranch has no such figure.
func (r *Result) Beside(ranch string, season int, mix map[survey.Substrate]float64, published interval.Spread) (o differ.Outcome, ok bool) {
	all, found := r.SurvivalOf(ranch, season)
	if !found {
		return o, false
	}
	if mix == nil {
		return all.Beside(published), all.Day28.Estimate != nil
	}
	s28, ok := r.Standardised(ranch, season, mix)
	if !ok || !(s28 > 0 && s28 < 1) {
		return o, false
	}
	var sum, apart, together, g float64 // variances: of covers with luck of their own, and by transect
	for _, w := range mix {
		sum += max(w, 0)
	}
	weights := map[survey.Substrate]float64{}
	for _, row := range r.BySubstrate(ranch, season) {
		if w := mix[*row.Substrate] / sum; w > 0 && row.Day28.SE != nil {
			weights[*row.Substrate] = w
			apart += w * w * *row.Day28.SE * *row.Day28.SE
		}
	}
	for _, l := range all.lines {
		among := false
		for i, a := range l.Covers {
			among = among || weights[a] > 0
			for j, b := range l.Covers {
				together += weights[a] * weights[b] * l.Products[i][j]
			}
		}
		if among {
			g += float64(l.Lines)
		}
	}
	if g < 2 || apart == 0 {
		return differ.Compare(differ.Question{With: published, Margin: differ.Survival}), true
	}
	together *= g / (g - 1)
	own := interval.LogLog(s28, math.Sqrt(max(apart, together)), g-1)
	return differ.Compare(differ.Question{Of: own, With: published, Margin: differ.Survival, Fixed: true}), true
}

// Beside sets a figure beside a published one of the same footing, given as its spread.
func (s *Survival) Beside(published interval.Spread) differ.Outcome {
	return differ.Compare(differ.Question{Of: s.compared(), With: published, Margin: differ.Survival, Fixed: true})
}

// Beside sets a ranch's clumps an acre beside published ones.
func (d *Density) Beside(published interval.Spread) differ.Outcome {
	return differ.Compare(differ.Question{Of: d.compared(), With: published, Margin: differ.Density, Fixed: true})
}

// against sets survival against a share of the nests that people talk about, such as half.
func (s *Survival) against(share float64) differ.Question {
	return differ.Question{Of: s.compared(), With: interval.Exactly(share), Margin: differ.Survival, Fixed: true}
}
