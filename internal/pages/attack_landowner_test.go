package pages_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/fieldwork"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	fieldseason "tussock/internal/season"
	"tussock/internal/survey"
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
	ada.want(ada.opens("/ranch/"+string(mine)), http.StatusOK, "What the owner’s sheet says counts, and what only this one has waits, until an owner accepts it.")
	other, _ := hand.kept(hand.sends([]sheet{{"other.csv", rows("IX", "1", "taken")}}))
	lasted("under another name of the line")
	ada.want(ada.opens("/uploads/"+string(other)), http.StatusOK, "which does not have 2 nests that stand here. They count once an owner accepts this sheet.")
	ada.want(ada.opens("/uploads"), http.StatusOK, "Waits until an owner accepts it: 2 nests")
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

// TestT39CalendarOfAHand: a hand makes a calendar address that says the ranch. The owners read in their log that it was made, and end it by a button; nobody
// else does.
func TestT39CalendarOfAHand(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	hand := rosa.invites(access.Hand, mine)
	bo := rosa.invites(access.Landowner, rosa.adds("Antelope Flat", "Bo Flat"))
	made := hand.posts("/plan/calendar", "named", "1")
	address := regexp.MustCompile(`/calendar/[0-9a-f]+\.ics`).FindString(made.body)
	reads := func() int { return (&member{stage: st}).opens(address).status }
	if address == "" || reads() != http.StatusOK {
		t.Fatalf("no calendar: %d %s", made.status, made.text())
	}
	hand.posts("/plan/calendar", "named", "0")
	log := ada.opens("/who/log")
	if strings.Count(log.text(), "made a calendar address that says the ranch’s name") != 1 {
		t.Errorf("the owner's log: %s", log.text())
	}
	end := regexp.MustCompile(`/who/calendars/[0-9a-f-]+/end`).FindString(ada.opens("/who").body)
	if end == "" || regexp.MustCompile(`/who/calendars/`).MatchString(hand.opens("/who").body) {
		t.Fatal("the owner has no button to end it, or the hand has")
	}
	for _, who := range []*member{hand, bo, rosa} {
		if got := who.posts(end, "ranch", string(mine)); got.status == http.StatusSeeOther || reads() != http.StatusOK {
			t.Errorf("%s ends it: %d", who.actor.Role, got.status)
		}
	}
	if got := ada.posts(end, "ranch", string(mine)); got.status != http.StatusSeeOther {
		t.Errorf("ending it gave %d: %s", got.status, got.text())
	}
	if got := reads(); got != http.StatusNotFound {
		t.Errorf("ended, the address gives %d", got)
	}
	ada.want(ada.opens("/who/log"), http.StatusOK, "ended a calendar address of a hand’s ("+hand.actor.Name+")")
	own := ada.posts("/plan/calendar", "named", "1")
	if regexp.MustCompile(`/who/calendars/`).MatchString(ada.opens("/who").body) {
		t.Errorf("an owner's own is ended among the plan's reminders: %d", own.status)
	}
}

// TestT39InvitationTellsOfNobody: where no letters go out, an invitation's link that names no address says the same whatever address is tried with it, and
// makes no account; a coordinator makes none.
func TestT39InvitationTellsOfNobody(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	rosa.want(rosa.posts("/cooperative/invitations", "role", "biologist", "name", "Ruth Bell"), http.StatusUnprocessableEntity, "Write the address that they will sign in with")
	var token, named string
	rosa.does(func(tx *postgres.Tx) (err error) {
		if token, err = tx.Invite(access.Biologist, "", "", nil); err == nil {
			named, err = tx.Invite(access.Biologist, "", "ruth@example.org", nil)
		}
		return err
	})
	b := st.browser()
	b.want(b.opens("/join/"+token), http.StatusGone, "Ask the coordinator for a link that is written to your address.")
	form := b.opens("/join/" + named)
	b.want(form, http.StatusOK, "Choose a password")
	first := ""
	for i, email := range []string{"person1@example.org", "nobody@example.org", "person2@example.org", "else@example.org", "person2@example.org"} {
		got := b.posts(form, "/join/"+token, "name", "Ruth Bell", "email", email, "password", password)
		if said := strings.ReplaceAll(got.text(), email, ""); i == 0 {
			first = said
		} else if said != first || got.status != http.StatusGone || b.session() != "" {
			t.Errorf("%s: %d %s", email, got.status, got.text())
		}
	}
	if _, err := st.accounts.Accept(t.Context(), named, account.Acceptance{Name: "Ruth Bell", Password: password}, "a test"); err != nil {
		t.Errorf("a link that names an address: %v", err)
	}
}

