package bulletin_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distmv"

	"tussock/internal/bulletin"
	"tussock/internal/demo"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// A holding is one ranch of a test's cooperative.
type holding struct {
	owner, area string
	consent     int
	nests       int     // in each substrate
	kept        float64 // the chance that a nest lasts the four weeks
	clumps      int     // on its belt of a tenth of an acre
}

// owners makes holdings alike, one for each letter of owners, all in one area.
func owners(area, owners string) (hs []holding) {
	for _, o := range owners {
		hs = append(hs, holding{owner: string(o), area: area, consent: 1, nests: 20, kept: 0.5, clumps: 25})
	}
	return hs
}

// many makes n holdings alike.
func many(area string, n int) (hs []holding) {
	for i := range n {
		hs = append(hs, holding{owner: fmt.Sprintf("%s %02d", area, i), area: area, consent: 1, nests: 20, kept: 0.5, clumps: 25})
	}
	return hs
}

var grassAndPear = []survey.Substrate{survey.Bunchgrass, survey.PricklyPear}

// input makes a season of the holdings: nests looked at on days 14 and 28, of which the given chance lasts, taken ones
// with remains; the ranches are numbered.
func input(season int, seed uint64, substrates []survey.Substrate, hs ...holding) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, uint64(season)))
	in := bulletin.Input{Data: &survey.Data{}, Season: season}
	for i, h := range hs {
		ranch := fmt.Sprintf("ranch %02d", i)
		in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Entity: h.owner, Area: h.area, Consent: h.consent})
		for _, s := range substrates {
			for n := range h.nests {
				in.Data.Nests = append(in.Data.Nests, nest(r, ranch, season, n, s, h.kept))
			}
		}
		if h.clumps >= 0 {
			in.Data.Belts = append(in.Data.Belts, strip(ranch, season, h.clumps))
		}
	}
	return in
}

func nest(r *rand.Rand, ranch string, season, number int, s survey.Substrate, kept float64) survey.Nest {
	set := survey.DateOf(season, 5, 1)
	n := survey.Nest{Ranch: ranch, Season: season, Transect: fmt.Sprint(number / 10), Number: fmt.Sprint(s, number), Substrate: s, SetOn: set}
	switch u := r.Float64(); {
	case u < kept:
		n.Visits = []survey.Visit{{On: set + 14, State: survey.Intact}, {On: set + 28, State: survey.Intact}}
	case u < (1+kept)/2:
		n.Visits = []survey.Visit{{On: set + 14, State: survey.Taken}}
	default:
		n.Visits = []survey.Visit{{On: set + 14, State: survey.Intact}, {On: set + 28, State: survey.Taken}}
	}
	if n.Fate() == survey.Taken {
		n.Camera = []survey.Predator{survey.Raccoon, survey.Coyote, survey.Skunk, survey.Other}[r.IntN(4)]
	}
	return n
}

// strip is a belt of a tenth of an acre: 435.6 by 10 feet.
func strip(ranch string, season, clumps int) survey.Belt {
	return survey.Belt{Ranch: ranch, Season: season, Transect: "1", LengthFt: 435.6, WidthFt: 10,
		Counts: map[survey.Substrate]int{survey.Bunchgrass: clumps}}
}

// find returns the cell at a place and substrate, "" for the whole cooperative and all substrates.
func find(b bulletin.Bulletin, measure, area, substrate, predator string) (bulletin.Cell, bool) {
	for _, c := range b.Cells {
		if c.Measure == measure && text(c.Area) == area && text(c.Substrate) == substrate && c.Predator == predator && c.Clumps == nil {
			return c, true
		}
	}
	return bulletin.Cell{}, false
}

func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

func number(x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprint(*x)
}

// demoInput is the demo's cooperative, with every season's rows.
func demoInput() (bulletin.Input, []int) {
	c := demo.Generate(demo.Seed)
	in := bulletin.Input{Data: &c.Data}
	for _, r := range c.Ranches {
		in.Roster = append(in.Roster, bulletin.Member{Ranch: r.Name, Entity: r.Owner, Area: r.Area, Consent: r.Consent})
	}
	for _, a := range c.Areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: a.Name, Group: a.Group})
	}
	return in, c.Seasons
}

