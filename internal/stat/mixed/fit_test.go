package mixed_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"tussock/internal/stat/mixed"
)

// read returns the rows of a CSV file under testdata as maps from heading to number; what is no number becomes its
// place among the words of its column.
func read(t testing.TB, name string) []map[string]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cells, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	words := map[string]float64{"grass": 0, "pear": 1}
	var rows []map[string]float64
	for _, line := range cells[1:] {
		row := make(map[string]float64)
		for i, cell := range line {
			v, err := strconv.ParseFloat(cell, 64)
			if w, ok := words[cell]; ok {
				v, err = w, nil
			}
			if err != nil {
				t.Fatal(err)
			}
			row[cells[0][i]] = v
		}
		rows = append(rows, row)
	}
	return rows
}

// cbpp is the herd data as a model: herds as ranches, periods as dummies.
func cbpp(t testing.TB, link mixed.Link) *mixed.Model {
	m := &mixed.Model{Link: link, Ranches: 15,
		Rows: [][]float64{{1, 0, 0, 0}, {1, 1, 0, 0}, {1, 0, 1, 0}, {1, 0, 0, 1}}}
	for h := range 15 {
		m.Of = append(m.Of, h)
	}
	for _, r := range read(t, "cbpp.csv") {
		m.Counts = append(m.Counts, mixed.Count{Transect: int(r["herd"]) - 1, Row: int(r["period"]) - 1, Early: 1,
			N: int(r["size"]), Lost: int(r["incidence"])})
	}
	return m
}

// binomial is the sum of the logarithms of the binomial coefficients, which glmer counts in for grouped data and this
// package leaves out.
func binomial(m *mixed.Model) float64 {
	var sum float64
	for _, c := range m.Counts {
		a, _ := math.Lgamma(float64(c.N + 1))
		b, _ := math.Lgamma(float64(c.Lost + 1))
		d, _ := math.Lgamma(float64(c.N - c.Lost + 1))
		sum += a - b - d
	}
	return sum
}

func close(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.8g, want %.8g (within %g)", what, got, want, tolerance)
	}
}

// testdata/glmer.R: lme4 1.1-31 (R 4.2.2), nAGQ = 1. At its default tolerance (tolPwrss 1e-7) lme4 stops a little
// short of the maximum, and its standard errors feel that: the logit fit then reads −1.3983, −0.9919, −1.1282,
// −1.5797 and 0.6421, as in lme4's documentation. The far figures are those, the near ones from tolPwrss 1e-13.
func TestHerds(t *testing.T) {
	tests := []struct {
		name           string
		link           mixed.Link
		coef, se, far  []float64
		sd, loglik     float64
		farSD, farLogL float64
	}{
		{"Logit", mixed.Logit,
			[]float64{-1.3985321438, -0.9923326827, -1.1286720380, -1.5803139023},
			[]float64{0.2324718471, 0.3066421635, 0.3266375889, 0.4274359462},
			[]float64{-1.398331614, -0.9919237827, -1.128214248, -1.579750156},
			0.64226143, -92.02628187, 0.6420642995, -92.02656639},
		{"Cloglog", mixed.Cloglog,
			[]float64{-1.5259807788, -0.9163201698, -1.0351620694, -1.4836329173},
			[]float64{0.2109162511, 0.2848901114, 0.3063157336, 0.4090477911},
			[]float64{-1.525939812, -0.9163822808, -1.035214986, -1.483680460},
			0.5866873382, -91.8020379173, 0.5867233563, -91.80206466},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := cbpp(t, tt.link)
			f := m.Run()
			compare(t, f, tt.coef, tt.se, 2e-6)
			close(t, "standard deviation of herds", f.RanchSD, tt.sd, 2e-6)
			close(t, "log likelihood", f.LogLik+binomial(m), tt.loglik, 1e-7)

			for j := range tt.far {
				close(t, "coefficient at lme4's default", f.Coef[j], tt.far[j], 0.01*f.SE(j))
			}
			close(t, "standard deviation at lme4's default", f.RanchSD, tt.farSD, 1e-3)
			close(t, "log likelihood at lme4's default", f.LogLik+binomial(m), tt.farLogL, 1e-3)
		})
	}
}

