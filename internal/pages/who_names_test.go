package pages_test

import (
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
)

// TestThisIsNotMine: an owner reads on their page of a ranch that a coordinator put under their name, marked as about them, and takes their
// name off it with one button.
func TestThisIsNotMine(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	ada := boss.invites(access.Landowner, boss.adds("Dry Fork", "Marsh family"))
	neighbor := boss.invites(access.Landowner, boss.adds("Long Draw", "Owner of Long Draw"))
	shadow := boss.adds("Shadow Six", "Marsh family")
	ada.want(ada.opens("/who"), http.StatusOK, "Is Shadow Six yours?", "This is not mine", "added the ranch Shadow Six: area none, owner Marsh family.")
	if got := neighbor.opens("/who"); strings.Contains(got.text(), "Shadow Six") {
		t.Error("a neighbor is asked too")
	}
	for answer, status := range map[string]int{"perhaps": http.StatusNotFound, "": http.StatusNotFound} {
		if got := ada.posts("/who/names/"+string(shadow), "answer", answer); got.status != status {
			t.Errorf("%q: %d", answer, got.status)
		}
	}
	if got := neighbor.posts("/who/names/"+string(shadow), "answer", "no"); got.status != http.StatusNotFound {
		t.Errorf("a neighbor answers: %d", got.status)
	}
	if got := ada.posts("/who/names/"+string(shadow), "answer", "no"); got.status != http.StatusSeeOther {
		t.Fatalf("no: %d %s", got.status, got.text())
	}
	if got := ada.opens("/who"); strings.Contains(got.text(), "Is Shadow Six yours?") {
		t.Error("she is asked again")
	}
	boss.want(boss.posts("/cooperative/ranches/"+string(shadow), "name", "Shadow Six", "owner", "Marsh  Family", "area", ""), http.StatusUnprocessableEntity, "said that this ranch is not theirs")
}

// TestACoordinatorAsksAndOneStays: a coordinator who presses "remove" on another asks for it; the other reads of it and stays.
func TestACoordinatorAsksAndOneStays(t *testing.T) {
	st := sharedStage(t)
	boss := st.cooperative("Bluestem")
	second := boss.invites(access.Coordinator)
	boss.want(boss.opens("/cooperative/members"), http.StatusOK, "to be removed")
	boss.want(second.posts("/cooperative/members/"+string(boss.actor.Person)+"/remove"), http.StatusConflict, "less than 30 days ago")
	if got := boss.posts("/cooperative/members/" + string(second.actor.Person) + "/remove"); got.status != http.StatusSeeOther {
		t.Fatalf("asked: %d %s", got.status, got.text())
	}
	second.want(second.opens("/cooperative/members"), http.StatusOK, "for you to be removed as a coordinator", "No, I stay")
	second.want(second.opens("/changes"), http.StatusOK, "asked for the coordinator")
	if got := second.posts("/cooperative/members/stay"); got.status != http.StatusSeeOther {
		t.Fatalf("stays: %d", got.status)
	}
	second.want(second.opens("/changes"), http.StatusOK, "stays a coordinator")
	boss.want(boss.opens("/cooperative/members"), http.StatusOK, "to be removed")
}
