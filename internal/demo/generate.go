package demo

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"

	"tussock/internal/stat/predator"
	"tussock/internal/survey"
)

// Generate invents the cooperative. The same seed gives the same cooperative, byte for byte.
func Generate(seed uint64) *Cooperative {
	c := &Cooperative{Name: "Willet Country Grassland Cooperative", Areas: areas(), Ranches: ranches(), People: Members()}
	for season := firstSeason; season <= lastSeason; season++ {
		c.Seasons = append(c.Seasons, season)
		for _, r := range c.Ranches {
			if slices.Contains(r.Skips, season) {
				continue
			}
			f := newField(seed, r, season)
			f.run()
			c.Data.Nests = append(c.Data.Nests, f.nests...)
			c.Data.Belts = append(c.Data.Belts, f.belts...)
			c.Truth.add(f)
			c.Sheets = append(c.Sheets, f.sheet())
		}
	}
	for _, r := range c.Ranches {
		c.Data.Sites = append(c.Data.Sites, r.sites()...)
	}
	return c
}

// random returns a stream of its own for each purpose, so that a change to one ranch leaves the others as they were.
func random(seed uint64, purpose ...any) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprint(h, purpose...)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// A field is one ranch's season: what is true of it, and what its crew wrote down.
type field struct {
	ranch  Ranch
	season int
	r      *rand.Rand // this season's luck
	again  *rand.Rand // who is looked at by a second person
	key    *predator.Key
	effect float64 // the ranch's own, on the log of the daily hazard, the same every season
	place  []pasture
	nests  []survey.Nest
	belts  []survey.Belt
}

// A pasture has so many clumps an acre of each substrate this season.
type pasture struct {
	name     string
	perAcre  map[survey.Substrate]float64
	transect int // how many lie in it
}

func newField(seed uint64, ranch Ranch, season int) *field {
	own := random(seed, "ranch", ranch.Name)
	f := &field{ranch: ranch, season: season, key: predator.NewKey(), r: random(seed, "season", ranch.Name, season), again: random(seed, "second look", ranch.Name, season)}
	f.effect = ranchSD * own.NormFloat64()
	cover := areaCover(ranch.Area) * math.Exp(coverSD*own.NormFloat64())
	for _, name := range ranch.Pastures {
		here := cover * math.Exp(0.15*own.NormFloat64())
		f.place = append(f.place, pasture{name: name, perAcre: map[survey.Substrate]float64{
			survey.Bunchgrass: here * seasonCover(season),
			survey.Yucca:      40 * math.Exp(0.3*own.NormFloat64()),
			survey.Shrub:      50 * math.Exp(0.3*own.NormFloat64()),
		}})
	}
	// Big outfits run more transects: four to nine, with six to twelve nests on each.
	transects := min(9, 4+int(ranch.Acres/2500)) + f.r.IntN(2) - f.r.IntN(2)
	transects = max(transects, 4, len(f.place))
	for i := range transects {
		f.place[i%len(f.place)].transect++
	}
	return f
}

func (f *field) run() {
	number := 0
	opened := survey.DateOf(f.season, time.May, 18) + survey.Date(f.r.IntN(12))
	for _, p := range f.place {
		for range p.transect {
			number++
			f.transect(p, strconv.Itoa(number), opened+survey.Date(number/3))
		}
	}
}

// transect sets out a line of nests on one day, looks at all of them twice, and walks one belt beside it.
func (f *field) transect(p pasture, name string, setOn survey.Date) {
	room := 96 - len(f.nests)
	if room < 6 {
		return // the eggs have run out
	}
	luck := transectSD * f.r.NormFloat64()
	first := setOn + survey.Date(uneven(f.r, 14, 11, 20))
	second := setOn + survey.Date(uneven(f.r, 28, 26, 33))
	for i := range min(room, 6+2*f.r.IntN(4)) {
		n := survey.Nest{
			Ranch: f.ranch.Name, Site: p.name, Season: f.season, Transect: name, Number: strconv.Itoa(i + 1),
			Substrate: substrateOf(i), SetOn: setOn, EggsLeft: -1,
		}
		n.Plant = plantOf(f.r, n.Substrate)
		n.Spot = survey.Spot{Steps: strconv.Itoa(50 * (i + 1)), Bearing: strconv.Itoa(10 * f.r.IntN(36)), Text: spotOf(f.r)}
		daily := math.Exp(logHazard(f.season, f.ranch.SiteType, n.Substrate, p.perAcre) + f.effect + luck)
		f.watch(&n, daily, first, second)
		lookTwice(f.again, &n)
		f.nests = append(f.nests, n)
	}
	f.belts = append(f.belts, f.belt(p, name))
}