// TestT39FieldLinkSignsAsTheOwner: somebody with a field link signs with the owner's initials, says that a line is carried out, and looks at the owner's
// nests; a hand counts what came in. Pages say by which link it came, what a member said of the line stands, and the owner's nests count until the owner
// accepts the hand's sheet.
func TestT39FieldLinkSignsAsTheOwner(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	hand := rosa.invites(access.Hand, mine)
	year, today := time.Now().Year(), survey.DateFrom(time.Now())
	var lines []fieldseason.Line
	ada.does(func(tx *postgres.Tx) (err error) {
		plan := fieldseason.Plan{Ranch: mine, Season: year, Purpose: fieldseason.Trend, Lines: 1, Stops: 4, First: 14, Last: 28, SetOn: today}
		if err := tx.SaveLines(mine, year, plan, []fieldseason.Line{{Ranch: mine, Season: year, Name: "1", Stops: 4, SetOn: today}}); err != nil {
			return err
		}
		lines, err = tx.Lines(mine, year)
		return err
	})
	ada.kept(ada.sends([]sheet{{"mine.csv", columns + fmt.Sprintf("1,1,yucca,%s,%s,intact,,\n", today-20, today-6)}}))
	look := func(stop int, kind fieldwork.Kind, answers map[string]string) fieldwork.Look {
		return fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: mine, Season: year, Line: lines[0].ID, Stop: stop, Kind: kind, Who: "AM", Device: "phone", Seq: stop, At: time.Now().UTC(), Answers: answers}
	}
	made := ada.posts("/field/links", "ranch", string(mine), "name", "Lupe", "line", string(lines[0].ID), "from", (today - 20).String(), "through", (today + 30).String())
	secret := regexp.MustCompile(`/field/open/([0-9a-f]{64})`).FindStringSubmatch(made.body)
	phone := &fieldPhone{st, map[string]string{}}
	csrf := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(phone.opens("/field/open/" + secret[1]).body)
	phone.posts("/field/open/"+secret[1], url.Values{"csrf": {csrf[1]}})
	set := map[string]string{"cover": "yucca", "set_on": (today - 20).String(), "eggs_set": "3"}
	if got := phone.sends(look(1, fieldwork.Set, set), look(1, fieldwork.Check, map[string]string{"found": "lost", "looked_on": (today - 6).String()}), look(2, fieldwork.Set, set),
		look(0, fieldwork.Close, map[string]string{"eggs_out": "0", "flags_out": "0"})); got.status != http.StatusOK {
		t.Fatalf("the link's looks: %d %s", got.status, got.body)
	}
	results := fmt.Sprintf("/field/results/%s/%d", mine, year)
	ada.want(ada.opens(results), http.StatusOK, "eggs: 0 of 3", "Sent by the field link “Lupe”, signed “AM”", "By field links 4")

	byMember := look(0, fieldwork.Close, map[string]string{"eggs_out": "3", "flags_out": "2"})
	byMember.At = time.Now().Add(-time.Hour).UTC()
	ada.does(func(tx *postgres.Tx) error { _, err := tx.KeepLooks([]fieldwork.Look{byMember}); return err })
	if page := ada.opens(results).text(); strings.Contains(page, "eggs: 0 of 3") || strings.Contains(page, "Sent by the field link “Lupe”, signed “AM”") {
		t.Errorf("a link's word stands above a member's: %s", page)
	}

	hand.want(hand.opens(results), http.StatusOK, "What came by a field link counts with it, as all that you send")
	hand.kept(hand.posts(results + "/count"))
	for _, n := range ada.rows() {
		if n.Number == "1" && n.Fate() != survey.Intact {
			t.Errorf("what came by the link counts above the owner's: nest 1 is %s", n.Fate())
		}
	}
	ada.want(ada.opens("/ranch/"+string(mine)), http.StatusOK, "What the owner’s sheet says counts, and what only this one has waits, until an owner accepts it.")
}

// TestT39ThePromiseSaysWhatHandsRead: what a hand reads of a ranch, what goes on while an owner is suspended, and when the log's lines go, stand where
// they are promised.
func TestT39ThePromiseSaysWhatHandsRead(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	id, _ := ada.kept(ada.sends([]sheet{{"old.csv", strings.ReplaceAll(plain, "2026-", "2021-")}}))
	hand := rosa.invites(access.Hand, mine)
	hand.want(hand.opens("/ranch/"+string(mine)+"?season=2021"), http.StatusOK, "1 of 3 nests lasted")
	hand.want(hand.opens("/uploads/"+string(id)+"/file"), http.StatusOK, "2021-04-28")
	hand.want(hand.opens("/promise"), http.StatusOK, "A hand reads of the ranch what you read, of every season, also of those before they came", "can download the sheets as they were sent",
		"tells the lines’ days to anyone who has the address", "Field links go on.", "The lines go only with the ranch itself",
		"what was put there (eggs, flags, cameras)", "whatever they call the line or the nest", "sign with any initials")
	ada.want(ada.opens("/who/log"), http.StatusOK, "they go only with the ranch itself, when its owners have it deleted")
}
