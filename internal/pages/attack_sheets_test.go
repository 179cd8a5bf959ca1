package pages_test

import (
	"archive/zip"
	"context"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"tussock/internal/access"
	"tussock/internal/fieldwork"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	fieldseason "tussock/internal/season"
	"tussock/internal/survey"
)

// columnTag is the question behind the tag over a column of a sheet's page.
func columnTag(t *testing.T, page answer, heading string) string {
	t.Helper()
	found := regexp.MustCompile(`name="(q\.[^"]+)" aria-label="What the column “` + heading + `” holds"`).FindStringSubmatch(page.body)
	if found == nil {
		t.Fatalf("no tag of column %q on the page", heading)
	}
	return html.UnescapeString(found[1])
}

// TestAnswersAreLines: whoever changes how a sheet is read leaves a line in the ranch's log with the sheet and what they said, on the sheet's page
// stands who did, the file of who looked has it, and an owner is told by letter what another owner did to their sheet. What changes nothing is no line.
func TestAnswersAreLines(t *testing.T) {
	posted, box, _ := newPostedStage(t)
	st := newStageOn(t, posted.db)
	app, err := pages.New(pages.Config{DB: st.db.DB, Account: posted.accounts})
	if err != nil {
		t.Fatal(err)
	}
	st.app = app
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada, ben, hand := rosa.invites(access.Landowner, ranch), rosa.invites(access.Landowner, ranch), rosa.invites(access.Hand, ranch)
	letters := func() int {
		t.Helper()
		n, err := posted.accounts.TellOwners(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	letters() // of those who came
	id, page := ada.kept(ada.sends([]sheet{year(2024, 4)}, "season", "2024"))
	path, before := "/uploads/"+string(id), len(box.All())
	tag := columnTag(t, page, "check1")
	ben.kept(ben.posts(path+"/answers", tag, "not-used"))
	ada.want(ada.opens("/who/log"), http.StatusOK, ben.actor.Name+" Owner changed how a sheet is read (2024.csv: “")
	ada.want(ada.opens(path), http.StatusOK, ben.actor.Name+" changed last how this sheet is read, on ", " is not used")
	if n := letters(); n != 1 {
		t.Errorf("%d letters after another owner changed a sheet", n)
	}
	if letter := box.Wait(t, before+1); letter.To != "person2@example.org" || !strings.Contains(letter.Text, ben.actor.Name+", an owner as you are, changed how your sheet “2024.csv” of Cottonwood Draw") {
		t.Errorf("the letter: %+v", letter)
	}
	ben.kept(ben.posts(path+"/answers", tag, "not-used")) // says nothing new
	count := func(what string) (n int) {
		t.Helper()
		ada.does(func(tx *postgres.Tx) error {
			notes, err := tx.Notes()
			for _, x := range notes {
				if x.What == what {
					n += x.Times
				}
			}
			return err
		})
		return n
	}
	if n := count(postgres.ReadSheet); n != 1 {
		t.Errorf("%d lines of changed answers, want 1", n)
	}
	ada.kept(ada.posts(path+"/answers", "again", "questions"))
	if n := letters(); n != 0 {
		t.Errorf("%d letters of one's own answers", n)
	}
	theirs, page := hand.kept(hand.sends([]sheet{year(2023, 4)}, "season", "2023"))
	hand.kept(hand.posts("/uploads/"+string(theirs)+"/answers", columnTag(t, page, "check1"), "not-used"))
	ada.want(ada.opens("/who/log"), http.StatusOK, hand.actor.Name+" Hand changed how a sheet is read (2023.csv: “")
	if n := count(postgres.ReadSheet); n != 3 {
		t.Errorf("%d lines of changed answers, want 3", n)
	}
	ben.posts(path + "/undo")
	if n := letters(); n != 1 {
		t.Errorf("%d letters after another owner took a sheet back", n)
	}
	all := ada.opens("/account/leave/everything.zip").body
	z, err := zip.NewReader(strings.NewReader(all), int64(len(all)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("cottonwood-draw/who-looked.csv")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := io.ReadAll(f); err != nil || !strings.Contains(string(got), ben.actor.Name+",landowner,answered,") {
		t.Errorf("who-looked.csv: %v, %s", err, got)
	}
}

// TestOwnersFileIsTheOwners: a hand sends the owner's file first, answers it so that half of it is not used, and takes it back, or another in its place. The
// owner's sending is the owner's all the same: read again, out of the hand's reach, a line of the log, and no page says that it was held already.
func TestOwnersFileIsTheOwners(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada, hand := rosa.invites(access.Landowner, ranch), rosa.invites(access.Hand, ranch)
	for i, send := range []string{"/send", "/send/old", "/send"} {
		mine := year(2021+i, 4)
		theirs, page := hand.kept(hand.sends([]sheet{mine}))
		hand.kept(hand.posts("/uploads/"+string(theirs)+"/answers", columnTag(t, page, "check1"), "not-used"))
		if i == 2 {
			hand.kept(hand.sends([]sheet{{"other.csv", strings.ReplaceAll(mine.data, "intact", "taken")}}, "replaces", string(theirs)))
		}
		got := ada.settled(ada.sendsTo(send, []sheet{mine}, "ranch", string(ranch)).header.Get("Location"))
		if got.status == http.StatusSeeOther {
			got = ada.settled(got.header.Get("Location"))
		}
		if strings.Contains(got.text(), "We already hold this very file") || got.status != http.StatusOK {
			t.Errorf("%s: %d %s", send, got.status, got.text())
		}
		own := ada.sent(ranch)[0]
		if own.SentBy != ada.actor.Name || own.Rank != 3 || own.State != postgres.Current || own.ID == theirs {
			t.Errorf("%s: the owner's sheet is %+v", send, own)
		}
		if answers := ada.opens("/uploads/" + string(own.ID)).text(); strings.Contains(answers, "changed last how this sheet is read") {
			t.Errorf("%s: the owner's is read as the hand answered: %s", send, answers)
		}
		for _, act := range []string{"/undo", "/restore"} {
			hand.posts("/uploads/" + string(theirs) + act)
			hand.posts("/uploads/" + string(own.ID) + act)
		}
		ada.want(ada.opens("/who/log"), http.StatusOK, ada.actor.Name+" Owner sent a sheet ("+mine.name)
	}
	for _, n := range ada.rows() {
		if n.Fate() != survey.Intact || len(n.Visits) != 2 {
			t.Errorf("nest %s of %d: %+v", n.Number, n.Season, n.Visits)
		}
	}
	if n := len(ada.rows()); n != 12 {
		t.Errorf("%d nests count, want 12", n)
	}
	id, _ := ada.kept(ada.sends([]sheet{year(2021, 4)})) // one's own once more
	ada.want(ada.opens("/uploads/"+string(id)+"?held=1"), http.StatusOK, "We already hold this very file")
}

// TestOwnersLooksAreTheOwners: looks that an owner tapped, or keyed from paper, count as an owner's whoever counts: a hand counts what no owner looked at,
// and no sheet of a hand's can take the place of the rest. What a field link says against an owner's look makes nothing wait.
func TestOwnersLooksAreTheOwners(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada, hand := rosa.invites(access.Landowner, ranch), rosa.invites(access.Hand, ranch)
	year, today := time.Now().Year(), survey.DateFrom(time.Now())
	var lines []fieldseason.Line
	ada.does(func(tx *postgres.Tx) (err error) {
		plan := fieldseason.Plan{Ranch: ranch, Season: year, Purpose: fieldseason.Trend, Lines: 1, Stops: 4, First: 14, Last: 28, SetOn: today}
		if err := tx.SaveLines(ranch, year, plan, []fieldseason.Line{{Ranch: ranch, Season: year, Name: "1", Stops: 4, SetOn: today}}); err != nil {
			return err
		}
		lines, err = tx.Lines(ranch, year)
		return err
	})
	seq := 0
	look := func(stop int, device, found string) fieldwork.Look {
		seq++
		l := fieldwork.Look{ID: access.ID(uuid.NewString()), Ranch: ranch, Season: year, Line: lines[0].ID, Stop: stop, Kind: fieldwork.Check, Who: device, Device: device, Seq: seq, At: time.Now().UTC(),
			Answers: map[string]string{"found": found, "looked_on": (today - 6).String()}}
		if found == "" {
			l.Kind, l.Answers = fieldwork.Set, map[string]string{"cover": "yucca", "set_on": (today - 20).String(), "eggs_set": "3"}
		}
		return l
	}
	taps := func(who *member, device, found string, stops ...int) {
		t.Helper()
		who.does(func(tx *postgres.Tx) error {
			var looks []fieldwork.Look
			for _, stop := range stops {
				looks = append(looks, look(stop, device, ""), look(stop, device, found))
			}
			_, err := tx.KeepLooks(looks)
			return err
		})
	}
	counts := func(want, when string) {
		t.Helper()
		var got []string
		for _, n := range ada.rows() {
			got = append(got, n.Number+" "+string(n.Fate()))
		}
		slices.Sort(got)
		if strings.Join(got, ", ") != want {
			t.Errorf("%s: %q count, want %q", when, got, want)
		}
	}
	results := fmt.Sprintf("/field/results/%s/%d", ranch, year)
	taps(ada, "paper", fieldwork.AllHere, 1)
	taps(ada, "phone", fieldwork.AllHere, 2)
	taps(hand, "other", fieldwork.AllHere, 3)
	hand.want(hand.opens(results), http.StatusOK, "2 nests and belts at which an owner looked wait for an owner to count them.")
	theirs, _ := hand.kept(hand.posts(results + "/count"))
	counts("3 intact", "counted by a hand")
	ada.want(ada.opens("/ranch/"+string(ranch)), http.StatusOK, "4 looks from the field do not count yet.")
	ada.want(ada.opens(results), http.StatusOK, "4 looks have come in since it was counted last.")
	own, _ := ada.kept(ada.posts(results + "/count"))
	counts("1 intact, 2 intact, 3 intact", "counted by the owner")
	if page := ada.opens("/ranch/" + string(ranch)).text(); strings.Contains(page, "do not count yet") || strings.Contains(page, "They wait") {
		t.Errorf("the owner's page after it: %s", page)
	}
	taps(hand, "other", "lost", 1, 2)
	ada.want(ada.opens(results), http.StatusOK, "At 2 places two looks contradict one another", "This one holds")
	hand.posts(results + "/count")
	hand.kept(hand.sends([]sheet{{"lost.csv", columns + fmt.Sprintf("1,1,yucca,%s,%s,taken,,\n1,2,yucca,%s,%s,taken,,\n", today-20, today-6, today-20, today-6)}}))
	for _, id := range []access.ID{own, theirs} {
		if got := hand.posts("/uploads/" + string(id) + "/undo"); id == own && got.status != http.StatusForbidden {
			t.Errorf("a hand takes the owner's sheet back: %d", got.status)
		}
	}
	counts("1 intact, 2 intact, 3 intact", "after all that a hand did")

	made := ada.posts("/field/links", "ranch", string(ranch), "name", "Lupe", "line", string(lines[0].ID), "from", (today - 20).String(), "through", (today + 30).String())
	secret := regexp.MustCompile(`/field/open/([0-9a-f]{64})`).FindStringSubmatch(made.body)
	phone := &fieldPhone{st, map[string]string{}}
	csrf := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(phone.opens("/field/open/" + secret[1]).body)
	phone.posts("/field/open/"+secret[1], url.Values{"csrf": {csrf[1]}})
	taps(ada, "phone", fieldwork.AllHere, 4)
	if got := phone.sends(look(4, "link", ""), look(4, "link", "lost")); got.status != http.StatusOK {
		t.Fatalf("the link's looks: %d %s", got.status, got.body)
	}
	ada.want(ada.opens(results), http.StatusOK, "At 2 places two looks contradict one another") // and not at a third
	ada.kept(ada.posts(results + "/count"))
	counts("3 intact, 4 intact", "what a link says against the owner, and what an owner has still to choose")
}
