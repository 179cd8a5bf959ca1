package pages_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// TestNeighbor: what a landowner is shown for what a neighbor sees is what a neighbor sees, and does not change with
// the landowner's own rows.
func TestNeighbor(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var mine, theirs access.ID
	rosa.does(func(tx *postgres.Tx) (err error) {
		if err = tx.SaveArea("North", ""); err != nil {
			return err
		}
		if mine, err = tx.SaveRanch(postgres.Ranch{Name: "Cottonwood Draw", Owner: "Ada Marsh", Area: "North"}); err != nil {
			return err
		}
		theirs, err = tx.SaveRanch(postgres.Ranch{Name: "Antelope Flat", Owner: "Bo Flat", Area: "North"})
		return err
	})
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, theirs)
	ada.does(func(tx *postgres.Tx) error { return tx.SetConsent(mine, 1) })
	bo.does(func(tx *postgres.Tx) error { return tx.SetConsent(theirs, 1) })
	ada.want(ada.opens("/who/neighbor"), http.StatusOK, "Nothing is published in which your ranch could be")
	seed := func(statement string, args ...any) {
		t.Helper()
		if _, err := st.db.Owner.Exec(context.Background(), statement, args...); err != nil {
			t.Fatal(err)
		}
	}
	coop := rosa.actor.Coop
	seed("INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, 2026, 1, now(), 'h')", coop)
	seed("INSERT INTO pub.place (coop_id, season, area, label) VALUES ($1, 2026, 'North', 'North')", coop)
	for row, c := range []struct {
		area, measure, predator string
		estimate, low, high     any
		n                       int
	}{
		{"North", "survival_28", "", 0.55, 0.45, 0.65, 6}, {"North", "clumps_per_acre", "", nil, 150, 300, 6}, {"South", "survival_28", "", 0.77, 0.7, 0.8, 7},
		{"", "survival_28", "", 0.61, 0.54, 0.66, 21}, {"", "predator_share", "raccoon", 0.35, 0.25, 0.45, 12},
	} {
		var area any
		if c.area != "" {
			area = c.area
		}
		seed(`INSERT INTO pub.cell (coop_id, season, row, area, measure, predator, estimate, low, high, entities, n)
			VALUES ($1, 2026, $2, $3, $4, $5, $6, $7, $8, $9, $10)`, coop, row, area, c.measure, c.predator, c.estimate, c.low, c.high, map[bool]string{true: "5-9", false: "20-49"}[c.n < 10], c.n)
	}
	// What differs between two readers and two requests is the reader's own name and the form's word.
	read := func(m *member, ranch, path string) string {
		page := m.opens(path)
		m.want(page, http.StatusOK, "North", "55", "45 to 65", "150 to 300", "61", "raccoon", "35", "5–9", "20–49")
		if strings.Contains(page.text(), "77") {
			t.Error("another area’s figure is on the page")
		}
		return strings.ReplaceAll(regexp.MustCompile(`[0-9a-f-]{36}`).ReplaceAllString(page.text(), "ID"), ranch, "RANCH")
	}
	before := read(ada, "Cottonwood Draw", "/who/neighbor")
	if other := read(bo, "Antelope Flat", "/who/neighbor"); other != before {
		t.Errorf("the landowner reads\n%s\nthe neighbor\n%s", before, other)
	}
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	own := ada.opens("/ranch/" + string(mine)).text()
	if !regexp.MustCompile(`\d`).MatchString(own) || read(ada, "Cottonwood Draw", "/who/neighbor") != before {
		t.Error("the page changes with the landowner’s own rows")
	}
	ada.does(func(tx *postgres.Tx) error { return tx.SetConsent(mine, 1) })
	ada.want(ada.opens("/who/neighbor?ranch="+string(mine)+"&season=2026"), http.StatusOK, "Cottonwood Draw is not counted in seasons that open until two people vouch")
	seed("INSERT INTO tussock.vouch (coop_id, owner_id, person_id) SELECT $1, $2, id FROM tussock.person WHERE coop_id = $1 AND id <> $2 AND role IN ('coordinator', 'landowner') ON CONFLICT DO NOTHING", rosa.actor.Coop, ada.actor.Person)
	seed("UPDATE tussock.person SET invited_by = id WHERE id = $1", bo.actor.Person)
	ada.want(ada.opens("/who/neighbor?ranch="+string(mine)+"&season=2026"), http.StatusOK, "Cottonwood Draw is counted from the next season that opens")
	for path, m := range map[string]*member{"/who/neighbor?ranch=" + string(theirs): ada, "/who/neighbor?ranch=x": bo} {
		if got := m.opens(path); got.status != http.StatusNotFound {
			t.Errorf("%s gives %d", path, got.status)
		}
	}
}

