package pages_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/mail/mailtest"
)

// triesPassword gives address and password in a browser as it is.
func (b *browser) triesPassword(email, password string) answer {
	b.t.Helper()
	return b.posts(b.opens("/sign-in"), "/sign-in", "email", email, "password", password, "next", "/account")
}

func codeIn(t *testing.T, l mailtest.Letter) string {
	t.Helper()
	found := regexp.MustCompile(`\d{4} \d{4}`).FindString(l.Text)
	if found == "" {
		t.Fatalf("no code in the letter %q: %s", l.Subject, l.Text)
	}
	return found
}

// A password is not enough in a browser that we do not know: a letter's code is wanted too, once (OWASP ASVS 5.0, 6.3.3).
func TestSignInByLetter(t *testing.T) {
	st, box, log := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	phone := st.browser()
	got := phone.triesPassword("person1@example.org", password)
	if to := got.header.Get("Location"); got.status != http.StatusSeeOther || to != "/sign-in/letter?next=%2Faccount" || phone.session() != "" {
		t.Fatalf("the password alone: %d to %q, session %q", got.status, to, phone.session())
	}
	page := phone.opens("/sign-in/letter?next=%2Faccount")
	phone.want(page, http.StatusOK, "A letter with a code is on its way", "good for ten minutes")
	code := codeIn(t, box.Wait(t, 1))
	phone.want(phone.posts(page, "/sign-in/letter", "code", "0000 0000", "next", "/account"), http.StatusUnprocessableEntity, "That is not right")
	if other := st.browser(); other.posts(other.opens("/sign-in"), "/sign-in/letter", "code", code).status != http.StatusUnauthorized || other.session() != "" {
		t.Error("the code is good in another browser")
	}
	if got := phone.posts(page, "/sign-in/letter", "code", code, "next", "/account"); got.status != http.StatusSeeOther || got.header.Get("Location") != "/account" || phone.session() == "" {
		t.Fatalf("with the code: %d %s", got.status, got.text())
	}
	if strings.Contains(log.String(), code) || strings.Contains(log.String(), strings.ReplaceAll(code, " ", "")) {
		t.Error("the log tells the code")
	}

	// The next time the password is enough here, until the member has the browser forgotten.
	mine := phone.opens("/account")
	phone.want(mine, http.StatusOK, "Which browsers do we remember?", "A browser on a device we do not know", "Forget this browser")
	phone.posts(mine, "/sign-out")
	if got := phone.triesPassword("person1@example.org", password); got.header.Get("Location") != "/account" {
		t.Errorf("the second time: to %q", got.header.Get("Location"))
	}
	mine = phone.opens("/account")
	forget := regexp.MustCompile(`/account/browsers/[0-9a-f-]{36}/forget`).FindString(mine.body)
	if got := phone.posts(mine, forget); got.status != http.StatusSeeOther {
		t.Fatalf("forgetting: %d", got.status)
	}
	if got := phone.opens("/account"); strings.Contains(got.text(), "Which browsers") || got.status != http.StatusOK {
		t.Error("it is remembered still")
	}
	phone.posts(phone.opens("/account"), "/sign-out")
	if got := phone.triesPassword("person1@example.org", password); !strings.HasPrefix(got.header.Get("Location"), "/sign-in/letter") {
		t.Errorf("after that: to %q", got.header.Get("Location"))
	}
	// In Spanish, letter and page.
	spanish := st.browser()
	spanish.posts(spanish.opens("/about"), "/language", "language", "es", "back", "/")
	spanish.triesPassword("person1@example.org", password)
	spanish.want(spanish.opens("/sign-in/letter"), http.StatusOK, "Su código, por favor")
	if l := box.Wait(t, 3); l.Subject != "Su código para entrar a Tussock" {
		t.Errorf("the letter is %q", l.Subject)
	}
}

// Guessing at the code: every guess is answered in words, five end it, and letters end too; the member is never locked
// out for it in a browser that is remembered.
func TestGuessedLetters(t *testing.T) {
	st, box, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	for letter := range 6 {
		b.opens("/sign-in")
		if got := b.triesPassword("person1@example.org", password); got.status != http.StatusSeeOther {
			t.Fatalf("the password: %d %s", got.status, got.text())
		}
		page := b.opens("/sign-in/letter")
		want := "A letter with a code is on its way"
		if letter == 5 {
			want = "We have sent you several letters already"
		}
		b.want(page, http.StatusOK, want)
		if letter > 0 && letter < 5 {
			continue
		}
		for i, code := range []string{"", "12345678", strings.Repeat("9", 3000), "' OR true --", "\x00\xff", "1234 5678"} {
			got := b.posts(page, "/sign-in/letter", "code", code)
			if wrong := got.status == http.StatusUnprocessableEntity || got.status == http.StatusServiceUnavailable; (i < 5 && !wrong) || (i == 5 && got.status != http.StatusUnauthorized) {
				t.Errorf("guess %d, %.10q: %d %s", i+1, code, got.status, got.text())
			}
			if letter == 5 {
				break
			}
		}
		b.want(b.opens("/sign-in/letter"), http.StatusOK)
	}
	if n := len(box.All()); n > 5 {
		t.Errorf("%d letters", n)
	}
	known := st.browser()
	if got := known.signsIn("person1@example.org", password); got.header.Get("Location") != "/account" {
		t.Errorf("the member's own browser: %d to %q", got.status, got.header.Get("Location"))
	}
}

