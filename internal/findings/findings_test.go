package findings_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"tussock/internal/findings"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Real nests: survival of each ranch, season and substrate against a separate R script (R 4.2.2, testdata/opendata/SOURCE.md).
// One transect each, so the model's variance and normal quantiles.
func TestOpenData(t *testing.T) {
	for _, name := range []string{"grassland_birds", "wading_birds"} {
		t.Run(name, func(t *testing.T) {
			r := findings.Compute(&survey.Data{Nests: readChecks(t, "../../testdata/opendata/"+name+"_checks.csv")}, findings.Options{})
			for _, want := range readCSV(t, "../../testdata/opendata/"+name+"_expected.csv")[1:] {
				label := strings.Join(want[:3], " ")
				s, ok := r.Find(want[0], "", integer(t, want[1]), survey.Substrate(want[2]))
				if !ok {
					t.Errorf("%s: no row", label)
					continue
				}
				if s.Nests != integer(t, want[3]) {
					t.Errorf("%s: %d nests, want %s", label, s.Nests, want[3])
				}
				if s.Day28.Estimate == nil { // nothing seen after day 14: the command line's figure is an upper bound
					s = throughJSON(t, s)
				}
				near(t, label+" day28", s.Day28.Estimate, float(t, want[4]), 1e-5)
				near(t, label+" low", s.Day28.Low, float(t, want[5]), 1e-4)
				near(t, label+" high", s.Day28.High, float(t, want[6]), 1e-4)
				near(t, label+" s1", s.Daily[0].Rate, float(t, want[7]), 1e-5)
				near(t, label+" s2", s.Daily[1].Rate, float(t, want[8]), 1e-5)
				near(t, label+" se", s.Day28.SE, float(t, want[9]), 1e-4)
				if !strings.Contains(s.Note, "One transect") && !strings.Contains(s.Note, "upper bound") {
					t.Errorf("%s: got note %q", label, s.Note)
				}
			}
		})
	}
}

// throughJSON returns the row as the command line prints it.
func throughJSON(t *testing.T, s *findings.Survival) *findings.Survival {
	t.Helper()
	b, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var out findings.Survival
	if err := json.Unmarshal(b, &out); err != nil {
		t.Fatal(err)
	}
	return &out
}

// Further rows of a nest are further visits, up to the first that did not find it intact.
func readChecks(t *testing.T, file string) []survey.Nest {
	t.Helper()
	rows := readCSV(t, file)
	column := map[string]int{}
	for i, h := range rows[0] {
		column[h] = i
	}
	at := map[string]int{}
	var nests []survey.Nest
	for _, r := range rows[1:] {
		get := func(h string) string { return r[column[h]] }
		id := strings.Join([]string{get("ranch"), get("season"), get("transect"), get("nest"), get("substrate")}, "|")
		i, ok := at[id]
		if !ok {
			i = len(nests)
			at[id] = i
			nests = append(nests, survey.Nest{
				Ranch: get("ranch"), Season: integer(t, get("season")), Transect: get("transect"), Number: get("nest"),
				Substrate: survey.Substrate(get("substrate")), SetOn: date(t, get("set_on")),
			})
		}
		if len(nests[i].Visits) > 0 && nests[i].Fate() != survey.Intact {
			continue
		}
		nests[i].Visits = append(nests[i].Visits, survey.Visit{On: date(t, get("checked_on")), State: survey.State(get("state"))})
	}
	return nests
}

