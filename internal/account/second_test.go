package account_test

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/mail/mailtest"
	"tussock/internal/postgres"
	"tussock/internal/words"
	"tussock/web"
)

var codeIn = regexp.MustCompile(`\n    (\d{4} \d{4})\n`)

// codeOf is what a letter tells its reader to type.
func codeOf(t *testing.T, l mailtest.Letter) string {
	t.Helper()
	found := codeIn.FindStringSubmatch(l.Text)
	if found == nil {
		t.Fatalf("no code in the letter %q: %s", l.Subject, l.Text)
	}
	return found[1]
}

// remember has a new browser of a session's member remembered.
func (h *hall) remember(t *testing.T, session string) (device string) {
	t.Helper()
	device, err := h.Remember(context.Background(), session, account.Visit{Agent: "test"})
	if err != nil {
		t.Fatal(err)
	}
	return device
}

// half gives the right password in a browser and wants to be asked for more.
func (h *hall) half(t *testing.T, v account.Visit) {
	t.Helper()
	in, err := h.Service.SignIn(context.Background(), "ada@example.org", password, v)
	if err != nil || !in.Second || in.Session != "" || in.Device != "" {
		t.Fatalf("a password alone in a new browser: %+v, %v, want another proof asked for", in, err)
	}
}

// TestSecondProof: OWASP ASVS 5.0, 6.3.3: a password is not enough, but in a browser that gave two proofs before.
func TestSecondProof(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken(), Agent: "Firefox/140.0 (Android)"}
	h.half(t, v)
	letter := h.box.Wait(t, 1)
	code := codeOf(t, letter)
	if letter.To != "ada@example.org" || strings.Contains(letter.Text, "http") {
		t.Errorf("the letter, to %s, with no link that could be a trap: %s", letter.To, letter.Text)
	}
	if stored, err := h.Owner.Text(ctx, "SELECT string_agg(data::text, ' ') FROM tussock.step"); err != nil || strings.Contains(stored, strings.ReplaceAll(code, " ", "")) {
		t.Errorf("the code is stored in the open: %s, %v", stored, err)
	}
	if left, err := h.Owner.Text(ctx, "SELECT bool_and(ends_at <= now() + interval '10 minutes') FROM tussock.step"); err != nil || left != "true" {
		t.Errorf("ten minutes at most (6.5.5): %s, %v", left, err)
	}
	for name, tt := range map[string]struct {
		proof account.SecondProof
		visit account.Visit
		kind  error
	}{
		"another browser (6.6.2)":  {account.SecondProof{Code: code}, account.Visit{Browser: postgres.NewToken()}, errs.NotFound},
		"nothing":                  {account.SecondProof{}, v, errs.Invalid},
		"the password once more":   {account.SecondProof{Password: password}, v, errs.Invalid},
		"a coordinator's, of none": {account.SecondProof{Code: "1234 5678 9012"}, v, errs.Invalid},
		"too long to be any code":  {account.SecondProof{Code: strings.Repeat("9", 5000)}, v, errs.Invalid},
	} {
		if in, err := h.SignInWithSecond(ctx, tt.proof, tt.visit); !errors.Is(err, tt.kind) || in.Session != "" {
			t.Errorf("%s: %+v, %v", name, in, err)
		}
	}
	in, err := h.SignInWithSecond(ctx, account.SecondProof{Code: " " + strings.ReplaceAll(code, " ", "-")}, v)
	if err != nil || h.actor(t, in.Session).Person != ada.Person || len(in.Device) != 64 {
		t.Fatalf("the code: %+v, %v", in, err)
	}
	if _, err := h.SignInWithSecond(ctx, account.SecondProof{Code: code}, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("twice (6.5.1): %v", err)
	}

	// Remembered, for its member and for 90 days.
	known := account.Visit{IP: "203.0.113.9", Browser: postgres.NewToken(), Device: in.Device}
	if in, err := h.Service.SignIn(ctx, "ada@example.org", password, known); err != nil || in.Session == "" || in.Device != known.Device {
		t.Errorf("the same browser: %+v, %v", in, err)
	}
	h.in(t, "bo@example.org")
	if in, err := h.Service.SignIn(ctx, "bo@example.org", password, known); err != nil || !in.Second {
		t.Errorf("another member in it: %+v, %v", in, err)
	}
	if days, err := h.Owner.Text(ctx, "SELECT max(trusted_until)::date - now()::date FROM tussock.device"); err != nil || days != "90" {
		t.Errorf("remembered for %s days, %v", days, err)
	}
	if stored, err := h.Owner.Text(ctx, "SELECT count(*) FROM tussock.device WHERE encode(device_hash, 'hex') = $1", in.Device); err != nil || stored != "0" {
		t.Errorf("the browser's secret is stored %s times, %v", stored, err)
	}
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.device SET trusted_until = now()"); err != nil {
		t.Fatal(err)
	}
	h.half(t, known)
}

