package mixed_test

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"tussock/internal/stat/mixed"
)

// cooperative invents nests with known truth: substrates, seasons, ranches and transects differ, the late period is
// safer, and visits fall on day 14 and 28 exactly, so that glmer can fit the same intervals.
func cooperative(seed uint64, ranches, seasons, transects, nests int) []mixed.Interval {
	rng := rand.New(rand.NewPCG(seed, 2))
	substrates := []string{"bunchgrass", "prickly pear", "shrub", "yucca"}
	var list []mixed.Interval
	for r := range ranches {
		u := 0.4 * rng.NormFloat64()
		site := []string{"clay", "sand"}[r%2]
		for s := range seasons {
			for g := range transects {
				v := 0.5 * rng.NormFloat64()
				for i := range nests {
					h := math.Exp(-3.4 - 0.2*float64(i%4) + 0.1*float64(s%3) + 0.2*float64(r%2) + u + v)
					from := 0.0
					for _, to := range []float64{14, 28} {
						lost := rng.ExpFloat64() < h*14
						list = append(list, mixed.Interval{Ranch: "R" + strconv.Itoa(r), Transect: strconv.Itoa(s) + "-" + strconv.Itoa(g),
							Substrate: substrates[i%4], SiteType: site, Season: 2020 + s, From: from, To: to, Intact: !lost})
						if lost {
							break
						}
						from, h = to, h*0.7
					}
				}
			}
		}
	}
	return list
}

func BenchmarkPool(b *testing.B) {
	for _, size := range [][4]int{{12, 5, 6, 10}, {75, 10, 12, 10}, {300, 10, 12, 10}} {
		list := cooperative(1, size[0], size[1], size[2], size[3])
		b.Run(fmt.Sprintf("nests=%d", size[0]*size[1]*size[2]*size[3]), func(b *testing.B) {
			for b.Loop() {
				mixed.Pool(list, mixed.Options{})
			}
		})
	}
}

// reference is what lme4 made of the same intervals.
type reference struct {
	seconds, loglik, ranchSD, transectSD float64
	effects                              [][2]float64 // estimate and standard error, in the order of Result.Fixed
}

// apart is the largest difference of a fixed effect in standard errors.
func (f reference) apart(r *mixed.Result) float64 {
	var apart float64
	for j, e := range f.effects {
		apart = max(apart, math.Abs(r.Fixed[j].Estimate-e[0])/e[1])
	}
	return apart
}

// glmer fits the intervals with testdata/paired.R and returns the numbers it prints, or skips where R or lme4 is missing.
func glmer(b *testing.B, list []mixed.Interval, tolerance string) reference {
	b.Helper()
	if err := exec.Command("Rscript", "-e", "library(lme4)").Run(); err != nil {
		b.Skip("R with lme4 is not here; on Debian: apt-get install r-cran-lme4")
	}
	name := filepath.Join(b.TempDir(), "nests.csv")
	var text strings.Builder
	text.WriteString("ranch,transect,substrate,season,site_type,late,days,lost\n")
	for _, v := range list {
		late, lost := 0, 0
		if v.From >= mixed.Cut {
			late = 1
		}
		if !v.Intact {
			lost = 1
		}
		fmt.Fprintf(&text, "%s,%s,%s,%d,%s,%d,%g,%d\n", v.Ranch, v.Transect, v.Substrate, v.Season, v.SiteType, late, v.To-v.From, lost)
	}
	if err := os.WriteFile(name, []byte(text.String()), 0o600); err != nil {
		b.Fatal(err)
	}
	out, err := exec.Command("Rscript", "testdata/paired.R", name, tolerance).Output()
	if err != nil {
		b.Fatalf("Rscript: %v", err)
	}
	var numbers []float64
	var effects [][2]float64
	lines := bufio.NewScanner(strings.NewReader(string(out)))
	for lines.Scan() {
		fields := strings.Fields(lines.Text())
		if len(fields) == 1 {
			v, _ := strconv.ParseFloat(fields[0], 64)
			numbers = append(numbers, v)
			continue
		}
		estimate, _ := strconv.ParseFloat(fields[1], 64)
		se, _ := strconv.ParseFloat(fields[2], 64)
		effects = append(effects, [2]float64{estimate, se})
	}
	return reference{numbers[0], numbers[1], numbers[2], numbers[3], effects}
}

// BenchmarkBesideLme4 fits the same nests here and with lme4 in one run: 12 ranches × 5 seasons × 6 transects × 10
// nests. It reports how many times faster than lme4 at its default tolerance, and the largest difference of a fixed
// effect, in standard errors, from that fit and from one at a far closer tolerance. lme4's default stops when its
// inner search still moves the likelihood by 1e-7 of itself, which leaves its answer a few hundredths of a standard
// error off; the closer fit is the judge.
//
//	go test -run '^$' -bench BesideLme4 ./internal/stat/mixed
func BenchmarkBesideLme4(b *testing.B) {
	list := cooperative(1, 12, 5, 6, 10)
	byDefault := glmer(b, list, "1e-7")
	closer := glmer(b, list, "1e-13")
	var r *mixed.Result
	started, fits := time.Now(), 0
	for b.Loop() {
		r = mixed.Pool(list, mixed.Options{})
		fits++
	}
	ours := time.Since(started).Seconds() / float64(fits)
	b.ReportMetric(byDefault.seconds/ours, "times-faster")
	b.ReportMetric(byDefault.apart(r), "SE-from-default")
	b.ReportMetric(closer.apart(r), "SE-apart")
	b.ReportMetric(math.Abs(r.LogLik-closer.loglik), "loglik-apart")
	b.ReportMetric(max(math.Abs(r.RanchSD-closer.ranchSD), math.Abs(r.TransectSD-closer.transectSD)), "sd-apart")
	if closer.apart(r) > 0.01 || math.Abs(r.LogLik-closer.loglik) > 0.01 {
		b.Errorf("fixed effects %g standard errors and log likelihood %g from lme4's", closer.apart(r), r.LogLik-closer.loglik)
	}
}
