package pages_test

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/findings"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// A season with results: what the page says is what findings gives for the same rows.
func TestRanchSaysWhatFindingsFound(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	rows := pages.SampleSurvey("Cottonwood Draw")
	ada.does(func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: mine, File: "seasons.csv", Data: []byte("a"), Rows: rows})
		return err
	})

	home := "/ranch/" + string(mine)
	if got := ada.opens("/ranch"); got.status != http.StatusSeeOther || got.header.Get("Location") != home {
		t.Errorf("/ranch gave %d to %q, want 303 to %q", got.status, got.header.Get("Location"), home)
	}
	r := findings.Compute(rows, findings.Options{})
	s, _ := r.SurvivalOf("Cottonwood Draw", 2026)
	d, _ := r.DensityOf("Cottonwood Draw", 2026)
	of100 := func(x *float64) string { return fmt.Sprint(math.Round(100 * *x)) }
	ada.want(ada.opens(home), http.StatusOK,
		fmt.Sprintf("%d of %d nests lasted four weeks.", s.Lasted, s.Settled),
		fmt.Sprintf("That is %s of 100 by days, every kind of cover given the same weight. A fair range is %s to %s.", of100(s.Day28.Estimate), of100(s.Day28.Low), of100(s.Day28.High)),
		fmt.Sprintf("about %.0f clumps an acre", *d.PerAcre.Estimate),
		"There is none for 2026 yet",
		"You alone. Nobody else in the cooperative sees this page.",
		findings.Limits()[0])

	// The cooperative's own marks stand beside a season that has not opened, with where they come from; what cannot be is refused in words.
	rosa.want(rosa.posts("/cooperative/marks", "cover", "420", "hope", "40", "first", "28", "last", "14", "from", ""), http.StatusUnprocessableEntity, "The last check comes after the first.")
	rosa.want(rosa.posts("/cooperative/marks", "cover", "many", "hope", "40", "first", "12", "last", "26", "from", ""), http.StatusUnprocessableEntity, "The cover target is from 20 to 5,000 clumps an acre.")
	rosa.posts("/cooperative/marks", "cover", "420", "hope", "40", "first", "12", "last", "26", "from", "a vote of the cooperative")
	if _, err := st.db.Owner.Exec(t.Context(), "UPDATE tussock.targets SET set_at = '2026-06-01'"); err != nil { // while the season ran
		t.Fatal(err)
	}
	rosa.want(rosa.opens("/cooperative/marks"), http.StatusOK, "What figures are held against")
	ada.want(ada.opens(home), http.StatusOK, "where 420 are the target", "the cover target, 420 clumps an acre: a vote of the cooperative.")
	if plan := ada.opens("/plan/" + string(mine) + "/2027"); !strings.Contains(plan.body, `name="first" inputmode="numeric" value="12"`) {
		t.Error("a new plan does not begin with the cooperative's days")
	}
	if got := ada.posts("/cooperative/marks", "cover", "20", "hope", "40", "first", "12", "last", "26"); got.status != http.StatusForbidden {
		t.Errorf("a landowner changes the marks: %d", got.status)
	}

	earlier, _ := r.SurvivalOf("Cottonwood Draw", 2023)
	ada.want(ada.opens(home+"?season=2023"), http.StatusOK, fmt.Sprintf("%d of %d nests", earlier.Lasted, earlier.Settled))
	ada.want(ada.opens(home+"?season=1999"), http.StatusOK, fmt.Sprintf("%d of %d nests", s.Lasted, s.Settled))

	// A hand sees the ranch and nothing beside it; nobody else opens it at all.
	hand := rosa.invites(access.Hand, mine)
	if page := hand.opens(home); page.status != http.StatusOK || strings.Contains(page.text(), "bulletin") {
		t.Errorf("a hand gets %d: %s", page.status, page.text())
	}
	ada.want(ada.opens(home), http.StatusOK, "You, and "+hand.actor.Name+" (hand, since ")
	other := rosa.invites(access.Landowner, rosa.adds("Antelope Flat", "Bo Flat"))
	for _, tt := range []struct {
		who    *member
		status int
	}{{rosa, 403}, {rosa.invites(access.Biologist), 403}, {rosa.invites(access.Planner), 403}, {other, 404}} {
		if got := tt.who.opens(home).status; got != tt.status {
			t.Errorf("%s gets %d, want %d", tt.who.actor.Role, got, tt.status)
		}
	}
}

func TestRanchWithoutResultsSaysHowToSendThem(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	ada.want(ada.opens("/ranch/"+string(mine)), http.StatusOK, "Nothing has been sent for Cottonwood Draw yet.", "Send results")
}

func TestWhoKeepsTheOwnersChoice(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	joins := regexp.MustCompile(`value="1" checked`)
	if joins.MatchString(ada.opens("/who").body) {
		t.Error("a new ranch is counted before its owner said so")
	}
	if got := ada.posts("/who/"+string(mine), "level", "1"); got.status != http.StatusSeeOther {
		t.Errorf("keeping the choice gave %d", got.status)
	}
	if !joins.MatchString(ada.opens("/who").body) {
		t.Error("the choice was not kept")
	}
	ada.want(ada.posts("/who/"+string(mine), "level", "3"), http.StatusUnprocessableEntity, "Please choose one of the two.")
	bo := rosa.invites(access.Landowner, rosa.adds("Antelope Flat", "Bo Flat"))
	if got := bo.posts("/who/"+string(mine), "level", "0"); got.status != http.StatusNotFound {
		t.Errorf("another's choice: %d, want 404", got.status)
	}
	hand := rosa.invites(access.Hand, mine)
	if got := hand.posts("/who/"+string(mine), "level", "0"); got.status != http.StatusForbidden {
		t.Errorf("a hand's choice: %d, want 403", got.status)
	}
	for _, m := range []*member{rosa, hand, rosa.invites(access.Biologist)} {
		m.want(m.opens("/who"), http.StatusOK, "you see")
	}
}