// TestConsentOnThePage: either owner chooses, and the page says who did, and when.
func TestConsentOnThePage(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine, second := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("North Breaks", "Ada Marsh")
	ada, cal := rosa.invites(access.Landowner, mine, second), rosa.invites(access.Landowner, mine)
	luis, other := rosa.invites(access.Hand, mine), rosa.adds("Antelope Flat", "Bo Flat")
	for m, knows := range map[*member]bool{ada: true, luis: false} { // two of one name are told apart by those whose ranch it is
		if got := strings.Contains(m.opens("/who").text(), "Signs in as person3@example.org."); got != knows {
			t.Errorf("%s reads a fellow owner’s address: %v", m.actor.Role, got)
		}
	}
	ada.want(ada.opens("/who"), http.StatusOK, "Nobody has chosen yet, so it is private.", "Cottonwood Draw has several owners", "they count as one landowner")
	ada.posts("/who/"+string(mine), "level", "1")
	ada.want(ada.opens("/who"), http.StatusOK, "Person Two: yes since")
	cal.want(cal.opens("/who"), http.StatusOK, "Person Two: yes since")
	for _, level := range []string{"2", "3", "-1", "x"} {
		if got := ada.posts("/who/"+string(mine), "level", level); got.status != http.StatusUnprocessableEntity {
			t.Errorf("level %s: %d", level, got.status)
		}
	}

	// A no ends something, so it takes one tap more, on a page that says what.
	asked := cal.posts("/who/"+string(mine), "level", "0").header.Get("Location")
	if asked != "/who/no?ranch="+string(mine) {
		t.Fatalf("a no goes on to %q", asked)
	}
	cal.want(cal.opens("/who"), http.StatusOK, "Person Two: yes since")
	cal.want(cal.opens(asked), http.StatusOK, "Take Cottonwood Draw out of the comparisons?", "is in no bulletin that is not composed yet", "you read only the figures that rest on ten landowners")
	cal.want(cal.opens("/who/no?ranch="+string(other)), http.StatusNotFound)
	cal.posts("/who/"+string(mine), "level", "0", "sure", "1")
	if got := cal.opens(asked).header.Get("Location"); got != "/who#r"+string(mine) {
		t.Errorf("where nothing is counted the page goes on to %q", got)
	}
	ada.want(ada.opens("/who"), http.StatusOK, "Person Two: yes since", "Person Three: no since", "is not counted as long as another owner says no")
	ada.posts("/who/"+string(mine), "level", "1")
	ada.want(ada.opens("/who"), http.StatusOK, "is not counted as long as another owner says no")

	if got := cal.posts("/who/people/"+string(luis.actor.Person)+"/end", "ranch", string(mine)); got.status != http.StatusSeeOther {
		t.Errorf("an owner ends a hand’s access: %d", got.status)
	}
	if got := luis.opens("/ranch/" + string(mine)); got.status == http.StatusOK {
		t.Error("the hand still opens the ranch")
	}
	if got := cal.posts("/who/people/"+string(ada.actor.Person)+"/end", "ranch", string(mine)); got.header.Get("Location") != "/who?asked=1" {
		t.Errorf("one owner asks for the other’s to end: %d", got.status)
	}
	rosa.want(rosa.opens("/who"), http.StatusOK, "If you ranch yourself, you have a second membership")
}