// A country is what cooperatives are drawn from: what is true of them is known.
type country struct {
	owners, areas int
	lines, nests  int     // lines of each owner, and nests on each
	spread, luck  float64 // standard deviations of the log hazard between owners and between lines
	lost          float64 // the chance at each look that a nest is not found again, whatever became of it
	hidden        float64 // the chance that a taken nest is not found
	cover, patchy float64 // coefficients of variation of clumps between owners and between belts
	good          float64 // standard deviation of the log hazard between seasons
	bare          bool    // without remains, which take as long as all else
	moist         float64 // and of log clumps
	slope         float64 // of the log hazard over log clumps
	belts         int     // of each ranch; 0 is one a line
	jitter        int     // days that a line's checks come early or late, at most
	weekly        bool    // lines are checked each week, on the day
	// Faults of the model of survival: the log hazard is so much higher in the first week of either two and lower in the other, and it differs by owner, with
	// this standard deviation, from day 14 on.
	front, turn float64

	mixes   float64 // owners' own mixes are drawn about the common one, as much alike as so many nests are (a Dirichlet distribution); 0: all the same
	cameras float64 // part of the nests with a camera that records the day of loss
	slips   float64 // part of the cameras' days that are those of the look
	clocks  float64 // part of the cameras whose clocks are a month behind
}

// usual is what the demo's country is like.
func usual(owners int) country {
	return country{owners: owners, areas: 1, lines: 6, nests: 9, spread: 0.25, luck: 0.4, lost: 0.02, cover: 0.3, patchy: 0.3, good: 0.2, moist: 0.15}
}

// A region is a cooperative that was drawn, before any season.
type region struct {
	country
	luckOf, coverOf []float64 // of each owner
	areaOf          []int
	key             *predator.Key
	mixOf           [][]float64 // of each owner; none where all are the same
}

func (c country) draw(r *rand.Rand) *region {
	g := &region{country: c, key: predator.NewKey()}
	for i := range c.owners {
		g.luckOf = append(g.luckOf, c.spread*r.NormFloat64())
		g.coverOf = append(g.coverOf, 300*math.Exp(c.cover*r.NormFloat64()))
		g.areaOf = append(g.areaOf, i*c.areas/c.owners)
		if c.mixes > 0 {
			alpha := make([]float64, len(predator.Predators()))
			for k, name := range predator.Predators() {
				alpha[k] = max(1e-9, c.mixes*takers[name])
			}
			g.mixOf = append(g.mixOf, distmv.NewDirichlet(alpha, r).Rand(nil))
		}
	}
	return g
}

var coverHazard = map[survey.Substrate]float64{survey.Bunchgrass: 0, survey.Shrub: 0.1, survey.Yucca: -0.2}

// A truth is what a season was like.
type truth struct {
	good, moist float64 // the season's own shifts of log hazard and log clumps
	survival    float64 // over all covers, of landowners and lines like these
	by          map[survey.Substrate]float64
	clumps      float64 // an acre, on the ranches that were walked
}

// season draws one: its rows, of the owners that take part, and its truth.
func (g *region) season(r *rand.Rand, year int, takes func(owner int) bool) (bulletin.Input, truth) {
	t := truth{good: g.good * r.NormFloat64(), moist: g.moist * r.NormFloat64(), by: map[survey.Substrate]float64{}}
	return g.seasonOf(r, year, t, takes)
}

func (g *region) seasonOf(r *rand.Rand, year int, t truth, takes func(owner int) bool) (bulletin.Input, truth) {
	in := bulletin.Input{Data: &survey.Data{}, Season: year}
	const base = 0.0215
	t.by = map[survey.Substrate]float64{}
	for s, h := range coverHazard {
		t.by[s] = marginal(28*base*math.Exp(t.good+h), math.Hypot(g.spread, g.luck))
		t.survival += t.by[s] / float64(len(coverHazard))
	}
	t.clumps = 0
	for i := range g.owners {
		if takes != nil && !takes(i) {
			continue
		}
		t.clumps += g.coverOf[i] * math.Exp(t.moist)
		ranch := fmt.Sprintf("ranch %03d", i)
		in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Entity: fmt.Sprintf("owner %03d", i), Area: fmt.Sprint("area ", g.areaOf[i]), Consent: 1})
		turn := 0.0
		if g.turn > 0 {
			turn = g.turn * r.NormFloat64()
		}
		for line := range g.lines {
			luck, off := g.luck*r.NormFloat64(), [2]int{}
			if g.jitter > 0 {
				off = [2]int{r.IntN(2*g.jitter+1) - g.jitter, r.IntN(2*g.jitter+1) - g.jitter}
			}
			for n := range g.nests {
				s := []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Shrub}[n%3]
				in.Data.Nests = append(in.Data.Nests, g.nestOn(r, ranch, i, year, line, n, s, off, turn, base*math.Exp(t.good+coverHazard[s]+g.luckOf[i]+luck+g.slope*math.Log(g.coverOf[i]*math.Exp(t.moist)/300))))
			}
			if g.belts > 0 && line >= g.belts {
				continue
			}
			clumps := 0.15 * g.coverOf[i] * math.Exp(t.moist) * math.Exp(g.patchy*r.NormFloat64()-g.patchy*g.patchy/2)
			in.Data.Belts = append(in.Data.Belts, survey.Belt{Ranch: ranch, Season: year, Transect: fmt.Sprint(line), LengthFt: 653.4, WidthFt: 10,
				Counts: map[survey.Substrate]int{survey.Bunchgrass: poisson(r, clumps)}})
		}
	}
	t.clumps /= float64(len(in.Roster))
	return in, t
}