// A season as a sheet has it: two sites, two substrates, each fate.
func season(t *testing.T) *survey.Data {
	d := &survey.Data{}
	add := func(site, transect string, substrate survey.Substrate, states ...survey.State) {
		n := survey.Nest{Ranch: "Ash", Site: site, Season: 2025, Transect: transect, Number: strconv.Itoa(len(d.Nests)),
			Substrate: substrate, SetOn: date(t, "2025-05-12"), EggsLeft: -1}
		for i, s := range states {
			n.Visits = append(n.Visits, survey.Visit{On: n.SetOn + survey.Date(14*(i+1)), State: s})
		}
		d.Nests = append(d.Nests, n)
	}
	for _, transect := range []string{"1", "2", "3"} {
		site := map[string]string{"1": "North", "2": "North", "3": "South"}[transect]
		add(site, transect, survey.Bunchgrass, survey.Taken)
		add(site, transect, survey.Bunchgrass, survey.Intact, survey.Taken)
		add(site, transect, survey.Bunchgrass, survey.Intact, survey.Intact)
		add(site, transect, survey.PricklyPear, survey.Intact, survey.Intact)
		add(site, transect, survey.PricklyPear, survey.Intact, survey.Intact)
	}
	add("South", "3", survey.PricklyPear, survey.Trampled)
	add("North", "1", survey.PricklyPear, survey.Intact, survey.Lost)
	add("North", "2", survey.PricklyPear, survey.Intact, survey.Spoiled)
	add("South", "3", survey.Bunchgrass, survey.Intact, survey.Intact)
	return d
}

func TestRows(t *testing.T) {
	d := season(t)
	d.Belts = []survey.Belt{
		{Ranch: "Ash", Site: "North", Season: 2025, Transect: "1", LengthFt: 1000, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Bunchgrass: 30, survey.PricklyPear: 4}},
		{Ranch: "Ash", Site: "North", Season: 2025, Transect: "2", LengthFt: 1000, WidthFt: 6, Counts: map[survey.Substrate]int{survey.Bunchgrass: 41, survey.PricklyPear: 0}},
		{Ranch: "Ash", Site: "South", Season: 2025, Transect: "3", Counts: map[survey.Substrate]int{survey.Bunchgrass: 7}},
	}
	r := findings.Compute(d, findings.Options{})

	var got []string
	for _, s := range r.Survival {
		got = append(got, fmt.Sprint(s.Ranch, " ", text(s.Site), " ", s.Season, " ", text(s.Substrate)))
	}
	want := []string{
		"Ash - 2025 -", "Ash - 2025 bunchgrass", "Ash - 2025 prickly pear",
		"Ash North 2025 -", "Ash North 2025 bunchgrass", "Ash North 2025 prickly pear",
		"Ash South 2025 -", "Ash South 2025 bunchgrass", "Ash South 2025 prickly pear",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("survival rows (−want +got):\n%s", diff)
	}

	all, _ := r.SurvivalOf("Ash", 2025)
	if all.Nests != 19 || all.Transects != 3 || all.Known != 18 || all.Intact != 10 || all.Lasted != 10 {
		t.Errorf("got %+v", all)
	}
	if want := (findings.Losses{Taken: 6, Spoiled: 1, Trampled: 1, Lost: 1}); all.Losses != want {
		t.Errorf("losses: got %+v, want %+v", all.Losses, want)
	}
	// Half of the two substrates' survival; grass is a plain fraction, 4 of 10.
	grass, _ := r.Find("Ash", "", 2025, survey.Bunchgrass)
	pear, _ := r.Find("Ash", "", 2025, survey.PricklyPear)
	near(t, "grass", grass.Day28.Estimate, 0.4, 1e-9)
	near(t, "all", all.Day28.Estimate, (0.4+*pear.Day28.Estimate)/2, 1e-12)

	got = nil
	for _, d := range r.Density {
		got = append(got, fmt.Sprint(text(d.Site), " ", text(d.Substrate), " ", d.Belts, " ", d.Count))
	}
	want = []string{
		"- - 2 75", "- bunchgrass 2 71", "- prickly pear 2 4",
		"North - 2 75", "North bunchgrass 2 71", "North prickly pear 2 4",
		"South - 0 0", "South bunchgrass 0 0",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("density rows (−want +got):\n%s", diff)
	}
	// 75 clumps on two belts of 6 ft by 1000 ft: one acre is 7.26 such belts (NIST: 43 560 ft²), and a hectare
	// 2.471053815 acres.
	cover, _ := r.DensityOf("Ash", 2025)
	near(t, "per acre", cover.PerAcre.Estimate, 75*7.26/2, 1e-9)
	near(t, "per hectare", cover.PerHectare.Estimate, 75*7.26/2*2.471053815, 1e-5)
	if south, _ := r.FindDensity("Ash", "South", 2025, ""); south.PerAcre.Estimate != nil || !strings.Contains(south.Note, "length") {
		t.Errorf("a belt without an area: got %+v", south)
	}
}

