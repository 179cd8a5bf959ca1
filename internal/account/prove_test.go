package account_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

func TestProve(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada := h.actor(t, h.in(t, "ada@example.org"))
	bo := h.actor(t, h.in(t, "bo@example.org"))
	v := account.Visit{IP: "192.0.2.1", Browser: ada.Session}
	k, other := h.register(t, ada), h.register(t, bo)
	secret, _ := h.enroll(t, ada)
	passkey := func(k *authenticator, a access.Actor, v account.Visit) []byte {
		t.Helper()
		options, err := h.AskPasskey(ctx, a, v)
		if err != nil {
			t.Fatal(err)
		}
		return k.answer(options)
	}
	fresh := func() bool {
		t.Helper()
		ok, err := h.Fresh(ctx, ada)
		if err != nil {
			t.Fatal(err)
		}
		return ok
	}
	stale := func() {
		t.Helper()
		if _, err := h.Owner.Exec(ctx, "UPDATE tussock.session SET proved_at = now() - interval '10 minutes'"); err != nil {
			t.Fatal(err)
		}
	}
	if !fresh() {
		t.Error("who has just come in is not fresh")
	}
	for _, tt := range []struct {
		name  string
		proof func() account.Proof
		ok    bool
	}{
		{"nothing", func() account.Proof { return account.Proof{} }, false},
		{"wrong password", func() account.Proof { return account.Proof{Password: "bluestem after hail"} }, false},
		{"wrong code", func() account.Proof { return account.Proof{Code: "123"} }, false},
		{"junk for a passkey", func() account.Proof { passkey(k, ada, v); return account.Proof{Passkey: []byte("{}")} }, false},
		{"another member's passkey", func() account.Proof { return account.Proof{Passkey: passkey(other, ada, v)} }, false},
		{"a passkey for another's session", func() account.Proof { return account.Proof{Passkey: passkey(k, ada, account.Visit{Browser: "x"})} }, false},
		{"password", func() account.Proof { return account.Proof{Password: password} }, true},
		{"passkey", func() account.Proof { return account.Proof{Passkey: passkey(k, ada, v)} }, true},
		{"code", func() account.Proof { return account.Proof{Code: h.code(t, secret, h.now)} }, true},
	} {
		stale()
		if fresh() {
			t.Error("ten minutes later still fresh")
		}
		err := h.Prove(ctx, ada, tt.proof(), v)
		if (err == nil) != tt.ok || fresh() != tt.ok {
			t.Errorf("%s: got %v, fresh %v, want ok %v", tt.name, err, fresh(), tt.ok)
		}
	}
	// Another of the member's sessions is not proved by it.
	phone, err := h.Service.SignInWithPasskey(ctx, passkey(k, access.Actor{}, account.Visit{Browser: "p"}), account.Visit{Browser: "p"})
	if err != nil {
		t.Fatal(err)
	}
	stale()
	if err := h.Prove(ctx, h.actor(t, phone.Session), account.Proof{Password: password}, v); err != nil || fresh() {
		t.Errorf("proved on the phone: %v; the desk is fresh: %v", err, fresh())
	}
	m, err := h.Means(ctx, ada)
	if err != nil || !m.Passkey || !m.Code {
		t.Errorf("means = %+v, %v", m, err)
	}
}

