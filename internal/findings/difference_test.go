package findings_test

import (
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"tussock/internal/findings"
	"tussock/internal/survey"
)

var long = flag.Bool("long", false, "draw many more cooperatives to measure how often comparisons err")

// A drawn cooperative is one of which the truth is known: daily hazards of loss by owner, season, cover and pasture, lines with luck
// of their own, unequal numbers of nests, uneven check days, clumps in patches.
type drawn struct {
	owners        int
	spread, luck  float64 // standard deviations of the log hazard between owners and between lines
	patchy        float64 // coefficient of variation of clumps between belts, beyond chance
	season, cover float64 // how many times the hazard of the second season and of yucca is that of the first and of bunchgrass
	pasture       float64 // and that of the pasture South
	clumps        float64 // an acre in the pasture North
	thin          float64 // how many times as many in South
}

// nothing differs: in 100 nests that stand on lines of middling luck 50 last.
func nothing(owners int) drawn {
	return drawn{owners: owners, spread: 0.3, luck: 0.4, patchy: 0.5, season: 1, cover: 1, pasture: 1, clumps: 300, thin: 1}
}

func (d drawn) draw(r *rand.Rand) *survey.Data {
	data := &survey.Data{}
	for o := range d.owners {
		ranch := fmt.Sprintf("ranch %02d", o)
		own := d.spread * r.NormFloat64()
		for s, season := range []int{2024, 2025} {
			for p, site := range []string{"North", "South"} {
				lines := 3 + r.IntN(4)
				for line := range lines {
					luck := d.luck * r.NormFloat64()
					for n := range 3 + r.IntN(8) {
						h := math.Log(2) / 28 * math.Exp(own+luck) * math.Pow(d.season, float64(s)) * math.Pow(d.pasture, float64(p))
						cover := survey.Bunchgrass
						if n%2 == 1 {
							cover, h = survey.Yucca, h*d.cover
						}
						data.Nests = append(data.Nests, d.nest(r, ranch, site, season, line, n, cover, h))
					}
					mean := 0.15 * d.clumps * math.Pow(d.thin, float64(p))
					k := 1 / (d.patchy * d.patchy)
					data.Belts = append(data.Belts, survey.Belt{Ranch: ranch, Site: site, Season: season, Transect: fmt.Sprint(line), LengthFt: 653.4, WidthFt: 10,
						Counts: map[survey.Substrate]int{survey.Bunchgrass: chanced(r, mean*gamma(r, k)/k)}})
				}
			}
		}
	}
	return data
}

func (d drawn) nest(r *rand.Rand, ranch, site string, season, line, number int, cover survey.Substrate, hazard float64) survey.Nest {
	set := survey.DateOf(season, 5, 1)
	n := survey.Nest{Ranch: ranch, Site: site, Season: season, Transect: fmt.Sprint(line), Number: fmt.Sprint(number), Substrate: cover, SetOn: set}
	ends := r.ExpFloat64() / hazard
	for _, day := range []int{13 + r.IntN(4), 26 + r.IntN(5)} {
		state := survey.Intact
		if ends <= float64(day) {
			state = survey.Taken
		}
		n.Visits = append(n.Visits, survey.Visit{On: set + survey.Date(day), State: state})
		if state == survey.Taken {
			break
		}
	}
	return n
}