// A browser's secret that we did not make is never remembered: somebody may have put it there.
func TestPlantedDevice(t *testing.T) {
	h := newHall(t)
	h.in(t, "ada@example.org")
	planted := postgres.NewToken()
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken(), Device: planted}
	h.half(t, v)
	in, err := h.SignInWithSecond(context.Background(), account.SecondProof{Code: codeOf(t, h.box.Wait(t, 1))}, v)
	if err != nil || in.Device == planted || len(in.Device) != 64 {
		t.Errorf("%+v, %v", in, err)
	}
}

// What ends a browser's being remembered.
func TestBrowserForgotten(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	session := h.in(t, "ada@example.org")
	for name, end := range map[string]func(access.Actor){
		"by the member": func(a access.Actor) {
			h.As(t, a, func(tx *postgres.Tx) error {
				list, err := tx.Browsers()
				if err != nil || len(list) != 1 || list[0].Agent != "test" {
					t.Fatalf("browsers: %+v, %v", list, err)
				}
				return tx.ForgetBrowser(list[0].ID)
			})
		},
		"a new password": func(a access.Actor) {
			if err := h.ChangePassword(ctx, a, password, "grama under late snow"); err != nil {
				t.Fatal(err)
			}
			if err := h.ChangePassword(ctx, a, "grama under late snow", password); err != nil {
				t.Fatal(err)
			}
		},
		"the coordinator": func(a access.Actor) {
			h.As(t, h.boss, func(tx *postgres.Tx) error { return errors.Join(tx.Suspend(a.Person), tx.Restore(a.Person)) })
		},
		"signing out everywhere": func(a access.Actor) {
			if err := h.SignOutEverywhere(ctx, a); err != nil {
				t.Fatal(err)
			}
		},
	} {
		if _, err := h.Service.Actor(ctx, session); err != nil {
			session, _ = h.signIn("ada@example.org", password, "192.0.2.1")
		}
		a := h.actor(t, session)
		device := h.remember(t, session)
		if in, err := h.Service.SignIn(ctx, "ada@example.org", password, account.Visit{Browser: "b", Device: device}); err != nil || in.Second {
			t.Errorf("%s: not remembered before: %+v, %v", name, in, err)
		}
		end(a)
		if in, err := h.Service.SignIn(ctx, "ada@example.org", password, account.Visit{Browser: "b", Device: device}); err != nil || !in.Second {
			t.Errorf("%s does not end it: %+v, %v", name, in, err)
		}
	}
}

