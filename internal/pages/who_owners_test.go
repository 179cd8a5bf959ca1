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

// A ranch whose owner is removed: the next owner sees nothing before two landowners have said yes on their page.
func TestNewOwner(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	dry := boss.adds("Dry Fork", "Marsh family")
	ada := boss.invites(access.Landowner, dry)
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	neighbors := make([]*member, 2)
	for i, name := range []string{"Long Draw", "Salt Creek"} {
		neighbors[i] = boss.invites(access.Landowner, boss.adds(name, "Owner of "+name))
		neighbors[i].kept(neighbors[i].sends([]sheet{{"nests.csv", plain}}))
	}
	st.db.Vouch(t, boss.actor.Coop)
	exec := func(statement string) {
		t.Helper()
		if _, err := st.db.Owner.Exec(context.Background(), statement); err != nil {
			t.Fatal(err)
		}
	}
	exec("UPDATE tussock.person SET joined_at = joined_at - interval '60 days'")
	if got := boss.posts("/cooperative/members/" + string(ada.actor.Person) + "/remove"); got.status != http.StatusConflict {
		t.Fatalf("a coordinator removes an owner: %d", got.status)
	}
	st.db.Remove(t, boss.actor, ada.actor.Person) // fourteen days later
	st.db.Vouch(t, boss.actor.Coop)               // by those who are left
	var token string
	boss.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, "Heir", "heir@example.org", []access.ID{dry})
		return err
	})
	session, err := st.accounts.Accept(context.Background(), token, account.Acceptance{Name: "Heir", Password: "four plain words here"}, "test")
	if err != nil {
		t.Fatal(err)
	}
	heir := &member{stage: st, session: session}
	heir.wakes()
	blind := func() {
		t.Helper()
		if got := heir.opens("/ranch/" + string(dry)); got.status != http.StatusNotFound {
			t.Errorf("the heir opens the ranch: %d", got.status)
		}
	}
	blind()
	boss.want(boss.opens("/cooperative/members"), http.StatusOK, "where the ranch has no owner, of two landowners who were here a month, sent results and are vouched for: Dry Fork")
	one, two := neighbors[0], neighbors[1]
	one.want(one.opens("/ranch/"+string(one.actor.Ranches[0])), http.StatusOK, "A ranch has no owner now, and your word is asked")
	one.want(one.opens("/who/owners"), http.StatusOK, "Heir for Dry Fork", "A yes counts from")
	path := "/who/owners/" + string(heir.actor.Person)
	one.want(one.posts(path, "ranch", string(dry), "answer", "yes"), http.StatusUnprocessableEntity, "Everybody gets a week to read of it first")
	exec("UPDATE tussock.assignment SET since = since - interval '8 days' WHERE confirmed_at IS NULL")
	if got := one.posts(path, "ranch", string(dry), "answer", "yes"); got.header.Get("Location") != "/who/owners?said=yes" {
		t.Errorf("the first yes: %d %s", got.status, got.text())
	}
	one.want(one.opens("/who/owners"), http.StatusOK, "1 landowner said yes. You said yes.")
	blind()
	if got := heir.opens("/who/owners"); strings.Contains(got.text(), "Dry Fork") {
		t.Errorf("the heir is asked about themselves: %s", got.text())
	}
	if got := two.posts(path, "ranch", string(dry), "answer", "yes"); got.header.Get("Location") != "/who/owners?said=in" {
		t.Errorf("the second yes: %d %s", got.status, got.text())
	}
	heir.wakes()
	heir.want(heir.opens("/ranch/"+string(dry)), http.StatusOK, "Dry Fork")
}
