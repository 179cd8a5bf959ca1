package differ_test

import (
	"fmt"
	"math"
	"testing"

	"tussock/internal/stat/differ"
	"tussock/internal/stat/interval"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6f, want %.6f ± %g", what, got, want, tolerance)
	}
}

func proportion(x, n int) interval.Spread {
	low, high := interval.Wilson(x, n, 0.95)
	return interval.Published(float64(x)/float64(n), low, high)
}

// Newcombe 1998 (Statistics in Medicine 17:873–890), table II, method 10, contrasts (a) to (c); the digits are from memory
// of the table and agree with the formula on the limits of R 4.2.2 prop.test(x, n, correct = FALSE).
func TestNewcombe(t *testing.T) {
	for _, tt := range []struct {
		x1, n1, x2, n2 int
		low, high      float64
		want           differ.Verdict
	}{
		{56, 70, 48, 80, 0.0524, 0.3339, differ.Differs},
		{9, 10, 3, 10, 0.1705, 0.8090, differ.Differs},
		{6, 7, 2, 7, 0.0582, 0.8062, differ.Differs},
	} {
		o := differ.Compare(differ.Question{Of: proportion(tt.x1, tt.n1), With: proportion(tt.x2, tt.n2), Margin: differ.Survival})
		near(t, "low", o.Low, tt.low, 5e-5)
		near(t, "high", o.High, tt.high, 5e-5)
		if o.Verdict != tt.want || !o.Higher() || o.Lower() {
			t.Errorf("%+v: got %v", tt, o.Verdict)
		}
	}
}

// R's help on t.test with the sleep data: a difference of −1.58 (−3.3654832 to 0.2054832), Welch's 17.776 degrees of freedom.
// Means 0.75 and 2.33, standard deviations 1.789010 and 2.002249, ten each. Here the figures are the exponentials.
func TestWelch(t *testing.T) {
	a, b := math.Exp(0.75), math.Exp(2.33)
	o := differ.Compare(differ.Question{
		Of:     interval.Log(a, a*1.789010/math.Sqrt(10), 9),
		With:   interval.Log(b, b*2.002249/math.Sqrt(10), 9),
		Margin: differ.Density,
	})
	near(t, "estimate", math.Log1p(o.Estimate), -1.58, 1e-9)
	near(t, "low", math.Log1p(o.Low), -3.3654832, 1e-4) // gonum's t at 17.776 degrees of freedom has no whole number to round to
	near(t, "high", math.Log1p(o.High), 0.2054832, 1e-4)
	if o.Verdict != differ.CannotTell {
		t.Errorf("got %v", o.Verdict)
	}
}

// The verdict follows from the interval, the level from the number of comparisons, and the errors that two figures share
// make their difference surer.
func TestVerdicts(t *testing.T) {
	s := func(x, se float64) interval.Spread { return interval.LogLog(x, se, 0) }
	for _, tt := range []struct {
		name string
		q    differ.Question
		want differ.Verdict
	}{
		{"differs", differ.Question{Of: s(0.3, 0.03), With: s(0.5, 0.03)}, differ.Differs},
		{"too many at once", differ.Question{Of: s(0.4, 0.03), With: s(0.5, 0.03), Many: 10}, differ.CannotTell},
		{"one at once", differ.Question{Of: s(0.4, 0.03), With: s(0.5, 0.03)}, differ.Differs},
		{"alike", differ.Question{Of: s(0.45, 0.02), With: s(0.46, 0.02)}, differ.Alike},
		{"alike though apart", differ.Question{Of: s(0.45, 0.004), With: s(0.47, 0.004)}, differ.Alike},
		{"wide", differ.Question{Of: s(0.45, 0.1), With: s(0.45, 0.1)}, differ.CannotTell},
		{"not correlated", differ.Question{Of: s(0.4, 0.1), With: s(0.5, 0.1)}, differ.CannotTell},
		{"correlated", differ.Question{Of: s(0.4, 0.1), With: s(0.5, 0.1), Correlation: 0.95}, differ.Differs},
		{"unknown", differ.Question{Of: s(0.4, 0.1)}, differ.CannotTell},
		{"all lasted and none", differ.Question{Of: interval.AllLasted(20), With: interval.NoneLasted(20)}, differ.Differs},
		{"two all lasted", differ.Question{Of: interval.AllLasted(60), With: interval.AllLasted(60)}, differ.Alike},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tt.q.Margin = differ.Survival
			o := differ.Compare(tt.q)
			if o.Verdict != tt.want {
				t.Errorf("got %v, want %v: %+v", o.Verdict, tt.want, o)
			}
			back := tt.q
			back.Of, back.With = tt.q.With, tt.q.Of
			if b := differ.Compare(back); b.Verdict != o.Verdict || b.Lower() != o.Higher() {
				t.Errorf("turned about: %+v and %+v", o, b)
			}
		})
	}
	none := differ.Compare(differ.Question{Of: interval.Counted(0, 0.5), With: interval.Log(300, 30, 5), Margin: differ.Density})
	if !none.Lower() || none.Estimate != -1 || none.Low != -1 || math.IsNaN(none.High) {
		t.Errorf("no clump found: %+v", none)
	}
}

// With Times as many nests on both sides (a variance so many times smaller) a difference of the margin is shown four times in
// five: the normal power formula, checked by drawing.
func TestTimes(t *testing.T) {
	a, b := interval.LogLog(0.45, 0.08, 0), interval.LogLog(0.55, 0.08, 0)
	o := differ.Compare(differ.Question{Of: a, With: b, Margin: differ.Survival})
	se := math.Sqrt2 * 0.08 / math.Sqrt(o.Times)
	power := 1 - interval.CDF(interval.Quantile(0.975, 0)-0.10/se, 0)
	near(t, "power", power, 0.8, 0.03)
	if o := differ.Compare(differ.Question{Of: a, With: interval.Published(0.5, 0.3, 0.7), Margin: differ.Survival, Fixed: true}); o.Times != 0 {
		t.Errorf("no number of lines of one's own helps against a range of 40 points, got %v times", o.Times)
	}
}

// A claim about all of several holds where each holds by itself; claims about some of them must stand the stricter level.
func TestTogether(t *testing.T) {
	q := func(x float64) differ.Question {
		return differ.Question{Of: interval.Log(x, 0.1*x, 0), With: interval.Exactly(300), Margin: differ.Density}
	}
	for _, tt := range []struct {
		of   []float64
		want string
	}{
		{[]float64{240, 240}, "<<"}, {[]float64{240, 300}, "??"}, {[]float64{200, 300}, "<?"},
		{[]float64{240, 375}, "??"}, {[]float64{375, 375, 375}, ">>>"}, {nil, ""},
	} {
		var list []differ.Question
		for _, x := range tt.of {
			list = append(list, q(x))
		}
		got := ""
		for _, o := range differ.Together(list) {
			switch {
			case o.Lower():
				got += "<"
			case o.Higher():
				got += ">"
			default:
				got += "?"
			}
		}
		if got != tt.want {
			t.Errorf("%v: got %q, want %q", tt.of, got, tt.want)
		}
	}
}

func ExampleCompare() {
	o := differ.Compare(differ.Question{
		Of:     interval.LogLog(0.30, 0.04, 0),
		With:   interval.LogLog(0.50, 0.04, 0),
		Margin: differ.Survival,
	})
	fmt.Printf("%v, lower by %.0f to %.0f of 100\n", o.Verdict, -100*o.High, -100*o.Low)
	// Output: differs, lower by 9 to 31 of 100
}
