package bulletin_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"tussock/internal/bulletin"
	"tussock/internal/disclosure"
	"tussock/internal/survey"
)

// A secret is what one entity has in one area: nests in a substrate, or clumps.
type secret struct{ entity, area, substrate string }

// populations lists for each published cell the amounts it is a total of, told from what readers see alone: the cell
// and the places. Figures over all substrates add none: they are means of cells that are published.
func populations(b bulletin.Bulletin, measure string, secrets map[secret]float64) (cells []map[secret]float64) {
	label := map[string]string{}
	for _, p := range b.Places {
		label[p.Area] = p.Label
	}
	for _, c := range b.Cells {
		if !c.Published || c.Measure != measure || measure == bulletin.Survival28 && c.Substrate == nil {
			continue
		}
		population := map[secret]float64{}
		for s, x := range secrets {
			if (c.Area == nil || *c.Area == label[s.area]) && (c.Substrate == nil || *c.Substrate == s.substrate) {
				population[s] = x
			}
		}
		cells = append(cells, population)
	}
	return cells
}

func amountsOf(in bulletin.Input) (nests, clumps map[secret]float64) {
	member := map[string]bulletin.Member{}
	for _, m := range in.Roster {
		if m.Consent > 0 {
			member[m.Ranch] = m
		}
	}
	nests, clumps = map[secret]float64{}, map[secret]float64{}
	for _, n := range in.Data.Nests {
		if m, ok := member[n.Ranch]; ok {
			nests[secret{m.Entity, m.Area, string(n.Substrate)}]++
		}
	}
	for _, b := range in.Data.Belts {
		if m, ok := member[b.Ranch]; ok {
			clumps[secret{m.Entity, m.Area, ""}] += float64(b.Counts[survey.Bunchgrass])
		}
	}
	return nests, clumps
}

// randomInput makes a cooperative of skewed sizes in one to four areas, some of them neighbours, some owners with two
// ranches, some private.
func randomInput(seed uint64) bulletin.Input {
	r := rand.New(rand.NewPCG(seed, 77))
	areas := 1 + r.IntN(4)
	var hs []holding
	for range 5 + r.IntN(30) {
		hs = append(hs, holding{
			owner: fmt.Sprint("owner ", len(hs)-r.IntN(2)), area: fmt.Sprint("area ", r.IntN(areas)), consent: min(1, r.IntN(8)),
			nests: 8 + int(12*r.ExpFloat64()), kept: 0.3 + 0.4*r.Float64(), clumps: r.IntN(60),
		})
	}
	in := input(2025, seed, []survey.Substrate{survey.Bunchgrass, survey.PricklyPear, survey.Yucca}[:1+r.IntN(3)], hs...)
	for a := range areas {
		in.Areas = append(in.Areas, bulletin.Area{Name: fmt.Sprint("area ", a), Group: fmt.Sprint("group ", a/2)})
	}
	return in
}

// TestT07SubsetAttack, with T1 and T2: in each published cell two insiders who pool leave at least half of any other's amount unknown; and the
// same holds for what any sum or difference of up to three cells leaves, where it leaves anything.
func TestT07SubsetAttack(t *testing.T) {
	runs := 60
	if testing.Short() {
		runs = 20
	}
	published, byPlace := 0, 0
	for seed := range uint64(runs) {
		in := randomInput(seed)
		b := compose(t, in)
		cells, found := attack(b, in)
		published += cells
		if found != "" {
			t.Fatalf("seed %d: %s", seed, found)
		}
		for _, c := range b.Cells {
			if c.Published && c.Area != nil {
				byPlace++
			}
		}
	}
	if byPlace == 0 {
		t.Error("no cooperative had a figure by place: little was tested")
	}
	t.Logf("%d cooperatives, %d totals published, %d figures by place", runs, published, byPlace)
}

// TestSubsetAttackNeedsEachRule turns the rules off in turn: the attack then finds something.
func TestSubsetAttackNeedsEachRule(t *testing.T) {
	for name, off := range map[string]func(*disclosure.Policy){
		"minimum frequency": func(p *disclosure.Policy) { p.MinEntities, p.Remainder, p.Dominance = 0, 0, nil },
		"p%":                func(p *disclosure.Policy) { p.Remainder = 0 },
	} {
		t.Run(name, func(t *testing.T) {
			p := disclosure.Default()
			off(&p)
			for seed := range uint64(60) {
				in := randomInput(seed)
				b, err := bulletin.ComposeUnder(p, in)
				if err != nil {
					t.Fatal(err)
				}
				if _, found := attack(b, in); found != "" {
					return
				}
			}
			t.Error("the attack found nothing in 60 cooperatives: it is too weak to prove anything")
		})
	}
}

// attack combines published totals and describes the first combination that tells too much.
func attack(b bulletin.Bulletin, in bulletin.Input) (published int, found string) {
	type cell = map[secret]float64
	nests, clumps := amountsOf(in)
	for _, cells := range [][]cell{populations(b, bulletin.Survival28, nests), populations(b, bulletin.ClumpsPerAcre, clumps)} {
		published += len(cells)
		var signed []cell
		for _, x := range cells {
			signed = append(signed, x, minus(x))
		}
		for i, x := range signed {
			found = cmp.Or(found, tellsTooMuch(combine(x)))
			for j, y := range signed[:i] {
				found = cmp.Or(found, tellsTooMuch(combine(x, y)))
				for _, z := range signed[:j] {
					found = cmp.Or(found, tellsTooMuch(combine(x, y, z)))
				}
			}
		}
	}
	return published, found
}

func minus(x map[secret]float64) map[secret]float64 {
	m := map[secret]float64{}
	for s, v := range x {
		m[s] = -v
	}
	return m
}

// combine adds populations and returns how much of each entity is left in the sum.
func combine(xs ...map[secret]float64) map[string]float64 {
	left := map[secret]float64{}
	for _, x := range xs {
		for s, v := range x {
			left[s] += v
		}
	}
	of := map[string]float64{}
	for s, v := range left {
		of[s.entity] += max(v, -v)
	}
	return of
}

func tellsTooMuch(of map[string]float64) string {
	var xs []float64
	total := 0.0
	for _, x := range of {
		if x > 0 {
			xs = append(xs, x)
			total += x
		}
	}
	slices.SortFunc(xs, func(a, b float64) int { return cmp.Compare(b, a) })
	if len(xs) > 0 && (len(xs) < 5 || total-xs[0]-xs[1]-xs[2] < 0.5*xs[0]) {
		return fmt.Sprintf("a combination of published totals rests on %v", xs)
	}
	return ""
}
