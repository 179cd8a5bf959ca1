package pages_test

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/postgres"
)

// comes takes an invitation up under a name, without anybody's yes.
func (m *member) comes(role access.Role, name, email string, ranches ...access.ID) *member {
	m.t.Helper()
	var token string
	m.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(role, name, email, ranches)
		return err
	})
	session, err := m.accounts.Accept(context.Background(), token, account.Acceptance{Name: name, Password: "four plain words here"}, "test")
	if err != nil {
		m.t.Fatal(err)
	}
	n := &member{stage: m.stage, session: session}
	n.wakes()
	return n
}

// TestDecoyBeforeTheOwner is one coordinator who places people of their own on a ranch before its owner comes, and who swaps a ranch for
// another of its name. None of them opens what the owner sends.
func TestDecoyBeforeTheOwner(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	place := func(ranch access.ID, who *member) {
		t.Helper()
		if got := boss.posts("/cooperative/ranches/"+string(ranch)+"/people", "person", string(who.actor.Person)); got.status != http.StatusSeeOther {
			t.Fatalf("placed: %d %s", got.status, got.text())
		}
		who.wakes()
	}
	comes := func(ranch access.ID, who *member) { // placed, and says the own yes
		t.Helper()
		place(ranch, who)
		who.posts("/who/gates/"+string(ranch), "answer", "yes")
		who.wakes()
	}
	blind := func(what string, ranch access.ID, who *member) {
		t.Helper()
		if got := who.opens("/ranch/" + string(ranch)); got.status != http.StatusNotFound {
			t.Errorf("%s: the decoy opens the ranch: %d", what, got.status)
		}
	}
	decoy, hand := boss.comes(access.Landowner, "Friend Newcomb", "friend@example.org"), boss.comes(access.Hand, "Hand Newcomb", "hand@example.org")
	ranch := boss.adds("Dry Fork", "Ada Marsh")
	comes(ranch, hand)
	if len(hand.actor.Ranches) != 1 {
		t.Fatal("a hand where nobody else is waits")
	}
	comes(ranch, decoy)
	blind("not named by the record", ranch, decoy)
	ada := boss.comes(access.Landowner, "Ada Marsh", "ada@example.org", ranch)
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	hand.wakes()
	blind("placed first", ranch, decoy)
	blind("a hand placed first", ranch, hand)
	ada.want(ada.opens("/who"), http.StatusOK, "Who waits for your yes?", "Signs in as friend@example.org; brought in by "+boss.actor.Name, "Signs in as hand@example.org")

	// The owner cannot be moved to another ranch of the same name.
	if got := boss.posts("/cooperative/ranches/" + string(ranch) + "/people/" + string(ada.actor.Person) + "/end"); got.status != http.StatusSeeOther || !strings.HasSuffix(got.header.Get("Location"), "?asked=1") {
		t.Errorf("a coordinator ends an owner: %d %s", got.status, got.header.Get("Location"))
	}
	ada.want(ada.opens("/who"), http.StatusOK, boss.actor.Name+" asked to take Ada Marsh off Dry Fork", "See it, or call it off", "in 14 days")
	decoy.want(decoy.opens("/changes"), http.StatusOK, boss.actor.Name+" asked to take Ada Marsh off the ranch Dry Fork, in 14 days.")
	ada.want(ada.opens("/ranch/"+string(ranch)), http.StatusOK, "Dry Fork")
	boss.posts("/cooperative/ranches/"+string(ranch), "name", "Dry Fork (before)", "owner", "Ada Marsh")
	swapped := boss.adds("Dry Fork", "Ada Marsh")
	comes(swapped, hand)
	place(swapped, ada)
	if got := ada.opens("/ranch/" + string(swapped)); got.status != http.StatusNotFound {
		t.Errorf("a ranch on which a coordinator put her is hers without her yes: %d", got.status)
	}
	ada.want(ada.opens("/who"), http.StatusOK, "These people can open the ranch", "Hand Newcomb Hand Signs in as hand@example.org; brought in by "+boss.actor.Name)
	ada.posts("/who/gates/"+string(swapped), "answer", "yes")
	ada.wakes()
	ada.want(ada.opens("/ranch/"+string(swapped)), http.StatusOK, "Dry Fork")
	hand.wakes()
	blind("swapped", swapped, hand)

	// Named like the owner and there first, they are shown to the owner before anything can be sent.
	second := boss.adds("Long Draw", "Ben Rowe")
	twin := boss.comes(access.Landowner, "Ben Rowe", "twin@example.org", second)
	ben := boss.comes(access.Landowner, "Ben Rowe", "ben@example.org", second)
	twin.posts("/who/newcomers/"+string(ben.actor.Person), "ranch", string(second), "answer", "yes")
	ben.wakes()
	blind("with another's yes alone", second, ben)
	ben.want(ben.opens("/who"), http.StatusOK, "Do you know every one of them", "Signs in as twin@example.org; brought in by "+boss.actor.Name)
	if got := ben.posts("/who/gates/"+string(second), "answer", "yes"); got.status != http.StatusSeeOther {
		t.Fatalf("coming in: %d", got.status)
	}
	ben.wakes()
	ben.want(ben.opens("/who"), http.StatusOK, "Ask for this to end in 14 days")
	if got := ben.posts("/who/people/"+string(twin.actor.Person)+"/end", "ranch", string(second)); got.header.Get("Location") != "/who?asked=1" {
		t.Errorf("an owner ends another: %d %s", got.status, got.text())
	}
	twin.want(twin.opens("/account/leave"), http.StatusOK, "Ben Rowe asked to take Ben Rowe off Long Draw.", "you cannot call it off alone")
}
