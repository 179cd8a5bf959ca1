package disclosure_test

import (
	"flag"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/disclosure"
)

var long = flag.Bool("long", false, "attack 1000 random cooperatives of up to 40 entities")

// An attacker reads everything published and pools it with what a coalition knows of itself. The tests first let it
// loose on published leaks, which it must find, and then on our partitions, where it must find nothing.
//
// Secrets that are in the same totals are of one class: nothing published tells them apart.
type attacker struct {
	classes [][]int          // for each class, 1 for every total it is in
	all     []int            // how many secrets each class has
	of      map[string][]int // and how many of them are one owner's
	ranks   map[string]int
}

// newAttacker reads one row a total, one column a secret: 1 where the secret is part of the total.
func newAttacker(totals [][]int, owners []string) *attacker {
	a := &attacker{of: map[string][]int{}, ranks: map[string]int{}}
	class := map[string]int{}
	at := make([]int, len(owners))
	for j := range owners {
		column := make([]int, len(totals))
		for i := range totals {
			column[i] = totals[i][j]
		}
		c, seen := class[fmt.Sprint(column)]
		if !seen {
			c = len(a.classes)
			class[fmt.Sprint(column)] = c
			a.classes, a.all = append(a.classes, column), append(a.all, 0)
		}
		at[j] = c
		a.all[c]++
	}
	for j, owner := range owners {
		if a.of[owner] == nil {
			a.of[owner] = make([]int, len(a.classes))
		}
		a.of[owner][at[j]]++
	}
	return a
}

// finds tells whether the totals and the coalition's own secrets fix, exactly, any sum of the target's secrets.
// Linear algebra: a combination of totals is free of everybody but target and coalition, and not of the target, if
// and only if leaving out the target's secrets lowers the rank of the rest.
func (a *attacker) finds(target string, coalition ...string) bool {
	return a.rankWithout(coalition...) > a.rankWithout(append(coalition, target)...)
}

func (a *attacker) rankWithout(who ...string) int {
	left := make([]byte, len(a.classes))
	for c := range a.classes {
		n := a.all[c]
		for i, w := range who {
			if !slices.Contains(who[:i], w) {
				n -= a.of[w][c]
			}
		}
		left[c] = byte(min(n, 1))
	}
	r, known := a.ranks[string(left)]
	if !known {
		var columns [][]int
		for c, present := range left {
			if present > 0 {
				columns = append(columns, a.classes[c])
			}
		}
		r = rank(columns)
		a.ranks[string(left)] = r
	}
	return r
}

// rank eliminates with exact fractions.
func rank(columns [][]int) int {
	var m [][]*big.Rat
	for _, c := range columns {
		row := make([]*big.Rat, len(c))
		for i, x := range c {
			row[i] = big.NewRat(int64(x), 1)
		}
		m = append(m, row)
	}
	r := 0
	for col := 0; len(m) > 0 && col < len(m[0]) && r < len(m); col++ {
		pivot := r
		for pivot < len(m) && m[pivot][col].Sign() == 0 {
			pivot++
		}
		if pivot == len(m) {
			continue
		}
		m[r], m[pivot] = m[pivot], m[r]
		for i := r + 1; i < len(m); i++ {
			f := new(big.Rat).Quo(m[i][col], m[r][col])
			for j := col; j < len(m[i]); j++ {
				m[i][j].Sub(m[i][j], new(big.Rat).Mul(f, m[r][j]))
			}
		}
		r++
	}
	return r
}

// TestAttackerFindsPublishedLeaks: leaks that others describe, each with the repair they prescribe where they give one.
func TestAttackerFindsPublishedLeaks(t *testing.T) {
	for _, tt := range []struct {
		name, source string
		totals       [][]int
		target       string
		coalition    []string
		want         bool
	}{
		{"R7 boundaries", "Handbook, chapter 5.2: 52 in one version of an area, 50 in the other", [][]int{{1, 1}, {1, 0}}, "b", nil, true},
		{"R8 recoding", "Handbook, chapter 5.2: 7 under 25 hours, 6 under 20", [][]int{{1, 1}, {1, 0}}, "b", nil, true},
		{"R14 part and total", "CMS: 25 in all, one part 18, the other hidden", [][]int{{1, 1}, {1, 0}}, "b", nil, true},
		{"R14 two parts hidden", "CMS: as prescribed", [][]int{{1, 1}}, "b", nil, false},
		{"R23 one county of a district hidden", "USDA NASS, notice of 6 December 2018", [][]int{{1, 1, 1}, {1, 0, 0}, {0, 1, 0}}, "c", nil, true},
		{"R23 two counties hidden", "USDA NASS: as prescribed", [][]int{{1, 1, 1}, {1, 0, 0}}, "c", nil, false},
		{"R5 corners of a table", "Handbook, chapter 4, example 3: no value is exact", [][]int{{1, 1, 0, 0}, {0, 0, 1, 1}, {1, 0, 1, 0}, {0, 1, 0, 1}}, "a", nil, false},
		{"two ranches, one subtracts itself", "by hand", [][]int{{1, 1}}, "b", []string{"a"}, true},
		{"three ranches, two pool", "by hand", [][]int{{1, 1, 1}}, "c", []string{"a", "b"}, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			owner := []string{"a", "b", "c", "d"}[:len(tt.totals[0])]
			if got := newAttacker(tt.totals, owner).finds(tt.target, tt.coalition...); got != tt.want {
				t.Errorf("%s: found %v, want %v", tt.source, got, tt.want)
			}
		})
	}
}

