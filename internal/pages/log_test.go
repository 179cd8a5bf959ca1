package pages_test

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	fieldseason "tussock/internal/season"
	"tussock/internal/survey"
)

// Whatever shows or hands out a ranch's results leaves a line that its owner reads, in plain words.
func TestWhoLookedAtWhatIsMine(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	ranch := boss.adds("Dry Fork", "Marsh family")
	owner, hand := boss.invites(access.Landowner, ranch), boss.invites(access.Hand, ranch)
	id, _ := owner.kept(owner.sends([]sheet{{"spring sheet.csv", plain}}))
	hand.want(hand.opens("/uploads/"+string(id)), http.StatusOK)
	hand.want(hand.opens("/uploads/"+string(id)+"/file"), http.StatusOK)
	hand.want(hand.opens("/ranch/"+string(ranch)), http.StatusOK)
	owner.want(owner.opens("/files/ranches/"+string(ranch)+"/darwin-core.zip"), http.StatusOK)
	var secret string
	owner.does(func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeToken("my program", 30)
		return err
	})
	r := httptest.NewRequest(http.MethodGet, "/api/v1/ranches/"+string(ranch)+"/seasons/2026/findings", nil)
	r.Header.Set("Authorization", "Bearer tussock_"+secret)
	if a := owner.asks(r); a.status != http.StatusOK {
		t.Fatalf("the program got %d: %s", a.status, a.body)
	}
	var line fieldseason.Line
	today := survey.DateFrom(time.Now())
	year := time.Now().Year()
	owner.does(func(tx *postgres.Tx) error {
		plan := fieldseason.Plan{Ranch: ranch, Season: year, Purpose: fieldseason.Trend, Lines: 1, Stops: 4, First: 14, Last: 28, SetOn: today}
		if err := tx.SaveLines(ranch, year, plan, []fieldseason.Line{{Ranch: ranch, Season: year, Name: "Seven", Stops: 4, SetOn: today}}); err != nil {
			return err
		}
		lines, err := tx.Lines(ranch, year)
		line = lines[0]
		return err
	})
	hand.want(hand.opens("/field/pack"), http.StatusOK)
	hand.want(hand.opens("/key/"+line.Code), http.StatusOK)
	hand.posts("/plan/calendar", "named", "1")
	made := owner.posts("/field/links", "ranch", string(ranch), "name", "Lupe Ortega", "line", string(line.ID), "from", today.String(), "through", (today + 30).String())
	phone := &fieldPhone{st, map[string]string{}}
	path := regexp.MustCompile(`/field/open/[0-9a-f]{64}`).FindString(made.body)
	phone.posts(path, url.Values{"csrf": {regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(phone.opens(path).body)[1]}})
	for range 2 {
		if a := phone.opens("/field/pack"); a.status != http.StatusOK {
			t.Fatalf("the link's pack gives %d", a.status)
		}
	}
	owner.want(owner.opens("/who"), http.StatusOK, "Lupe Ortega Field link Sees 1 line: where its nests stand, what was put there and which still need a look, so also which were lost", hand.actor.Name+" Calendar A calendar address of theirs says the ranch")
	if a := hand.opens("/who"); strings.Contains(a.text(), "Lupe Ortega") || strings.Contains(a.text(), "Calendar A calendar") {
		t.Error("the hand reads who has links and calendars")
	}

	page := owner.opens("/who/log")
	owner.want(page, http.StatusOK, hand.actor.Name+" Hand took the lines onto a phone;", "Lupe Ortega Field link took the lines onto a phone;", hand.actor.Name+" Hand opened a line’s sheet (Seven);")
	owner.want(page, http.StatusOK, "Dry Fork", hand.actor.Name, "opened the ranch’s page", "opened what was sent (spring sheet.csv)",
		"took a sheet as it was sent (spring sheet.csv)", "took a file (darwin-core.zip)", "read with a program (my program)")
	for name, m := range map[string]*member{"coordinator": boss, "hand": hand} {
		if a := m.opens("/who/log"); a.status != http.StatusForbidden {
			t.Errorf("the %s opens the owner's log: %d", name, a.status)
		}
	}
	neighbor := boss.invites(access.Landowner, boss.adds("Long Draw", "Hill family"))
	if a := neighbor.opens("/who/log"); a.status != http.StatusOK || strings.Contains(a.text(), "Dry Fork") || strings.Contains(a.text(), hand.actor.Name) {
		t.Errorf("the neighbor reads %d %s", a.status, a.text())
	}
}