// TestShowingByName: an owner chooses a figure of a season whose bulletin is to come; others read it when that is out.
func TestShowingByName(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine, theirs := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Antelope Flat", "Bo Flat")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, theirs)
	path := "/who/showcase?ranch=" + string(mine)
	ada.want(ada.opens(path), http.StatusOK, "There is no figure to show yet", "you protect nobody")
	ada.kept(ada.sends([]sheet{{"nests.csv", season(0, 2)}}))
	page := ada.opens(path)
	value := regexp.MustCompile(`name="figure" value="([^"]*survival)"`).FindStringSubmatch(page.body)
	if value == nil {
		t.Fatalf("no figure to choose: %s", page.text())
	}
	ada.want(ada.posts("/who/showcase", "ranch", string(mine), "figure", "2026 rank"), http.StatusUnprocessableEntity, "Choose one of the figures")
	if got := bo.posts("/who/showcase", "ranch", string(mine), "figure", value[1]); got.status != http.StatusNotFound {
		t.Errorf("a neighbor puts it up: %d", got.status)
	}
	if got := ada.posts("/who/showcase", "ranch", string(mine), "figure", value[1]); got.status != http.StatusSeeOther {
		t.Fatalf("putting it up: %d %s", got.status, got.text())
	}
	ada.want(ada.opens(path), http.StatusOK, "It appears with that season’s bulletin. Nobody else has seen it yet.", "Take it down")
	bo.want(bo.opens("/showcase"), http.StatusOK, "Nobody shows a figure by name.")
	if _, err := st.db.Owner.Exec(context.Background(), "INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, $2, 1, now() + interval '1 minute', 'h')",
		rosa.actor.Coop, strings.Fields(value[1])[0]); err != nil {
		t.Fatal(err)
	}
	for _, m := range []*member{bo, rosa, rosa.invites(access.Planner)} {
		m.want(m.opens("/showcase"), http.StatusOK, "Cottonwood Draw, "+strings.Fields(value[1])[0], "of 100 simulated nests lasted four weeks", "this is no ranking")
	}
	ada.want(ada.opens(path), http.StatusOK, "Every member can read it.")
	ada.posts(regexp.MustCompile(`/who/showcase/[0-9a-f-]{36}/end`).FindString(ada.opens(path).body), "ranch", string(mine))
	bo.want(bo.opens("/showcase"), http.StatusOK, "Nobody shows a figure by name.")
	ada.want(ada.opens(path), http.StatusOK, "are out or being made")
	if hand := rosa.invites(access.Hand, mine); hand.opens("/showcase").status != http.StatusForbidden {
		t.Error("a hand opens what is shown by name")
	}
}

// TestPromiseInBothLanguages: the promise can be read before anybody has joined, in either language, and from where one needs
// it.
func TestPromiseInBothLanguages(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	for language, say := range map[string][]string{
		"en": {"What we promise", "at least four other landowners", "What we cannot promise", "If you leave"},
		"es": {"Lo que prometemos", "por lo menos otros cuatro dueños", "Lo que no podemos prometer", "Si usted se va"},
	} {
		r := httptest.NewRequest(http.MethodGet, "/promise", nil)
		r.Header.Set("Accept-Language", language)
		nobody := &member{stage: st}
		nobody.want(nobody.asks(r), http.StatusOK, say...)
	}
	var token string
	rosa.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, "", "ada@example.org", nil)
		return err
	})
	r := httptest.NewRequest(http.MethodGet, "/who", nil)
	r.Header.Set("Accept-Language", "es-MX")
	rosa.want(rosa.asks(r), http.StatusOK, "Quién puede ver esto", "Como coordinador usted ve")
	for _, path := range []string{"/about", "/who", "/join/" + token} {
		if !strings.Contains(rosa.opens(path).body, `href="/promise"`) {
			t.Errorf("%s does not lead to the promise", path)
		}
	}
}
