package pages_test

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// TestTwoCoordinators: what waits for two words is read by both as it will come out, with what is behind it and what changed; one word
// lets nothing out, and nobody else has one.
func TestTwoCoordinators(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var ada *member
	for i := range 8 {
		ranch := rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		ada = rosa.invites(access.Landowner, ranch)
		ada.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		ada.kept(ada.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
	}
	ines := rosa.invites(access.Coordinator)

	// Coordinators and landowners vouch; a planner does not.
	list := rosa.opens("/changes")
	rosa.want(list, http.StatusOK, "Do you know these landowners?", "8 changes of one kind. The last: Person One added the ranch Made-up Ranch 7", "Person One added the ranch Made-up Ranch 0: area none, owner Made-up Ranch 0.")
	planner := rosa.invites(access.Planner)
	if got := planner.opens("/changes"); strings.Contains(got.text(), "Do you know") || strings.Contains(got.text(), "Made-up Ranch") || strings.Contains(got.text(), ada.actor.Name) {
		t.Error("a planner is asked to vouch, or reads names")
	}
	planner.want(planner.posts("/changes/vouch"), http.StatusForbidden)
	var fields []string
	rosa.does(func(tx *postgres.Tx) error {
		owners, err := tx.OwnersToVouch()
		for _, o := range owners {
			fields = append(fields, "owner", string(o.ID))
		}
		return err
	})
	rosa.posts("/changes/vouch", fields...)
	ada.posts("/changes/vouch", fields...) // all but her own
	rosa.want(rosa.opens("/changes"), http.StatusOK, "vouched for the owner Person Two.", "vouched for the owner Person Three.", "– two people vouch", "1 person vouches", "I no longer vouch for Person Two")
	rosa.posts("/changes/vouch") // with nothing ticked, nothing changes
	if got := rosa.opens("/changes"); strings.Contains(got.text(), "no longer vouches") {
		t.Error("a word ends by omission")
	}

	coop := rosa.actor.Coop
	st.db.Open(t, coop, 2026)
	st.db.Cut(t, coop, 2026)
	const path = "/cooperative/bulletins/2026/1"
	rosa.want(rosa.opens(path), http.StatusOK, "nothing is composed yet", "8 of 8 ranches on the roster", "7 landowners count", "vouched for the owner")
	presstest.Compose(t, st.db)
	for _, m := range []*member{rosa, ines} {
		m.want(m.opens(path), http.StatusOK, "0 of 2 coordinators have said yes", "It was composed 1 time", "figures are held back", "Lasted four weeks, of 100", "This is the bulletin itself")
		m.want(m.opens("/cooperative"), http.StatusOK, "The bulletin of 2026 waits for your word")
	}
	for _, m := range []*member{ada, planner} {
		m.want(m.opens(path), http.StatusForbidden)
		m.want(m.posts(path, "says", "yes"), http.StatusForbidden)
		m.want(m.opens("/region"), http.StatusOK, "No bulletin is published yet")
	}
	rosa.want(rosa.posts(path, "says", "perhaps"), http.StatusUnprocessableEntity)
	rosa.posts(path, "says", "yes")
	rosa.want(rosa.opens(path), http.StatusOK, "1 of 2 coordinators have said yes", "You have said yes")
	ines.posts(path, "says", "no")
	ada.want(ada.opens("/region"), http.StatusOK, "No bulletin is published yet")
	ines.posts(path, "says", "yes")
	rosa.want(rosa.opens(path), http.StatusOK, "The bulletin of 2026 is out")
	ada.want(ada.opens("/region"), http.StatusOK, "nests lasted four weeks")
	rosa.want(rosa.posts(path, "says", "no"), http.StatusConflict)
}

// TestTakeBack: a figure goes with what it is part of, for everybody, and the region says which and when.
func TestTakeBack(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var ada *member
	for i := range 12 {
		ranch := rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		ada = rosa.invites(access.Landowner, ranch)
		ada.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		ada.kept(ada.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
	}
	rosa.publishes()
	rosa.want(rosa.opens("/cooperative/bulletins"), http.StatusOK, "Sheets that come late are waited for until")
	rosa.want(rosa.opens("/cooperative/bulletins/2026/retract"), http.StatusOK, "whole cooperative: Lasted four weeks, of 100: yucca")
	rosa.want(rosa.posts("/cooperative/bulletins/2026/retract", "figure", "99"), http.StatusUnprocessableEntity, "Choose the figure")
	rosa.want(rosa.opens("/cooperative/bulletins/1999/retract"), http.StatusNotFound)
	before := ada.opens("/region/2026/cells.csv").body
	number := 0
	rosa.does(func(tx *postgres.Tx) error {
		cells, err := tx.Cells(2026)
		for i, c := range cells {
			if c.Substrate != nil && *c.Substrate == "yucca" {
				number = i + 1
			}
		}
		return err
	})
	ada.want(ada.posts("/cooperative/bulletins/2026/retract", "figure", fmt.Sprint(number)), http.StatusForbidden)
	// Where there were two coordinators, one alone takes nothing back, nor with somebody who came after the cut-off.
	exec := func(statement string) {
		t.Helper()
		if _, err := st.db.Owner.Exec(context.Background(), statement, rosa.actor.Coop); err != nil {
			t.Fatal(err)
		}
	}
	exec("UPDATE tussock.season SET words = 2 WHERE coop_id = $1")
	friend := rosa.invites(access.Coordinator)
	for _, who := range []*member{rosa, friend} {
		if got := who.posts("/cooperative/bulletins/2026/retract", "figure", fmt.Sprint(number)).header.Get("Location"); got != "/cooperative/bulletins/2026/retract" {
			t.Fatalf("%s alone takes a figure back: %q", who.actor.Name, got)
		}
	}
	rosa.want(rosa.opens("/cooperative/bulletins/2026/retract"), http.StatusOK, rosa.actor.Name+" said yes on", "Your yes is kept.")
	ada.want(ada.opens("/changes"), http.StatusOK, rosa.actor.Name+" would take back a figure of 2026: whole cooperative: Lasted four weeks, of 100: yucca.")
	if ada.opens("/region/2026/cells.csv").body != before {
		t.Fatal("one yes took a figure back")
	}
	exec("UPDATE tussock.person SET joined_at = joined_at - interval '60 days' WHERE coop_id = $1")
	if got := rosa.posts("/cooperative/bulletins/2026/retract", "figure", fmt.Sprint(number)).header.Get("Location"); got != "/region/2026" {
		t.Fatalf("leads to %q", got)
	}
	after := ada.opens("/region/2026/cells.csv").body
	gone := strings.Count(before, "\n") - strings.Count(after, "\n")
	if gone != 3 || strings.Contains(after, "yucca") || !strings.Contains(after, "bunchgrass") {
		t.Errorf("%d figures went, want yucca, all covers, and what their ranges are made with:\n%s", gone, after)
	}
	ada.want(ada.opens("/region"), http.StatusOK, "one that was wrong is taken back", "Taken back on", "whole cooperative: Lasted four weeks, of 100: yucca", "None comes in its place")
	// The changes say which figure, to those who read all figures; late sheets are waited for as the page of it said.
	const said = "A figure of 2026 was taken back: whole cooperative: Lasted four weeks, of 100: yucca. The last yes was of "
	ada.want(ada.opens("/changes"), http.StatusOK, said)
	planner := rosa.invites(access.Planner)
	if got := planner.opens("/changes"); !strings.Contains(got.text(), "A figure of 2026 was taken back; the last yes was of a coordinator.") || strings.Contains(got.text(), "yucca") {
		t.Errorf("a planner reads %s", got.text())
	}
	rosa.want(rosa.opens("/cooperative/bulletins/2026/retract"), http.StatusOK, "Sheets that come late are waited for as before")
	rosa.want(rosa.opens("/cooperative/bulletins"), http.StatusOK, "Sheets that come late are waited for until", "A figure that was taken back does not come again.")
}

// TestLettersArePromisedWhereTheyGo: where no letters are set up no page of a coordinator's promises one, and a code that helps somebody in is told
// on the pages.
func TestLettersArePromisedWhereTheyGo(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "")
	ada, planner := rosa.invites(access.Landowner, ranch), rosa.invites(access.Planner)
	if got := rosa.opens("/cooperative/members"); strings.Contains(got.text(), "a letter") && !strings.Contains(got.text(), "no letter") || strings.Contains(got.text(), "by letter") {
		t.Errorf("a letter is promised that cannot go out: %s", got.text())
	}
	for _, who := range []*member{ada, planner} {
		page := rosa.posts("/cooperative/members/" + string(who.actor.Person) + "/help")
		rosa.want(page, http.StatusOK, "Here is the code", "Landowners, hands and coordinators read of it among the changes, and they under “Account”.")
		if strings.Contains(page.text(), "by letter") {
			t.Error("a letter is promised that cannot go out")
		}
		who.want(who.opens("/account"), http.StatusOK, "the coordinator "+rosa.actor.Name+" made a code that helps you sign in.")
	}
	ada.want(ada.opens("/changes"), http.StatusOK, rosa.actor.Name+" made a code that helps "+ada.actor.Name+" sign in.", rosa.actor.Name+" made a code that helps "+planner.actor.Name+" sign in.")
	ada.want(ada.opens("/who"), http.StatusOK, rosa.actor.Name+" made a code that helps "+ada.actor.Name+" sign in.")
	// An owner is not removed at once, so no button offers it.
	if got := rosa.opens("/cooperative/members"); strings.Contains(got.text(), "Remove "+ada.actor.Name) || !strings.Contains(got.text(), "Remove "+planner.actor.Name) {
		t.Errorf("the buttons: %s", got.text())
	}
}
