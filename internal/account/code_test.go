package account_test

import (
	"context"
	"errors"
	"image/png"
	"strings"
	"testing"
	"time"

	"bytes"

	"github.com/pquerna/otp/totp"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// TestRFC6238 goes through the test vectors of RFC 6238, appendix B, for SHA-1 and the secret "12345678901234567890".
// They have eight digits; ours are the last six, since a code is a number modulo a power of ten (RFC 4226, 5.3).
func TestRFC6238(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	h.As(t, ada, func(tx *postgres.Tx) error { return tx.StartCodes([]byte("12345678901234567890")) })
	for _, tt := range []struct {
		at   int64
		code string
	}{
		{59, "94287082"}, {1111111109, "07081804"}, {1111111111, "14050471"}, {1234567890, "89005924"}, {2000000000, "69279037"}, {20000000000, "65353130"},
	} {
		h.now = time.Unix(tt.at, 0)
		if err := h.Prove(ctx, ada, account.Proof{Code: tt.code[2:]}, account.Visit{}); err != nil {
			t.Errorf("at %d: %s is refused: %v", tt.at, tt.code[2:], err)
		}
	}
}

// code is what the member's app shows at a time.
func (h *hall) code(t *testing.T, secret string, at time.Time) string {
	t.Helper()
	code, err := totp.GenerateCode(secret, at)
	if err != nil {
		t.Fatal(err)
	}
	return code
}

// enroll turns codes on for an actor and returns the app's secret and the recovery codes.
func (h *hall) enroll(t *testing.T, a access.Actor) (secret string, recovery []string) {
	t.Helper()
	ctx := context.Background()
	e, err := h.StartCodes(ctx, a)
	if err != nil {
		t.Fatal(err)
	}
	secret = strings.ReplaceAll(e.Secret, " ", "")
	if recovery, err = h.ConfirmCodes(ctx, a, h.code(t, secret, h.now)); err != nil {
		t.Fatal(err)
	}
	h.now = h.now.Add(30 * time.Second)
	return secret, recovery
}

func TestCodes(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))

	e, err := h.StartCodes(ctx, ada)
	if err != nil {
		t.Fatal(err)
	}
	if img, err := png.Decode(bytes.NewReader(e.QR)); err != nil || img.Bounds().Dx() != 240 {
		t.Errorf("the picture: %v", err)
	}
	if again, err := h.PendingCodes(ctx, ada); err != nil || again.Secret != e.Secret {
		t.Errorf("pending: %+v, %v, want the same secret", again, err)
	}
	if _, err := h.ConfirmCodes(ctx, ada, "000000"); !errors.Is(err, errs.Invalid) {
		t.Errorf("confirm with a wrong code: %v", err)
	}
	// Not on yet: the password alone lets in.
	if in, err := h.alone.SignIn(ctx, "ada@example.org", password, account.Visit{Browser: "b"}); err != nil || in.Code || in.Session == "" {
		t.Errorf("before they are on: %+v, %v", in, err)
	}
	secret, recovery := h.enroll(t, ada)
	if _, err := h.PendingCodes(ctx, ada); !errors.Is(err, errs.NotFound) {
		t.Errorf("a secret in use is shown again: %v", err)
	}
	if _, err := h.StartCodes(ctx, ada); !errors.Is(err, errs.Conflict) {
		t.Errorf("set up again over codes in use: %v", err)
	}

	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	half := func() {
		t.Helper()
		in, err := h.Service.SignIn(ctx, "ada@example.org", password, v)
		if err != nil || !in.Code || in.Session != "" || in.Device != "" {
			t.Fatalf("password alone: %+v, %v, want a code asked for", in, err)
		}
	}
	half()
	good := h.code(t, secret, h.now)
	if _, err := h.SignInWithCode(ctx, good, account.Visit{Browser: postgres.NewToken()}); !errors.Is(err, errs.NotFound) {
		t.Errorf("in a browser without the password: %v", err)
	}
	if _, err := h.SignInWithCode(ctx, "12345", v); !errors.Is(err, errs.Invalid) {
		t.Errorf("five digits: %v", err)
	}
	if _, err := h.SignInWithCode(ctx, h.code(t, secret, h.now.Add(-2*time.Minute)), v); !errors.Is(err, errs.Invalid) {
		t.Errorf("two minutes old: %v", err)
	}
	in, err := h.SignInWithCode(ctx, good[:3]+" "+good[3:], v)
	if err != nil || h.actor(t, in.Session).Person != ada.Person {
		t.Fatalf("the right code: %+v, %v", in, err)
	}
	half()
	if _, err := h.SignInWithCode(ctx, good, v); !errors.Is(err, errs.Invalid) {
		t.Errorf("the same code a second time: %v", err)
	}
	// A clock half a minute slow or fast is forgiven, once forwards only.
	h.now = h.now.Add(time.Minute)
	if _, err := h.SignInWithCode(ctx, h.code(t, secret, h.now.Add(30*time.Second)), v); err != nil {
		t.Errorf("half a minute early: %v", err)
	}
	half()
	if _, err := h.SignInWithCode(ctx, h.code(t, secret, h.now), v); !errors.Is(err, errs.Invalid) {
		t.Errorf("one before the last that was taken: %v", err)
	}

	// Recovery codes: ten, each once, only hashes kept.
	if len(recovery) != 10 {
		t.Fatalf("%d recovery codes, want 10", len(recovery))
	}
	if in, err := h.SignInWithCode(ctx, " "+strings.ToUpper(recovery[3]), v); err != nil || in.Session == "" {
		t.Errorf("a recovery code: %v", err)
	}
	half()
	if _, err := h.SignInWithCode(ctx, recovery[3], v); !errors.Is(err, errs.Invalid) {
		t.Errorf("a recovery code twice: %v", err)
	}
	if found, err := h.Owner.Text(ctx, "SELECT count(*) FROM tussock.recovery_code WHERE encode(code_hash, 'escape') LIKE '%' || $1 || '%'", strings.ReplaceAll(recovery[4], "-", "")); err != nil || found != "0" {
		t.Errorf("recovery codes are stored as they are: %s, %v", found, err)
	}
	fresh, err := h.NewRecoveryCodes(ctx, ada)
	if err != nil || len(fresh) != 10 {
		t.Fatal(err)
	}
	if _, err := h.SignInWithCode(ctx, recovery[5], v); !errors.Is(err, errs.Invalid) {
		t.Errorf("an old recovery code: %v", err)
	}
	if err := h.StopCodes(ctx, ada); err != nil {
		t.Fatal(err)
	}
	if in, err := h.Service.SignIn(ctx, "ada@example.org", password, v); err != nil || in.Code {
		t.Errorf("after they are off: %+v, %v", in, err)
	}
}