// Guesses elsewhere slow the member's own device down by nothing, and many tries at once line up.
func TestKnownDevice(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	in, err := h.alone.SignIn(ctx, "ada@example.org", password, account.Visit{IP: "192.0.2.1", Browser: "b"})
	if err != nil || len(in.Device) != 64 {
		t.Fatalf("%+v, %v", in, err)
	}
	for range 60 {
		h.signIn("ada@example.org", "wrong password", "203.0.113.9")
		h.now = h.now.Add(time.Second)
	}
	if h.waited < time.Second {
		t.Fatalf("the guesser waits %v", h.waited)
	}
	if _, err := h.signIn("ada@example.org", password, "192.0.2.8"); err != nil || h.waited == 0 || h.waited > 5*time.Second {
		t.Errorf("a new device: waits %v, %v, want a few seconds and in", h.waited, err)
	}
	if _, err := h.alone.SignIn(ctx, "ada@example.org", password, account.Visit{IP: "203.0.113.9", Browser: "b", Device: in.Device}); err != nil || h.waited != 0 {
		t.Errorf("the known device, at the guesser's very place: waits %v, %v, want none", h.waited, err)
	}
	// The device is known for its member alone, and its own failures count.
	h.in(t, "bo@example.org")
	for range 40 {
		h.signIn("bo@example.org", "wrong password", "203.0.113.9")
		h.now = h.now.Add(time.Second)
	}
	h.alone.SignIn(ctx, "bo@example.org", password, account.Visit{IP: "203.0.113.9", Browser: "b", Device: in.Device})
	if h.waited == 0 {
		t.Error("a device known to one member opens a fast lane to another")
	}
	for range 8 {
		h.alone.SignIn(ctx, "ada@example.org", "wrong password", account.Visit{IP: "192.0.2.1", Browser: "b", Device: in.Device})
	}
	if h.waited < time.Second {
		t.Errorf("guessing with a stolen device cookie waits %v", h.waited)
	}
	// The coordinator's switch forgets it.
	h.As(t, h.boss, func(tx *postgres.Tx) error {
		members, err := tx.Members()
		if err != nil {
			return err
		}
		for _, m := range members {
			if m.Email == "ada@example.org" {
				return tx.Suspend(m.ID)
			}
		}
		return errors.New("no such member")
	})
	if known, err := h.DB.KnowsDevice(ctx, "ada@example.org", in.Device); err != nil || known {
		t.Errorf("after a suspension the device is known: %v, %v", known, err)
	}
}

// A hundred guesses sent at once from one place do not all get their turn: they line up and the end is sent away.
func TestGuessesLineUp(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	still := time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	s := account.New(h.DB, account.Options{Now: func() time.Time { return still }, Wait: func(context.Context, time.Duration) error { return nil }})
	looked := 0
	for range 100 {
		_, err := s.SignIn(ctx, "ada@example.org", "wrong password", account.Visit{IP: "192.0.2.1", Browser: "b"})
		if errors.Is(err, errs.Unauthenticated) {
			looked++
		} else if !errors.Is(err, errs.Unavailable) {
			t.Fatal(err)
		}
	}
	if looked > 10 {
		t.Errorf("%d of 100 guesses in one moment were looked at", looked)
	}
	if _, err := s.SignIn(ctx, "ada@example.org", password, account.Visit{IP: "192.0.2.2", Browser: "b"}); err != nil {
		t.Errorf("the member, elsewhere: %v", err)
	}
}

// TestNoEnumeration compares, by Welch's t-test, how long a wrong password takes for an address that is a member's and
// for one that is nobody's. The two must not differ by more than guessing over a network could use.
func TestNoEnumeration(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a few seconds")
	}
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	s := account.New(h.DB, account.Options{URL: home, Mail: h.post, Wait: func(context.Context, time.Duration) error { return nil }})
	const n = 40
	var took [2][]float64
	for i := range 2 * n {
		email := []string{"ada@example.org", "eve@example.org"}[i%2]
		begun := time.Now()
		// Each from a place of its own, so that nobody lines up.
		_, err := s.SignIn(ctx, email, "wrong password", account.Visit{IP: string(rune(0x4e00 + i)), Browser: "b"})
		if !errors.Is(err, errs.Unauthenticated) {
			t.Fatal(err)
		}
		took[i%2] = append(took[i%2], time.Since(begun).Seconds())
	}
	m0, v0 := moments(took[0])
	m1, v1 := moments(took[1])
	welch := (m0 - m1) / math.Sqrt(v0/n+v1/n)
	t.Logf("a member's %.1f ms, nobody's %.1f ms, t = %.2f", 1000*m0, 1000*m1, welch)
	// |t| > 4.5 is the customary threshold of leakage tests (ISO/IEC 17825); a tenth of the whole is what a busy test
	// machine needs as room.
	if math.Abs(welch) > 4.5 && math.Abs(m0-m1) > 0.1*m0 {
		t.Errorf("how long it takes tells who is a member: %.1f ms against %.1f ms, t = %.1f", 1000*m0, 1000*m1, welch)
	}
}

func moments(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		variance += (v - mean) * (v - mean) / float64(len(x)-1)
	}
	return mean, variance
}
