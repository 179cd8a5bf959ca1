package account_test

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/mail/mailtest"
	"tussock/internal/postgres"
)

var linkIn = regexp.MustCompile(`https://tussock\.example\.org/\S+`)

// token is the secret at the end of a letter's link.
func token(t *testing.T, l mailtest.Letter, path string) string {
	t.Helper()
	link := linkIn.FindString(l.Text)
	if !strings.HasPrefix(link, home+path) {
		t.Fatalf("the letter's link is %q, want %s%s…", link, home, path)
	}
	return strings.TrimPrefix(link, home+path)
}

func TestLink(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	session := h.in(t, "ada@example.org")
	ada := h.actor(t, session)
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}

	h.AskLink("nobody@example.org", v)
	h.AskLink("no address", v)
	h.AskLink(" Ada@Example.org", v)
	letter := h.box.Wait(t, 1)
	if letter.To != "ada@example.org" || len(h.box.All()) != 1 {
		t.Fatalf("letters: %+v", h.box.All())
	}
	link := token(t, letter, "/sign-in/link/")

	// Looking uses nothing up, however often: programs that look into letters open links.
	for range 3 {
		if got, err := h.Link(ctx, link, account.Visit{Browser: "another"}); err != nil || got.Name != "Ada Marsh" || got.Same {
			t.Fatalf("a look from elsewhere: %+v, %v", got, err)
		}
	}
	if got, err := h.Link(ctx, link, v); err != nil || !got.Same {
		t.Errorf("a look from the same browser: %+v, %v", got, err)
	}
	v.Device = h.remember(t, session)
	in, err := h.SignInWithLink(ctx, link, v)
	if err != nil || h.actor(t, in.Session).Person != ada.Person {
		t.Fatalf("the link: %+v, %v", in, err)
	}
	if _, err := h.SignInWithLink(ctx, link, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("a second time: %v", err)
	}
	if _, err := h.Link(ctx, link, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("a look at a used one: %v", err)
	}
	if stored, err := h.Owner.Text(ctx, "SELECT count(*) FROM tussock.step WHERE data::text LIKE '%' || $1 || '%'", link); err != nil || stored != "0" {
		t.Errorf("the link itself is stored %s times, %v", stored, err)
	}

	// Came in by a link: a forgotten password can be changed without it, within ten minutes.
	a := h.actor(t, in.Session)
	if err := h.ChangePassword(ctx, a, "", "grama under late snow"); err != nil {
		t.Errorf("a new password after a link: %v", err)
	}
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.session SET proved_at = now() - interval '11 minutes'"); err != nil {
		t.Fatal(err)
	}
	if err := h.ChangePassword(ctx, a, "", "grama under early snow"); !errors.Is(err, errs.Invalid) {
		t.Errorf("eleven minutes later: %v", err)
	}
	if letter := h.box.Wait(t, 2); letter.To != "ada@example.org" || !strings.Contains(letter.Subject, "password was changed") {
		t.Errorf("the notice: %+v", letter)
	}
}

func TestLinkEnds(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	links := 0
	ask := func() string {
		t.Helper()
		links++
		h.now = h.now.Add(time.Hour) // past the limit of letters
		h.AskLink("ada@example.org", v)
		return token(t, h.box.Wait(t, links), "/sign-in/link/")
	}

	// Ten minutes.
	late := ask()
	if left, err := h.Owner.Text(ctx, "SELECT ends_at <= now() + interval '10 minutes' FROM tussock.step"); err != nil || left != "true" {
		t.Errorf("the link ends within ten minutes: %s, %v", left, err)
	}
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.step SET ends_at = now()"); err != nil {
		t.Fatal(err)
	}
	if _, err := h.SignInWithLink(ctx, late, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("too late: %v", err)
	}
	if _, err := h.SignInWithLink(ctx, "junk", v); !errors.Is(err, errs.NotFound) {
		t.Errorf("junk: %v", err)
	}
	// Kept out meanwhile.
	link := ask()
	h.As(t, h.boss, func(tx *postgres.Tx) error { return tx.Suspend(ada.Person) })
	if _, err := h.SignInWithLink(ctx, link, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("suspended: %v", err)
	}
	h.As(t, h.boss, func(tx *postgres.Tx) error { return tx.Restore(ada.Person) })
	if _, err := h.SignInWithLink(ctx, link, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("a link from before: %v", err)
	}
	// A link is one proof: with codes on, a code is wanted too.
	in, err := h.alone.SignIn(ctx, "ada@example.org", password, v)
	if err != nil {
		t.Fatal(err)
	}
	_, recovery := h.enroll(t, h.actor(t, in.Session))
	links++ // the notice that codes are on
	h.box.Wait(t, links)
	if in, err = h.SignInWithLink(ctx, ask(), v); err != nil || !in.Code || in.Session != "" {
		t.Errorf("with codes on: %+v, %v", in, err)
	}
	if in, err = h.SignInWithCode(ctx, recovery[0], v); err != nil || in.Session == "" {
		t.Errorf("and the code: %+v, %v", in, err)
	}
}