// The conditional modes of the herds from glmer at its default tolerance: ranef(m)$herd.
func TestHerdEffects(t *testing.T) {
	want := []float64{0.5896182282, -0.2990996943, 0.4058555522, 0.0390161259, -0.1902926817, -0.4004767765, 0.8889499314,
		0.5991295461, -0.2377795116, -0.5411133179, -0.08496602576, -0.06500844277, -0.6900562922, 0.9703387644, -0.5306063874}
	f := cbpp(t, mixed.Logit).Run()
	for h, w := range want {
		close(t, "herd "+strconv.Itoa(h+1), f.Ranches[h].Effect, w, 5e-4)
	}
}

// intervals is the invented nest data: the transects are those of one ranch, so that its effect drops out.
func intervals(t testing.TB) *mixed.Model {
	m := &mixed.Model{Ranches: 1, Of: make([]int, 12), Rows: [][]float64{{1, 0, 0}, {1, 1, 0}, {1, 0, 1}, {1, 1, 1}}}
	for _, r := range read(t, "intervals.csv") {
		m.Counts = append(m.Counts, mixed.Count{Transect: int(r["transect"]) - 1, Row: int(r["substrate"] + 2*(r["year"]-2022)),
			Early: r["days"], N: 1, Lost: 1 - int(r["intact"])})
	}
	return m
}

// testdata/glmer.R: glmer(lost ~ substrate + year + offset(log(days)) + (1 | transect), binomial("cloglog")). The modes
// are those of nAGQ = 25 at the default tolerance, so they agree less closely.
func TestIntervals(t *testing.T) {
	m := intervals(t)
	f := m.Run()
	compare(t, f, []float64{-3.6512762492, -0.6826796232, 0.4336204214}, []float64{0.1793117725, 0.1755925062, 0.1743080913}, 5e-6)
	close(t, "standard deviation of transects", f.TransectSD, 0.3486132388, 5e-6)
	close(t, "log likelihood", f.LogLik, -278.8349234165, 1e-7)

	// The same with the transects called ranches of one transect each.
	m.Ranches = 12
	for g := range m.Of {
		m.Of[g] = g
	}
	again := m.Run()
	close(t, "log likelihood, renamed", again.LogLik, f.LogLik, 1e-9)
	effect := []float64{-0.12007, 0.20221, 0.35047, -0.23370, -0.03371, -0.44210, 0.25934, 0.16367, 0.17580, -0.42055, 0.34014, -0.06979}
	for r, want := range effect {
		close(t, "transect effect", again.Ranches[r].Effect, want, 0.005)
	}
}

