package pages_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// TestNamedSharing: a landowner shares one ranch with one biologist, sees that they looked, and ends it.
func TestNamedSharing(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine, theirs := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Antelope Flat", "Bo Flat")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, theirs)
	for _, m := range []*member{ada, bo} {
		m.does(func(tx *postgres.Tx) error { return tx.SetConsent(m.actor.Ranches[0], 1) })
		m.kept(m.sends([]sheet{{"nests.csv", season(0, 2)}}))
	}
	ruth, other := rosa.invites(access.Biologist), rosa.invites(access.Biologist)
	year := time.Now().UTC().AddDate(1, 0, 0).Format(time.DateOnly)
	give := func(m *member, ranch access.ID, fields ...string) answer {
		all := map[string]string{"ranch": string(ranch), "person": string(ruth.actor.Person), "purpose": "burn plan", "through": year}
		for i := 0; i+1 < len(fields); i += 2 {
			all[fields[i]] = fields[i+1]
		}
		var list []string
		for k, v := range all {
			list = append(list, k, v)
		}
		return m.posts("/who/share", list...)
	}

	ruth.want(ruth.opens("/region/named"), http.StatusOK, "No ranch shares its results with you by name")
	ada.want(ada.opens("/who/share?ranch="+string(mine)), http.StatusOK, "Which ranch?", "You can end it any day", "Two years at the most", "brought in by", "Since ", "Anybody who is invited types their own name")
	for name, tt := range map[string]struct {
		got    answer
		status int
		say    string
	}{
		"NoPurpose": {give(ada, mine, "purpose", " "), http.StatusUnprocessableEntity, "Say what the results are for"},
		"NoDay":     {give(ada, mine, "through", "next year"), http.StatusUnprocessableEntity, "2027-08-31"},
		"ThreeYear": {give(ada, mine, "through", time.Now().AddDate(3, 0, 0).Format(time.DateOnly)), http.StatusUnprocessableEntity, "within two years"},
		"Neighbor":  {give(ada, theirs), http.StatusNotFound, "There is nothing here"},
		"Planner":   {give(ada, mine, "person", string(rosa.actor.Person)), http.StatusNotFound, "There is nothing here"},
		"NotMine":   {give(ruth, mine), http.StatusForbidden, "does not include this page"},
	} {
		if tt.got.status != tt.status || !strings.Contains(tt.got.text(), tt.say) {
			t.Errorf("%s: %d %s", name, tt.got.status, tt.got.text())
		}
	}
	if got := give(ada, mine); got.status != http.StatusSeeOther {
		t.Fatalf("sharing gave %d: %s", got.status, got.text())
	}
	ada.want(ada.opens("/who"), http.StatusOK, "burn plan", "last looked: never yet", "End this now")
	ada.want(ada.opens("/ranch/"+string(mine)), http.StatusOK, "(biologist, since")

	page := ruth.opens("/region/named")
	ruth.want(page, http.StatusOK, "One ranch shares its results with you by name", "Cottonwood Draw", "burn plan", "36")
	if strings.Contains(page.body, "Antelope") {
		t.Error("the biologist reads of the neighbor’s ranch")
	}
	ada.want(ada.opens("/who"), http.StatusOK, "last looked: "+time.Now().UTC().Format("January 2, 2006"))
	for _, fault := range pages.FiguresWithoutNote(page.body) {
		t.Error(fault)
	}

	t.Run("NobodyElse", func(t *testing.T) {
		other.want(other.opens("/region/named"), http.StatusOK, "No ranch shares its results")
		for name, m := range map[string]*member{"coordinator": rosa, "landowner": bo} {
			if got := m.opens("/region/named"); got.status != http.StatusForbidden {
				t.Errorf("the %s gets %d", name, got.status)
			}
		}
		for _, path := range []string{"/region", "/region/quality", "/ranch"} {
			if got := ruth.opens(path); strings.Contains(got.body, "Cottonwood") {
				t.Errorf("%s names the ranch", path)
			}
		}
	})

	t.Run("NothingToOpenItWith", func(t *testing.T) {
		nowhere := ruth.opens("/ranch/3b241101-e2bb-4255-8caf-4136c566a962")
		for _, path := range []string{"/ranch/" + string(mine), "/uploads/" + string(ada.sent(mine)[0].ID)} {
			if got := ruth.opens(path); got.body != nowhere.body {
				t.Errorf("%s gives %d, other bytes than a ranch that does not exist", path, got.status)
			}
		}
	})

	t.Run("Ended", func(t *testing.T) {
		found := regexp.MustCompile(`/who/share/[0-9a-f-]+/end`).FindString(ada.opens("/who").body)
		for name, m := range map[string]*member{"neighbor": bo, "biologist": ruth} {
			if got := m.posts(found); got.status != http.StatusNotFound && got.status != http.StatusForbidden {
				t.Errorf("the %s ends it: %d", name, got.status)
			}
		}
		if got := ada.posts(found); got.status != http.StatusSeeOther {
			t.Fatalf("ending gave %d", got.status)
		}
		if got, never := ruth.opens("/region/named"), other.opens("/region/named"); got.text() != never.text() {
			t.Errorf("after the end the biologist reads: %s", got.text())
		}
		ada.want(ada.posts(found), http.StatusNotFound, "There is nothing here")
		ada.want(ada.opens("/who"), http.StatusOK, "Shared by name before", "burn plan")
		ruth.wakes()
		if ruth.actor.Known != 1 {
			t.Errorf("the biologist knows %d entities, want the one for good", ruth.actor.Known)
		}
	})
}