// Nobody's box is filled by somebody else who asks; and whoever goes on asking in a member's name keeps no link from the
// member's own browser, nor from any for long.
func TestLinkLimits(t *testing.T) {
	h := newHall(t)
	h.in(t, "ada@example.org")
	h.in(t, "bo@example.org")
	for i := range 10 {
		h.AskLink("ada@example.org", account.Visit{IP: "192.0.2." + string(rune('1'+i%9)), Browser: "b"})
	}
	h.AskLink("bo@example.org", account.Visit{IP: "192.0.2.1", Browser: "b"})
	h.post.Close() // delivers what waits
	if got := len(h.box.All()); got != 4 {
		t.Errorf("%d letters, want three to ada and one to bo", got)
	}

	h = newHall(t)
	own := h.remember(t, h.in(t, "ada@example.org"))
	for range 30 { // one a minute, from ever another address of one network
		h.now = h.now.Add(time.Minute)
		h.AskLink("ada@example.org", account.Visit{IP: fmt.Sprintf("2001:db8::%x", h.now.Unix()), Browser: "b"})
	}
	h.AskLink("ada@example.org", account.Visit{IP: "192.0.2.1", Browser: "b", Device: own})
	h.post.Close()
	if got := len(h.box.All()); got != 3+5+1 {
		t.Errorf("%d letters in half an hour, want three at once, one each five minutes and the member's own", got)
	}
}

// Whoever has an address of IPv6 has as many as they like: they are one place. (RFC 4291, 2.5.4)
func TestThrottleOfOneNetwork(t *testing.T) {
	h := newHall(t)
	guess := func(email, ip string) time.Duration {
		t.Helper()
		if _, err := h.signIn(email, "wrong password", ip); !errors.Is(err, errs.Unauthenticated) {
			t.Fatal(err)
		}
		return h.waited
	}
	for i := range 31 {
		guess(fmt.Sprintf("a%d@example.org", i), fmt.Sprintf("2001:db8:1:2:%x::1", i))
	}
	if got := guess("z@example.org", "2001:db8:1:2:ffff:ffff:ffff:ffff"); got == 0 {
		t.Error("guessing from many addresses of one network is not slowed")
	}
	for _, ip := range []string{"2001:db8:1:3::1", "::ffff:192.0.2.1", "192.0.2.1", "no address"} {
		if got := guess("z@example.org", ip); got != 0 {
			t.Errorf("%s waits %v for another's tries", ip, got)
		}
	}
}

func TestAddress(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	bo := h.actor(t, h.in(t, "bo@example.org"))
	if err := h.AskAddress(ctx, ada, "no address"); !errors.Is(err, errs.Invalid) {
		t.Errorf("no address: %v", err)
	}
	if err := h.AskAddress(ctx, ada, "Ada.Marsh@example.org"); err != nil {
		t.Fatal(err)
	}
	letter, notice := h.box.Wait(t, 1), h.box.Wait(t, 2)
	if letter.To != "ada.marsh@example.org" || notice.To != "ada@example.org" || strings.Contains(notice.Text, "/account/address/") {
		t.Fatalf("letters: %+v, %+v", letter, notice)
	}
	link := token(t, letter, "/account/address/")
	if _, err := h.Address(ctx, bo, link); !errors.Is(err, errs.NotFound) {
		t.Errorf("another member looks: %v", err)
	}
	if _, err := h.Service.ChangeAddress(ctx, bo, link); !errors.Is(err, errs.NotFound) {
		t.Errorf("another member confirms: %v", err)
	}
	if got, err := h.Address(ctx, ada, link); err != nil || got.Email != "ada.marsh@example.org" {
		t.Errorf("a look: %+v, %v", got, err)
	}
	if _, err := h.signIn("ada.marsh@example.org", password, "192.0.2.1"); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("before it is confirmed: %v", err)
	}
	if _, err := h.Service.ChangeAddress(ctx, ada, link); err != nil {
		t.Fatal(err)
	}
	if _, err := h.signIn("ada.marsh@example.org", password, "192.0.2.1"); err != nil {
		t.Errorf("with the new address: %v", err)
	}
	if _, err := h.signIn("ada@example.org", password, "192.0.2.1"); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("with the old one: %v", err)
	}
	if told := h.box.Wait(t, 3); told.To != "ada@example.org" || !strings.Contains(told.Subject, "has changed") {
		t.Errorf("the old address is told %+v", told)
	}
	if _, err := h.Service.ChangeAddress(ctx, ada, link); !errors.Is(err, errs.NotFound) {
		t.Errorf("twice: %v", err)
	}
	// Asking for an address that another member has is answered like any other.
	if err := h.AskAddress(ctx, bo, "ada.marsh@example.org"); err != nil {
		t.Errorf("asking for a taken one: %v", err)
	}
	if _, err := h.Service.ChangeAddress(ctx, bo, token(t, h.box.Wait(t, 4), "/account/address/")); !errors.Is(err, errs.Conflict) {
		t.Errorf("confirming a taken one: %v", err)
	}
}