// nested is the invented data of nested.csv.
func nested(t testing.TB, keep func(mixed.Interval) bool) *mixed.Grouped {
	t.Helper()
	f, err := os.Open("testdata/nested.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var list []mixed.Interval
	for _, c := range lines[1:] {
		v := mixed.Interval{Ranch: c[0], Transect: c[2], Substrate: c[3], SiteType: c[4], Intact: c[7] == "1"}
		v.Season, _ = strconv.Atoi(c[1])
		v.From, _ = strconv.ParseFloat(c[5], 64)
		v.To, _ = strconv.ParseFloat(c[6], 64)
		if keep(v) {
			list = append(list, v)
		}
	}
	return mixed.Group(list)
}

func all(mixed.Interval) bool { return true }

func oneSided(v mixed.Interval) bool { return v.To <= mixed.Cut || v.From >= mixed.Cut }

// rows has the columns of R's ~ substrate + season + site_type; without site type, and season as a number about 2024,
// with number.
func rows(g *mixed.Grouped, number bool) [][]float64 {
	is := func(b bool) float64 {
		if b {
			return 1
		}
		return 0
	}
	var rows [][]float64
	for _, s := range g.Settings {
		row := []float64{1, is(s.Substrate == "shrub"), is(s.Substrate == "yucca")}
		if number {
			row = append(row, float64(s.Season-2024))
		} else {
			row = append(row, is(s.Season == 2024), is(s.Season == 2025), is(s.SiteType == "sand"))
		}
		rows = append(rows, row)
	}
	return rows
}

func model(g *mixed.Grouped, rows [][]float64) *mixed.Model {
	return &mixed.Model{Rows: rows, Period: true, Ranches: len(g.Ranches), Of: g.Of, Counts: g.Counts}
}

func compare(t *testing.T, f *mixed.Fit, coef, se []float64, tolerance float64) {
	t.Helper()
	if !f.Converged {
		t.Error("did not converge")
	}
	for j := range coef {
		close(t, "coefficient "+strconv.Itoa(j), f.Coef[j], coef[j], tolerance)
		close(t, "standard error "+strconv.Itoa(j), f.SE(j), se[j], tolerance)
	}
}

// lme4 1.1-31, testdata/glmer.R: two nested random intercepts.
func TestNested(t *testing.T) {
	g := nested(t, oneSided)
	f := model(g, rows(g, false)).Run()
	compare(t, f,
		[]float64{-3.1391091096, -0.1792800942, -0.4512921810, 0.1791294844, -0.4811671261, -0.4783753126, -0.1936284912},
		[]float64{0.3657891472, 0.1611717138, 0.1676829042, 0.2139740111, 0.2264672646, 0.4619358482, 0.1426825693}, 2e-5)
	close(t, "transect sd", f.TransectSD, 0.5870577497, 2e-5)
	close(t, "ranch sd", f.RanchSD, 0.5991959709, 2e-5)
	close(t, "log likelihood", f.LogLik, -514.5765505422, 1e-6)
	effect := []float64{-1.0176142099, 0.4947723729, 0.06496054669, -0.5018121234, 0.6102024469, -0.03473552505, 0.5589271589, 0.3322242070}
	se := []float64{0.2656068472, 0.2207839645, 0.21708965437, 0.2618868607, 0.2155602427, 0.23753923752, 0.2088445261, 0.2261729448}
	for r := range effect {
		close(t, "ranch effect", f.Ranches[r].Effect, effect[r], 2e-5)
		close(t, "its standard error", f.Ranches[r].SE, se[r], 2e-5)
	}
}

// lme4 1.1-31, testdata/glmer.R: (1 | ranch) + (0 + year | ranch) + (1 | transect).
func TestSlope(t *testing.T) {
	g := nested(t, oneSided)
	m := model(g, rows(g, true))
	for _, s := range g.Settings {
		m.Slope = append(m.Slope, float64(s.Season-2024))
	}
	f := m.Run()
	compare(t, f,
		[]float64{-3.4722297679, -0.1715340846, -0.4513213649, -0.2288897622, -0.1927657269},
		[]float64{0.2657862885, 0.1603774578, 0.1669142604, 0.1894525523, 0.1421927594}, 2e-5)
	close(t, "transect sd", f.TransectSD, 0.4709357803, 2e-5)
	close(t, "ranch sd", f.RanchSD, 0.6373619418, 2e-5)
	close(t, "slope sd", f.SlopeSD, 0.4490827543, 2e-5)
	close(t, "log likelihood", f.LogLik, -512.9971643434, 1e-6)
}

// testdata/split.R: intervals across day 14 in the likelihood, without and with random effects. The general
// optimiser there stops at about 1e-4.
func TestAcrossTheCut(t *testing.T) {
	g := nested(t, all)
	m := model(g, rows(g, false))
	m.NoRanchEffect, m.NoTransectEffect = true, true
	f := m.Run()
	compare(t, f,
		[]float64{-3.0858530865, -0.1162059706, -0.3936757539, 0.1547179527, -0.2232137150, -0.4786115284, -0.5128109352},
		[]float64{0.1350387254, 0.1290531777, 0.1345455792, 0.1241122166, 0.1324291576, 0.1058777768, 0.1197701481}, 1e-4)
	close(t, "log likelihood", f.LogLik, -739.6397589, 1e-6)

	f = model(g, rows(g, false)).Run()
	compare(t, f,
		[]float64{-3.060789648, -0.2121323485, -0.5513367164, 0.1701260706, -0.2992822060, -0.5952149461, -0.2811180715},
		[]float64{0.335733607, 0.1379723043, 0.1435605795, 0.1990859620, 0.2048012134, 0.4242377887, 0.1261516512}, 2e-4)
	close(t, "ranch sd", f.RanchSD, 0.5511708914, 1e-4)
	close(t, "transect sd", f.TransectSD, 0.58085802276, 1e-4)
	close(t, "its standard error", math.Sqrt(f.Cov.At(7, 7)), 0.09078287699, 1e-4)
	close(t, "log likelihood", f.LogLik, -691.0014861, 1e-5)
}