// TestHiddenCornersStayBounded is case R5, Handbook chapter 4, example 3: with four corners hidden in a table of rows
// 7, 3, 6 and columns 9, 7, the corner a is not exact but lies from 3 to 6. It is why we merge instead of hiding.
func TestHiddenCornersStayBounded(t *testing.T) {
	least, most := math.MaxInt, 0
	for a := 0; a <= 7; a++ {
		b, c := 7-a, 9-3-a
		if d := 3 - c; b >= 0 && c >= 0 && d >= 0 && b+d+3 == 7 {
			least, most = min(least, a), max(most, a)
		}
	}
	if least != 3 || most != 6 {
		t.Errorf("a lies from %d to %d, want 3 to 6", least, most)
	}
}

// TestExactMeansUndoNoise is case R9, Handbook chapter 5.7: counts 8, 12, 20 shifted by at most 2 to 9, 14, 19 beside
// their exact means. Only the true counts make whole totals of these means. We publish neither counts nor exact means.
func TestExactMeansUndoNoise(t *testing.T) {
	for _, tt := range []struct {
		shown int
		mean  string
		want  int
	}{{9, "11.25", 8}, {14, "7.9167", 12}, {19, "9.25", 20}} {
		decimals := len(tt.mean) - 1 - strings.Index(tt.mean, ".")
		mean, err := strconv.ParseFloat(tt.mean, 64)
		if err != nil {
			t.Fatal(err)
		}
		var fit []int
		for n := tt.shown - 2; n <= tt.shown+2; n++ {
			total := math.Round(mean * float64(n))
			if strconv.FormatFloat(total/float64(n), 'f', decimals, 64) == tt.mean {
				fit = append(fit, n)
			}
		}
		if len(fit) != 1 || fit[0] != tt.want {
			t.Errorf("shown %d with mean %s: fits %v, want %d alone", tt.shown, tt.mean, fit, tt.want)
		}
	}
}

// cooperative makes units of random entities: two dimensions, skewed amounts, some entities at several places, one
// amount or two.
func cooperative(r *rand.Rand, entities int) []disclosure.Unit {
	areas, substrates := 1+r.IntN(3), 1+r.IntN(3)
	sigma := r.Float64() // from all alike to a few very large
	var units []disclosure.Unit
	for e := range entities {
		size := math.Exp(3.8 + sigma*r.NormFloat64())
		home := r.IntN(areas)
		for s := range substrates {
			if r.Float64() < 0.1 {
				continue
			}
			at := home
			if r.Float64() < 0.1 {
				at = r.IntN(areas)
			}
			units = append(units, disclosure.Unit{
				Entity:  fmt.Sprintf("E%03d", e),
				At:      []string{fmt.Sprint("area ", at), fmt.Sprint("substrate ", s)},
				Amounts: []float64{math.Ceil(size * (0.5 + r.Float64())), math.Ceil(20 * size * (0.5 + r.Float64()))},
			})
		}
	}
	return units
}

// published lists the nodes that may be published with the units each is a total of, told from At alone.
func published(n *disclosure.Node, units []disclosure.Unit) (cells [][]int) {
	if n.Held == "" && len(n.At) > 0 {
		row := make([]int, len(units))
		for j, u := range units {
			if within(u.At, n.At) {
				row[j] = 1
			}
		}
		cells = append(cells, row)
	}
	for _, c := range n.Children {
		cells = append(cells, published(c, units)...)
	}
	return cells
}