// A link in a letter is one proof, and the password is another: in a new browser both are wanted.
func TestLinkAndPassword(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	h.AskLink("ada@example.org", v)
	in, err := h.SignInWithLink(ctx, token(t, h.box.Wait(t, 1), "/sign-in/link/"), v)
	if err != nil || !in.Second || in.Session != "" {
		t.Fatalf("a link alone in a new browser: %+v, %v", in, err)
	}
	if waits, err := h.Second(ctx, v); err != nil || waits.First != account.FirstLink || waits.Letter {
		t.Errorf("waits for %+v, %v", waits, err)
	}
	if err := h.SendAgain(ctx, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("a code to the same letter box: %v", err)
	}
	for _, p := range []account.SecondProof{{Password: "bluestem after hail"}, {Code: ""}, {Code: "12345678"}} {
		if _, err := h.SignInWithSecond(ctx, p, v); !errors.Is(err, errs.Invalid) {
			t.Errorf("%+v: %v", p, err)
		}
	}
	if in, err = h.SignInWithSecond(ctx, account.SecondProof{Password: password}, v); err != nil || h.actor(t, in.Session).Person != ada.Person {
		t.Errorf("and the password: %+v, %v", in, err)
	}
}

// Guesses at a letter's code: five a letter, five letters and one more each three minutes, and slower and slower. The member is told
// what to do instead.
func TestGuessesAtSecond(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	looked, slowest := 0, time.Duration(0)
	for range 7 {
		h.half(t, v)
		for i := range 7 {
			_, err := h.SignInWithSecond(ctx, account.SecondProof{Code: fmt.Sprintf("0000 000%d", i)}, v)
			switch {
			case errors.Is(err, errs.Invalid):
				looked++
			case !errors.Is(err, errs.NotFound) || i < 5:
				t.Fatalf("guess %d: %v", i+1, err)
			}
			slowest = max(slowest, h.waited)
		}
	}
	if looked != 35 || slowest != 5*time.Second {
		t.Errorf("%d guesses were looked at, want 5 for each of 7 passwords; the slowest waited %v", looked, slowest)
	}
	if waits, err := h.Second(ctx, v); err != nil || waits.Letter {
		t.Errorf("after many letters: %+v, %v", waits, err)
	}
	h.post.Close()
	if n := len(h.box.All()); n != 5 {
		t.Errorf("%d letters, want 5", n)
	}
}

// Another letter makes the one before worthless.
func TestSendAgain(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	if err := h.SendAgain(ctx, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("before any password: %v", err)
	}
	h.half(t, v)
	first := codeOf(t, h.box.Wait(t, 1))
	if err := h.SendAgain(ctx, v); err != nil {
		t.Fatal(err)
	}
	second := codeOf(t, h.box.Wait(t, 2))
	if _, err := h.SignInWithSecond(ctx, account.SecondProof{Code: first}, v); !errors.Is(err, errs.Invalid) {
		t.Errorf("the first: %v", err)
	}
	if _, err := h.SignInWithSecond(ctx, account.SecondProof{Code: second}, v); err != nil {
		t.Errorf("the second: %v", err)
	}
}

