package disclosure_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"tussock/internal/disclosure"
)

// totals makes totals from words: each letter is an entity with one secret, the same wherever it stands.
func totals(words ...string) (ts []disclosure.Total) {
	for _, w := range words {
		t := disclosure.Total{Name: w}
		for _, e := range w {
			t.Terms = append(t.Terms, disclosure.Term{Entity: string(e)})
		}
		ts = append(ts, t)
	}
	return ts
}

// TestT06SpanAttack: what two insiders can and cannot work out from totals, by hand.
func TestT06SpanAttack(t *testing.T) {
	for _, tt := range []struct {
		name   string
		totals []disclosure.Total
		known  []string
		want   string // whom it exposes
	}{
		{"five together", totals("ABCDE"), nil, ""},
		{"three together: two pool", totals("ABC"), nil, "A"},
		{"four together leave two unknown", totals("ABCD"), nil, ""},
		{"four, one of them known to all", totals("ABCD"), []string{"D"}, "A"},
		{"five, then one more", totals("ABCDE", "ABCDEF"), nil, "F"},
		{"five, then five more", totals("ABCDE", "ABCDEFGHIJ"), nil, ""},
		{"one left and one came: neither alone", totals("ABCDEF", "ABCDEG"), nil, "F"}, // by G's own
		{"a part and the whole", totals("ABCDEFGH", "ABCDE"), nil, "F"},
		{"two crossing cuts", totals("ABCDEFGHI", "DEFGHIJKL", "ABCJKL", "ABCDEFGHIJKL"), nil, "A"},
		{"nothing", nil, nil, ""},
	} {
		known := map[string]bool{}
		for _, e := range tt.known {
			known[e] = true
		}
		got := ""
		if e := disclosure.Default().Span(tt.totals, known); e != nil {
			got = e.Entity
		}
		if got != tt.want {
			t.Errorf("%s: exposes %q, want %q", tt.name, got, tt.want)
		}
	}
	p := disclosure.Default()
	p.SpanAudit = false
	if e := p.Span(totals("ABC"), nil); e != nil {
		t.Errorf("turned off: got %v", e)
	}
}

// TestSpanIsTheAttacker holds the span audit against the attacker of these tests, who tries every target and every pair
// over every column, on cells that were hidden one by one: both must find a leak in the same cooperatives.
func TestSpanIsTheAttacker(t *testing.T) {
	r := rand.New(rand.NewPCG(2026, 6))
	found := 0
	for run := range 60 {
		units := cooperative(r, 5+r.IntN(8))
		var cells [][]int
		var ts []disclosure.Total
		for range 2 + r.IntN(5) {
			row, total := make([]int, len(units)), disclosure.Total{Name: fmt.Sprint(len(ts))}
			at := units[r.IntN(len(units))].At
			dims := r.IntN(4)
			for j, u := range units {
				if (dims&1 == 0 || u.At[0] == at[0]) && (dims&2 == 0 || u.At[1] == at[1]) && (run%3 > 0 || r.IntN(6) > 0) {
					row[j] = 1
					total.Terms = append(total.Terms, disclosure.Term{Entity: u.Entity, Column: fmt.Sprint(u.At)})
				}
			}
			cells, ts = append(cells, row), append(ts, total)
		}
		exact, _ := attack(units, cells)
		for i := range units { // and by nobody but one insider, or none
			for j := range units {
				var owners []string
				for _, u := range units {
					owners = append(owners, u.Entity)
				}
				a := newAttacker(cells, owners)
				if a.finds(units[i].Entity) || i != j && units[i].Entity != units[j].Entity && a.finds(units[i].Entity, units[j].Entity) {
					exact++
				}
			}
		}
		e := disclosure.Default().Span(ts, nil)
		if (e != nil) != (exact > 0) {
			t.Fatalf("run %d: the audit says %v, the attacker finds %d", run, e, exact)
		}
		if exact > 0 {
			found++
		}
	}
	if found < 10 || found > 55 {
		t.Errorf("%d of 60 leak: the comparison tests little", found)
	}
}

// TestT20Quantiles: a median from ten, quartiles from twenty, each the mean of neighbours; and never an end.
func TestT20Quantiles(t *testing.T) {
	upTo := func(n int) (xs []float64) {
		for i := range n {
			xs = append(xs, float64(i+1))
		}
		slices.Reverse(xs)
		return xs
	}
	p := disclosure.Default()
	for _, tt := range []struct {
		n    int
		q    float64
		want float64 // 0: not given
	}{
		{9, 0.5, 0}, {10, 0.5, 5.5}, {11, 0.5, 6}, {19, 0.25, 0}, {19, 0.75, 0}, {20, 0.25, 5}, {20, 0.75, 16}, {49, 0.1, 0}, {50, 0.1, 5},
		{300, 0, 0}, {300, 1, 0}, {0, 0.5, 0},
	} {
		got, ok := p.Quantile(tt.q, upTo(tt.n))
		if ok != (tt.want > 0) || got != tt.want {
			t.Errorf("quantile %v of 1 to %d: got %v, %v, want %v", tt.q, tt.n, got, ok, tt.want)
		}
	}
	// Nobody's value is the quantile: it moves less than a third of what one of its neighbours moves.
	xs := upTo(20)
	before, _ := p.Quantile(0.25, xs)
	xs[15] -= 0.9 // the fifth from below
	if after, _ := p.Quantile(0.25, xs); before-after > 0.31 || before-after < 0.29 {
		t.Errorf("one value moved by 0.9 moves the quartile from %v to %v, want by 0.3", before, after)
	}
}

// TestT19AuditTogether: six do nearly alike at 38 of 40 beside five who do not. The open band of the first is no band
// any more where the whole and the others are shown to a point: T = whole − others. It is where they are coarse.
func TestT19AuditTogether(t *testing.T) {
	p := disclosure.Default()
	alike, apart := parts(40, 38, 38, 38, 38, 38, 38), parts(40, 24, 20, 28, 24, 20)
	atoms := func(half float64) []disclosure.Rated {
		return []disclosure.Rated{{Parts: alike, Low: 0.85, High: 1}, {Parts: apart, Low: 0.58 - half, High: 0.58 + half}}
	}
	whole := (228.0 + 116) / 440
	if got := p.AuditTogether(atoms(0.001), whole-0.001, whole+0.001); got[0] != disclosure.TooAlike || got[1] != "" {
		t.Errorf("beside exact figures: got %q", got)
	}
	if got := p.AuditTogether(atoms(0.05), whole-0.05, whole+0.05); got[0] != "" || got[1] != "" {
		t.Errorf("beside coarse figures: got %q", got)
	}
}
