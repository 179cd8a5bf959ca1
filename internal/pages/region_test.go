package pages_test

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// season is a made-up sheet of 36 nests, of which so many of each six were taken by the second check.
func season(ranch, taken int) string {
	var b strings.Builder
	b.WriteString(columns)
	for i := range 36 {
		substrate, fate := "bunchgrass", "intact"
		if i%2 == 1 {
			substrate = "yucca"
		}
		if (i+ranch)%6 < taken {
			fate = "taken"
		}
		fmt.Fprintf(&b, "%d,%d,%s,2026-04-28,2026-05-12,intact,2026-05-26,%s\n", i/6+1, i%6+1, substrate, fate)
	}
	return b.String()
}

// publishes lets the season 2026 pass from its opening to the day its bulletin is out.
func (m *member) publishes() {
	m.t.Helper()
	presstest.Publish(m.t, m.db, m.actor.Coop, 2026)
}

func TestRegion(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var owners []*member
	for i := range 8 {
		ranch := rosa.adds(fmt.Sprintf("Made-up Ranch %d", i), "")
		owner := rosa.invites(access.Landowner, ranch)
		owner.does(func(tx *postgres.Tx) error { return tx.SetConsent(ranch, 1) })
		owner.kept(owner.sends([]sheet{{"nests.csv", season(i, 2+i%2)}}))
		owners = append(owners, owner)
	}
	planner := rosa.invites(access.Planner)
	rosa.publishes()
	ada := owners[0]

	page := ada.opens("/region")
	ada.want(page, http.StatusOK, "of 100 nests lasted four weeks", "The whole cooperative",
		"Bulletin 1, season 2026", "risk a nest would run", "Landowners behind the figure for the whole cooperative: 5 to 9")

	// Eight landowners are enough for those who contribute and too few for a planner, who reads what everybody reads
	// where there is nothing.
	other := planner.opens("/region")
	planner.want(other, http.StatusOK, "The region in 2026", "not shown")
	if found := regexp.MustCompile(`\d+ of 100 nests`).FindString(other.text()); found != "" {
		t.Errorf("a planner reads %q resting on eight landowners", found)
	}

	t.Run("NothingMoreThanPublished", func(t *testing.T) {
		for who, got := range map[string]answer{"landowner": page, "planner": other, "coordinator": rosa.opens("/region")} {
			if found := regexp.MustCompile(`(?i)made-up ranch|minimum|maximum|highest|lowest|\brank|standard (error|deviation)|median`).FindString(got.body); found != "" {
				t.Errorf("the %s reads %q", who, found)
			}
			if found := regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`).FindString(got.body); found != "" {
				t.Errorf("the %s reads the id %s", who, found)
			}
			if found := regexp.MustCompile(`\d\.\d`).FindString(got.text()); found != "" {
				t.Errorf("the %s reads the decimals %q", who, found)
			}
		}
	})

	t.Run("CSV", func(t *testing.T) {
		got := ada.opens("/region/2026/cells.csv")
		rows, err := csv.NewReader(strings.NewReader(got.body)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if want := "season,area,substrate,measure,predator,clumps,estimate,low,high,entities,nests,transects,belts"; strings.Join(rows[0], ",") != want {
			t.Errorf("columns = %v, want %s", rows[0], want)
		}
		if len(rows) < 2 {
			t.Error("the table holds no cell")
		}
		for _, row := range rows[1:] {
			if row[9] != "5-9" {
				t.Errorf("entities = %q, want the band 5-9", row[9])
			}
			// With five to nine landowners a rate stands on steps of 5 in 100.
			if rate, err := strconv.ParseFloat(row[6], 64); err == nil && row[3] == "survival_28" {
				if steps := rate * 20; steps-float64(int(steps+1e-9)) > 1e-9 {
					t.Errorf("%v stands off the grid", row)
				}
			}
		}
		if got := planner.opens("/region/2026/cells.csv"); strings.Count(got.body, "\n") != 1 {
			t.Errorf("a planner's table holds cells: %q", got.body)
		}
	})

	// A bulletin stays as it is, whatever is asked for and whatever changes afterward.
	// T8: whatever is asked for beside the bare address does not exist, and gives no cell that the address does not.
	t.Run("T08NoOtherCells", func(t *testing.T) {
		for _, who := range []*member{ada, rosa, planner} {
			nothing := who.opens("/region/1999")
			for _, base := range []string{"/region", "/region/2026", "/region/2026/cells.csv"} {
				for _, query := range []string{"area=Sandhill", "season=2025&owner=1", "substrate=yucca", "site_type=island", "without=Ada+Marsh", "min=1", "n=1", "a[]=1", "=", "area=Sandhill%20Grass&season=2026",
					"format=json", "held=1"} {
					if got := who.opens(base + "?" + query); got.status != http.StatusNotFound || got.title()+got.text() != nothing.title()+nothing.text() {
						t.Errorf("%s?%s gave %d", base, query, got.status)
					}
				}
			}
			for _, path := range []string{"/region/2026/Sandhill", "/region/2026/cells", "/region/2026/cells.json", "/region/2026/yucca/cells.csv", "/region/2024-2026", "/region/2026,2025", "/region/+2026x", "/region/2026%2f"} {
				if got := who.opens(path); got.status != http.StatusNotFound {
					t.Errorf("%s gave %d", path, got.status)
				}
			}
		}
	})
	t.Run("Frozen", func(t *testing.T) {
		sent := ada.sent(ada.actor.Ranches[0])
		ada.posts("/uploads/" + string(sent[0].ID) + "/undo")
		if got := ada.opens("/region"); got.text() != page.text() {
			t.Error("the region reads otherwise after a sheet was taken back")
		}
		for _, path := range []string{"/region/2025", "/region/all", "/region/2025/cells.csv", "/region/2026-2027"} {
			ada.want(ada.opens(path), http.StatusNotFound)
		}
		rosa.want(rosa.posts("/cooperative/bulletins/2026/1", "says", "no"), http.StatusConflict)
	})
}
