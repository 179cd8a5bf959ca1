package pages_test

import (
	"context"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

func TestCooperative(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")

	t.Run("Areas", func(t *testing.T) {
		rosa.posts("/cooperative/areas", "name", "Sandhill", "group", "north")
		rosa.posts("/cooperative/areas", "name", "Breaks", "group", "")
		rosa.posts("/cooperative/areas", "name", "Breaks", "group", "north")
		rosa.want(rosa.opens("/cooperative/areas"), http.StatusOK, "2 areas in 1 group of neighbors")
		rosa.want(rosa.posts("/cooperative/areas", "name", " "), http.StatusUnprocessableEntity, "Give the area a name")
		id := regexp.MustCompile(`/cooperative/areas/([^"]+)"`).FindStringSubmatch(rosa.opens("/cooperative/areas").body)
		if id == nil {
			t.Fatal("no way to change an area")
		}
		rosa.want(rosa.posts("/cooperative/areas/"+id[1], "name", "Sandhill", "group", "north"), http.StatusUnprocessableEntity, "already an area of that name")
		rosa.posts("/cooperative/areas/"+id[1], "name", "High Breaks", "group", "north")
		rosa.want(rosa.opens("/cooperative/areas"), http.StatusOK, "High Breaks", "2 areas in 1 group")
		rosa.posts("/cooperative/areas/"+id[1], "name", "Breaks", "group", "north")
	})

	t.Run("RanchesOfOneOwnerCountOnce", func(t *testing.T) {
		rosa.posts("/cooperative/ranches", "name", "Cottonwood Draw", "owner", "Ada Marsh", "area", "Sandhill")
		rosa.posts("/cooperative/ranches", "name", "North Breaks", "owner", "", "area", "")
		rosa.want(rosa.opens("/cooperative/ranches"), http.StatusOK, "2 ranches of 2 landowners", "no area")
		id := rosa.ranch("North Breaks")
		rosa.want(rosa.opens("/cooperative/ranches/"+string(id)), http.StatusOK, "Change North Breaks")
		rosa.posts("/cooperative/ranches/"+string(id), "name", "North Breaks", "owner", "Ada Marsh", "area", "Breaks")
		rosa.want(rosa.opens("/cooperative/ranches"), http.StatusOK, "2 ranches of 1 landowner")
		rosa.want(rosa.posts("/cooperative/ranches", "name", ""), http.StatusUnprocessableEntity, "Give the ranch a name")
		rosa.want(rosa.posts("/cooperative/ranches", "name", "Cottonwood Draw"), http.StatusUnprocessableEntity)
	})

	ranch := rosa.ranch("Cottonwood Draw")
	var ada *member
	t.Run("InviteByLink", func(t *testing.T) {
		rosa.want(rosa.posts("/cooperative/invitations", "role", "landowner"), http.StatusUnprocessableEntity, "Tick the ranch")
		rosa.want(rosa.posts("/cooperative/invitations", "role", "king"), http.StatusUnprocessableEntity, "Choose what part")
		page := rosa.posts("/cooperative/invitations", "role", "landowner", "name", "Ada Marsh", "email", "ada@example.org", "ranch", string(ranch))
		rosa.want(page, http.StatusOK, "Here is the link for Ada Marsh", "shown this once")
		link := regexp.MustCompile(`https?://[^"]+/join/([^"]+)"`).FindStringSubmatch(page.body)
		if link == nil {
			t.Fatal("no link on the page")
		}
		page = rosa.opens("/cooperative/members")
		rosa.want(page, http.StatusOK, "Invited, not here yet", "Ada Marsh")
		if strings.Contains(page.body, link[1]) {
			t.Error("the link is shown a second time")
		}
		ada = st.joins(link[1])
		if got := rosa.opens("/cooperative/members"); strings.Contains(got.text(), "Invited, not here yet") {
			t.Error("an invitation that was taken up is still listed")
		}
	})

	t.Run("AssignRanch", func(t *testing.T) {
		breaks := rosa.ranch("North Breaks")
		path, person := "/cooperative/ranches/"+string(breaks), string(ada.actor.Person)
		rosa.want(rosa.opens(path), http.StatusOK, "Nobody yet", ada.actor.Name+", owner")
		rosa.want(rosa.posts(path+"/people"), http.StatusUnprocessableEntity, "Choose who it is")
		rosa.want(rosa.posts(path+"/people", "person", string(rosa.actor.Person)), http.StatusUnprocessableEntity)
		ada.want(ada.posts(path+"/people", "person", person), http.StatusForbidden)
		ada.want(ada.opens("/ranch/"+string(breaks)), http.StatusNotFound)
		rosa.posts(path+"/people", "person", person)
		rosa.want(rosa.opens(path), http.StatusOK, "Take the ranch away from "+ada.actor.Name)
		ada.want(ada.opens("/ranch/"+string(breaks)), http.StatusNotFound) // the record names somebody else
		st.db.Confirm(t)
		rosa.want(rosa.opens(path), http.StatusOK, "Ask for "+ada.actor.Name+" to be taken off")
		ada.want(ada.opens("/ranch/"+string(breaks)), http.StatusOK, "North Breaks")
		ada.want(ada.posts(path+"/people/"+person+"/end"), http.StatusForbidden)
		rosa.posts(path + "/people/" + person + "/end")
		ada.want(ada.opens("/ranch/"+string(breaks)), http.StatusOK, "North Breaks")
		st.db.TakeOff(t, rosa.actor, ada.actor.Person, breaks) // fourteen days later
		rosa.want(rosa.opens(path), http.StatusOK, "Nobody yet")
		ada.want(ada.opens("/ranch/"+string(breaks)), http.StatusNotFound)

		// A ranch with an owner: the coordinator alone lets nobody in.
		luis := rosa.invites(access.Hand, breaks)
		owned := "/cooperative/ranches/" + string(ranch)
		rosa.posts(owned+"/people", "person", string(luis.actor.Person))
		rosa.want(rosa.opens(owned), http.StatusOK, luis.actor.Name+" hand waits for an owner’s yes")
		luis.want(luis.opens("/ranch/"+string(ranch)), http.StatusNotFound)
	})

	t.Run("Revoke", func(t *testing.T) {
		page := rosa.posts("/cooperative/invitations", "role", "biologist", "name", "Ruth Bell", "email", "ruth@example.org")
		id := regexp.MustCompile(`/cooperative/invitations/([^/"]+)/revoke`).FindStringSubmatch(page.body)
		if id == nil {
			t.Fatal("no way to take the invitation back")
		}
		rosa.posts("/cooperative/invitations/" + id[1] + "/revoke")
		if got := rosa.opens("/cooperative/members"); strings.Contains(got.text(), "Ruth Bell") {
			t.Error("an invitation that was taken back is still listed")
		}
	})

	t.Run("UploadsWithoutValues", func(t *testing.T) {
		rosa.want(rosa.opens("/cooperative"), http.StatusOK, "2 ranches have sent nothing")
		odd := columns + "A,1,tasajillo,2026-04-28,2026-05-12,intact,2026-05-26,taken\nA,2,bunchgrass,2026-04-28,2026-05-12,intact,,\n"
		ada.kept(ada.sends([]sheet{{"secret name.csv", odd}}))
		page := rosa.opens("/cooperative/uploads")
		rosa.want(page, http.StatusOK, "1 of 2 ranches have sent their sheets for 2026", "North Breaks nothing sent yet", "1 ranch has sent")
		for _, value := range []string{"tasajillo", "bunchgrass", "secret name", "question"} {
			for _, path := range []string{"/cooperative", "/cooperative/uploads", "/cooperative/late", "/cooperative/bulletins"} {
				if strings.Contains(rosa.opens(path).body, value) {
					t.Errorf("on %s the coordinator reads %q of the sheet", path, value)
				}
			}
		}
		rosa.want(rosa.opens("/cooperative/uploads/2026"), http.StatusOK)
		rosa.want(rosa.opens("/cooperative/uploads/1999"), http.StatusNotFound)
	})

	t.Run("RemoveMember", func(t *testing.T) {
		ruth := rosa.invites(access.Biologist)
		rosa.want(ruth.opens("/region"), http.StatusOK, "No bulletin is published yet")
		rosa.posts("/cooperative/members/" + string(ruth.actor.Person) + "/remove")
		if got := ruth.opens("/region"); got.status == http.StatusOK {
			t.Error("somebody removed can still read")
		}
		if got := rosa.posts("/cooperative/members/" + string(rosa.actor.Person) + "/remove"); got.status < 400 {
			t.Errorf("removing oneself gave %d", got.status)
		}
	})

	t.Run("Bulletins", func(t *testing.T) {
		rosa.want(rosa.opens("/cooperative/bulletins"), http.StatusOK, "0 of 1 bulletins are out", "No dates are set")
		dates := func(year, opens, cut string) answer {
			return rosa.posts("/cooperative/bulletins", "year", year, "opens", opens, "cut", cut, "composed", cut[:8]+"20", "published", cut[:8]+"27")
		}
		for _, bad := range [][3]string{{"soon", "2099-03-01", "2099-09-01"}, {"2026", "2099-13-01", "2099-09-01"}, {"2026", "2020-03-01", "2099-09-01"}, {"2099", "2099-03-01", "2099-02-01"}, {"2026", "2099-03-01", "2099-09-01"}, {"2099", "2099-03-01", "2099-03-10"}} {
			if got := dates(bad[0], bad[1], bad[2]); got.status != http.StatusUnprocessableEntity {
				t.Errorf("dates %v gave %d", bad, got.status)
			}
		}
		for _, cut := range []string{"2099-09-01", "2099-10-01"} {
			if got := dates("2099", "2099-03-01", cut); got.status != http.StatusSeeOther {
				t.Fatalf("setting dates gave %d: %s", got.status, got.text())
			}
		}
		rosa.want(rosa.opens("/cooperative/bulletins"), http.StatusOK, "Opens March 1, 2099", "Cut-off October 1, 2099", "Take the dates of 2099 back")
		ada.want(ada.opens("/changes"), http.StatusOK, rosa.actor.Name+" set the dates of 2099: opens March 1, 2099, cut-off September 1, 2099",
			"moved the dates of 2099. Before: opens March 1, 2099, cut-off September 1, 2099, composed September 20, 2099, out September 27, 2099. Now: opens March 1, 2099, cut-off October 1, 2099")
		ada.want(ada.posts("/cooperative/bulletins", "year", "2030"), http.StatusForbidden)
		rosa.want(rosa.opens("/cooperative/bulletins/2026/1"), http.StatusNotFound)
		rosa.posts("/cooperative/bulletins/2099/drop")
		ada.want(ada.opens("/changes"), http.StatusOK, "took the dates of 2099 back")
		rosa.want(rosa.opens("/cooperative/bulletins"), http.StatusOK, "No dates are set")

		// Fourteen days' notice, and what opens within fourteen days stands.
		today := time.Now().UTC()
		cut := today.AddDate(0, 4, 0).Format("2006-01-") + "01"
		year := strconv.Itoa(today.AddDate(0, 0, 20).Year())
		opens := func(days int) string { return today.AddDate(0, 0, days).Format(time.DateOnly) }
		rosa.want(dates(year, opens(13), cut), http.StatusUnprocessableEntity, "A season must open 14 days from today or later")
		if got := dates(year, opens(20), cut); got.status != http.StatusSeeOther {
			t.Fatalf("in twenty days: %d %s", got.status, got.text())
		}
		if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.season SET opens_on = opens_on - 7 WHERE coop_id = $1", rosa.actor.Coop); err != nil {
			t.Fatal(err)
		}
		rosa.want(dates(year, opens(25), cut), http.StatusUnprocessableEntity, "That season opens within 14 days, or has opened. Its dates stand.")
	})
}

