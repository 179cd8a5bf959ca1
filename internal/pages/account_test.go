package pages_test

import (
	"context"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
	"tussock/internal/account"
)

// A member loses a phone: they find it among their devices, sign it out, and change the password.
func TestAccount(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	bo := rosa.invites(access.Biologist)
	signIn := func(password string) (*member, error) {
		in, err := st.accounts.SignIn(context.Background(), "person2@example.org", password, account.Visit{IP: "192.0.2.1", Browser: "phone",
			Agent: "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 Mobile/15E148 Safari/604.1"})
		return &member{stage: st, session: in.Session}, err
	}
	phone, err := signIn("four plain words here")
	if err != nil {
		t.Fatal(err)
	}
	alive := func(m *member) bool { return m.opens("/account").status == http.StatusOK }

	page := ada.opens("/account")
	ada.want(page, http.StatusOK, "You sign in with person2@example.org", "this one", "Safari on an iPhone")
	if !strings.Contains(page.body, `href="/account" aria-current="page"`) {
		t.Error("the head does not lead to the account")
	}
	end := regexp.MustCompile(`/account/sessions/[0-9a-f]{16}/end`).FindString(page.body)
	if strings.Contains(page.body, ada.session) || end == "" {
		t.Fatalf("the page shows the session itself, or no way to end one: %q", end)
	}
	bo.want(bo.posts(end), http.StatusNotFound)
	if !alive(phone) {
		t.Fatal("another member signed the phone out")
	}
	if got := ada.posts(end); got.status != http.StatusSeeOther || alive(phone) || !alive(ada) {
		t.Errorf("signing the phone out: %d; the phone is signed in: %v, the desk: %v", got.status, alive(phone), alive(ada))
	}

	ada.want(ada.posts("/account/password", "old", "not the old one", "new", "other plain words here"), http.StatusUnprocessableEntity, "That is not your present password.")
	ada.want(ada.posts("/account/password", "old", "four plain words here", "new", "short"), http.StatusUnprocessableEntity, "10 characters or more")
	if phone, err = signIn("four plain words here"); err != nil {
		t.Fatal(err)
	}
	changed := ada.posts("/account/password", "old", "four plain words here", "new", "other plain words here")
	if to := changed.header.Get("Location"); changed.status != http.StatusSeeOther || alive(phone) || !alive(ada) {
		t.Errorf("changing the password: %d to %q; the phone is signed in: %v, the desk: %v", changed.status, to, alive(phone), alive(ada))
	}
	ada.want(ada.opens(changed.header.Get("Location")), http.StatusOK, "Your password is changed.")
	if phone, err = signIn("other plain words here"); err != nil {
		t.Fatalf("the new password: %v", err)
	}
	if got := ada.posts("/account/sessions/end"); got.header.Get("Location") != "/sign-in" || alive(phone) || alive(ada) {
		t.Errorf("signing out everywhere: to %q; the phone is signed in: %v, the desk: %v", got.header.Get("Location"), alive(phone), alive(ada))
	}
	if !alive(bo) {
		t.Error("signing out everywhere signed somebody else out")
	}
}