// Piping plovers, draft protocol of the USGS Northern Prairie Wildlife Research Center, appendix C: 14 of 22 nests successful are
// 0.636, the apparent success. A nest lost from view is no part of it.
func TestApparent(t *testing.T) {
	d := &survey.Data{}
	for i := range 23 {
		state := survey.Intact
		switch {
		case i == 22:
			state = survey.Lost
		case i >= 14:
			state = survey.Taken
		}
		d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Season: 2025, Transect: "1", Number: strconv.Itoa(i), Substrate: "yucca",
			SetOn: 700000, Visits: []survey.Visit{{On: 700028, State: state}}})
	}
	s, _ := findings.Compute(d, findings.Options{}).SurvivalOf("Ash", 2025)
	if s.Known != 22 || s.Intact != 14 {
		t.Errorf("got %d of %d, want 14 of 22", s.Intact, s.Known)
	}
	near(t, "apparent", s.Apparent.Estimate, 0.636, 0.0005)
}

// The JSON has the names of the season sheet's contract, and null where there is no number.
func TestJSON(t *testing.T) {
	nest := survey.Nest{Ranch: "Ash", Season: 2025, Transect: "1", Number: "1", Substrate: survey.Yucca, SetOn: date(t, "2025-05-12")}
	b, err := json.Marshal(findings.Compute(&survey.Data{Nests: []survey.Nest{nest}}, findings.Options{}))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Survival, Density, Predators []map[string]any
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Survival) != 2 || len(got.Density) != 0 || len(got.Predators) != 1 {
		t.Fatalf("got %s", b)
	}
	for _, name := range []string{"ranch", "site", "season", "substrate", "nests", "transects", "known", "intact", "apparent", "daily", "day28", "losses", "note"} {
		if _, ok := got.Survival[0][name]; !ok {
			t.Errorf("survival has no %q", name)
		}
	}
	for _, name := range []string{"ranch", "site", "season", "nests_taken", "with_remains", "with_camera", "mix", "undetermined"} {
		if _, ok := got.Predators[0][name]; !ok {
			t.Errorf("predators have no %q", name)
		}
	}
	want := map[string]any{"estimate": nil, "low": nil, "high": nil, "se": nil}
	if diff := cmp.Diff(want, got.Survival[0]["day28"]); diff != "" {
		t.Errorf("day28 of a nest never seen again (−want +got):\n%s", diff)
	}
	if got.Survival[0]["site"] != nil || got.Survival[0]["substrate"] != nil || got.Survival[1]["substrate"] != "yucca" {
		t.Errorf("got %v", got.Survival)
	}
}

// One substrate: the row over all substrates is that substrate's.
func TestOneSubstrate(t *testing.T) {
	d := season(t)
	d.Nests = slices.DeleteFunc(d.Nests, func(n survey.Nest) bool { return n.Substrate != survey.PricklyPear })
	r := findings.Compute(d, findings.Options{})
	all, _ := r.SurvivalOf("Ash", 2025)
	pear, _ := r.Find("Ash", "", 2025, survey.PricklyPear)
	if diff := cmp.Diff(pear.Day28, all.Day28); diff != "" {
		t.Errorf("day28 (−pear +all):\n%s", diff)
	}
	if diff := cmp.Diff(pear.Daily, all.Daily); diff != "" {
		t.Errorf("daily (−pear +all):\n%s", diff)
	}
	if pear.Note != all.Note {
		t.Errorf("note: got %q, want %q", all.Note, pear.Note)
	}
}

