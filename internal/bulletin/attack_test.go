package bulletin_test

import (
	"cmp"
	"fmt"
	"math"
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
// and the places. Standardised figures over all substrates add none: they are means of cells that are published. Crude
// ones are totals of their own, over the substrates that are published at all.
func populations(b bulletin.Bulletin, measure string, secrets map[secret]float64) (cells []map[secret]float64) {
	label := map[string]string{}
	for _, p := range b.Places {
		label[p.Area] = p.Label
	}
	for _, c := range b.Cells {
		crude := measure == bulletin.Survival28 && c.Measure == bulletin.SurvivalCrude
		if !c.Published || c.Measure != measure && !crude || c.Measure == bulletin.Survival28 && c.Substrate == nil {
			continue
		}
		population := map[secret]float64{}
		for s, x := range secrets {
			if crude && !slices.Contains(b.Log.Standards, s.substrate) {
				continue
			}
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

// TestT01T02T07SubsetAttack: in each published cell one who subtracts the own amount (T1) and two insiders who pool (T2) leave
// at least half of any other's amount unknown; and the same holds for what any sum or difference of up to three cells leaves,
// where it leaves anything (T7).
func TestT01T02T07SubsetAttack(t *testing.T) {
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

// attack combines published totals, up to three at a time, each added or taken off, and describes the first combination that
// tells too much.
func attack(b bulletin.Bulletin, in bulletin.Input) (published int, found string) {
	nests, clumps := amountsOf(in)
	for _, cells := range [][]map[secret]float64{populations(b, bulletin.Survival28, nests), populations(b, bulletin.ClumpsPerAcre, clumps)} {
		published += len(cells)
		rows, owner, entities := vectors(cells)
		for i := range rows {
			found = cmp.Or(found, tellsTooMuch(left(owner, entities, rows[i])))
			for j, y := range rows[:i] {
				if j == i^1 {
					continue // a total less itself
				}
				found = cmp.Or(found, tellsTooMuch(left(owner, entities, rows[i], y)))
				for k, z := range rows[:j] {
					if k != j^1 && k != i^1 {
						found = cmp.Or(found, tellsTooMuch(left(owner, entities, rows[i], y, z)))
					}
				}
			}
		}
	}
	return published, found
}

// vectors writes populations as rows over their secrets, each followed by its negative, with the number of each secret's
// entity.
func vectors(cells []map[secret]float64) (rows [][]float64, owner []int, entities int) {
	column, entity := map[secret]int{}, map[string]int{}
	for _, c := range cells {
		for s := range c {
			if _, ok := column[s]; ok {
				continue
			}
			if _, ok := entity[s.entity]; !ok {
				entity[s.entity] = len(entity)
			}
			column[s] = len(owner)
			owner = append(owner, entity[s.entity])
		}
	}
	for _, c := range cells {
		plus, minus := make([]float64, len(owner)), make([]float64, len(owner))
		for s, x := range c {
			plus[column[s]], minus[column[s]] = x, -x
		}
		rows = append(rows, plus, minus)
	}
	return rows, owner, len(entity)
}

// left adds rows and returns how much of each entity is left in the sum.
func left(owner []int, entities int, rows ...[]float64) []float64 {
	of := make([]float64, entities)
	for i, e := range owner {
		x := 0.0
		for _, r := range rows {
			x += r[i]
		}
		of[e] += math.Abs(x)
	}
	return of
}

// tellsTooMuch holds what is left against the promise: five entities, and after the largest and two insiders half of it.
func tellsTooMuch(of []float64) string {
	var largest [3]float64
	n, total := 0, 0.0
	for _, x := range of {
		if x <= 0 {
			continue
		}
		n, total = n+1, total+x
		for i, l := range largest {
			if x > l {
				x, largest[i] = l, x
			}
		}
	}
	if n > 0 && (n < 5 || total-largest[0]-largest[1]-largest[2] < 0.5*largest[0]) {
		return fmt.Sprintf("a combination of published totals rests on %v", of)
	}
	return ""
}