// lookTwice has a second person look alone at the last visit of some nests, who now and then sees it otherwise.
func lookTwice(r *rand.Rand, n *survey.Nest) {
	looked, slip := r.Float64() < 0.15, r.Float64() < 0.05
	if len(n.Visits) == 0 || !looked {
		return
	}
	last := &n.Visits[len(n.Visits)-1]
	last.Second = last.State
	if slip {
		last.Second = map[survey.State]survey.State{survey.Intact: survey.Taken, survey.Taken: survey.Spoiled}[last.State]
	}
	if last.Second == "" {
		last.Second = last.State
	}
}

// watch lets the eggs last as long as the hazard lets them, then writes down what two visits see of it.
func (f *field) watch(n *survey.Nest, daily float64, first, second survey.Date) {
	ends := f.lasts(daily)
	camera := f.r.Float64() < 0.08
	for _, day := range []survey.Date{first, second} {
		if f.r.Float64() < 0.02 {
			n.Visits = append(n.Visits, survey.Visit{On: day, State: survey.Lost})
			return
		}
		if ends > float64(day-n.SetOn) {
			n.Visits = append(n.Visits, survey.Visit{On: day, State: survey.Intact})
			continue
		}
		n.Visits = append(n.Visits, survey.Visit{On: day, State: f.ending()})
		if n.Fate() == survey.Taken {
			if f.evidence(n, camera); camera {
				n.CameraOn = n.SetOn + survey.Date(ends+0.5) // eggs are put out, and looked at, at noon
			}
		}
		return
	}
}

// lasts draws the day on which the eggs go: daily is the hazard a day up to day 14, and secondPeriod times that after.
func (f *field) lasts(daily float64) float64 {
	cumulative := f.r.ExpFloat64()
	if cumulative < 14*daily {
		return cumulative / daily
	}
	return 14 + (cumulative-14*daily)/(daily*secondPeriod)
}

// ending is who or what ended a nest: mostly a predator.
func (f *field) ending() survey.State {
	switch x := f.r.Float64(); {
	case x < otherEnds*0.5:
		return survey.Trampled
	case x < otherEnds*0.85:
		return survey.Spoiled
	case x < otherEnds:
		return survey.Flooded
	}
	return survey.Taken
}

func (f *field) belt(p pasture, transect string) survey.Belt {
	b := survey.Belt{Ranch: f.ranch.Name, Site: p.name, Season: f.season, Transect: transect, Counts: map[survey.Substrate]int{}}
	u := f.unit()
	b.LengthFt, b.WidthFt = u.lengthFt, u.widthFt
	patchy := gamma(f.r, 12) / 12
	for _, s := range substrates {
		b.Counts[s] = poisson(f.r, p.perAcre[s]*b.Acres()*patchy)
	}
	return b
}

// uneven draws the day of a visit that was meant for day want.
func uneven(r *rand.Rand, want, low, high int) int {
	return min(high, max(low, want+int(math.Round(1.8*r.NormFloat64()))))
}

// poisson draws by multiplying uniforms (Knuth 1969, The Art of Computer Programming 2, 3.4.1 F), in pieces of at most 30
// so that exp does not underflow.
func poisson(r *rand.Rand, mean float64) int {
	n := 0
	for ; mean > 30; mean -= 30 {
		n += poisson(r, 30)
	}
	limit := math.Exp(-mean)
	for p := r.Float64(); p > limit; p *= r.Float64() {
		n++
	}
	return n
}

// gamma draws a gamma variate of whole-numbered shape and scale 1: a sum of exponentials.
func gamma(r *rand.Rand, shape int) float64 {
	var sum float64
	for range shape {
		sum += r.ExpFloat64()
	}
	return sum
}

func substrateOf(i int) survey.Substrate {
	return []survey.Substrate{survey.Bunchgrass, survey.Yucca, survey.Bunchgrass, survey.Shrub, survey.Yucca, survey.Shrub}[i%6]
}

func plantOf(r *rand.Rand, s survey.Substrate) string {
	switch s {
	case survey.Bunchgrass:
		return pick(r, "little bluestem", "green needlegrass", "sand bluestem", "needle-and-thread")
	case survey.Yucca:
		return "soapweed yucca"
	}
	return "sand sagebrush"
}

func spotOf(r *rand.Rand) string {
	return pick(r, "", "", "", "beside a flat rock", "uphill of the flag", "two clumps together", "by an old post", "edge of a blowout")
}

func pick(r *rand.Rand, from ...string) string { return from[r.IntN(len(from))] }