func (g *region) nest(r *rand.Rand, ranch string, owner, year, line, number int, s survey.Substrate, daily float64) survey.Nest {
	return g.nestOn(r, ranch, owner, year, line, number, s, [2]int{}, 0, daily)
}

// nestOn has checks that are off day 14 and 28 by so many days, and a log hazard that is higher by turn from day 14 on.
func (g *region) nestOn(r *rand.Rand, ranch string, owner, year, line, number int, s survey.Substrate, off [2]int, turn, daily float64) survey.Nest {
	set := survey.DateOf(year, 5, 1)
	n := survey.Nest{Ranch: ranch, Season: year, Transect: fmt.Sprint(line), Number: fmt.Sprint(number), Substrate: s, SetOn: set}
	ends := r.ExpFloat64() / daily
	if g.front != 0 || turn != 0 {
		ends = g.faulty(ends*daily, daily, turn)
	}
	days := []survey.Date{survey.Date(14 + off[0]), survey.Date(28 + off[1])}
	if g.weekly {
		days = []survey.Date{7, 14, 21, 28}
	}
	for _, day := range days {
		taken := ends <= float64(day)
		switch {
		case r.Float64() < g.lost || taken && r.Float64() < g.hidden:
			n.Visits = append(n.Visits, survey.Visit{On: set + day, State: survey.Lost})
			return n
		case taken:
			n.Visits = append(n.Visits, survey.Visit{On: set + day, State: survey.Taken})
			if g.cameras > 0 && r.Float64() < g.cameras {
				switch n.CameraOn = set + survey.Date(ends+0.5); {
				case r.Float64() < g.slips:
					n.CameraOn = set + day
				case r.Float64() < g.clocks:
					n.CameraOn -= 30
				}
			}
			if !g.bare {
				g.remains(r, &n, owner)
			}
			return n
		}
		n.Visits = append(n.Visits, survey.Visit{On: set + day, State: survey.Intact})
	}
	return n
}

// faulty is the day on which so much hazard is gathered.
func (g *region) faulty(left, daily, turn float64) float64 {
	for day := 0; day < 100; day++ {
		h := daily * math.Exp(g.front)
		if day/7%2 == 1 {
			h = daily * math.Exp(-g.front)
		}
		if day >= 14 {
			h *= math.Exp(turn)
		}
		if left < h {
			return float64(day) + left/h
		}
		left -= h
	}
	return 100
}

// takers are who takes nests.
var takers = map[string]float64{"skunk": 0.25, "coyote": 0.20, "raccoon": 0.17, "badger": 0.13, "bird": 0.12, "fox": 0.08, "rodent": 0.05}

func (g *region) remains(r *rand.Rand, n *survey.Nest, owner int) {
	animals, by := predator.Predators(), 0
	for x, i := r.Float64(), 0; i < len(animals); i++ {
		share := takers[animals[i]]
		if g.mixOf != nil {
			share = g.mixOf[owner][i]
		}
		if by = i; x < share {
			break
		}
		x -= share
	}
	if r.Float64() < 0.08 {
		n.Camera = survey.Predator(animals[by])
	}
	if r.Float64() < 0.45 {
		return
	}
	n.Remains = &survey.Remains{}
	for i, name := range g.key.Features() {
		x, blank := r.Float64(), r.Float64() < 0.2
		for c, choice := range g.key.Choices(i) {
			if x -= g.key.Chance(i, by, c); x < 0 {
				if at := slices.IndexFunc(survey.Features, func(f survey.Feature) bool { return f.Name == name }); !blank {
					*survey.Features[at].Value(n.Remains) = choice
				}
				break
			}
		}
	}
}

// marginal is the mean of exp(−h·e^v) over v ~ N(0, sd²), by the midpoint rule.
func marginal(h, sd float64) float64 {
	const steps, reach = 200, 5.0
	sum, weight := 0.0, 0.0
	for i := range steps {
		z := -reach + (float64(i)+0.5)*2*reach/steps
		w := math.Exp(-z * z / 2)
		sum, weight = sum+w*math.Exp(-h*math.Exp(sd*z)), weight+w
	}
	return sum / weight
}

// poisson draws by inversion: means here are below 200.
func poisson(r *rand.Rand, mean float64) (n int) {
	for limit, p := math.Exp(-mean), r.Float64(); p > limit; p *= r.Float64() {
		n++
	}
	return n
}
