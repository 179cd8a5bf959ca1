package account_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// Who reads the database finds no secret of one-time codes; those from before stay good, a change of keys too; and a
// secret moved to another member's row opens nothing.
func TestSealedSecrets(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	kept := func(person string) string {
		t.Helper()
		got, err := h.Owner.Text(ctx, "SELECT encode(secret, 'hex') FROM tussock.code_secret WHERE person_id = $1", person)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	server := func(keys ...account.Key) *account.Service {
		return account.New(h.DB, account.Options{Keys: keys, Now: func() time.Time { return h.now }})
	}
	ada, bo := h.actor(t, h.in(t, "ada@example.org")), h.actor(t, h.in(t, "bo@example.org"))
	first, second := account.NewKey(), account.NewKey()

	// From before there were keys.
	old := server()
	e, err := old.StartCodes(ctx, ada)
	if err != nil {
		t.Fatal(err)
	}
	secret := strings.ReplaceAll(e.Secret, " ", "")
	if _, err := old.ConfirmCodes(ctx, ada, h.code(t, secret, h.now)); err != nil {
		t.Fatal(err)
	}
	plain := kept(string(ada.Person))
	if len(plain) != 40 {
		t.Fatalf("without a key %d digits are kept", len(plain))
	}
	proves := func(s *account.Service, what string) {
		t.Helper()
		h.now = h.now.Add(30 * time.Second)
		if err := s.Prove(ctx, ada, account.Proof{Code: h.code(t, secret, h.now)}, account.Visit{Browser: "b"}); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	s := server(first)
	proves(s, "a secret from before, with a key")
	if n, foreign, err := s.SealSecrets(ctx); err != nil || n != 1 || foreign != 0 {
		t.Errorf("sealed %d, foreign %d, %v", n, foreign, err)
	}
	if got := kept(string(ada.Person)); strings.Contains(got, plain) || len(got) != 2*(5+12+20+16) {
		t.Errorf("kept: %s", got)
	}
	proves(s, "the same, sealed")
	if n, foreign, err := s.SealSecrets(ctx); err != nil || n != 0 || foreign != 0 {
		t.Errorf("again: sealed %d, foreign %d, %v", n, foreign, err)
	}

	changed := server(second, first)
	proves(changed, "with a new key before the old")
	if n, foreign, err := changed.SealSecrets(ctx); err != nil || n != 1 || foreign != 0 {
		t.Errorf("sealed again %d, foreign %d, %v", n, foreign, err)
	}
	proves(server(second), "with the new key alone")
	if n, foreign, err := server(first).SealSecrets(ctx); err != nil || n != 0 || foreign != 1 {
		t.Errorf("with the old key alone: sealed %d, foreign %d, %v", n, foreign, err)
	}
	if err := server(first).Prove(ctx, ada, account.Proof{Code: h.code(t, secret, h.now)}, account.Visit{Browser: "b"}); !errors.Is(err, errs.Unavailable) {
		t.Errorf("a code, with the old key alone: %v", err)
	}

	// Somebody who may write to the database cannot put their own secret in another's place.
	if _, err := changed.StartCodes(ctx, bo); err != nil {
		t.Fatal(err)
	}
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.code_secret SET secret = (SELECT secret FROM tussock.code_secret WHERE person_id = $1) WHERE person_id = $2", bo.Person, ada.Person); err != nil {
		t.Fatal(err)
	}
	if err := changed.Prove(ctx, ada, account.Proof{Code: "123456"}, account.Visit{Browser: postgres.NewToken()}); err == nil || errors.Is(err, errs.Invalid) {
		t.Errorf("another's secret was opened: %v", err)
	}
}

func TestReadKeys(t *testing.T) {
	one, two := account.NewKey(), account.NewKey()
	keys, err := account.ReadKeys(one.String() + ",\n" + two.String() + "\n")
	if err != nil || len(keys) != 2 || keys[0] != one || keys[1] != two {
		t.Errorf("got %v, %v", keys, err)
	}
	for _, bad := range []string{"x", "c2hvcnQ=", one.String()[1:]} {
		if _, err := account.ReadKeys(bad); !errors.Is(err, errs.Invalid) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}