// TestHandAndTheOwnersSheet: a hand changes what the hand sent until an owner accepts it, and no sheet of others; who took
// one back, and when, stands on its page, in the list and in the log.
func TestHandAndTheOwnersSheet(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	ranch := boss.adds("Dry Fork", "Marsh family")
	owner, hand := boss.invites(access.Landowner, ranch), boss.invites(access.Hand, ranch)
	id, _ := owner.kept(owner.sends([]sheet{{"owners.csv", plain}}))
	theirs := "/uploads/" + string(id)
	refused := func(path string) {
		t.Helper()
		for _, way := range []string{"/undo", "/restore", "/answers", "/accept"} {
			hand.want(hand.posts(path+way, "settings", "1", "date_order", "day"), http.StatusForbidden)
		}
	}
	refused(theirs)
	if a := hand.sends([]sheet{{"instead.csv", plain + "\n"}}, "replaces", string(id), "ranch", string(ranch)); a.status < 400 {
		t.Errorf("the hand replaces the owner's sheet: %d", a.status)
	}
	owner.want(owner.opens(theirs), http.StatusOK, "Your sheet is in", "Take this sheet back")
	if a := hand.opens(theirs); strings.Contains(a.text(), "Take this sheet back") {
		t.Error("the hand is offered to take the owner's sheet back")
	}

	mine, _ := hand.kept(hand.sends([]sheet{{"hands.csv", strings.ReplaceAll(plain, "2026", "2025")}}))
	own := "/uploads/" + string(mine)
	hand.want(hand.posts(own+"/undo"), http.StatusSeeOther)
	by := "Taken back by " + hand.actor.Name + " on "
	for _, path := range []string{own, "/uploads"} {
		owner.want(owner.opens(path), http.StatusOK, by)
	}
	owner.want(owner.opens("/who/log"), http.StatusOK, hand.actor.Name+" Hand took a sheet back (hands.csv);")
	hand.want(hand.posts(own+"/restore"), http.StatusSeeOther)
	owner.want(owner.opens(own), http.StatusOK, "Made to count again by "+hand.actor.Name)
	owner.want(owner.posts(own+"/accept"), http.StatusSeeOther)
	refused(own)
	fixed := hand.opens(own)
	hand.want(fixed, http.StatusOK, "Only an owner of the ranch can change this sheet", "Over each column stands how we read it.")
	if owners := owner.opens(own).body; !strings.Contains(owners, "/answers") || !strings.Contains(owners, `form="columns"`) {
		t.Error("the owner is not offered to change how the columns are read")
	}
	for _, offer := range []string{own + "/answers", own + "/read", own + "/elsewhere", own + "/accept", own + "/undo", `form="columns"`, "/send?replaces="} {
		if strings.Contains(fixed.body, offer) {
			t.Errorf("a hand who may not change the sheet is offered %s", offer)
		}
	}
	hand.want(hand.posts(own+"/elsewhere", "ranch", string(ranch)), http.StatusForbidden)
	hand.want(hand.posts(own+"/read"), http.StatusForbidden)
	owner.want(owner.posts(theirs+"/undo"), http.StatusSeeOther)
	owner.want(owner.opens(theirs), http.StatusOK, "Taken back by "+owner.actor.Name)
	hand.want(hand.posts(theirs+"/restore"), http.StatusForbidden)
}

