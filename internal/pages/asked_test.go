package pages_test

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// TestFirstPagesSayWhatIsAsked: who is asked off a ranch or out of their place, and for whose word a newcomer, a name or a hand-over waits, reads it on
// the page that they begin on, with the way there.
func TestFirstPagesSayWhatIsAsked(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.comes(access.Landowner, "Ada Marsh", "ada@example.org", ranch)
	home := "/ranch/" + string(ranch)
	if got := ada.opens(home); strings.Contains(got.body, "Look at it, and answer") {
		t.Errorf("nothing is asked, and the first page says %s", got.text())
	}
	hand := rosa.comes(access.Hand, "Luis Ortega", "luis@example.org")
	rosa.does(func(tx *postgres.Tx) error { return tx.Assign(hand.actor.Person, ranch) })
	rosa.adds("North Breaks", "Marsh, Ada")
	rosa.does(func(tx *postgres.Tx) error { _, err := tx.TakeOff(ada.actor.Person, ranch); return err })
	got := ada.opens(home)
	ada.want(got, http.StatusOK, "Person One asked to take Ada Marsh off Cottonwood Draw", "1 person waits for your yes to come onto your ranch.", "1 ranch stands under your name")
	for _, link := range []string{`<a href="/account/leave">Look at it, and answer`, `<a href="/who">Look at it, and answer`} {
		if !strings.Contains(got.body, link) {
			t.Errorf("the first page has no %s", link)
		}
	}
	other := rosa.invites(access.Landowner)
	rosa.does(func(tx *postgres.Tx) error { return tx.Assign(other.actor.Person, ranch) })
	ada.does(func(tx *postgres.Tx) error { return tx.LetOnto(other.actor.Person, ranch) })
	other.want(other.opens("/ranch"), http.StatusOK, "1 ranch waits for your own yes to being put on it.")

	second := rosa.invites(access.Coordinator)
	rosa.does(func(tx *postgres.Tx) error { _, err := tx.AskRemoval(second.actor.Person); return err })
	second.want(second.opens("/cooperative"), http.StatusOK, "You are asked to stop being a coordinator.")
	if got := rosa.opens("/cooperative"); strings.Contains(got.text(), "You are asked to stop") {
		t.Error("who asked reads that they are asked")
	}
}

// TestNamesOfPeopleTellNothing: nobody joins under a name that has figures or the name of a ranch in it.
func TestNamesOfPeopleTellNothing(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	rosa.adds("Teasel Bottom Ranch", "Teasel Bottom")
	n := 0
	for name, told := range map[string]string{"Teasel Bottom lost 47 of 100": "A person’s name has no digits", "Rosa of Teasel Bottom, half lost": "That has the name of a ranch in it", "ᴛᴇᴀsᴇʟ": "Write it with the letters A to Z"} {
		var token string
		rosa.does(func(tx *postgres.Tx) (err error) {
			n++
			token, err = tx.Invite(access.Coordinator, "", fmt.Sprintf("new%d@example.org", n), nil)
			return err
		})
		b := st.browser()
		if got := b.posts(b.opens("/join/"+token), "/join/"+token, "name", name, "password", "four plain words here"); got.status < 400 || !strings.Contains(got.text(), told) {
			t.Errorf("joining as %q gave %d: %s", name, got.status, got.text())
		}
		if got := b.posts(b.opens("/join/"+token), "/join/"+token, "name", "Rosa Bottom", "password", "four plain words here"); got.status != http.StatusSeeOther {
			t.Fatalf("joining as anybody gave %d: %s", got.status, got.text())
		}
	}
}

// TestNamesakeIsKeptOut: while a namesake is suspended whom a coordinator made, a ranch comes under the name of who bears it first, or of its own
// owner; while that one is suspended, no namesake answers for them.
func TestNamesakeIsKeptOut(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	una := rosa.comes(access.Landowner, "Una Pell", "una@example.org", rosa.adds("Cottonwood Draw", "Una Pell"))
	decoy := rosa.adds("Decoy Flat", "Decoy Two")
	twin := rosa.comes(access.Landowner, "Decoy Two", "two@example.org", decoy)
	lists := func(name, owner string) error {
		return rosa.db.DB.As(t.Context(), rosa.actor, func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(postgres.Ranch{Name: name, Owner: owner})
			return err
		})
	}
	owner := func(query string, args ...any) {
		t.Helper()
		if _, err := rosa.db.Owner.Exec(t.Context(), query, args...); err != nil {
			t.Fatal(err)
		}
	}
	owner("UPDATE tussock.person SET name = 'Una Pell' WHERE id = $1", twin.actor.Person)
	rosa.does(func(tx *postgres.Tx) error { return tx.Suspend(una.actor.Person) })
	if err := lists("Other place", "Una Pell"); !errors.Is(err, errs.Conflict) {
		t.Errorf("Una is suspended, and a namesake is to answer: %v", err)
	}
	rosa.does(func(tx *postgres.Tx) error {
		return errors.Join(tx.Restore(una.actor.Person), tx.Suspend(twin.actor.Person))
	})
	if err := lists("New place", "Una Pell"); err != nil {
		t.Errorf("a namesake is suspended, and Una gets no ranch: %v", err)
	}
}

// TestWhatCannotBeReadIsNoFaultOfOurs: a form that is broken and a header that is too long are said to be that.
func TestWhatCannotBeReadIsNoFaultOfOurs(t *testing.T) {
	st := newStage(t)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go st.app.Listener(ln)
	t.Cleanup(func() { st.app.Shutdown() })
	for request, told := range map[string]string{
		"POST /sign-in HTTP/1.1\r\nHost: example.org\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: 11\r\n\r\n--x\r\nbroken": "We could not use what was sent",
		"GET /sign-in HTTP/1.1\r\nHost: example.org\r\nX-Long: " + strings.Repeat("x", 64<<10) + "\r\n\r\n":                                       "is too long. Open the first page again",
	} {
		c, err := net.Dial("tcp", ln.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		go c.Write([]byte(request))
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(resp.Body)
		if resp.StatusCode < 400 || resp.StatusCode >= 500 || !strings.Contains(string(body), told) {
			t.Errorf("%.20s gave %d: %s", request, resp.StatusCode, answer{body: string(body)}.text())
		}
		c.Close()
	}
}
