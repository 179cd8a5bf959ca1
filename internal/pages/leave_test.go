package pages_test

import (
	"archive/zip"
	"bytes"
	"context"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// passes lets days go by: the server then does what is due.
func (st *stage) passes(days int) {
	st.t.Helper()
	st.db.DB.Now = func() time.Time { return time.Now().AddDate(0, 0, days) }
	defer func() { st.db.DB.Now = nil }()
	if err := st.accounts.CarryOut(context.Background()); err != nil {
		st.t.Fatal(err)
	}
}

// offs finds the button that calls something off.
func offs(t *testing.T, a answer) string {
	t.Helper()
	found := regexp.MustCompile(`/account/leave/[0-9a-f-]{36}/call-off`).FindString(a.body)
	if found == "" {
		t.Fatalf("nothing to call off: %s", a.text())
	}
	return found
}

// TestLeaving: a landowner takes everything along, asks to leave and to have the ranch erased, thinks better of it once,
// and is gone when the days have passed.
func TestLeaving(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine, theirs := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Antelope Flat", "Bo Flat")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, theirs)
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	bo.kept(bo.sends([]sheet{{"nests.csv", plain}}))

	take := ada.opens("/account/leave/everything.zip")
	z, err := zip.NewReader(bytes.NewReader([]byte(take.body)), int64(len(take.body)))
	if take.status != http.StatusOK || err != nil {
		t.Fatalf("everything: %d, %v", take.status, err)
	}
	files := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, _ := io.ReadAll(r)
		files[regexp.MustCompile(`\d{4}-\d\d-\d\d`).ReplaceAllString(f.Name, "DAY")] = string(b)
	}
	if files["cottonwood-draw/as-sent/DAY-1-nests.csv"] != plain || !strings.Contains(files["cottonwood-draw/tables.zip"], "nests.csv") ||
		!strings.HasPrefix(files["cottonwood-draw/who-looked.csv"], "last_at_utc,name,part,what,item,line,times_that_day\r\n") || !strings.Contains(files["cottonwood-draw/plans-and-looks.json"], `"season_plan"`) || len(files) != 4 {
		t.Errorf("everything holds %d files: %.300q", len(files), files)
	}
	ada.want(ada.opens("/who/log"), http.StatusOK, "everything.zip")

	ada.want(ada.opens("/account/leave"), http.StatusOK, "14 days in which you can call it off", "And Cottonwood Draw?", "Bulletins that are out")
	ada.want(ada.posts("/account/leave"), http.StatusUnprocessableEntity, "Say for each ranch")
	ada.want(ada.posts("/account/leave/erase", "ranch", string(theirs)), http.StatusNotFound)
	if got := ada.posts("/account/leave", "ranch-"+string(mine), "erase"); got.status != http.StatusSeeOther {
		t.Fatalf("asking to leave: %d %s", got.status, got.text())
	}
	due := time.Now().UTC().AddDate(0, 0, 14).Format("January 2, 2006")
	page := ada.opens("/account/leave")
	ada.want(page, http.StatusOK, "Person Two asked to leave the cooperative.", "asked to delete everything that was sent for Cottonwood Draw", "It happens on "+due)
	st.passes(13)
	if got := bo.posts(offs(t, page)); got.status != http.StatusNotFound {
		t.Errorf("a neighbor calls it off: %d", got.status)
	}
	for range 2 {
		ada.posts(offs(t, ada.opens("/account/leave")))
	}
	ada.want(ada.opens("/account/leave?off=1"), http.StatusOK, "Called off.", "Leave in 14 days")
	st.passes(20)
	ada.want(ada.opens("/ranch/"+string(mine)), http.StatusOK)

	ada.posts("/account/leave", "ranch-"+string(mine), "erase")
	st.passes(15)
	if got := ada.opens("/account"); got.status != http.StatusSeeOther {
		t.Errorf("after leaving: %d", got.status)
	}
	left, err := st.db.Owner.Text(context.Background(), "SELECT string_agg(DISTINCT ranch_id::text, ' ') FROM tussock.nest")
	if err != nil || left != string(theirs) {
		t.Errorf("nests are left of %s, %v, want of the other ranch alone", left, err)
	}
	rosa.want(rosa.opens("/cooperative/ranches"), http.StatusOK, "Antelope Flat")
	if got := rosa.opens("/cooperative/ranches"); strings.Contains(got.body, "Cottonwood") || strings.Contains(got.body, "Erased") {
		t.Error("the coordinator’s roster still has the ranch")
	}
}

