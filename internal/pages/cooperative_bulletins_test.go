package pages_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// TestTwoCoordinators: one orders, another approves, and nobody their own.
func TestTwoCoordinators(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	for i := range 6 {
		ranch := rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		owner := rosa.invites(access.Landowner, ranch)
		owner.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		owner.kept(owner.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
	}
	ines := rosa.invites(access.Coordinator)

	list := rosa.opens("/cooperative/bulletins")
	rosa.want(list, http.StatusOK, "Do you know these landowners?", "Made-up Ranch 0")
	rosa.want(rosa.posts("/cooperative/bulletins/vouch"), http.StatusUnprocessableEntity, "Tick the landowners")
	var fields []string
	rosa.does(func(tx *postgres.Tx) error {
		owners, err := tx.Entities()
		for _, o := range owners {
			fields = append(fields, "owner", string(o.ID))
		}
		return err
	})
	rosa.posts("/cooperative/bulletins/vouch", fields...)
	if got := rosa.opens("/cooperative/bulletins"); strings.Contains(got.text(), "Do you know") {
		t.Error("the owners vouched for are still asked about")
	}

	order := rosa.posts("/cooperative/bulletins/2026/publish").header.Get("Location")
	rosa.want(rosa.opens(order), http.StatusOK, "Another coordinator’s word is needed", "Ask another coordinator", "Take the order back")
	rosa.want(rosa.posts(order+"/approve"), http.StatusForbidden, "another coordinator must approve")
	again := rosa.posts("/cooperative/bulletins/2026/publish").header.Get("Location")
	if again != order {
		t.Errorf("ordered twice: got %s, want %s", again, order)
	}
	ines.want(ines.opens(order), http.StatusOK, "Approve and publish")
	ines.posts(order + "/decline")
	rosa.want(rosa.opens(order), http.StatusOK, "turned it down")

	order = rosa.posts("/cooperative/bulletins/2026/publish").header.Get("Location")
	ines.posts(order + "/approve")
	if got := ines.opens(order); got.header.Get("Refresh") == "" {
		t.Errorf("an approved order does not wait for the press: %s", got.text())
	}
	ines.want(ines.posts(order+"/approve"), http.StatusNotFound)
}

// TestTakeBack: a figure goes with what it is part of, for everybody, and the region says which and when.
func TestTakeBack(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var ada *member
	for i := range 6 {
		ranch := rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		ada = rosa.invites(access.Landowner, ranch)
		ada.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		ada.kept(ada.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
	}
	rosa.publishes()
	rosa.want(rosa.posts("/cooperative/bulletins/2026/final"), http.StatusConflict, "30 days")
	rosa.want(rosa.opens("/cooperative/bulletins/2026/retract"), http.StatusOK, "whole cooperative, yucca")
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
	if got := rosa.posts("/cooperative/bulletins/2026/retract", "figure", fmt.Sprint(number)).header.Get("Location"); got != "/region/2026" {
		t.Fatalf("leads to %q", got)
	}
	after := ada.opens("/region/2026/cells.csv").body
	gone := strings.Count(before, "\n") - strings.Count(after, "\n")
	if gone != 3 || strings.Contains(after, "yucca") || !strings.Contains(after, "bunchgrass") {
		t.Errorf("%d figures went, want yucca and all substrates, standardised and crude:\n%s", gone, after)
	}
	ada.want(ada.opens("/region"), http.StatusOK, "Taken back on", "whole cooperative, yucca", "None comes in its place")
}