// Guessing codes ends: after five in one go the password is wanted again, and after ten in a quarter of an hour there is
// no try left, while a recovery code still lets the member in.
func TestCodeGuesses(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	secret, recovery := h.enroll(t, ada)
	v := account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()}
	wrong := "000000"
	if h.code(t, secret, h.now) == wrong {
		wrong = "000001"
	}
	for round := range 2 {
		if _, err := h.Service.SignIn(ctx, "ada@example.org", password, v); err != nil {
			t.Fatal(err)
		}
		for i := range 5 {
			if _, err := h.SignInWithCode(ctx, wrong, v); !errors.Is(err, errs.Invalid) {
				t.Errorf("round %d, guess %d: %v", round, i, err)
			}
		}
		if _, err := h.SignInWithCode(ctx, h.code(t, secret, h.now), v); !errors.Is(err, errs.NotFound) {
			t.Errorf("round %d, a sixth try: %v, want the password asked for", round, err)
		}
	}
	if _, err := h.Service.SignIn(ctx, "ada@example.org", password, v); err != nil {
		t.Fatal(err)
	}
	if _, err := h.SignInWithCode(ctx, h.code(t, secret, h.now), v); !errors.Is(err, errs.Unavailable) {
		t.Errorf("after ten wrong codes: %v, want no try left", err)
	}
	if in, err := h.SignInWithCode(ctx, recovery[0], v); err != nil || in.Session == "" {
		t.Errorf("the member is locked out: %v", err)
	}
}
