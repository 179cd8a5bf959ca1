package bulletin_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// TestCrude: where all nests were looked at on days 14 and 28 and none was lost from view, the crude rate is the plain
// share that lasted, whatever they were put in; the standardised one weighs each kind of cover alike.
func TestCrude(t *testing.T) {
	in := bulletin.Input{Data: &survey.Data{}, Season: 2025}
	put := func(ranch string, h survey.Substrate, kept, of int) {
		for i := range of {
			n := survey.Nest{Ranch: ranch, Season: 2025, Transect: "1", Number: fmt.Sprint(h, i), Substrate: h, SetOn: survey.DateOf(2025, 5, 1)}
			n.Visits = []survey.Visit{{On: n.SetOn + 14, State: survey.Intact}, {On: n.SetOn + 28, State: survey.Intact}}
			if i >= kept {
				n.Visits[1].State = survey.Taken
			}
			in.Data.Nests = append(in.Data.Nests, n)
		}
	}
	for i := range 12 {
		ranch := fmt.Sprint("ranch ", i)
		in.Roster = append(in.Roster, bulletin.Member{Ranch: ranch, Entity: ranch, Consent: 1})
		put(ranch, survey.Bunchgrass, 12, 30) // 40 of 100
		put(ranch, survey.Yucca, 8, 10)       // 80 of 100
		put(ranch, "windmill clump", 0, 1)    // too rare to be a standard one: in no figure
	}
	b := compose(t, in)
	for measure, want := range map[string]float64{bulletin.Survival28: (0.4 + 0.8) / 2, bulletin.SurvivalCrude: 20.0 / 40} {
		c, _ := find(b, measure, "", "", "")
		if c.Estimate == nil || math.Abs(*c.Estimate-want) > 1e-9 || c.N != 12 || c.Nests == nil || *c.Nests != 480 {
			t.Errorf("%s: got %s of %d, nests %v, want %v", measure, number(c.Estimate), c.N, c.Nests, want)
		}
		if c.Published && (*c.Low >= want || *c.High <= want) {
			t.Errorf("%s: %v to %v does not hold %v", measure, *c.Low, *c.High, want)
		}
	}
}

// unsafe tells whether a cell is held for what it could tell.
func unsafe(c bulletin.Cell) bool {
	why := disclosure.Reason(c.HeldBecause)
	return why != "" && why != disclosure.TooSmall && why != disclosure.TooVague
}

// TestCrudeGoesWithTheOther: whatever is held of the standardised figure for what it could tell is held of the crude one,
// and it stands on no more landowners.
func TestCrudeGoesWithTheOther(t *testing.T) {
	shown := 0
	for seed := range uint64(24) {
		in := randomInput(400 + seed)
		if seed%3 == 0 {
			in = likeInput(400 + seed)
		}
		b := compose(t, in)
		for _, c := range b.Cells {
			if c.Measure != bulletin.SurvivalCrude {
				continue
			}
			other, _ := find(b, bulletin.Survival28, text(c.Area), "", "")
			if unsafe(c) != unsafe(other) || c.Published && other.Published && c.N != other.N {
				t.Errorf("seed %d %s: crude %v %q of %d, standardised %v %q of %d", seed, text(c.Area), c.Published, c.HeldBecause, c.N, other.Published, other.HeldBecause, other.N)
			}
			if c.Published {
				shown++
			}
		}
	}
	if shown < 10 {
		t.Errorf("%d crude figures: little was tested", shown)
	}
}

// TestIntervalsOverAllSubstratesCover: an owner's luck is the same in all kinds of cover, so that intervals over all of
// them must widen more than those of one. In 100 seasons they hold the truth 95 times in 100 (3.5 standard errors below).
func TestIntervalsOverAllSubstratesCover(t *testing.T) {
	t.Parallel()
	const runs = 100
	for _, tt := range []struct {
		owners string
		spread float64 // of owners' chances around a half: what is told from the data may be more than the fixed floor
	}{{"ABCDEFG", 0.13}, {"ABCDEFGHIJKLMNOPQR", 0.20}} {
		name := fmt.Sprintf("%d owners", len(tt.owners))
		held, shown := map[string]int{}, map[string]int{}
		for seed := range uint64(runs) {
			r := rand.New(rand.NewPCG(seed, 112))
			hs := owners("East", tt.owners)
			for i := range hs {
				hs[i].nests, hs[i].kept, hs[i].clumps = 75, 0.5+tt.spread*(2*r.Float64()-1)*math.Sqrt(3), -1
			}
			b := compose(t, withoutRemains(input(2025, seed, []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca}, hs...)))
			for _, measure := range []string{bulletin.Survival28, bulletin.SurvivalCrude} {
				if c, _ := find(b, measure, "", "", ""); c.Published {
					shown[measure]++
					if *c.Low <= 0.5 && *c.High >= 0.5 {
						held[measure]++
					}
				}
			}
		}
		for _, measure := range []string{bulletin.Survival28, bulletin.SurvivalCrude} {
			t.Logf("%s, %s: %d of %d intervals hold the truth", name, measure, held[measure], shown[measure])
			if shown[measure] < runs/2 || held[measure] < shown[measure]*95/100-8 {
				t.Errorf("%s, %s: %d of %d intervals hold the truth", name, measure, held[measure], shown[measure])
			}
		}
	}
}