// A standard mix of the cooperative's: its shares count, and a substrate it asks for that is not there leaves no figure.
func TestMix(t *testing.T) {
	mix := map[survey.Substrate]float64{survey.Bunchgrass: 3, survey.PricklyPear: 1}
	r := findings.Compute(season(t), findings.Options{Mix: mix})
	all, _ := r.SurvivalOf("Ash", 2025)
	pear, _ := r.Find("Ash", "", 2025, survey.PricklyPear)
	near(t, "three to one", all.Day28.Estimate, 0.75*0.4+0.25**pear.Day28.Estimate, 1e-9)

	mix[survey.Yucca] = 1
	r = findings.Compute(season(t), findings.Options{Mix: mix})
	all, _ = r.SurvivalOf("Ash", 2025)
	if all.Day28.Estimate != nil || !strings.Contains(all.Note, "yucca") {
		t.Errorf("without yucca: got %v, note %q", all.Day28.Estimate, all.Note)
	}
}

// Losses that no predator brought are withdrawn from the figure for predators alone, and nests not found again leave bounds.
func TestPredatorsOnlyAndBounds(t *testing.T) {
	r := findings.Compute(season(t), findings.Options{})
	pear, _ := r.Find("Ash", "", 2025, survey.PricklyPear)
	near(t, "pear, predators alone", pear.Day28Predators.Estimate, 1, 0)
	if !(*pear.IfLost.Low < *pear.Day28.Estimate && *pear.Day28.Estimate < *pear.IfLost.High) {
		t.Errorf("bounds: got %v to %v around %v", *pear.IfLost.Low, *pear.IfLost.High, *pear.Day28.Estimate)
	}
	// All looks fell on days 14 and 28, so the bounds are plain fractions: 9 nests, of which 6 lasted with the one lost
	// from view and 5 … without: 7 or 6 of 9.
	near(t, "if intact", pear.IfLost.High, 7.0/9, 1e-9)
	near(t, "if taken", pear.IfLost.Low, 6.0/9, 1e-9)
	grass, _ := r.Find("Ash", "", 2025, survey.Bunchgrass)
	if grass.IfLost.High != grass.Day28.Estimate {
		t.Errorf("no nest lost from view: got %+v", grass.IfLost)
	}
}

func TestOrderOfRows(t *testing.T) {
	d := season(t)
	for i := range d.Nests {
		if d.Nests[i].Fate() == survey.Taken {
			signs := d.Nests[i].Signs()
			signs.Bits = []string{"halves", "crumbs", "near_whole"}[i%3]
			d.Nests[i].Remains = &signs
		}
	}
	want := mixed(d)
	rng := rand.New(rand.NewPCG(1, 1))
	rng.Shuffle(len(d.Nests), func(i, j int) { d.Nests[i], d.Nests[j] = d.Nests[j], d.Nests[i] })
	got := mixed(d)
	a, _ := json.Marshal(round(want))
	b, _ := json.Marshal(round(got))
	if diff := cmp.Diff(string(a), string(b)); diff != "" {
		t.Errorf("(−want +got):\n%s", diff)
	}
}

// mixed are results with the shares of the animals.
func mixed(d *survey.Data) *findings.Result {
	r := findings.Compute(d, findings.Options{})
	for i := range r.Predators {
		r.MixOf(&r.Predators[i], nil, predator.Table{})
	}
	return r
}

// TestManySigns: of more nests with sign than a mix is made of, some are taken, and that is said; all are counted.
func TestManySigns(t *testing.T) {
	for _, n := range []int{predator.Most, 3 * predator.Most} {
		d := &survey.Data{}
		for i := range n {
			d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Season: 2025, Transect: strconv.Itoa(i / 12), Number: strconv.Itoa(i), Substrate: "yucca", SetOn: 700000,
				Visits: []survey.Visit{{On: 700014, State: survey.Taken}}, Camera: survey.Predator([]string{"raccoon", "coyote", "fox"}[i%3])})
		}
		r := mixed(d)
		p, _ := r.PredatorsOf("Ash", 2025)
		if p.FitsOne != n || p.Mix[0].Predator != "raccoon" {
			t.Fatalf("got %+v", p)
		}
		near(t, "raccoon", &p.Mix[0].Share, 1./3, 0.1) // three standard errors of 200 drawn of so many
		said := strings.Contains(strings.Join(words.Speaker{}.TellAll(p.Made()), " "), fmt.Sprintf("Of the %d nests", n))
		if said != (n > predator.Most) {
			t.Errorf("%d nests: %q", n, words.Speaker{}.TellAll(p.Made()))
		}
	}
}

