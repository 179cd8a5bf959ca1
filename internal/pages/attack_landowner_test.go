package pages_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// TestT39TargetsRewriteNothing: a coordinator sets targets, and what is said beside a season that has opened stays as it was, the first time and every
// time; the page of targets and the changes say so.
func TestT39TargetsRewriteNothing(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	ada.does(func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: mine, File: "seasons.csv", Data: []byte("a"), Rows: pages.SampleSurvey("Cottonwood Draw")})
		return err
	})
	st.db.Open(t, rosa.actor.Coop, 2026)
	read := func() (said string) {
		for _, season := range []int{2022, 2023, 2024, 2025, 2026} {
			said += ada.opens(fmt.Sprintf("/ranch/%s?season=%d", mine, season)).text()
		}
		return said
	}
	before := read()
	if !strings.Contains(before, "where 300 are the target") {
		t.Fatal("the pages say nothing of the target")
	}
	for _, target := range []string{"290", "420", "300"} {
		rosa.posts("/cooperative/marks", "cover", target, "hope", "55", "first", "12", "last", "26", "from", "a vote for "+target)
		if after := read(); after != before {
			t.Errorf("with the target at %s the pages of seasons that have opened say something else", target)
		}
	}
	ada.want(ada.opens("/changes"), http.StatusOK, "set the targets of seasons that open later")
	if page := rosa.opens("/cooperative/marks"); strings.Contains(page.text(), "hold for earlier seasons") {
		t.Error("the page of targets says that they hold for earlier seasons")
	}
}

// TestT39SpellingsOfOneNest: a hand sends the owner's nests under other spellings of line and nest. They count once the owner says yes, and before that
// the owner's own do; the owner takes such a sheet back from the list of what was sent.
func TestT39SpellingsOfOneNest(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	hand := rosa.invites(access.Hand, mine)
	rows := func(line, nest, state string) string {
		return columns + fmt.Sprintf("%s,%s,bunchgrass,2026-04-28,2026-05-12,%s,,\n%s,2,yucca,2026-04-28,2026-05-12,%s,,\n", line, nest, state, line, state)
	}
	ada.kept(ada.sends([]sheet{{"mine.csv", rows("1", "1", "intact")}}))
	lasted := func(when string) {
		t.Helper()
		for _, n := range ada.rows() {
			if n.Fate() != "intact" {
				t.Errorf("%s: nest %s on line %s counts as %s", when, n.Number, n.Transect, n.Fate())
			}
		}
		if got := len(ada.rows()); got != 2 {
			t.Errorf("%s: %d nests count", when, got)
		}
	}
	lasted("the owner's")
	var last access.ID
	for i, spelled := range [][2]string{{"01", "1"}, {"１", "1"}, {"#1", "1"}, {"1", "01"}, {"1.0", "1"}, {"1", "#1"}, {"Line 1", "1.0"}, {"T1", "nest 1"}} {
		id, _ := hand.kept(hand.sends([]sheet{{fmt.Sprintf("hand%d.csv", i), rows(spelled[0], spelled[1], "taken")}}))
		lasted(fmt.Sprintf("with line %q and nest %q", spelled[0], spelled[1]))
		ada.want(ada.opens("/uploads/"+string(id)), http.StatusOK, "2 nests of this sheet, too. What stands there counts.", "Take this sheet back")
		last = id
	}
	list := ada.opens("/uploads")
	if !regexp.MustCompile(`action="/uploads/`+string(last)+`/undo"`).MatchString(list.body) || strings.Contains(hand.opens("/uploads").body, "/uploads/"+string(ada.sent(mine)[len(ada.sent(mine))-1].ID)+"/undo") {
		t.Error("the list of what was sent has no button to take a hand's sheet back, or lets a hand take the owner's")
	}
	back := ada.posts("/uploads/"+string(last)+"/undo", "from", "list")
	if back.status != http.StatusSeeOther || back.header.Get("Location") != "/uploads" {
		t.Errorf("taking it back gave %d to %q", back.status, back.header.Get("Location"))
	}
	ada.want(ada.opens("/uploads"), http.StatusOK, "Taken back")
	if !regexp.MustCompile(`action="/uploads/` + string(last) + `/restore"`).MatchString(ada.opens("/uploads").body) {
		t.Error("no button lets it count again")
	}
}
