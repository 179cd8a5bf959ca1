package pages_test

import (
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/postgres"
	plans "tussock/internal/season"
	"tussock/internal/survey"
)

// TestPaper: a planned line is printed, keyed with a slip, mended, keyed again by somebody else; a neighbor
// and a biologist come nowhere near it.
func TestPaper(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill")
	draw, breaks := rosa.adds("Cottonwood Draw", "Marsh"), rosa.adds("North Breaks", "Bell")
	ada, ben := rosa.invites(access.Landowner, draw), rosa.invites(access.Landowner, breaks)
	luis, ruth := rosa.invites(access.Hand, draw), rosa.invites(access.Biologist)
	ada.wakes()
	set := survey.DateOf(2026, 5, 4)
	ada.does(func(tx *postgres.Tx) error {
		return tx.SaveLines(draw, 2026, plans.Plan{Ranch: draw, Season: 2026, Purpose: plans.Trend, Lines: 1, Stops: 12, Spacing: 60, SetOn: set, First: 14, Last: 28, Slack: 2},
			[]plans.Line{{Name: "1", Pasture: "North", Stops: 12, Spacing: 60, SetOn: set, FirstCheck: set + 14, LastCheck: set + 28, Slack: 2}})
	})
	var line plans.Line
	ada.does(func(tx *postgres.Tx) error {
		lines, err := tx.Lines(draw, 2026)
		line = lines[0]
		return err
	})
	page := "/key/" + line.Code
	looks := func() (all []fieldwork.Look) {
		ada.does(func(tx *postgres.Tx) (err error) {
			all, err = tx.Looks(draw, 2026)
			return err
		})
		return all
	}

	// Print.
	luis.want(luis.opens("/paper"), http.StatusOK, "Cottonwood Draw, 2026", "North, line 1", line.Code)
	for _, size := range []string{"letter", "a4"} {
		pdf := luis.opens("/paper/sheets.pdf?size=" + size + "&line=" + string(line.ID))
		if pdf.status != http.StatusOK || pdf.header.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(pdf.body, "%PDF-") {
			t.Errorf("%s: %d %s", size, pdf.status, pdf.header.Get("Content-Type"))
		}
	}
	for _, stranger := range []*member{ben, rosa, ruth} {
		stranger.want(stranger.opens("/paper/sheets.pdf?line="+string(line.ID)), http.StatusNotFound)
		if got := stranger.opens("/paper"); got.status != http.StatusOK || strings.Contains(got.body, line.Code) {
			t.Errorf("a stranger's page of paper: %d, or it names the line", got.status)
		}
	}
	ben.want(ben.opens(page), http.StatusNotFound)
	ben.want(ben.posts(page, "cover.1", "1"), http.StatusNotFound)
	ben.want(ben.posts(page+"/again", "cover.1", "1"), http.StatusNotFound)
	ruth.want(ruth.opens(page), http.StatusForbidden)
	luis.want(luis.opens("/paper/sheets.pdf?size=a0"), http.StatusNotFound)

	// Key, with a slip: nothing is kept, nothing is lost.
	if to := luis.opens("/key?code=" + strings.ToLower(line.Code[:3]+"+"+line.Code[3:])).header.Get("Location"); to != page {
		t.Errorf("the code leads to %q", to)
	}
	fields := []string{"on1", "2026-05-04", "on2", "2026-05-18", "on3", "2026-06-01", "who1", "LO", "who2", "LO", "cover.1", "1", "found2.1", "a", "fresh2.1", "3", "found3.1", "1",
		"cover.2", "y", "found2.2", "s", "left2.2", "1", "how2.2", "1", "bits.2", "4", "note.2", "by the windmill", "cover.12", "sand sage"}
	seen := regexp.MustCompile(`name="seen" value="([0-9a-f]*)"`)
	fields = append(fields, "seen", seen.FindStringSubmatch(luis.opens(page).body)[1])
	luis.want(luis.posts(page, append(fields, "found3.2", "q")...), http.StatusUnprocessableEntity, "Nothing of this sheet counts yet", "Stop 2, What you found, Week 4", "“q” is none of the boxes")
	if n := len(looks()); n != 0 {
		t.Fatalf("%d looks of a sheet with a slip", n)
	}
	if back := luis.opens(page).body; !strings.Contains(back, `value="by the windmill"`) || !strings.Contains(back, `value="q"`) {
		t.Error("the draft is gone")
	}
	if other := ada.opens(page).body; strings.Contains(other, "by the windmill") {
		t.Error("a draft is shown to somebody else")
	}

	// Key it well.
	kept := luis.posts(page, fields...)
	if to := kept.header.Get("Location"); kept.status != http.StatusSeeOther || to != page+"?kept=6" {
		t.Fatalf("keeping: %d %s: %s", kept.status, to, kept.text())
	}
	luis.want(luis.opens(page+"?kept=6"), http.StatusOK, "6 looks are new or mended")
	first := looks()
	if len(first) != 6 || first[0].Who != "LO" || !strings.HasPrefix(first[0].Device, "paper-") {
		t.Fatalf("%d looks: %+v", len(first), first)
	}
	// The same form sent twice, as by an impatient finger: the page has changed meanwhile, so it is asked about once.
	luis.want(luis.posts(page, fields...), http.StatusUnprocessableEntity, "Somebody else keyed this line")
	fields[len(fields)-1] = seen.FindStringSubmatch(ada.opens(page).body)[1]
	if to := luis.posts(page, fields...).header.Get("Location"); to != page+"?kept=0" || len(looks()) != 6 {
		t.Errorf("keyed twice: %s, %d looks", to, len(looks()))
	}

	// Somebody else keys the drawn rows again; nothing of it is a look.
	ada.want(ada.opens(page+"/again"), http.StatusOK, "without looking at the first keying")
	again := []string{}
	for i := 0; i+1 < len(fields); i += 2 {
		for _, stop := range fieldwork.Again(line) {
			if strings.HasSuffix(fields[i], "."+strconv.Itoa(stop)) {
				again = append(again, fields[i], fields[i+1])
			}
		}
	}
	ada.want(ada.posts(page+"/again", again...), http.StatusOK)
	stop := fieldwork.Again(line)[0]
	got := ada.posts(page+"/again", "cover."+strconv.Itoa(stop), "4", "found2."+strconv.Itoa(stop), "4")
	ada.want(got, http.StatusOK, "Stop "+strconv.Itoa(stop), "shrub", "spot not found")
	if n := len(looks()); n != 6 {
		t.Errorf("%d looks after keying again", n)
	}
	luis.want(luis.opens(page), http.StatusOK, "Keyed twice", "rows differed")
}