// round brings a result to ten digits, below which the order of a sum may show.
func round(r *findings.Result) any {
	b, _ := json.Marshal(r)
	var v any
	json.Unmarshal(b, &v)
	var walk func(any) any
	walk = func(v any) any {
		switch v := v.(type) {
		case float64:
			return strconv.FormatFloat(v, 'g', 6, 64)
		case []any:
			for i := range v {
				v[i] = walk(v[i])
			}
		case map[string]any:
			for k := range v {
				v[k] = walk(v[k])
			}
		}
		return v
	}
	return walk(v)
}

// Whatever a sheet can hold, the result is JSON: no NaN, no infinity, and a note where a number is missing.
func TestNothingStrange(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	pick := func(n ...int) int { return n[rng.IntN(len(n))] }
	for range 1500 {
		d := &survey.Data{}
		for i := range rng.IntN(8) {
			n := survey.Nest{Ranch: "Ash", Site: []string{"", "North"}[rng.IntN(2)], Season: 2024 + rng.IntN(2), Number: strconv.Itoa(i),
				Transect: strconv.Itoa(rng.IntN(3)), Substrate: survey.Substrate([]string{"bunchgrass", "yucca"}[rng.IntN(2)]), SetOn: 700000}
			day := 0
			for range rng.IntN(4) {
				day += pick(0, 1, 13, 14, 15, 28, 400)
				state := survey.States[rng.IntN(len(survey.States))]
				if rng.IntN(2) == 0 {
					state = survey.Intact
				}
				n.Visits = append(n.Visits, survey.Visit{On: n.SetOn + survey.Date(day), State: state})
				if state != survey.Intact {
					break
				}
			}
			if rng.IntN(2) == 0 {
				n.Remains = &survey.Remains{Bits: "halves"}
			}
			if rng.IntN(5) == 0 {
				n.Camera = "a word nobody knows"
			}
			d.Nests = append(d.Nests, n)
		}
		for range rng.IntN(4) {
			d.Belts = append(d.Belts, survey.Belt{Ranch: "Ash", Season: 2025, LengthFt: float64(pick(0, 1, 1000)), WidthFt: float64(pick(0, 6)),
				Counts: map[survey.Substrate]int{"yucca": pick(0, 1, 500)}})
		}
		r := findings.Compute(d, findings.Options{})
		if _, err := json.Marshal(r); err != nil {
			t.Fatal(err)
		}
		for i := range r.Survival {
			s := &r.Survival[i]
			if (s.Day28.Estimate == nil) != (s.Dots() == nil) || s.Day28.Estimate == nil && s.Note == "" {
				t.Fatalf("got %+v", s)
			}
			if s.Day28.Estimate != nil && !(0 <= *s.Day28.Low && *s.Day28.Low <= *s.Day28.Estimate+1e-9 && *s.Day28.Estimate <= *s.Day28.High+1e-9 && *s.Day28.High <= 1) {
				t.Fatalf("%v is not in %v to %v", *s.Day28.Estimate, *s.Day28.Low, *s.Day28.High)
			}
		}
		for _, den := range r.Density {
			if den.PerAcre.Estimate == nil && den.Note == "" {
				t.Fatalf("got %+v", den)
			}
		}
		r.TalkOver("Ash", 2025, findings.CommonMarks)
	}
}

// The 20 dots are equally likely values: one in each twentieth of the spread, so that 2.5 % and 97.5 % are the first and the
// last and close on the interval's ends.
func TestDots(t *testing.T) {
	r := findings.Compute(season(t), findings.Options{})
	s, _ := r.SurvivalOf("Ash", 2025)
	dots := findings.Dots(s)
	if len(dots) != 20 || !slices.IsSorted(dots) {
		t.Fatalf("got %v", dots)
	}
	near(t, "first", &dots[0], *s.Day28.Low, 1e-9)
	near(t, "last", &dots[19], *s.Day28.High, 1e-9)
	for i, x := range dots {
		p, _ := s.Chance(x)
		near(t, "chance", &p, 1-(float64(i)+0.5)/20, 1e-9)
	}
}

