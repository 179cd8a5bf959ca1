package pages_test

import (
	"context"
	"net/http"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// TestPace: who takes turns at two servers on one database takes no more files, and asks no more by a token, than at one;
// another spelling of a link's address is the same link; and as time goes by there is more. (OWASP ASVS 5.0, 2.4.1)
func TestPace(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	now := time.Now()
	var servers [2]*fiber.App
	for i := range servers {
		db, err := postgres.Open(context.Background(), st.db.AppURL, st.db.DoorURL)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(db.Close)
		if servers[i], err = pages.New(pages.Config{DB: db, Account: st.accounts, Now: func() time.Time { return now }}); err != nil {
			t.Fatal(err)
		}
	}
	// answered counts what is answered of so many questions at either in turn.
	answered := func(n int, ask func(turn int) answer) (times int, last answer) {
		for i := range n {
			st.app = servers[i%2]
			if last = ask(i); last.status == http.StatusOK {
				times++
			} else if last.status != http.StatusTooManyRequests {
				t.Fatalf("question %d: %d %s", i, last.status, last.text())
			}
		}
		return times, last
	}
	takes := func(int) answer { return ada.opens("/send/blank.xlsx") }
	times, last := answered(64, takes)
	if times != 60 || last.header.Get("Retry-After") != "3" { // in two seconds and a moment
		t.Errorf("%d of 64 files were handed out; come again in %q seconds", times, last.header.Get("Retry-After"))
	}
	if got := rosa.invites(access.Hand).opens("/send/blank.xlsx"); got.status != http.StatusOK {
		t.Errorf("another member: %d", got.status)
	}
	now = now.Add(5 * time.Second)
	if times, _ := answered(4, takes); times != 2 {
		t.Errorf("five seconds later: %d files, want 2", times)
	}

	var secret string
	ada.does(func(tx *postgres.Tx) (err error) { secret, err = tx.MakeFeed(false, words.English); return err })
	nobody := &member{stage: st}
	spelled := []string{"/calendar/" + secret + ".ics", "/Calendar/" + secret + ".ICS", "/calendar/" + secret + ".ics/", "/CALENDAR/" + secret + ".ics?x=1"}
	if times, _ := answered(70, func(turn int) answer { return nobody.opens(spelled[turn%len(spelled)]) }); times != 60 {
		t.Errorf("a calendar was answered %d times of 70, want 60", times)
	}

	token := ada.token()
	if times, _ := answered(310, func(int) answer { return st.calls(token, http.MethodGet, "/api/v1/bulletins") }); times != 300 {
		t.Errorf("%d of 310 questions were answered, want 300", times)
	}
}