// A wrong password is answered as an unknown address is, where letters are sent too: none goes out, and the same bytes
// come back (OWASP ASVS 5.0, 6.3.8).
func TestLettersTellNothing(t *testing.T) {
	st, box, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	var bodies []string
	for _, email := range []string{"person1@example.org", "nobody1@example.org"} {
		b := st.browser()
		got := b.triesPassword(email, "not the password at all")
		if got.status != http.StatusUnauthorized {
			t.Errorf("%s: %d", email, got.status)
		}
		body := strings.ReplaceAll(strings.ReplaceAll(got.body, email, ""), wordOn(got), "")
		bodies = append(bodies, fmt.Sprint(body, got.header.Get("Content-Length") == ""))
	}
	if bodies[0] != bodies[1] {
		t.Error("the answer tells who is a member")
	}
	time.Sleep(200 * time.Millisecond)
	if n := len(box.All()); n != 0 {
		t.Errorf("%d letters after wrong passwords", n)
	}
	b := st.browser()
	b.want(b.opens("/sign-in/letter"), http.StatusUnauthorized, "Please begin again")
	b.want(b.posts(b.opens("/sign-in"), "/sign-in/letter/again"), http.StatusUnauthorized, "Please begin again")
}

// A link of a letter and nothing else is one proof: the password is asked for, or the coordinator's code where it is
// forgotten.
func TestLinkInNewBrowser(t *testing.T) {
	st, box, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	b := st.browser()
	b.posts(b.opens("/sign-in/link"), "/sign-in/link", "email", "person2@example.org")
	link := regexp.MustCompile(home + `(/sign-in/link/[0-9a-f]{64})`).FindStringSubmatch(box.Wait(t, 1).Text)
	if got := b.posts(b.opens(link[1]), link[1]); got.header.Get("Location") != "/sign-in/letter?next=%2F" || b.session() != "" {
		t.Fatalf("the link alone: %d to %q", got.status, got.header.Get("Location"))
	}
	page := b.opens("/sign-in/letter")
	b.want(page, http.StatusOK, "Your password, please", "A code from your coordinator instead")
	b.want(b.posts(page, "/sign-in/letter", "password", "not the password at all"), http.StatusUnprocessableEntity, "That is not right")

	office := st.browser()
	office.signsIn("person1@example.org", password)
	path := "/cooperative/members/" + string(ada.actor.Person) + "/help"
	members := office.opens("/cooperative/members")
	office.want(members, http.StatusOK, "Help Person Two in")
	made := office.posts(members, path)
	office.want(made, http.StatusOK, "Here is the code for Person Two")
	code := regexp.MustCompile(`\d{4} \d{4} \d{4}`).FindString(made.body)
	if told := box.Wait(t, 2); told.To != "person2@example.org" || strings.Contains(told.Text, code) {
		t.Errorf("the member is told: %+v", told)
	}
	office.want(office.posts(members, "/cooperative/members/"+string(rosa.actor.Person)+"/help"), http.StatusConflict, "Another coordinator can")

	if got := b.posts(page, "/sign-in/letter", "password", "", "code", code, "next", "/account"); got.status != http.StatusSeeOther || b.session() == "" {
		t.Fatalf("with the coordinator's code: %d %s", got.status, got.text())
	}
	if got := b.posts(b.opens("/account"), "/account/password", "old", "", "new", "grama under late snow"); got.status != http.StatusSeeOther {
		t.Errorf("a new password: %d %s", got.status, got.text())
	}
}

// Where no letters are set up, a password lets in as before, and who runs the cooperative is told and asked for more.
func TestOneProof(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	bo, ada := rosa.invites(access.Biologist), rosa.invites(access.Landowner)
	const asks, says = "Your password alone opens your part of the cooperative.", "No letters are set up on this server: members come in with their password alone"
	rosa.want(rosa.opens("/cooperative"), http.StatusOK, asks, says)
	bo.want(bo.opens("/region"), http.StatusOK, asks)
	if got := ada.opens("/region"); strings.Contains(got.text(), asks) {
		t.Error("a landowner is asked too")
	}
	if _, err := st.db.Owner.Exec(t.Context(), "INSERT INTO tussock.code_secret (coop_id, person_id, secret, on_since) VALUES ($1, $2, 'x', now())", bo.actor.Coop, bo.actor.Person); err != nil {
		t.Fatal(err)
	}
	if got := bo.opens("/region"); strings.Contains(got.text(), asks) {
		t.Error("with codes on, still asked")
	}
	posted, _, _ := newPostedStage(t)
	rosa = posted.cooperative("Sandhill Grass")
	if got := rosa.opens("/cooperative"); strings.Contains(got.text(), asks) || strings.Contains(got.text(), says) {
		t.Error("with letters, told that there are none")
	}
}