// The key scores the signs that the sheet asks for, under the same names, and knows the same animals.
func TestKeyKnowsTheSheet(t *testing.T) {
	k := predator.NewKey()
	if got, want := len(k.Features()), len(survey.Features); got != want {
		t.Errorf("got %d features, want %d", got, want)
	}
	for i, name := range k.Features() {
		if name != survey.Features[i].Name {
			t.Errorf("feature %d: got %q, want %q", i, name, survey.Features[i].Name)
		}
		var want []string
		for _, c := range survey.Features[i].Choices {
			if c != "none" {
				want = append(want, c)
			}
		}
		if diff := cmp.Diff(want, k.Choices(i)); diff != "" {
			t.Errorf("%s (−sheet +key):\n%s", name, diff)
		}
	}
	for i, p := range survey.Predators {
		if got := predator.Predators()[i]; got != string(p) {
			t.Errorf("predator %d: got %q, want %q", i, got, p)
		}
	}
}

// Cameras alone: the mix starts even and is moved by the counts, and every nest with a camera has a name.
func TestPredators(t *testing.T) {
	d := &survey.Data{}
	for i, camera := range []survey.Predator{"raccoon", "raccoon", "coyote", ""} {
		d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Season: 2025, Transect: strconv.Itoa(i), Number: "1", Substrate: "yucca",
			SetOn: 700000, Visits: []survey.Visit{{On: 700014, State: survey.Taken}}, Camera: camera})
	}
	d.Nests[3].Remains = &survey.Remains{Bits: "none", Bowl: "neat"} // looked, and found none
	r := findings.Compute(d, findings.Options{})
	p, _ := r.PredatorsOf("Ash", 2025)
	r.MixOf(p, nil, predator.Table{})
	if p.NestsTaken != 4 || p.WithCamera != 3 || p.WithRemains != 0 {
		t.Errorf("got %+v", p)
	}
	if p.NoSign != 1 || p.FitsSeveral != 0 || p.FitsOne != 3 {
		t.Errorf("got %+v", p)
	}
	// All animals even, worth eight nests, and three more: (8/13 + 2)/11.
	if len(p.Shown) != 3 || p.Shown[0].Predator != "raccoon" || p.Shown[1].Predator != "coyote" || p.Shown[2].Predator != findings.Rest {
		t.Fatalf("got %+v", p.Shown)
	}
	near(t, "raccoon", &p.Shown[0].Share, (8./13+2)/11, 0.01)
	near(t, "undetermined", p.Undetermined, 0.25, 1e-12)
	want := []findings.Named{{Predator: "raccoon", Nests: 2, ByCamera: 2}, {Predator: "coyote", Nests: 1, ByCamera: 1}}
	if diff := cmp.Diff(want, p.Named); diff != "" {
		t.Errorf("named (−want +got):\n%s", diff)
	}
}

