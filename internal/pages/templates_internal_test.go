// Inside the package: page structs are its own business.

package pages

import (
	"bytes"
	"flag"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/chart"
	"tussock/internal/postgres"
	"tussock/internal/survey"
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
		"sign_in": signInPage{base: sampleBase("Sign in", "/sign-in", ""), Message: "That address and password do not go together.", Next: "/"},
		"join": joinPage{base: sampleBase("Join Sandhill Grass Cooperative", "/join/x", ""), Token: "x", Part: "a landowner", Sees: parts[access.Landowner].sees,
			Invitation: postgres.Invitation{InvitedBy: "Rosa Lind", Role: access.Landowner, Ranches: []string{"Cottonwood Draw"}, Email: "ada@example.org"}, Email: "ada@example.org"},
		"error": errorPage{base: sampleBase("No such page", "/x", access.Landowner), Sentence: apologies[404].sentence, Reference: "00ff"},
		"about": aboutPage{sampleBase("What these numbers are", "/about", access.Landowner)},
		"ranch": sampleRanch(),
	}
	return pages
}

func sampleRanch() ranchPage {
	dots := func(at ...float64) []float64 { return at }
	grass := ranged{Estimate: 46, Low: 27, High: 66}
	yucca := ranged{Estimate: 79, Low: 58, High: 92}
	sage := ranged{Estimate: 66, Low: 35, High: 88}
	cover := []ranged{{342, 268, 437}, {188, 121, 292}, {266, 170, 416}}
	most := coverScale(cover)
	shares := orderShares([]share{
		{Name: "skunk", ranged: ranged{26, 8, 47}, Figure: "26 of 100 (8–47)"},
		{Name: "can’t tell", ranged: ranged{44, 25, 63}, Unsure: true, Figure: "44 of 100"},
		{Name: "coyote", ranged: ranged{19, 4, 38}, Figure: "19 of 100 (4–38)"},
		{Name: "bird", ranged: ranged{11, 1, 29}, Figure: "11 of 100 (1–29)"},
	})
	years, err := chart.Seasons([]chart.Point{
		{Season: 2023, Estimate: 54, Low: 31, High: 74, Words: "2023: 54 of 100, a fair range 31 to 74", Thin: true},
		{Season: 2025, Estimate: 57, Low: 41, High: 71, Words: "2025: 57 of 100, a fair range 41 to 71"},
		{Season: 2026, Estimate: 60, Low: 43, High: 75, Words: "2026: 60 of 100, a fair range 43 to 75"},
	}, chart.Axis{Name: "of 100 nests", Most: 100}, "Nests lasting four weeks, by season")
	if err != nil {
		panic(err)
	}
	page := ranchPage{
		base:    sampleBase("Cottonwood Draw", "/ranch/1", access.Landowner),
		Name:    "Cottonwood Draw",
		Ranches: []navLink{{"Cottonwood Draw", "/ranch/1", true}, {"North Breaks", "/ranch/2", false}},
		Season:  2026, Today: "4 August 2026",
		Gist:    "Cover is short in West pasture.",
		Seasons: []navLink{{"2026", "?season=2026", true}, {"2025", "?season=2025", false}, {"2023", "?season=2023", false}},
		Open:    &openQuestions{"Two questions about your sheet are still open.", "/send"},
		Nests: &nestsPart{
			Count: "29 of 48 nests", Sentence: "lasted four weeks. A fair range is 43 to 75 of 100.",
			Fates: []fateRow{
				{29, "lasted four weeks", eggMarks(survey.Intact, 29)},
				{13, "taken by an animal", eggMarks(survey.Taken, 13)},
				{2, "trampled", eggMarks(survey.Trampled, 2)},
				{1, "flooded", eggMarks(survey.Flooded, 1)},
				{1, "spoiled", eggMarks(survey.Spoiled, 1)},
				{2, "not found again", eggMarks(survey.Lost, 2)},
			},
			Note: "A nest that was not found again counts up to its last good look, and not after.",
			Beside: &beside{"The 2026 bulletin, Sandhill", "Across Sandhill, between 50 and 65 of 100 lasted. Yours is similar.",
				besideStrip(60, ranged{0, 50, 65}, 100, "Yours at 60 of 100; the bulletin’s range is 50 to 65")},
			Table: []tableRow{{"all nests", "48", "6", "29 of 46", "60", "43–75"}, {"bunchgrass", "24", "6", "11 of 23", "46", "27–66"}},
		},
		Kinds: &kindsPart{Sentence: "Nests in yucca lasted longer than nests in bunchgrass.", Rows: []kindRow{
			{"Bunchgrass", "11 of 23 lasted. A fair range is 27 to 66 of 100.", dotPlot(dots(28, 32, 35, 37, 39, 41, 42, 43, 45, 46, 47, 48, 49, 51, 52, 54, 56, 58, 61, 66), grass, "Bunchgrass")},
			{"Yucca", "12 of 15 lasted. A fair range is 58 to 92 of 100.", dotPlot(dots(58, 64, 67, 70, 72, 74, 75, 77, 78, 79, 80, 81, 82, 83, 84, 86, 87, 88, 90, 92), yucca, "Yucca")},
			{"Sand sagebrush", "6 of 9 lasted. A fair range is 35 to 88 of 100: too few nests to say more.", dotPlot(dots(36, 44, 49, 53, 56, 59, 61, 63, 65, 67, 68, 70, 72, 74, 75, 77, 79, 82, 85, 89), sage, "Sand sagebrush")},
		}},
		Cover: &coverPart{Sentence: "West pasture is short of the cover mark; on the other two it cannot be told yet.", Axis: coverAxis(most), Strips: []strip{
			{"East pasture", "342 an acre (268–437)", coverStrip(cover[0], most, "East pasture")},
			{"West pasture", "188 an acre (121–292)", coverStrip(cover[1], most, "West pasture")},
			{"River bottom", "266 an acre (170–416)", coverStrip(cover[2], most, "River bottom")},
		}, Beside: &beside{"The 2026 bulletin, Sandhill", "Across Sandhill there were 200 to 400 clumps an acre. Yours is similar.", ""}},
		Mix: &mixPart{Sentence: "13 nests were taken. For 6 of them the remains say little.", Bar: mixBar(shares, "Who took them"), Shares: shares,
			Beside: &beside{"The 2026 bulletin", "Too few landowners found remains this season to say anything without pointing at somebody.", ""}},
		Years: &yearsPart{Sentence: "About the same as in earlier seasons, as far as can be told.", Words: "Seasons", Options: years, Rows: []yearRow{
			{2023, "24", "54", "31–74"}, {2024, "", "", ""}, {2025, "48", "57", "41–71"}, {2026, "48", "60", "43–75"}}},
		Talk:    []talk{{"West pasture has few clumps to nest in.", "Lighter stocking or a longer rest there, spring to summer; a plan for the next dry year.", "Not first: trapping."}},
		Limits:  []string{"Three hen’s eggs in a clump are not a quail’s nest. They show the risk where nests could be: not how many birds hatched, nor why."},
		WhoSees: "You, and Luis Ortega as a hand since 3 May 2026. Nobody else in the cooperative sees this page.",
	}
	page.Charts, page.Sheet = true, true
	return page
}

// Each template must run with its page struct filled: a field that a template names and the struct lacks shows here.
func TestTemplatesFitTheirPages(t *testing.T) {
	s := sampleServer(t)
	pages := samplePages()
	maps.Copy(pages, workPages(t))
	for name, page := range pages {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := s.views.Render(&b, name, page); err != nil {
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
