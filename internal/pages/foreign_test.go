package pages_test

import (
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// Whatever role asks for whatever thing of somebody else's, the answer is that of a thing that does not exist: the
// same status, the same bytes.
func TestForeignIDs(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	theirs := rosa.adds("Antelope Flat", "Bo Flat")
	ada := rosa.invites(access.Landowner, mine)
	bo := rosa.invites(access.Landowner, theirs)
	foreign := []access.ID{theirs}
	id, _ := bo.kept(bo.sends([]sheet{{"nests.csv", plain}}))
	foreign = append(foreign, id)

	// Another cooperative has one of everything.
	ines := st.cooperative("North Fork")
	far := ines.adds("Far Breaks", "Cy Far")
	cy := ines.invites(access.Landowner, far)
	id, _ = cy.kept(cy.sends([]sheet{{"nests.csv", plain}}))
	ines.does(func(tx *postgres.Tx) error {
		_, err := tx.Invite(access.Biologist, "", "", nil)
		return err
	})
	ines.does(func(tx *postgres.Tx) error {
		if err := tx.SaveArea("Far", ""); err != nil {
			return err
		}
		areas, err := tx.Areas()
		for _, a := range areas {
			foreign = append(foreign, a.ID)
		}
		return err
	})
	ines.does(func(tx *postgres.Tx) error {
		list, err := tx.Invitations()
		for _, i := range list {
			foreign = append(foreign, i.ID)
		}
		return err
	})
	foreign = append(foreign, far, id, cy.actor.Person, ines.actor.Person)

	members := map[string]*member{
		"coordinator": rosa, "landowner": ada, "hand": rosa.invites(access.Hand, mine),
		"biologist": rosa.invites(access.Biologist), "planner": rosa.invites(access.Planner),
	}
	const nobody = access.ID("3b241101-e2bb-4255-8caf-4136c566a962")
	ask := func(m *member, method, path string) answer {
		if method == http.MethodGet {
			return m.opens(path)
		}
		return m.posts(path, "name", "x", "owner", "x")
	}
	seen := 0
	for role, m := range members {
		for _, route := range pages.Table() {
			method, path := route[0], route[1]
			if !strings.Contains(path, ":id") {
				continue
			}
			want := ask(m, method, strings.Replace(path, ":id", string(nobody), 1))
			if want.status != http.StatusNotFound && want.status != http.StatusForbidden {
				t.Errorf("%s %s as %s: an id that does not exist gave %d", method, path, role, want.status)
			}
			for _, id := range foreign {
				if role == "coordinator" && (id == theirs && strings.HasPrefix(path, "/cooperative/ranches/")) {
					continue // the roster is the coordinator's own
				}
				seen++
				got := ask(m, method, strings.Replace(path, ":id", string(id), 1))
				if got.status != want.status || got.body != want.body {
					t.Errorf("%s %s as %s: somebody else's id gave %d (%d bytes), one that does not exist %d (%d bytes)",
						method, path, role, got.status, len(got.body), want.status, len(want.body))
				}
			}
		}
	}
	if seen == 0 {
		t.Fatal("no route takes an id")
	}
	if got := len(bo.sent(theirs)); got != 1 {
		t.Errorf("after the sweep %d uploads are there, want 1", got)
	}
	if got := bo.sent(theirs)[0].State; got != postgres.Current {
		t.Errorf("after the sweep the upload is %s", got)
	}
}

// What an upload of somebody else's might be put in place of, or sent for, does not exist either.
func TestSendForForeignRanch(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine, theirs := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Antelope Flat", "Bo Flat")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, theirs)
	id, _ := bo.kept(bo.sends([]sheet{{"nests.csv", plain}}))

	for name, fields := range map[string][]string{
		"Ranch":    {"ranch", string(theirs)},
		"Replaces": {"replaces", string(id)},
	} {
		t.Run(name, func(t *testing.T) {
			ada.want(ada.sends([]sheet{{"nests.csv", plain}}, fields...), http.StatusNotFound, "There is nothing here")
		})
	}
	ada.want(ada.opens("/send?replaces="+string(id)), http.StatusNotFound, "There is nothing here")
	if got := bo.sent(theirs); len(got) != 1 || got[0].State != postgres.Current {
		t.Errorf("uploads of the other ranch = %+v", got)
	}
}
