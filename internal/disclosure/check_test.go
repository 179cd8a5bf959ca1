package disclosure_test

import (
	"fmt"
	"testing"

	"tussock/internal/disclosure"
)

// amounts gives each number an entity of its own.
func amounts(xs ...float64) disclosure.Amounts {
	a := disclosure.Amounts{}
	for i, x := range xs {
		a[fmt.Sprintf("E%02d", i)] = x
	}
	return a
}

// each is n contributors of one apiece: persons, deaths or holdings in a frequency rule.
func each(n int) disclosure.Amounts {
	a := disclosure.Amounts{}
	for i := range n {
		a[fmt.Sprintf("E%03d", i)] = 1
	}
	return a
}

func frequency(n int) disclosure.Policy { return disclosure.Policy{MinEntities: n} }

func dominance(n int, k float64) disclosure.Policy {
	return disclosure.Policy{Dominance: []disclosure.Dominance{{Largest: n, Percent: k}}}
}

// percent is the p% rule in its usual form: one insider besides the target.
func percent(p float64) disclosure.Policy { return disclosure.Policy{Remainder: p, Coalition: 1} }

// TestT05PublishedCases, R1 to R24, runs the rules with the parameters of published examples and agency rules. "Handbook" is the
// Handbook on Statistical Disclosure Control (ESSnet), chapter 4; an entry that says "numbers ours" applies the
// named source's rule to amounts made for this test.
func TestT05PublishedCases(t *testing.T) {
	abs := disclosure.Policy{MinEntities: 10, Dominance: []disclosure.Dominance{{Largest: 1, Percent: 50}, {Largest: 2, Percent: 67}}}
	var ( // "rest" of the examples, as many small contributors
		one  = []float64{50_000, 49_000, 500, 500}
		two  = []float64{52_000, 50_000, 4_000, 4_000}
		utah = []float64{75, 8, 6, 6, 6}
	)
	for _, tt := range []struct {
		name, source string
		policy       disclosure.Policy
		amounts      disclosure.Amounts
		want         disclosure.Reason
	}{
		{"R1 two contributors", "Handbook, minimum frequency 3", frequency(3), each(2), disclosure.TooFew},
		{"R1 three contributors", "Handbook, minimum frequency 3", frequency(3), each(3), ""},
		{"R2 dominance", "Handbook, chapter 4, example 1", dominance(1, 90), amounts(one...), ""},
		{"R2 p%", "Handbook, chapter 4, example 1; the second insider is 2 % off", percent(10), amounts(one...), disclosure.Guessable},
		{"R3 p%", "Handbook, chapter 4, example 2: 15.4 % off", percent(10), amounts(two...), ""},
		{"R3 dominance", "Handbook, chapter 4, example 2", dominance(2, 90.9), amounts(two...), disclosure.Dominated},
		{"R4", "Handbook, chapter 4, example 4", dominance(1, 85), amounts(300, 20, 10), disclosure.Dominated},
		// Its protection level: the total would have to be 352.94 at least, so with 52.94 of others it is safe.
		{"R4 at the bound", "Handbook, chapter 4, example 4", dominance(1, 85), amounts(300, 30, 22.95), ""},
		{"R4 below the bound", "Handbook, chapter 4, example 4", dominance(1, 85), amounts(300, 30, 22.93), disclosure.Dominated},
		{"R6 p=20", "QCEW confidentiality page, state of Utah: 18/75 = 24 %", percent(20), amounts(utah...), ""},
		{"R6 p=25", "QCEW confidentiality page, state of Utah", percent(25), amounts(utah...), disclosure.Guessable},
		{"R10", "ABS DataLab (1,50); numbers ours", abs, amounts(51, 9, 8, 8, 7, 7, 4, 3, 2, 1), disclosure.Dominated},
		{"R11", "ABS DataLab (2,67); numbers ours", abs, amounts(40, 28, 5, 5, 5, 5, 4, 3, 3, 2), disclosure.Dominated},
		{"R12", "ABS DataLab; numbers ours", abs, amounts(30, 20, 10, 10, 8, 7, 6, 4, 3, 2), ""},
		// CMS shows a count of 0; Check never releases one, since that nobody has something is said of everybody.
		{"R13 none", "CMS cell size policy, ResDAC 2024; ours is stricter", frequency(11), each(0), disclosure.Nobody},
		{"R13 one", "CMS cell size policy, ResDAC 2024", frequency(11), each(1), disclosure.TooFew},
		{"R13 ten", "CMS cell size policy, ResDAC 2024", frequency(11), each(10), disclosure.TooFew},
		{"R13 eleven", "CMS cell size policy, ResDAC 2024", frequency(11), each(11), ""},
		{"R15 5 % of 140", "CMS: a percentage counts as the 7 it stands for; numbers ours", frequency(11), each(140 * 5 / 100), disclosure.TooFew},
		{"R16 nine", "CDC WONDER, terms of use", frequency(10), each(9), disclosure.TooFew},
		{"R16 ten", "CDC WONDER, terms of use", frequency(10), each(10), ""},
		{"R18 71 %", "USDA AMS 3/70/20; numbers ours", dominance(1, 70), amounts(71, 15, 14), disclosure.Dominated},
		{"R18 69 %", "USDA AMS 3/70/20; numbers ours", dominance(1, 70), amounts(69, 16, 15), ""},
		{"R19 inside", "DOJ/FTC Statement 6, 5/25; numbers ours", with(frequency(5), dominance(1, 25)), amounts(20, 20, 20, 20, 20), ""},
		{"R19 outside", "DOJ/FTC Statement 6, 5/25; numbers ours", with(frequency(5), dominance(1, 25)), amounts(26, 20, 19, 18, 17), disclosure.Dominated},
		{"R20 39 people", "Statistics Canada, area suppression 2011", frequency(40), each(39), disclosure.TooFew},
		{"R20 40 people", "Statistics Canada, area suppression 2011", frequency(40), each(40), ""},
		{"R20 postal area of 99", "Statistics Canada, area suppression 2011", frequency(100), each(99), disclosure.TooFew},
		{"R20 income of 249", "Statistics Canada, area suppression 2011", frequency(250), each(249), disclosure.TooFew},
		{"R24 four holdings", "Eurostat farm statistics, confidentiality page", frequency(5), each(4), disclosure.TooFew},
		{"R24 five holdings", "Eurostat farm statistics, confidentiality page", frequency(5), each(5), ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.policy.Check(tt.amounts); got != tt.want {
				t.Errorf("%s: got %q, want %q", tt.source, got, tt.want)
			}
		})
	}
}