func TestTalkOver(t *testing.T) {
	// Ten nests in grass, of which four lasted: no pattern is sure, and the range is wide.
	few := season(t)
	few.Nests = slices.DeleteFunc(few.Nests, func(n survey.Nest) bool { return n.Substrate != survey.Bunchgrass })
	r := findings.Compute(few, findings.Options{})
	if got := kinds(r.TalkOver("Ash", 2025, findings.CommonMarks)); !slices.Equal(got, []string{"again"}) {
		t.Errorf("got %v", got)
	}
	if got := r.TalkOver("nobody", 2025, findings.CommonMarks); got != nil {
		t.Errorf("a ranch without data: got %v", got)
	}

	// A middling season on many lines, after another: nothing stands out, and still there is something to do next.
	many := &survey.Data{}
	for i := range 240 {
		n := survey.Nest{Ranch: "Ash", Season: 2024 + i/120, Transect: strconv.Itoa(i % 24), Number: strconv.Itoa(i), Substrate: survey.Bunchgrass, SetOn: 700000,
			Visits: []survey.Visit{{On: 700014, State: survey.Intact}, {On: 700028, State: []survey.State{survey.Intact, survey.Taken}[i/24%2]}}}
		many.Nests = append(many.Nests, n)
	}
	r = findings.Compute(many, findings.Options{})
	if got := kinds(r.TalkOver("Ash", 2025, findings.CommonMarks)); !slices.Equal(got, []string{"not_sure_yet"}) {
		t.Errorf("got %v", got)
	}

	// Few clumps on each of eight belts, and grass that goes while pear stays.
	d := &survey.Data{}
	for i := range 8 {
		d.Belts = append(d.Belts, survey.Belt{Ranch: "Ash", Season: 2025, Transect: strconv.Itoa(i), LengthFt: 1000, WidthFt: 6,
			Counts: map[survey.Substrate]int{survey.Bunchgrass: 10 + i%2}})
		for j := range 12 {
			n := survey.Nest{Ranch: "Ash", Season: 2025, Transect: strconv.Itoa(i), Number: strconv.Itoa(j), Substrate: survey.Bunchgrass, SetOn: 700000}
			state := survey.Taken
			if j%2 == 0 {
				n.Substrate = survey.PricklyPear
			}
			if j%2 == 0 && (j+i)%5 != 0 || j == i {
				state = survey.Intact
			}
			n.Visits = []survey.Visit{{On: 700014, State: state}}
			if state == survey.Intact {
				n.Visits = append(n.Visits, survey.Visit{On: 700028, State: state})
			}
			d.Nests = append(d.Nests, n)
		}
	}
	r = findings.Compute(d, findings.Options{})
	got := kinds(r.TalkOver("Ash", 2025, findings.CommonMarks))
	if !slices.Equal(got, []string{"few_clumps", "pear_outlasts_grass", "again"}) {
		t.Errorf("got %v", got)
	}
}

func kinds(talks []findings.Talk) []string {
	var list []string
	for _, t := range talks {
		list = append(list, t.Kind)
	}
	return list
}

func ExampleCompute() {
	set := survey.DateOf(2025, 5, 12)
	d := &survey.Data{}
	for i, state := range []survey.State{survey.Intact, survey.Intact, survey.Taken, survey.Intact, survey.Taken} {
		d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Season: 2025, Transect: strconv.Itoa(i % 2), Number: strconv.Itoa(i),
			Substrate: survey.Bunchgrass, SetOn: set, Visits: []survey.Visit{{On: set + 28, State: state}}})
	}
	s, _ := findings.Compute(d, findings.Options{}).SurvivalOf("Ash", 2025)
	fmt.Printf("%d of %d lasted; %.2f to day 28\n", s.Lasted, s.Settled, *s.Day28.Estimate)
	// Output: 3 of 5 lasted; 0.60 to day 28
}

func BenchmarkCompute(b *testing.B) {
	d := &survey.Data{}
	for ranch := range 12 {
		for i := range 24 {
			state := survey.Intact
			if i%2 == 0 {
				state = survey.Taken
			}
			d.Nests = append(d.Nests, survey.Nest{Ranch: strconv.Itoa(ranch), Season: 2025, Transect: strconv.Itoa(i / 6), Number: strconv.Itoa(i),
				Substrate: []survey.Substrate{survey.Bunchgrass, survey.PricklyPear}[i/2%2], SetOn: 700000,
				Visits: []survey.Visit{{On: 700013 + survey.Date(i%3), State: state}}, Remains: &survey.Remains{Bits: []string{"halves", "crumbs", "bits"}[i%3]}})
		}
	}
	for b.Loop() {
		findings.Compute(d, findings.Options{})
	}
}

func near(t *testing.T, what string, got *float64, want, tolerance float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s: got nothing, want %v", what, want)
		return
	}
	if !(math.Abs(*got-want) <= tolerance) {
		t.Errorf("%s: got %.10g, want %.10g ± %g", what, *got, want, tolerance)
	}
}

