// Inside the package: page structs are its own business.

package pages

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
	"tussock/web"
)

var preview = flag.String("preview", "", "write the filled pages and the static files to this folder, to look at")

var sampleDay = time.Date(2026, time.August, 4, 19, 0, 0, 0, time.UTC)

func sampleServer(t *testing.T) *server {
	t.Helper()
	s, err := newServer(Config{Now: func() time.Time { return sampleDay }})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func sampleBase(title, path string, role access.Role) base {
	b := base{Title: title, Actor: access.Actor{Name: "Ada Marsh", Role: role}, SignedIn: role != "", CSRF: "0f", Path: path}
	b.Nav = navOf(role, path)
	return b
}

// samplePages has at least one filled struct for each template. Names and figures are made up.
func samplePages() map[string]any {
	pages := map[string]any{
		"sign_in": signInPage{base: sampleBase("Sign in", "/sign-in", ""), Marks: doorMarks(words.Speaker{}), Message: "That address and password do not go together.", Next: "/"},
		"join": joinPage{base: sampleBase("Join Sandhill Grass Cooperative", "/join/x", ""), Token: "x", Asks: "Rosa Lind asks you to join as a landowner, for Cottonwood Draw.", Sees: parts[access.Landowner].sees,
			Invitation: postgres.Invitation{InvitedBy: "Rosa Lind", Role: access.Landowner, Ranches: []string{"Cottonwood Draw"}, Email: "ada@example.org"}, Email: "ada@example.org"},
		"field":         fieldShell{Modules: []string{"/static/x.js"}, Words: map[string]string{"Back": "Atrás"}},
		"field_open":    fieldOpenPage{base: sampleBase("Field work on Cottonwood Draw", "/field/open/x", ""), Token: "x", Offer: postgres.FieldOffer{Ranch: "Cottonwood Draw", Name: "Lupe", State: "open"}, From: sampleDay, Until: sampleDay, Lines: "1, 2"},
		"field_links":   sampleFieldLinks(),
		"field_results": sampleFieldResults(),
		"error":         errorPage{base: sampleBase("No such page", "/x", access.Landowner), Sentence: apologies[404].sentence, Reference: "00ff"},
		"about":         aboutPage{sampleBase("What these numbers are", "/about", access.Landowner), findings.Limits(), targetSaid(words.Speaker{}, findings.CommonMarks)},
		"account": accountPage{base: sampleBase("Ada Marsh", "/account", access.Landowner), Email: "ada@example.org", Part: "Owner", Changed: true, Tokens: true, Problem: "That is not your present password.",
			Sessions: []sessionRow{{"a", "Chrome on Windows", "August 4, 2026", "August 4, 2026", true}, {"b", "Safari on an iPhone", "May 1, 2026", "August 3, 2026", false}}},
		"ranch": sampleRanch(words.Speaker{}),
	}
	return pages
}

// sampleRanch is computed from made-up sheets, with a made-up bulletin beside it.
func sampleRanch(say words.Speaker) ranchPage {
	str := func(s string) *string { return &s }
	num := func(x float64) *float64 { return &x }
	cell := func(season int, area *string, measure string, estimate, low, high float64) bulletin.Cell {
		return bulletin.Cell{Season: season, Area: area, Measure: measure, Published: true, Estimate: num(estimate), Low: num(low), High: num(high), Entities: "5-9"}
	}
	yucca := cell(2026, str("Sandhill"), bulletin.Survival28, 0.70, 0.60, 0.80)
	yucca.Substrate = str("yucca")
	d := ranchData{tables: func(int) predator.Table { return predator.Table{} },
		ranch:    postgres.Ranch{ID: "1", Name: "Cottonwood Draw", Area: "Sandhill"},
		ranches:  []postgres.Ranch{{ID: "1", Name: "Cottonwood Draw"}, {ID: "2", Name: "North Breaks"}},
		found:    findings.Compute(SampleSurvey("Cottonwood Draw"), findings.Options{}),
		uploads:  []postgres.Upload{{ID: "u", State: postgres.Current, Season: 2026, Open: 2}},
		people:   []postgres.Person{{Name: "Ada Marsh", Role: access.Landowner}, {Name: "Luis Ortega", Role: access.Hand, Since: time.Date(2026, time.May, 3, 0, 0, 0, 0, time.UTC)}},
		heads:    []postgres.BulletinHead{{Season: 2025}, {Season: 2026}},
		cells:    []bulletin.Cell{cell(2025, str("Sandhill"), bulletin.Survival28, 0.55, 0.45, 0.65), cell(2026, str("Sandhill"), bulletin.Survival28, 0.55, 0.50, 0.65), yucca, cell(2026, nil, bulletin.ClumpsPerAcre, 250, 200, 400)},
		places:   map[int][]bulletin.Place{2025: {{Area: "Sandhill", Label: "Sandhill"}}, 2026: {{Area: "Sandhill", Label: "Sandhill"}}},
		compares: true,
	}
	b := sampleBase("Cottonwood Draw", "/ranch/1", access.Landowner)
	b.Say = say
	return newRanchPage(b, &d, 0, sampleDay)
}

// SampleSurvey, for the tests outside too, makes up three seasons of one ranch; 2024 was not run.
func SampleSurvey(ranch string) *survey.Data {
	var d survey.Data
	rng := rand.New(rand.NewPCG(4, 2026))
	kinds := []struct {
		substrate survey.Substrate
		daily     float64
	}{{survey.Bunchgrass, 0.972}, {survey.Yucca, 0.992}, {"sand sagebrush", 0.985}}
	for _, season := range []struct{ year, lines int }{{2023, 3}, {2025, 5}, {2026, 6}} {
		for line := range season.lines {
			site := []string{"East pasture", "West pasture", "River bottom"}[line%3]
			key := survey.TransectKey{Ranch: ranch, Site: site, Season: season.year, Transect: fmt.Sprint(line + 1)}
			for n := range 8 {
				kind := kinds[n%len(kinds)]
				d.Nests = append(d.Nests, sampleNest(key, n+1, kind.substrate, kind.daily, rng))
			}
			for range 2 {
				d.Belts = append(d.Belts, survey.Belt{Ranch: ranch, Site: site, Season: season.year, Transect: key.Transect, LengthFt: 726, WidthFt: 6,
					Counts: map[survey.Substrate]int{survey.Bunchgrass: 12 + rng.IntN(10) + 9*(line%3), survey.Yucca: rng.IntN(6)}})
			}
		}
	}
	return &d
}

func sampleNest(key survey.TransectKey, number int, substrate survey.Substrate, daily float64, rng *rand.Rand) survey.Nest {
	n := survey.Nest{Ranch: key.Ranch, Site: key.Site, Season: key.Season, Transect: key.Transect, Number: fmt.Sprint(number),
		Substrate: substrate, SetOn: survey.DateOf(key.Season, time.April, 28), EggsLeft: -1}
	for _, day := range []survey.Date{14, 28} {
		state := survey.Intact
		if rng.Float64() > math.Pow(daily, 14) {
			state = []survey.State{survey.Taken, survey.Taken, survey.Taken, survey.Taken, survey.Taken, survey.Trampled, survey.Flooded, survey.Spoiled, survey.Lost}[rng.IntN(9)]
		}
		n.Visits = append(n.Visits, survey.Visit{On: n.SetOn + day, State: state})
		if state == survey.Intact {
			continue
		}
		if state == survey.Taken {
			n.Remains = []*survey.Remains{nil, {Bits: "halves", BitsFar: "under_3"}, {Bits: "near_whole", OpenedAt: "end", BitsFar: "in_bowl", Ground: "cone_pits"}, {Bits: "none", Ground: "calm", Bowl: "neat"}, {Bits: "crumbs", Ground: "rooted", Bowl: "gone"}}[rng.IntN(5)]
		}
		break
	}
	return n
}

// Each template must run with its page struct filled: a field that a template names and the struct lacks shows here.
func TestTemplatesFitTheirPages(t *testing.T) {
	s := sampleServer(t)
	pages := samplePages()
	maps.Copy(pages, workPages(t))
	maps.Copy(pages, cooperativePages(words.Speaker{}))
	maps.Copy(pages, filePages())
	maps.Copy(pages, whoPages())
	maps.Copy(pages, outreachPages(t, words.Speaker{}))
	maps.Copy(pages, signInPages())
	maps.Copy(pages, paperPages())
	for name, page := range pages {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := s.views.Render(&b, "en/"+name, page); err != nil {
				t.Fatal(err)
			}
			html := b.String()
			for _, never := range []string{" style=", "<style", "ZgotmplZ", "NaN", " onclick="} {
				if strings.Contains(html, never) {
					t.Errorf("page contains %q", never)
				}
			}
			if *preview != "" {
				writePreview(t, s, name, html)
			}
		})
	}
}

func writePreview(t *testing.T, s *server, name, html string) {
	t.Helper()
	for path, hashed := range s.assets.hashed {
		html = strings.ReplaceAll(html, hashed, "static/"+path)
	}
	files, err := fs.Sub(web.FS, ".")
	if err != nil {
		t.Fatal(err)
	}
	for path := range s.assets.hashed {
		b, err := fs.ReadFile(files, "static/"+path)
		if err != nil {
			t.Fatal(err)
		}
		to := filepath.Join(*preview, "static", path)
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(*preview, name+".html"), []byte(html), 0o644); err != nil {
		t.Fatal(err)
	}
}