func with(a, b disclosure.Policy) disclosure.Policy {
	a.Dominance = b.Dominance
	return a
}

// TestPublishedRate is case R17: a rate of 0.30 with limits 0.12 and 0.62 is 167 % wide, over the 160 % of the NCHS
// standards for rates (rule of the source, numbers ours).
func TestPublishedRate(t *testing.T) {
	p := disclosure.Default()
	if got, want := p.Reliable(100, 70, 0.30, 0.12, 0.62), disclosure.TooVague; got != want {
		t.Errorf("R17: got %q, want %q", got, want)
	}
	if got := p.Reliable(100, 70, 0.30, 0.12, 0.60); got != "" {
		t.Errorf("160 %% is allowed: got %q", got)
	}
	if got, want := p.Reliable(29, 12, 0.6, 0.4, 0.8), disclosure.TooSmall; got != want {
		t.Errorf("29 nests: got %q, want %q", got, want)
	}
	if got, want := p.Reliable(90, 9, 0.9, 0.8, 0.95), disclosure.TooSmall; got != want {
		t.Errorf("9 losses: got %q, want %q", got, want)
	}
}

// ours are cells under the product's own policy, worked by hand; the amounts are nests.
var ours = []struct {
	name    string
	amounts disclosure.Amounts
	want    disclosure.Reason
}{
	{"Q1 four alike", amounts(40, 40, 40, 40), disclosure.TooFew},
	{"Q2 five alike", amounts(40, 40, 40, 40, 40), ""},
	{"Q3 62.5 %", amounts(200, 40, 30, 30, 20), disclosure.Dominated},
	{"Q4 rest 80 beside 100", amounts(100, 80, 60, 40, 40), ""},
	{"Q5 two hold 68.75 %", amounts(120, 100, 40, 30, 30), disclosure.Dominated},
	{"Q6 and rest 60 beside 121", amounts(121, 100, 40, 30, 30), disclosure.Dominated},
	{"Q7 two hold 77.6 %", amounts(200, 180, 25, 25, 20, 20, 20), disclosure.Dominated},
	{"Q8", amounts(90, 70, 60, 50, 30, 20), ""},
	{"only (1,50) binds", amounts(51, 9, 8, 8, 7, 7, 4, 3, 2, 1), disclosure.Dominated},
	{"only (2,67) binds", amounts(40, 28, 5, 5, 5, 5, 4, 3, 3, 2), disclosure.Dominated},
	{"only the p% rule binds", amounts(34, 33, 25, 4, 4), disclosure.Guessable},
}