func within(at, node []string) bool {
	for d := range node {
		if node[d] != "" && node[d] != at[d] {
			return false
		}
	}
	return true
}

// attack counts the disclosures of a partition: secrets found exactly by coalitions of up to two, and cells in which
// two insiders come within half of somebody's amount.
func attack(units []disclosure.Unit, cells [][]int) (exact, close int) {
	var owners, entities []string
	for _, u := range units {
		owners = append(owners, u.Entity)
		if len(entities) == 0 || entities[len(entities)-1] != u.Entity {
			entities = append(entities, u.Entity)
		}
	}
	a := newAttacker(cells, owners)
	for i, t := range entities {
		for j, b := range entities {
			for k := j; k < len(entities); k++ {
				if i != j && i != k && len(cells) > 0 && a.finds(t, b, entities[k]) {
					exact++
				}
			}
		}
	}
	for _, row := range cells {
		for amount := range 2 {
			holds := map[string]float64{}
			total := 0.0
			for j, u := range units {
				holds[u.Entity] += float64(row[j]) * u.Amounts[amount]
				total += float64(row[j]) * u.Amounts[amount]
			}
			close += withinHalf(entities, holds, total)
		}
	}
	return exact, close
}

func withinHalf(entities []string, holds map[string]float64, total float64) (found int) {
	for i, t := range entities {
		if holds[t] == 0 {
			continue
		}
		for j, b := range entities {
			for k, c := range entities[j+1:] {
				if i == j || i == j+1+k {
					continue
				}
				if total-holds[t]-holds[b]-holds[c] < 0.5*holds[t]-1e-9 {
					found++
				}
			}
		}
	}
	return found
}

// TestRandomCooperatives puts random cooperatives through the partition, with and without a last season to plan from,
// and lets every pair of insiders attack what is published.
func TestRandomCooperatives(t *testing.T) {
	runs, most := 200, 26
	if *long {
		runs, most = 1000, 40
	}
	r := rand.New(rand.NewPCG(2026, 1))
	cells := 0
	for run := range runs {
		n := 4 + r.IntN(most-3)
		units := cooperative(r, n)
		var plan []disclosure.Unit
		if run%2 == 1 {
			plan = cooperative(r, n)
		}
		shown := published(disclosure.Default().Split(units, plan, 0, 1), units)
		cells += len(shown)
		if exact, close := attack(units, shown); exact+close > 0 {
			t.Fatalf("run %d, %d entities, %d cells: %d exact disclosures, %d within half", run, n, len(shown), exact, close)
		}
	}
	if cells < 2*runs {
		t.Errorf("only %d cells in %d cooperatives: little was tested", cells, runs)
	}
	t.Logf("%d cooperatives, %d published cells, no disclosure", runs, cells)
}

// TestAttackNeedsThePolicy turns the gate off: the same attack then finds what the policy keeps, and so does hiding
// cells one by one instead of merging them.
func TestAttackNeedsThePolicy(t *testing.T) {
	everyPassing := func(p disclosure.Policy, units []disclosure.Unit) (cells [][]int) {
		seen := map[string]bool{}
		for _, u := range units {
			for _, at := range [][]string{{"", ""}, {u.At[0], ""}, {"", u.At[1]}, u.At} {
				var inside []disclosure.Unit
				row := make([]int, len(units))
				for j, v := range units {
					if within(v.At, at) {
						inside, row[j] = append(inside, v), 1
					}
				}
				if held, _ := p.CheckUnits(inside); held == "" && !seen[fmt.Sprint(at)] {
					seen[fmt.Sprint(at)] = true
					cells = append(cells, row)
				}
			}
		}
		return cells
	}
	for _, tt := range []struct {
		name  string
		cells func([]disclosure.Unit) [][]int
	}{
		{"no rule at all", func(u []disclosure.Unit) [][]int {
			return published(disclosure.Policy{}.Split(u, nil, 0, 1), u)
		}},
		{"no p% rule", func(u []disclosure.Unit) [][]int {
			p := disclosure.Default()
			p.Remainder = 0
			return published(p.Split(u, nil, 0, 1), u)
		}},
		{"cells hidden one by one", func(u []disclosure.Unit) [][]int { return everyPassing(disclosure.Default(), u) }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(2026, 2))
			for range 60 {
				units := cooperative(r, 6+r.IntN(10))
				if exact, close := attack(units, tt.cells(units)); exact+close > 0 {
					return
				}
			}
			t.Error("the attack found nothing in 60 cooperatives: it is too weak to prove anything")
		})
	}
}