// TestHandingOver: the land is sold to somebody who is no member yet.
func TestHandingOver(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	ada.does(func(tx *postgres.Tx) error { return tx.SetConsent(mine, 1) })
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	ada.want(ada.posts("/account/leave/hand-over", "ranch", string(mine), "heir", "nobody", "rows", "0"), http.StatusUnprocessableEntity, "Write the new owner’s e-mail address")
	page := ada.posts("/account/leave/hand-over", "ranch", string(mine), "heir", "Person3@example.org", "rows", "1")
	ada.want(page, http.StatusOK, "hand Cottonwood Draw over to the owner of the address person3@example.org", "not before the new owner has said yes")
	link := regexp.MustCompile(`/join/([0-9a-f]{64})`).FindStringSubmatch(page.body)
	if link == nil {
		t.Fatalf("no link for the new owner: %s", page.text())
	}
	rosa.want(rosa.opens("/join/"+link[1]), http.StatusGone, "a coordinator has yet to say yes to your joining")
	if _, err := st.accounts.Accept(context.Background(), link[1], account.Acceptance{Name: "Person Three", Email: "person3@example.org", Password: password}, "a test"); err == nil {
		t.Fatal("the new owner joins without a coordinator’s yes")
	}
	waits := rosa.opens("/cooperative/members")
	rosa.want(waits, http.StatusOK, "person3@example.org", "Person Two hands a ranch over to them")
	yes := regexp.MustCompile(`/cooperative/invitations/[0-9a-f-]{36}/heir`).FindString(waits.body)
	if got := ada.posts(yes, "answer", "yes"); got.status == http.StatusSeeOther {
		t.Error("an owner lets in whom they hand over to")
	}
	if got := rosa.posts(yes, "answer", "yes"); got.status != http.StatusSeeOther {
		t.Fatalf("the coordinator’s yes: %d %s", got.status, got.text())
	}
	heir := st.joins(link[1])
	ada.want(ada.opens("/changes"), http.StatusOK, "Person One let the new owner of the ranch Cottonwood Draw join the cooperative; Person Two hands it over", "Person Three (signs in as person3@example.org) joined the cooperative to take over the ranch Cottonwood Draw, which Person Two hands over")
	heir.want(heir.opens("/ranch"), http.StatusOK, "No ranch is yours here yet")
	st.passes(30)
	offer := heir.opens("/who")
	heir.want(offer, http.StatusOK, "Person Two hands Cottonwood Draw over to you", "All seasons that were sent go along")
	path := regexp.MustCompile(`/who/offers/[0-9a-f-]{36}`).FindString(offer.body)
	if got := ada.posts(path, "answer", "yes"); got.status != http.StatusNotFound {
		t.Errorf("the old owner says the new one’s yes: %d", got.status)
	}
	if got := heir.posts(path, "answer", "yes"); got.status != http.StatusSeeOther {
		t.Fatalf("yes: %d %s", got.status, got.text())
	}
	heir.want(heir.opens("/who"), http.StatusOK, "You have said yes")
	st.passes(15)
	heir.wakes()
	heir.want(heir.opens("/ranch/"+string(mine)), http.StatusOK, "Cottonwood Draw")
	heir.want(heir.opens("/who"), http.StatusOK, "private")
	if got := ada.opens("/ranch/" + string(mine)); got.status != http.StatusNotFound {
		t.Errorf("the old owner opens it: %d", got.status)
	}
}

// TestLeavingByPost: whoever owns the ranch learns by letter that it is to be erased, while it can still be called off,
// and when it is done.
func TestLeavingByPost(t *testing.T) {
	st, box, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	rosa.invites(access.Landowner, mine)
	d := postgres.Departure{Kind: postgres.EraseKind, Ranch: mine, RanchName: "Cottonwood Draw", By: "Person Two", DueAt: time.Now().AddDate(0, 0, 14)}
	ada.does(func(tx *postgres.Tx) (err error) { d.ID, err = tx.Depart(d); return err })
	st.accounts.TellDeparture(ada.actor, d, false)
	box.Wait(t, 2)
	told := map[string]bool{}
	for _, letter := range box.All() {
		told[letter.To] = true
		for _, say := range []string{"asked to delete everything that was sent for Cottonwood Draw", "pidió borrar todo", "/account/leave"} {
			if !strings.Contains(letter.Text, say) {
				t.Errorf("the letter to %s does not say %q: %s", letter.To, say, letter.Text)
			}
		}
	}
	if !told["person2@example.org"] || !told["person3@example.org"] {
		t.Errorf("letters went to %v, want both owners", told)
	}
	st.passes(15)
	if letter := box.Wait(t, 4); !strings.Contains(letter.Text, "has been deleted") {
		t.Errorf("when it is done: %s", letter.Text)
	}
}

// Owners are written to when a coordinator changes what the roster says of their ranches, or takes them off one: once, in both
// languages.
func TestOwnersAreTold(t *testing.T) {
	st, box, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	north, south := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Long Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, north, south)
	tell := func(want int) {
		t.Helper()
		if n, err := st.accounts.TellOwners(context.Background()); err != nil || n != want {
			t.Errorf("%d letters, %v, want %d", n, err, want)
		}
	}
	tell(0)
	for ranch, name := range map[access.ID]string{north: "Upper Draw", south: "Lower Draw"} {
		rosa.does(func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{ID: ranch, Name: name, Owner: "Ada Marsh"})
			return err
		})
	}
	tell(1) // one for both ranches
	tell(0)
	letter := box.Wait(t, 1)
	for _, say := range []string{"changed the name of Cottonwood Draw to Upper Draw", "cambió el nombre de Long Draw a Lower Draw", "It counts from the next season that opens.", "/changes"} {
		if !strings.Contains(letter.Text, say) {
			t.Errorf("the letter does not say %q: %s", say, letter.Text)
		}
	}
	st.db.TakeOff(t, rosa.actor, ada.actor.Person, north)
	tell(1)
	if letter = box.Wait(t, 2); letter.To != "person2@example.org" || !strings.Contains(letter.Text, rosa.actor.Name+" took you off Upper Draw") {
		t.Errorf("got %+v", letter)
	}
}