// knocks sends the sign-in form from a browser that is not in.
func (st *stage) knocks(email, password string) answer {
	st.t.Helper()
	m := &member{stage: st}
	door := m.opens("/sign-in")
	word := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(door.body)
	form := url.Values{"csrf": {word[1]}, "email": {email}, "password": {password}, "next": {"/ranch"}}
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Cookie", strings.Split(door.header.Get("Set-Cookie"), ";")[0])
	return m.asks(r)
}

func TestTheDoorTellsNothingOfWhoIsAMember(t *testing.T) {
	st := sharedStage(t)
	st.cooperative("Sandhill Grass")
	wrong := st.knocks("person1@example.org", "not the password")
	unknown := st.knocks("nobody1@example.org", "not the password")
	if wrong.status != unknown.status || wrong.status < 400 {
		t.Errorf("statuses %d and %d, want the same refusal", wrong.status, unknown.status)
	}
	if wrong.text() != unknown.text() {
		t.Errorf("the door says\n%s\nand\n%s", wrong.text(), unknown.text())
	}
	in := st.knocks("person1@example.org", "four plain words here")
	if in.status != http.StatusSeeOther || in.header.Get("Location") != "/ranch" {
		t.Errorf("signing in gave %d to %q: %s", in.status, in.header.Get("Location"), in.text())
	}
	if cookie := in.header.Get("Set-Cookie"); !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "SameSite=Lax") {
		t.Errorf("cookie = %q", cookie)
	}
}

func TestSignOutEndsTheSession(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	if got := rosa.opens("/"); got.header.Get("Location") != "/cooperative" {
		t.Errorf("first page = %q, want /cooperative", got.header.Get("Location"))
	}
	if got := rosa.posts("/sign-out"); got.status != http.StatusSeeOther {
		t.Errorf("signing out gave %d", got.status)
	}
	if got := rosa.opens("/who"); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
		t.Errorf("after signing out /who gave %d to %q", got.status, got.header.Get("Location"))
	}
}

func TestJoinByInvitation(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	var token string
	rosa.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, "Ada Marsh", "ada@example.org", []access.ID{mine})
		return err
	})
	guest := &member{stage: st}
	form := guest.opens("/join/" + token)
	guest.want(form, http.StatusOK, "Sandhill Grass", "Cottonwood Draw", "a landowner")
	word := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(form.body)
	send := func(password string) answer {
		body := url.Values{"csrf": {word[1]}, "name": {"Ada Marsh"}, "email": {"ada@example.org"}, "password": {password}}
		r := httptest.NewRequest(http.MethodPost, "/join/"+token, strings.NewReader(body.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Cookie", strings.Split(form.header.Get("Set-Cookie"), ";")[0])
		return guest.asks(r)
	}
	if got := send("short"); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `value="Ada Marsh"`) {
		t.Errorf("a short password gave %d: %s", got.status, got.text())
	}
	if got := send("four plain words here"); got.status != http.StatusSeeOther || got.header.Get("Set-Cookie") == "" {
		t.Errorf("joining gave %d: %s", got.status, got.text())
	}
	if got := guest.opens("/join/" + token).status; got == http.StatusOK {
		t.Error("the link works twice")
	}
}

// TestFindingsAreLoaded: what shows a ranch's figures shows what is kept, whatever its rows come to; nothing is worked out at a look.
func TestFindingsAreLoaded(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	rows := pages.SampleSurvey("Cottonwood Draw")
	ada.does(func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: mine, File: "seasons.csv", Data: []byte("a"), Rows: rows})
		return err
	})
	token := ada.token()

	kept := findings.Compute(rows, findings.Options{})
	s, _ := kept.SurvivalOf("Cottonwood Draw", 2026)
	s.Lasted, s.Settled, *s.Day28.Estimate = 7, 8, 0.8765
	body, err := kept.Pack()
	if err != nil {
		t.Fatal(err)
	}
	if n, err := st.db.Owner.Exec(t.Context(), "UPDATE tussock.finding SET body = $2 WHERE ranch_id = $1", mine, body); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	home := "/ranch/" + string(mine)
	ada.want(ada.opens(home), http.StatusOK, "7 of 8 nests lasted four weeks")
	ada.want(ada.opens(home+"?season=2025"), http.StatusOK, "88")
	ada.want(ada.opens("/who/showcase?ranch="+string(mine)), http.StatusOK, "88")
	if got := ada.calls(token, http.MethodGet, "/api/v1/ranches/"+string(mine)+"/seasons/2026/findings"); !strings.Contains(got.body, "0.8765") {
		t.Errorf("a program gets %d: %s", got.status, got.body)
	}
}