// TestT05OurCases is Q1 to Q10: amounts that our own policy releases or holds, and by which rule.
func TestT05OurCases(t *testing.T) {
	for _, tt := range ours {
		if got := disclosure.Default().Check(tt.amounts); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, got, tt.want)
		}
	}
}

// TestOurCasesByRule holds the p% part of Q5 and Q6 apart from the dominance rule that fails them first: at a rest of
// 60 beside 120 it is exactly met, beside 121 it is not.
func TestOurCasesByRule(t *testing.T) {
	p := disclosure.Default()
	p.Dominance = nil
	if got := p.Check(amounts(120, 100, 40, 30, 30)); got != "" {
		t.Errorf("Q5: got %q, want released by the p%% rule", got)
	}
	if got, want := p.Check(amounts(121, 100, 40, 30, 30)), disclosure.Guessable; got != want {
		t.Errorf("Q6: got %q, want %q", got, want)
	}
}

// TestEachRuleMatters turns each rule off in turn: some cell that must be held is then released.
func TestEachRuleMatters(t *testing.T) {
	for name, off := range map[string]func(*disclosure.Policy){
		"minimum frequency": func(p *disclosure.Policy) { p.MinEntities = 0 },
		"(1,50)":            func(p *disclosure.Policy) { p.Dominance = p.Dominance[1:] },
		"(2,67)":            func(p *disclosure.Policy) { p.Dominance = p.Dominance[:1] },
		"p%":                func(p *disclosure.Policy) { p.Remainder = 0 },
		"second insider":    func(p *disclosure.Policy) { p.Coalition = 1 },
	} {
		p := disclosure.Default()
		off(&p)
		released := 0
		for _, tt := range ours {
			if tt.want != "" && p.Check(tt.amounts) == "" {
				released++
			}
		}
		if released == 0 {
			t.Errorf("without %s every cell is still held: no case tests it", name)
		}
	}
}

// TestT04Holdings is case Q9 with its counterpart: six ranches of five owners are judged as five, on merged amounts.
func TestT04Holdings(t *testing.T) {
	ranches := func(owners string, nests ...float64) []disclosure.Unit {
		var units []disclosure.Unit
		for i, n := range nests {
			units = append(units, disclosure.Unit{Entity: owners[i : i+1], Amounts: []float64{n}})
		}
		return units
	}
	p := disclosure.Default()
	for _, tt := range []struct {
		name  string
		units []disclosure.Unit
		want  disclosure.Reason
		n     int
	}{
		{"five owners", ranches("AABCDE", 30, 30, 60, 50, 40, 40), "", 5},
		{"four owners of five ranches", ranches("AABCD", 40, 40, 40, 40, 40), disclosure.TooFew, 4},
		{"p% on merged amounts, 80 beside 170", ranches("AABCDE", 90, 80, 60, 40, 40, 40), disclosure.Guessable, 5},
		{"the same ranches of six owners", ranches("FABCDE", 90, 80, 60, 40, 40, 40), "", 6},
		{"dominating once merged", ranches("AABCDE", 100, 120, 60, 40, 40, 40), disclosure.Dominated, 5},
	} {
		got, n := p.CheckUnits(tt.units)
		if got != tt.want || n != tt.n {
			t.Errorf("%s: got %q of %d, want %q of %d", tt.name, got, n, tt.want, tt.n)
		}
	}
}

// TestKnown: an entity whose own figures are public protects nobody, so five with one of them are four.
func TestKnown(t *testing.T) {
	var units []disclosure.Unit
	for i := range 5 {
		units = append(units, disclosure.Unit{Entity: fmt.Sprint(i), Known: i == 0, Amounts: []float64{40}})
	}
	if got, n := disclosure.Default().CheckUnits(units); got != disclosure.TooFew || n != 4 {
		t.Errorf("got %q of %d, want %q of 4", got, n, disclosure.TooFew)
	}
}

func ExamplePolicy_Check() {
	p := disclosure.Default()
	fmt.Printf("%q\n", p.Check(disclosure.Amounts{"A": 40, "B": 40, "C": 40, "D": 40, "E": 40}))
	fmt.Printf("%q\n", p.Check(disclosure.Amounts{"A": 40, "B": 40, "C": 40, "D": 40}))
	// Output:
	// ""
	// "too few landowners"
}
