package shrink_test

import (
	"math"
	"testing"

	"tussock/internal/stat/shrink"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g (within %g)", what, got, want, tolerance)
	}
}

// The eight schools of Rubin 1981 (J. Educ. Stat. 6:377-401), the example of Gelman and others, Bayesian Data Analysis,
// 5.5: effects, standard errors, and their means given τ and the μ that goes with it, computed with R 4.2.2:
//
//	y <- c(28,8,-3,7,-1,1,18,12); s <- c(15,10,16,11,9,11,10,18); w <- 1/(s^2+tau^2)
//	mu <- sum(w*y)/sum(w); (y/s^2 + mu/tau^2)/(1/s^2 + 1/tau^2)
func TestEightSchools(t *testing.T) {
	y := []float64{28, 8, -3, 7, -1, 1, 18, 12}
	s := []float64{15, 10, 16, 11, 9, 11, 10, 18}
	for _, tt := range []struct {
		others shrink.Others
		want   []float64
	}{
		{shrink.Others{Mean: 7.850983234, SD: 5}, []float64{9.865884911, 7.880786587, 6.885593266, 7.705266927, 5.763487188, 6.677869666, 9.880786587, 8.148190739}},
		{shrink.Others{Mean: 8.126472186, SD: 10}, []float64{14.24140382, 8.063236093, 5.00105865, 7.616756264, 3.084222359, 4.901824138, 13.06323609, 9.040040066}},
	} {
		for i, want := range tt.want {
			got, se := shrink.Towards(y[i], s[i], tt.others)
			near(t, "effect", got, want, 1e-8)
			near(t, "variance", 1/(se*se), 1/(s[i]*s[i])+1/(tt.others.SD*tt.others.SD), 1e-12)
		}
	}
}

func TestTowardsAtTheEnds(t *testing.T) {
	others := shrink.Others{Mean: 1, SD: 0.5}
	if got, se := shrink.Towards(3, 0, others); got != 3 || se != 0 {
		t.Errorf("without error: %v and %v, want its own 3", got, se)
	}
	if got, _ := shrink.Towards(3, 1e9, others); math.Abs(got-1) > 1e-9 {
		t.Errorf("knowing nothing: %v, want the others' 1", got)
	}
	if got, se := shrink.Towards(3, 1, shrink.Others{Mean: 1}); got != 1 || se != 0 {
		t.Errorf("others all alike: %v and %v, want 1 and 0", got, se)
	}
	defer func() {
		if recover() == nil {
			t.Error("no spread at all: no panic")
		}
	}()
	shrink.Towards(3, 0, shrink.Others{Mean: 1})
}

func TestScale(t *testing.T) {
	for _, s := range []float64{0.01, 0.3, 0.5, 0.99} {
		near(t, "there and back", shrink.FromLogLog(shrink.LogLog(s)), s, 1e-12)
	}
}