// What is refused is counted for the coordinator by kind: no id, no name, no file.
func TestRefusedIsCounted(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	mine, theirs := boss.adds("Dry Fork", "Marsh family"), boss.adds("Long Draw", "Hill family")
	eve := boss.invites(access.Landowner, mine)
	eve.opens("/ranch/" + string(theirs))
	eve.opens("/ranch/" + string(theirs) + "?season=2025")
	eve.opens("/files/ranches/" + string(theirs) + "/sheets.zip")
	eve.opens("/cooperative/members")
	eve.posts("/account/sessions/0123456789abcdef/end")
	eve.opens("/no-such-page")
	r := httptest.NewRequest(http.MethodPost, "/sign-out", nil)
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	eve.asks(r)
	var link string
	boss.does(func(tx *postgres.Tx) (err error) {
		if link, err = tx.Invite(access.Planner, "", "", nil); err != nil {
			return err
		}
		list, err := tx.Invitations()
		if err != nil {
			return err
		}
		return tx.RevokeInvitation(list[0].ID)
	})
	eve.opens("/join/" + link)
	r = httptest.NewRequest(http.MethodGet, "/api/v1/bulletins", nil)
	r.Header.Set("Authorization", "Bearer tussock_"+postgres.NewToken())
	eve.asks(r) // of no cooperative that could be told

	page := boss.opens("/cooperative/log")
	for _, row := range []string{"A ranch that is not theirs, or is not there landowner 2 2", "A file that is not theirs, or is not there landowner 1 1",
		"A page that their part does not include landowner 1 1", "A device, passkey or link that is not theirs, or is not there landowner 1 1",
		"An invitation that was used, taken back or has run out not signed in 1 1"} {
		boss.want(page, http.StatusOK, row)
	}
	for _, secret := range []string{string(theirs), "Long Draw", eve.actor.Name, link, "sheets.zip"} {
		if strings.Contains(page.text(), secret) {
			t.Errorf("the page says %q", secret)
		}
	}
	eve.want(eve.opens("/cooperative/log"), http.StatusForbidden)
}

// Much at once stands on the first page of the coordinator and of the owner, and is written to them.
func TestMuchAtOnce(t *testing.T) {
	st, box, _ := newPostedStage(t)
	now := time.Now().UTC()
	st.db.DB.Now = func() time.Time { return now }
	var err error
	if st.app, err = pages.New(pages.Config{DB: st.db.DB, Account: st.accounts, Now: st.db.DB.Now}); err != nil {
		t.Fatal(err)
	}
	boss := st.cooperative("Bluestem")
	ranch := boss.adds("Dry Fork", "Marsh family")
	owner, hand := boss.invites(access.Landowner, ranch), boss.invites(access.Hand, ranch)
	id := owner.filed(owner.sends([]sheet{{"spring.csv", plain}}))
	for range postgres.MuchInHour + 1 {
		now = now.Add(time.Minute)
		hand.want(hand.opens("/uploads/"+string(id)+"/file"), http.StatusOK)
	}
	boss.want(boss.opens("/cooperative"), http.StatusOK, "1 person took much at once in the last week")
	boss.want(boss.opens("/cooperative/log"), http.StatusOK, "1 alarm in the last 30 days", hand.actor.Name, "more than 30 in an hour")
	owner.want(owner.opens("/ranch/"+string(ranch)), http.StatusOK, "Somebody took a lot of your ranch’s results at once.")
	owner.want(owner.opens("/who/log"), http.StatusOK, hand.actor.Name+" took more than 30 files or looks within an hour")
	if n, err := st.accounts.TellAlarms(context.Background()); err != nil || n != 2 {
		t.Errorf("%d letters, %v, want 2", n, err)
	}
	letters := map[string]string{}
	for deadline := time.Now().Add(5 * time.Second); len(letters) < 2 && time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		for _, l := range box.All() {
			letters[l.To] = l.Text
		}
	}
	if all := fmt.Sprint(letters); !strings.Contains(all, "Dry Fork") || !strings.Contains(all, "/cooperative/log") || !strings.Contains(all, "/who/log") {
		t.Errorf("letters: %s", all)
	}
}