func text[T ~string](p *T) string {
	if p == nil {
		return "-"
	}
	return string(*p)
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func integer(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func float(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func date(t *testing.T, s string) survey.Date {
	t.Helper()
	d, err := survey.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestFewNestsStayNearTheCooperative: nine taken nests, whose signs say little, move a ranch's own mix little from the cooperative's, and leave wide ranges;
// what the cooperative does not name is told together.
func TestFewNestsStayNearTheCooperative(t *testing.T) {
	d := &survey.Data{}
	for i := range 9 {
		d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Season: 2025, Transect: strconv.Itoa(i / 3), Number: strconv.Itoa(i), Substrate: "yucca",
			SetOn: 700000, Visits: []survey.Visit{{On: 700014, State: survey.Taken}}, Remains: &survey.Remains{Inside: "licked"}})
	}
	r := findings.Compute(d, findings.Options{})
	published := map[survey.Predator]float64{"skunk": 0.3, "coyote": 0.4, "fox": 0.1, findings.Rest: 0.2}
	p, _ := r.PredatorsOf("Ash", 2025)
	r.MixOf(p, &findings.Mix{Shares: published, Weight: 25}, predator.Table{})
	if p.From != findings.FromBulletin || p.Weight != 25 || len(p.Shown) != 4 {
		t.Fatalf("got %+v", p)
	}
	all := 0.0
	for _, s := range p.Shown {
		all += s.Share
		if want := published[s.Predator]; math.Abs(s.Share-want) > 0.15 || s.High-s.Low < 0.15 {
			t.Errorf("%s: %.2f (%.2f to %.2f), the cooperative has %.2f", s.Predator, s.Share, s.Low, s.High, want)
		}
		if s.High > 0.75 {
			t.Errorf("%s: nine nests leave up to %.2f", s.Predator, s.High)
		}
	}
	near(t, "all parts", &all, 1, 1e-9)
	if p.Shown[3].Predator != findings.Rest {
		t.Errorf("last: %s", p.Shown[3].Predator)
	}
}

// TestKeyOfASeason: each season is read with its own key, and says whose strengths these are; so is a mix that starts from what is published.
func TestKeyOfASeason(t *testing.T) {
	d := &survey.Data{}
	for i := range 12 {
		d.Nests = append(d.Nests, survey.Nest{Ranch: "Ash", Season: 2024 + i%2, Transect: strconv.Itoa(i), Number: "1", Substrate: "yucca",
			SetOn: 700000, Visits: []survey.Visit{{On: 700014, State: survey.Taken}}, Remains: &survey.Remains{Bits: "halves"}})
	}
	ours := predator.Table{Source: "Our cameras.", Counts: []predator.Count{{Sign: "bits", Answer: "halves", Animal: "skunk", Nests: 95}, {Sign: "bits", Answer: "crumbs", Animal: "skunk", Nests: 5},
		{Sign: "bits", Answer: "halves", Animal: "raccoon", Nests: 5}, {Sign: "bits", Answer: "crumbs", Animal: "raccoon", Nests: 95}}}
	of := func(season int) predator.Table { return map[int]predator.Table{2025: ours}[season] }
	r := findings.Compute(d, findings.Options{Key: of})
	both := map[survey.Predator]float64{"raccoon": 0.4, "skunk": 0.4, findings.Rest: 0.2}
	for _, from := range []string{findings.FromEven, findings.FromBulletin} {
		start := map[string]*findings.Mix{findings.FromBulletin: {Shares: both}}[from]
		for season, want := range map[int]string{2024: "by common practice and without a source", 2025: "was counted at nests whose animal a camera settled: Our cameras. The ranges"} {
			p, _ := r.PredatorsOf("Ash", season)
			r.MixOf(p, start, of(season))
			share := map[survey.Predator]float64{}
			for _, s := range p.Mix {
				share[s.Predator] = s.Share
			}
			if (share["raccoon"] > share["skunk"]) != (season == 2024) || p.From != from {
				t.Errorf("%d, from %s: raccoon %v, skunk %v", season, p.From, share["raccoon"], share["skunk"])
			}
			if p.KeySource != of(season).Source || p.KeyAssumed != (season == 2024) || !strings.Contains(p.Strengths().String(), want) {
				t.Errorf("%d: %q, assumed %v: %s", season, p.KeySource, p.KeyAssumed, p.Strengths())
			}
		}
	}
}