func (m *member) ranch(name string) (id access.ID) {
	m.t.Helper()
	m.does(func(tx *postgres.Tx) error {
		list, err := tx.AllRanches()
		for _, r := range list {
			if r.Name == name {
				id = r.ID
			}
		}
		return err
	})
	if id == "" {
		m.t.Fatalf("no ranch %s", name)
	}
	return id
}

func TestHand(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	rosa.adds("Antelope Flat", "Bo Flat")
	luis := rosa.invites(access.Hand, ranch)
	luis.want(luis.opens("/hand"), http.StatusOK, "Cottonwood Draw", "Before you walk out", "Local law")
	luis.kept(luis.sends([]sheet{{"nests.csv", plain}}))
	page := luis.opens("/hand")
	luis.want(page, http.StatusOK, "Transect A", "3 nests set", "nests.csv")
	for _, never := range []string{"Antelope Flat", "of 100", "bulletin", "survival"} {
		if strings.Contains(page.text(), never) {
			t.Errorf("a hand reads %q", never)
		}
	}
	for _, path := range []string{"/region", "/cooperative"} {
		if got := luis.opens(path); got.status != http.StatusForbidden {
			t.Errorf("%s as a hand gave %d", path, got.status)
		}
	}
}

// TestCoordinatorReadsNoQuestions: of a sheet with an open question, such as a visit left blank, which tells that the nest had its eggs, and of one
// without any a coordinator reads the same.
func TestCoordinatorReadsNoQuestions(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	one, two := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("North Breaks", "Bo Flat")
	ada, bo := rosa.invites(access.Landowner, one), rosa.invites(access.Landowner, two)
	_, blank := ada.kept(ada.sends([]sheet{{"blank.csv", columns + "A,1,yucca,2026-04-28,2026-05-12,intact,,\nA,2,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact\n"}}))
	_, whole := bo.kept(bo.sends([]sheet{{"whole.csv", columns + "A,1,yucca,2026-04-28,2026-05-12,taken,,\nA,2,yucca,2026-04-28,2026-05-12,taken,,\n"}}))
	ada.want(blank, http.StatusOK, "1 question")
	if strings.Contains(whole.text(), "1 question") {
		t.Fatalf("a sheet that asks nothing asks: %s", whole.text())
	}
	for _, path := range []string{"/cooperative", "/cooperative/uploads", "/cooperative/uploads/2026", "/cooperative/bulletins", "/cooperative/late"} {
		page := rosa.opens(path)
		rosa.want(page, http.StatusOK)
		if strings.Contains(page.text(), "question") {
			t.Errorf("%s tells of questions: %s", path, page.text())
		}
	}
	text := rosa.opens("/cooperative/uploads").text()
	_, first, ok := strings.Cut(text, "Cottonwood Draw")
	first, second, ok2 := strings.Cut(first, "North Breaks")
	if second = second[:min(len(second), len(first))]; !ok || !ok2 || strings.TrimSpace(first) != strings.TrimSpace(second) {
		t.Errorf("of a sheet with a question %q, of one without %q", first, second)
	}
}

// TestLandownersOnTheRoster: names that look alike are one landowner at the head of the roster, as everywhere.
func TestLandownersOnTheRoster(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	for i, owner := range []string{"Ada Marsh", "Marsh, Ada", "Dr. Ada Marsh", "Ben Holt"} {
		rosa.adds([]string{"Cottonwood Draw", "North Breaks", "Antelope Flat", "Long Draw"}[i], owner)
	}
	rosa.want(rosa.opens("/cooperative/ranches"), http.StatusOK, "4 ranches of 2 landowners")
	out := (&member{stage: st}).opens("/sign-in")
	rosa.want(out, http.StatusOK, "Who has forgotten the password is let in by the person who runs the server")
}
