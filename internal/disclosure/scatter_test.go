package disclosure_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tussock/internal/disclosure"
)

// TestScatter works the design effect by hand: five keep 10, 10, 10, 10, 10 of 20, and 2, 18, 10, 10, 10. The second has
// Σ r² = 128 over N·q·(1−q) = 25, times 5/4: 6.4. So few are published with the floor, whatever they have.
func TestScatter(t *testing.T) {
	exact := disclosure.Default()
	exact.EffectRatio = 0
	for _, tt := range []struct {
		name string
		kept []float64
		own  float64
	}{
		{"alike", []float64{10, 10, 10, 10, 10}, 1},
		{"two differ", []float64{2, 18, 10, 10, 10}, 6.4},
		{"all differ", []float64{2, 6, 10, 14, 18}, 8},
	} {
		ps := parts(20, tt.kept...)
		if got := exact.Scatter(disclosure.Rates, ps); math.Abs(got-tt.own) > 1e-9 {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.own)
		}
		if got := disclosure.Default().Scatter(disclosure.Rates, ps); got != 2.25 {
			t.Errorf("%s, published: got %v, want 2.25", tt.name, got)
		}
	}
	// Of twelve the two who differ most are left out: alike but for them is alike.
	ten := []float64{10, 10, 10, 10, 10, 10, 10, 10, 10, 10}
	for _, kept := range [][]float64{append(slices.Clone(ten), 10, 10), append(slices.Clone(ten), 0, 20)} {
		if got := disclosure.Default().Scatter(disclosure.Rates, parts(20, kept...)); got != 2.25 {
			t.Errorf("%v: got %v, want the floor", kept, got)
		}
	}
	// Half keep 2 and half 18: Σ r² = 12·64 over 60, times 12/11: 14. Without two and scaled up it is not less.
	apart := []float64{2, 2, 2, 2, 2, 2, 18, 18, 18, 18, 18, 18}
	got := disclosure.Default().Scatter(disclosure.Rates, parts(20, apart...))
	if steps := math.Log(got/2.25) / math.Log(1.5); got < 14 || math.Abs(steps-math.Round(steps)) > 1e-9 {
		t.Errorf("two halves: got %v, want a step from 14 on", got)
	}
	// One with most of the nests needs more room than the floor gives: r = 0.15·400 = 60 of Σ r² ≤ D·155·(11/12)…
	big := parts(20, ten...)
	big = append(big, disclosure.Part{Entity: "big", Kept: 200, Of: 400}, disclosure.Part{Entity: "small", Kept: 10, Of: 20})
	if got := disclosure.Default().Scatter(disclosure.Rates, big); got < 60*60*12./11/155 {
		t.Errorf("one with 400 nests: got %v", got)
	}
}

// TestScatterOfScores: twelve parts of ±a in a figure whose variance by chance is 1 have Σ a²·12/11. Published, half of them
// at a = 1 are below the floor; one who alone could move the figure by more needs more room.
func TestScatterOfScores(t *testing.T) {
	exact := disclosure.Default()
	exact.EffectRatio = 0
	scores := func(a, of float64) (ps []disclosure.Part) {
		for i := range 12 {
			ps = append(ps, disclosure.Part{Entity: string(rune('a' + i)), Kept: a * float64(1-2*(i%2)), Of: of})
		}
		return ps
	}
	if got := exact.Scatter(disclosure.Scores, scores(1, 1)); math.Abs(got-144./11) > 1e-9 {
		t.Errorf("got %v, want 144/11", got)
	}
	if got := disclosure.Default().Scatter(disclosure.Scores, scores(0.1, 1)); got != 2.25 {
		t.Errorf("alike, published: got %v, want the floor", got)
	}
	if got := disclosure.Default().Scatter(disclosure.Scores, scores(0.1, 20)); got < 3*3*12./11 {
		t.Errorf("an entity free to move the figure by 3 standard errors: got %v", got)
	}
}

// TestTrimmedIsTheEffect: where owners' residuals are normal, what is made of all but the two largest squares is the
// design effect on average.
func TestTrimmedIsTheEffect(t *testing.T) {
	r := rand.New(rand.NewPCG(2026, 12))
	fine := disclosure.Default()
	fine.EffectFloor, fine.EffectRatio = 1e-6, 1.0001
	for _, n := range []int{10, 30, 100} {
		total, runs := 0.0, 400
		for range runs {
			var kept []float64
			for range n {
				kept = append(kept, 5000+300*r.NormFloat64()) // chance: 50; so the effect is 36
			}
			p := fine
			p.MinRange = 0 // no room asked for
			total += p.Scatter(disclosure.Rates, parts(10000, kept...)) / float64(runs)
		}
		if total < 36*0.8 || total > 36*1.1 { // less where few: the steps, rounded up, are half as much again
			t.Errorf("%d owners: %.1f on average, want 36", n, total)
		}
	}
}

// TestScatterTellsLittle: an attacker who knows the effect, the total and two owners' results guesses at the others: one
// of them has this, the rest make up for it in many ways. The guesses that give the same effect must leave the one 30
// points. Owners are ten to fourteen, alike but for the two.
func TestScatterTellsLittle(t *testing.T) {
	runs := 60
	if *long {
		runs = 1000
	}
	p := disclosure.Default()
	r := rand.New(rand.NewPCG(2026, 11))
	narrowest, tried := 1.0, 0
	for range runs {
		g, n := 10+r.IntN(5), float64(12+r.IntN(29))
		alike := math.Round(n * (0.2 + 0.6*r.Float64()))
		kept := []float64{math.Round(n * r.Float64()), math.Round(n * r.Float64())}
		for range g - 2 {
			kept = append(kept, max(0, min(n, alike+float64(r.IntN(3)-1))))
		}
		rate := 0.0
		for _, k := range kept {
			rate += k / n / float64(g)
		}
		if p.Audit(parts(n, kept...), rate, rate) != "" {
			continue // held, or an open band without an interval
		}
		want := p.Scatter(disclosure.Rates, parts(n, kept...))
		tried++
		least, most := n, 0.0
		for x := 0.0; x <= n; x++ { // of the third
			for range 40 {
				guess := slices.Clone(kept)
				due := x - guess[2] // to be taken from the others
				guess[2] = x
				for due != 0 {
					step := 1.0
					if due < 0 {
						step = -1
					}
					if i := 3 + r.IntN(g-3); guess[i]-step >= 0 && guess[i]-step <= n {
						guess[i] -= step
						due -= step
					}
				}
				if p.Scatter(disclosure.Rates, parts(n, guess...)) == want {
					least, most = min(least, x), max(most, x)
					break
				}
			}
		}
		narrowest = min(narrowest, (most-least)/n)
		if (most-least)/n < 0.30 {
			t.Errorf("%v of %v each, effect %v: the third keeps %v to %v", kept, n, want, least, most)
		}
	}
	t.Logf("%d cooperatives: %.1f points at the narrowest", tried, 100*narrowest)
	if tried < runs/2 {
		t.Errorf("only %d of %d were tried", tried, runs)
	}
}
