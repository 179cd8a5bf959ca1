package pages_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// TestRegionWorkspace: with twelve landowners a biologist has figures to work with, each with its note, nothing beyond
// what was published, and the same ones whoever shares a ranch by name.
func TestRegionWorkspace(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var owners []*member
	for i := range 12 {
		ranch := rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		owner := rosa.invites(access.Landowner, ranch)
		owner.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		owner.kept(owner.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
		owners = append(owners, owner)
	}
	ruth := rosa.invites(access.Biologist)
	rosa.publishes()

	region, quality := ruth.opens("/region"), ruth.opens("/region/quality/2026")
	ruth.want(region, http.StatusOK, "of 100 nests lasted four weeks", "Landowners behind it, as a band: 2026: 10 to 19", "No random numbers are used")
	ruth.want(quality, http.StatusOK, "Day 14 after the eggs were set, give or take 3 days", "all or nearly")
	for name, page := range map[string]answer{"region": region, "quality": quality} {
		for _, fault := range pages.FiguresWithoutNote(page.body) {
			t.Errorf("%s: %s", name, fault)
		}
		if found := regexp.MustCompile(`(?i)made-up ranch|minimum|maximum|highest|lowest|\branked|standard (error|deviation)`).FindString(page.body); found != "" {
			t.Errorf("%s: the biologist reads %q", name, found)
		}
		if found := regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-`).FindString(page.body); found != "" {
			t.Errorf("%s: the biologist reads the id %s", name, found)
		}
	}
	// The same figures for programs, as they are described.
	got := ruth.calls(ruth.token(), http.MethodGet, "/api/v1/bulletins/2026/cells")
	describe(t).fits(t, "/api/v1/bulletins/:season/cells", got)
	if got.status != http.StatusOK || !strings.Contains(got.body, "first_checks_on_day") {
		t.Errorf("the interface gives %d %s", got.status, got.body)
	}
	ruth.want(ruth.opens("/region/quality/2025"), http.StatusNotFound, "There is nothing here")
	ruth.want(ruth.opens("/region/quality/all"), http.StatusNotFound, "There is nothing here")

	share := func(owner *member) {
		owner.does(func(tx *postgres.Tx) error {
			_, err := tx.Share(postgres.Sharing{Ranch: owner.actor.Ranches[0], Person: ruth.actor.Person, Purpose: "cover study", Through: time.Now()})
			return err
		})
	}
	share(owners[0])
	ruth.want(ruth.opens("/region/named"), http.StatusOK, "Made-up Ranch 0", "inside what chance gives")
	if got := ruth.opens("/region"); got.text() != region.text() {
		t.Error("the region reads otherwise once a ranch is shared by name")
	}
	// Twelve landowners, of whom the biologist knows nine: the other three are too few to hide behind.
	for _, owner := range owners[1:9] {
		share(owner)
	}
	for path, never := range map[string]string{"/region": "nests lasted four weeks", "/region/quality": "all or nearly"} {
		got := ruth.opens(path)
		ruth.want(got, http.StatusOK, "not shown")
		if strings.Contains(got.title()+got.text(), never) {
			t.Errorf("%s still says %q", path, never)
		}
	}
	if got := ruth.opens("/region/2026/cells.csv"); strings.Count(got.body, "\n") != 1 {
		t.Errorf("the table still holds cells: %q", got.body)
	}
}
