package bulletin_test

import (
	"fmt"
	"math/rand/v2"

	"tussock/internal/bulletin"
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
			in.Data.Belts = append(in.Data.Belts, belt(ranch, season, h.clumps))
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

// belt is a tenth of an acre: 435.6 by 10 feet.
func belt(ranch string, season, clumps int) survey.Belt {
	return survey.Belt{Ranch: ranch, Season: season, Transect: "1", LengthFt: 435.6, WidthFt: 10,
		Counts: map[survey.Substrate]int{survey.Bunchgrass: clumps}}
}

// find returns the cell at a place and substrate, "" for the whole cooperative and all substrates.
func find(b bulletin.Bulletin, measure, area, substrate, predator string) (bulletin.Cell, bool) {
	for _, c := range b.Cells {
		if c.Measure == measure && text(c.Area) == area && text(c.Substrate) == substrate && c.Predator == predator {
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