// gamma draws with the given shape and scale 1 (Marsaglia and Tsang 2000, ACM Transactions on Mathematical Software 26:363–372).
func gamma(r *rand.Rand, shape float64) float64 {
	if shape < 1 {
		return gamma(r, shape+1) * math.Pow(r.Float64(), 1/shape)
	}
	d := shape - 1.0/3
	for {
		x := r.NormFloat64()
		v := math.Pow(1+x/math.Sqrt(9*d), 3)
		if v > 0 && math.Log(r.Float64()) < x*x/2+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

// chanced draws a Poisson number as a sum of draws of small mean.
func chanced(r *rand.Rand, mean float64) (n int) {
	for ; mean > 50; mean -= 50 {
		n += chanced(r, 50)
	}
	for limit, p := math.Exp(-mean), r.Float64(); p > limit; p *= r.Float64() {
		n++
	}
	return n
}

// counted are verdicts of one kind: of how many families of comparisons made at once, those in which any differs, or is alike.
type counted struct {
	name                    string
	families, differ, alike int
}

func (c counted) String() string {
	f := float64(max(1, c.families))
	return fmt.Sprintf("%s: differs %.1f %%, alike %.1f %% of %d", c.name, 100*float64(c.differ)/f, 100*float64(c.alike)/f, c.families)
}

// rates draws cooperatives and counts what is said of them.
func rates(d drawn, runs int) map[string]*counted {
	all := map[string]*counted{}
	count := func(kind string, differs, alike bool) {
		if all[kind] == nil {
			all[kind] = &counted{}
		}
		c := all[kind]
		c.families++
		if differs {
			c.differ++
		}
		if alike {
			c.alike++
		}
	}
	for run := range runs {
		data := d.draw(rand.New(rand.NewPCG(uint64(run), uint64(d.owners))))
		res := findings.Compute(data, findings.Options{})
		for o := range d.owners {
			ranch := fmt.Sprintf("ranch %02d", o)
			for _, season := range []int{2024, 2025} {
				for _, of := range [][2]string{{findings.Survival28, findings.Seasons}, {findings.Survival28, findings.Substrates}, {findings.Survival28, findings.Sites},
					{findings.ClumpsPerAcre, findings.Seasons}, {findings.ClumpsPerAcre, findings.Sites}} {
					list := res.Compared(ranch, season, of[0], of[1])
					if len(list) == 0 {
						continue
					}
					differs, alike := false, false
					for _, c := range list {
						differs, alike = differs || c.Verdict == "differs", alike || c.Verdict == "alike"
					}
					count(of[0]+" "+of[1], differs, alike)
				}
				if all, ok := res.DensityOf(ranch, season); ok {
					o := findings.AgainstMark([]*findings.Density{all}, findings.CoverMark)[0]
					count("clumps_per_acre mark", o.Lower() || o.Higher(), o.Verdict.String() == "alike")
				}
				var sites []*findings.Density
				for _, site := range []string{"North", "South"} {
					if d, ok := res.FindDensity(ranch, site, season, ""); ok {
						sites = append(sites, d)
					}
				}
				differs, alike := false, false
				for _, o := range findings.AgainstMark(sites, findings.CoverMark) {
					differs, alike = differs || o.Lower() || o.Higher(), alike || o.Verdict.String() == "alike"
				}
				count("clumps_per_acre marks", differs, alike)
			}
		}
	}
	return all
}

// bar is one in twenty; in the short form what so many tell of it at three standard errors. Comparisons of one ranch are made from the
// same lines, so that a family counts for less than one.
func bar(families int) float64 {
	if *long {
		return 0.05
	}
	return 0.05 + 3*math.Sqrt(2*0.05*0.95/float64(families))
}

// TestNothingDiffers: where nothing differs, at most one ranch in twenty is told so, whatever is compared: seasons, covers, pastures,
// cover with the target; of cooperatives of 8, 15 and 34 owners with lines that share little luck or much.
func TestNothingDiffers(t *testing.T) {
	runs, lucks := 90, []float64{0.4}
	if *long {
		runs, lucks = 12000, []float64{0, 0.4, 0.7}
	}
	for _, owners := range []int{8, 15, 34} {
		for _, luck := range lucks {
			d := nothing(owners)
			d.luck = luck
			for _, kind := range sorted(rates(d, max(2, runs/owners))) {
				t.Logf("%2d owners, lines apart by %.1f, %v", owners, luck, kind)
				if share := float64(kind.differ) / float64(kind.families); share > bar(kind.families) {
					t.Errorf("%d owners, lines apart by %.1f: %s differs in %.3f where nothing does", owners, luck, kind.name, share)
				}
			}
		}
	}
}

// TestDifferencesAreTold: of what truly differs by more than the margin at most one in twenty is said to be alike. How often the
// difference is told is printed: that is the power. Half of the nests last in one, 30 or 39 of 100 in the other; clumps fall by a half, or by 30 of 100.
func TestDifferencesAreTold(t *testing.T) {
	runs := 60
	if *long {
		runs = 6000
	}
	for name, change := range map[string]func(*drawn){
		"50 to 30, 300 to 150": func(d *drawn) {
			d.season, d.cover, d.pasture, d.thin = 1.737, 1.737, 1.737, 0.5
			d.clumps = 150
		},
		"50 to 39, 300 to 210": func(d *drawn) {
			d.season, d.cover, d.pasture, d.thin = 1.36, 1.36, 1.36, 0.7
			d.clumps = 210
		},
	} {
		for _, owners := range []int{8, 15, 34} {
			d := nothing(owners)
			d.spread = 0
			change(&d)
			for _, kind := range sorted(rates(d, max(1, runs/owners))) {
				t.Logf("%s, %2d owners, %v", name, owners, kind)
				seasonsOfCover := kind.name == findings.ClumpsPerAcre+" "+findings.Seasons // their clumps do not change
				if share := float64(kind.alike) / float64(kind.families); share > bar(kind.families) && !seasonsOfCover {
					t.Errorf("%s, %d owners: %s is alike in %.3f", name, owners, kind.name, share)
				}
			}
		}
	}
}

func sorted(all map[string]*counted) []*counted {
	var list []*counted
	for _, name := range slices.Sorted(maps.Keys(all)) {
		all[name].name = name
		list = append(list, all[name])
	}
	return list
}

// Fewer than three belts, or two transects, are not compared, and say so; of lines that came out alike the difference is no surer than that
// of nests with luck of their own.
func TestTooFewToCompare(t *testing.T) {
	d := nothing(1)
	data := d.draw(rand.New(rand.NewPCG(1, 1)))
	data.Belts = slices.DeleteFunc(data.Belts, func(b survey.Belt) bool { return b.Transect != "0" && b.Transect != "1" || b.Site == "South" })
	data.Nests = slices.DeleteFunc(data.Nests, func(n survey.Nest) bool { return n.Transect != "0" || n.Site == "South" })
	r := findings.Compute(data, findings.Options{})
	for _, c := range r.Comparisons {
		if c.Verdict != "cannot tell" || c.Difference.Low != nil || !strings.Contains(c.Said().String(), "cannot be compared yet") {
			t.Errorf("%+v: %v", c, c.Said())
		}
	}
	if len(r.Comparisons) == 0 {
		t.Error("nothing is compared at all")
	}
	dens, _ := r.DensityOf("ranch 00", 2025)
	if said := findings.AgainstMarkSaid(dens, findings.AgainstMark([]*findings.Density{dens}, findings.CoverMark)[0], findings.CoverMark).String(); !strings.Contains(said, "takes three belts at least, and there are 2") {
		t.Errorf("two belts: %s", said)
	}
}