// Nobody is locked out: with a code from the coordinator a member comes in whose letters do not arrive, who forgot the
// password, or whose device is lost; and the coordinator does not.
func TestHelp(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	bo := h.actor(t, h.in(t, "bo@example.org"))
	if _, err := h.Help(ctx, bo, ada.Person); !errors.Is(err, errs.Forbidden) {
		t.Errorf("a landowner makes one: %v", err)
	}
	if _, err := h.Help(ctx, h.boss, h.boss.Person); !errors.Is(err, errs.Conflict) {
		t.Errorf("the coordinator makes one for themselves: %v", err)
	}
	letters := 0
	help := func() string {
		t.Helper()
		code, err := h.Help(ctx, h.boss, ada.Person)
		if err != nil {
			t.Fatal(err)
		}
		letters++
		if told := h.box.Wait(t, letters); told.To != "ada@example.org" || strings.Contains(told.Text, code) || !strings.Contains(told.Subject, "from your coordinator") {
			t.Fatalf("the member is told %+v", told)
		}
		return code
	}
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	code := help()
	if _, err := h.SignInWithSecond(ctx, account.SecondProof{Code: code}, v); !errors.Is(err, errs.NotFound) {
		t.Errorf("with it alone: %v", err)
	}
	h.half(t, v)
	letters++
	if in, err := h.SignInWithSecond(ctx, account.SecondProof{Code: code}, v); err != nil || in.Session == "" {
		t.Errorf("with the password: %+v, %v", in, err)
	}
	h.half(t, v)
	letters++
	if _, err := h.SignInWithSecond(ctx, account.SecondProof{Code: code}, v); !errors.Is(err, errs.Invalid) {
		t.Errorf("twice: %v", err)
	}
	// Forgotten: a link and the code, and then a new password.
	h.AskLink("ada@example.org", v)
	letters++
	link := token(t, h.box.Wait(t, letters), "/sign-in/link/")
	if in, err := h.SignInWithLink(ctx, link, v); err != nil || !in.Second {
		t.Fatalf("%+v, %v", in, err)
	}
	in, err := h.SignInWithSecond(ctx, account.SecondProof{Code: help()}, v)
	if err != nil {
		t.Fatal(err)
	}
	if err := h.ChangePassword(ctx, h.actor(t, in.Session), "", "grama under late snow"); err != nil {
		t.Errorf("a new password: %v", err)
	}
	letters++
	// Another member's browser does not take it, nor does one of five wrong.
	code = help()
	bos := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	if in, err := h.Service.SignIn(ctx, "bo@example.org", password, bos); err != nil || !in.Second {
		t.Fatalf("%+v, %v", in, err)
	}
	letters++
	if _, err := h.SignInWithSecond(ctx, account.SecondProof{Code: code}, bos); !errors.Is(err, errs.Invalid) {
		t.Errorf("another member's code: %v", err)
	}
	// A lost device: the password and the code.
	h.enroll(t, h.actor(t, in.Session))
	letters++
	h.box.Wait(t, letters)
	if in, err = h.Service.SignIn(ctx, "ada@example.org", "grama under late snow", v); err != nil || !in.Code {
		t.Fatalf("with codes on: %+v, %v", in, err)
	}
	if in, err = h.SignInWithCode(ctx, code, v); err != nil || in.Session == "" {
		t.Errorf("in place of a one-time code: %+v, %v", in, err)
	}
}

// The letter comes in the language of the page it was asked on.
func TestLetterInSpanish(t *testing.T) {
	h := newHall(t)
	h.in(t, "ada@example.org")
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	h.half(t, account.Visit{Browser: "b", Say: book.In(words.Spanish)})
	if l := h.box.Wait(t, 1); l.Subject != "Su código para entrar a Tussock" || !strings.Contains(l.Text, "no le dé el código a nadie") || codeOf(t, l) == "" {
		t.Errorf("%s: %s", l.Subject, l.Text)
	}
}

// Whoever runs the server lets in whom nobody else can help, with codes on too.
func TestAdmit(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	if _, _, _, err := account.Admit(ctx, h.Owner, "nobody@example.org"); !errors.Is(err, errs.NotFound) {
		t.Errorf("nobody's address: %v", err)
	}
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	for _, codes := range []bool{false, true} {
		if codes {
			h.enroll(t, ada)
		}
		who, path, code, err := account.Admit(ctx, h.Owner, " Ada@example.org")
		if err != nil || who.Person != ada.Person {
			t.Fatalf("%+v, %v", who, err)
		}
		link := strings.TrimPrefix(path, "/sign-in/link/")
		in, err := h.SignInWithLink(ctx, link, v)
		if err != nil || in.Session != "" || in.Code != codes || in.Second == codes {
			t.Fatalf("the link: %+v, %v", in, err)
		}
		if codes {
			in, err = h.SignInWithCode(ctx, code, v)
		} else {
			in, err = h.SignInWithSecond(ctx, account.SecondProof{Code: code}, v)
		}
		if err != nil || h.actor(t, in.Session).Person != ada.Person {
			t.Errorf("and the code, one-time codes on: %v: %+v, %v", codes, in, err)
		}
	}
}