// TestSuspensionIsTold: whoever is suspended gets a letter with the day on which it ends, and so do the other coordinators; every member
// reads of it; a second coordinator can make it last, and the page offers it to that one alone.
func TestSuspensionIsTold(t *testing.T) {
	posted, box, _ := newPostedStage(t)
	st := newStageOn(t, posted.db) // whose members' browsers know its pages
	var err error
	if st.app, err = pages.New(pages.Config{DB: st.db.DB, Account: posted.accounts, Now: time.Now}); err != nil {
		t.Fatal(err)
	}
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	bo := rosa.invites(access.Landowner, rosa.adds("Antelope Flat", "Bo Flat"))
	second := rosa.invites(access.Coordinator)
	if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'"); err != nil {
		t.Fatal(err)
	}
	path := "/cooperative/members/" + string(ada.actor.Person)
	before, ends := len(box.All()), words.Speaker{}.Day(time.Now().UTC().AddDate(0, 0, 14))
	told := func(want string) {
		t.Helper()
		box.Wait(t, before+2)
		to := map[string]bool{}
		for _, letter := range box.All()[before:] {
			to[letter.To] = true
			for _, say := range []string{want, "Person One", "Sandhill Grass", "suspendió"} {
				if !strings.Contains(letter.Text, say) && !(say == "Person One" && want != "It ends by itself on "+ends) {
					t.Errorf("the letter to %s does not say %q: %s", letter.To, say, letter.Text)
				}
			}
		}
		if !to["person2@example.org"] || len(to) != 2 {
			t.Errorf("letters went to %v", to)
		}
		before += 2
	}
	if got := rosa.posts(path + "/suspend"); got.status != http.StatusSeeOther {
		t.Fatalf("suspended: %d %s", got.status, got.text())
	}
	told("It ends by itself on " + ends)
	bo.want(bo.opens("/changes"), http.StatusOK, "Person One suspended Person Two: they cannot sign in until "+ends)
	rosa.want(rosa.opens("/cooperative/members"), http.StatusOK, "It ends by itself on "+ends, "For longer it takes the yes of a second coordinator")
	if strings.Contains(rosa.opens("/cooperative/members").body, path+"/keep-suspended") {
		t.Error("who suspended somebody is offered the second yes")
	}
	rosa.want(rosa.posts(path+"/keep-suspended"), http.StatusNotFound)
	second.want(second.opens("/cooperative/members"), http.StatusOK, "Yes, keep Person Two suspended")
	if got := second.posts(path + "/keep-suspended"); got.status != http.StatusSeeOther {
		t.Fatalf("the second yes: %d", got.status)
	}
	told("Two coordinators have said yes to it")
	bo.want(bo.opens("/changes"), http.StatusOK, "Person Four said the second yes to the suspension of Person Two")
	rosa.posts(path + "/restore")
	bo.want(bo.opens("/changes"), http.StatusOK, "Person One let Person Two in again after a suspension.")
}

// TestHeirIsRefused: by a coordinator's no the hand-over does not happen: all read of it, and who asked for it reads that on their pages.
func TestHeirIsRefused(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, rosa.adds("North Breaks", "Bo Flat"))
	page := ada.posts("/account/leave/hand-over", "ranch", string(mine), "heir", "heir@example.org", "rows", "1")
	link := regexp.MustCompile(`/join/([0-9a-f]{64})`).FindStringSubmatch(page.body)
	if link == nil {
		t.Fatalf("no link for the new owner: %s", page.text())
	}
	waits := rosa.opens("/cooperative/members")
	rosa.want(waits, http.StatusOK, "By a no the hand-over does not happen")
	if got := rosa.posts(regexp.MustCompile(`/cooperative/invitations/[0-9a-f-]{36}/heir`).FindString(waits.body), "answer", "no"); got.status != http.StatusSeeOther {
		t.Fatalf("the coordinator’s no: %d %s", got.status, got.text())
	}
	rosa.want(rosa.opens("/join/"+link[1]), http.StatusGone)
	bo.want(bo.opens("/changes"), http.StatusOK, "Person One refused to let the new owner of the ranch Cottonwood Draw join the cooperative; the hand-over that Person Two asked for does not happen.")
	for _, path := range []string{"/account/leave", "/who"} {
		got := ada.opens(path)
		ada.want(got, http.StatusOK, "Person One refused on", "The hand-over does not happen")
		if strings.Contains(got.text(), "It happens on") {
			t.Errorf("%s still says a day: %s", path, got.text())
		}
	}
	if got := bo.opens("/who"); strings.Contains(got.text(), "refused") {
		t.Errorf("another owner reads it on their page: %s", got.text())
	}
}
