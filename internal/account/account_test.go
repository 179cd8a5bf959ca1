package account_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/errs"
	"tussock/internal/mail"
	"tussock/internal/mail/mailtest"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/words"
)

const password = "bluestem after rain"

// A hall is a service with a clock that stands and waits that are only counted.
type hall struct {
	*pgtest.Fixture
	*account.Service
	alone  *account.Service // the same without letters: a password alone lets in
	boss   access.Actor
	now    time.Time
	mu     sync.Mutex
	waited time.Duration // the last wait
	post   *mail.Sender
	box    *mailtest.Box
}

func newHall(t *testing.T) *hall {
	t.Helper()
	h := &hall{Fixture: pgtest.New(t), now: time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)}
	h.post, h.box = newPost(t)
	opt := account.Options{
		URL: home, Mail: h.post,
		Keys: account.Keys{account.NewKey()},
		Now: func() time.Time {
			h.mu.Lock()
			defer h.mu.Unlock()
			return h.now
		},
		Wait: func(_ context.Context, d time.Duration) error {
			h.mu.Lock()
			defer h.mu.Unlock()
			h.waited, h.now = d, h.now.Add(d)
			return nil
		},
	}
	h.Service = account.New(h.DB, opt)
	opt.Mail = nil
	h.alone = account.New(h.DB, opt)
	h.boss = h.Cooperative(t, "Bluestem")
	return h
}

// newPost delivers to a mail server of the test's own.
func newPost(t *testing.T) (*mail.Sender, *mailtest.Box) {
	t.Helper()
	box := mailtest.New(t)
	post, err := mail.Open(box.URL, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(post.Close)
	return post, box
}

func (h *hall) invite(t *testing.T, email string) string {
	t.Helper()
	var token string
	h.As(t, h.boss, func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, "Ada Marsh", email, nil)
		return err
	})
	return token
}

// signIn is SignIn in a new browser at a place, without letters; it returns the session.
func (h *hall) signIn(email, password, ip string) (string, error) {
	in, err := h.alone.SignIn(context.Background(), email, password, account.Visit{IP: ip, Browser: postgres.NewToken()})
	return in.Session, err
}

// in accepts an invitation and returns the session.
func (h *hall) in(t *testing.T, email string) string {
	t.Helper()
	called, _, _ := strings.Cut(email, "@")
	session, err := h.Accept(context.Background(), h.invite(t, email), account.Acceptance{Name: strings.ToUpper(called[:1]) + called[1:] + " Marsh", Password: password}, "test")
	if err != nil {
		t.Fatal(err)
	}
	return session
}

func TestAccept(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	token := h.invite(t, "Ada@Example.org ")
	inv, err := h.Service.Invitation(ctx, token)
	if err != nil || inv.State != "open" || inv.Email != "ada@example.org" || inv.Cooperative != "Bluestem" || inv.Role != access.Landowner {
		t.Fatalf("invitation: got %+v, %v", inv, err)
	}
	for name, tt := range map[string]struct {
		token string
		form  account.Acceptance
		kind  error
		says  string
	}{
		"NoName":        {token, account.Acceptance{Password: password}, errs.Invalid, "name"},
		"ShortPassword": {token, account.Acceptance{Name: "Ada", Password: "123456789"}, errs.Invalid, "10 characters"},
		"LongPassword":  {token, account.Acceptance{Name: "Ada", Password: strings.Repeat("x", 257)}, errs.Invalid, "too long"},
		"WrongLink":     {postgres.NewToken(), account.Acceptance{Name: "Ada", Password: password}, errs.NotFound, "invitation"},
		"NoLink":        {"../../etc", account.Acceptance{Name: "Ada", Password: password}, errs.NotFound, "invitation"},
	} {
		_, err := h.Accept(ctx, tt.token, tt.form, "")
		if message, _ := errs.Message(err); !errors.Is(err, tt.kind) || !strings.Contains(message, tt.says) {
			t.Errorf("%s: got %v, want %v with %q", name, err, tt.kind, tt.says)
		}
	}

	// Ten characters are enough and count as people count them.
	session, err := h.Accept(ctx, token, account.Acceptance{Name: " Ada Marsh ", Phone: "555", Password: "ñandú-ríos"}, "phone")
	if err != nil {
		t.Fatal(err)
	}
	a, err := h.Service.Actor(ctx, session)
	if err != nil || a.Name != "Ada Marsh" || a.Role != access.Landowner || a.Coop != h.boss.Coop {
		t.Errorf("actor: got %+v, %v", a, err)
	}
	if _, err := h.Accept(ctx, token, account.Acceptance{Name: "Eve", Password: password}, ""); !errors.Is(err, errs.NotFound) {
		t.Errorf("a link used twice: got %v", err)
	}
	if _, err := h.Accept(ctx, h.invite(t, ""), account.Acceptance{Name: "Ada", Email: "ada@example.org", Password: password}, ""); !errors.Is(err, errs.Conflict) {
		t.Errorf("an address that signs in already: got %v", err)
	}

	revoked := h.invite(t, "r@example.org")
	h.As(t, h.boss, func(tx *postgres.Tx) error {
		list, err := tx.Invitations()
		if err != nil {
			return err
		}
		return tx.RevokeInvitation(list[0].ID)
	})
	expired := h.invite(t, "e@example.org")
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.invitation SET expires_at = now() WHERE email = 'e@example.org'"); err != nil {
		t.Fatal(err)
	}
	for _, token := range []string{revoked, expired} {
		if _, err := h.Accept(ctx, token, account.Acceptance{Name: "Eve", Password: password}, ""); !errors.Is(err, errs.NotFound) {
			t.Errorf("a link that is not open: got %v", err)
		}
	}
}

// TestAcceptTellsLittle: who has a link cannot try address after address for who signs in already: the third time the link ends. Whoever slips once
// comes in all the same.
func TestAcceptTellsLittle(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	for _, email := range []string{"ada@example.org", "bo@example.org"} {
		h.in(t, email)
	}
	called := "Eve"
	tries := func(token, email string) error {
		_, err := h.Accept(ctx, token, account.Acceptance{Name: called, Email: email, Password: password}, "")
		return err
	}
	slip := h.invite(t, "")
	if err := tries(slip, "ada@example.org"); !errors.Is(err, errs.Conflict) {
		t.Errorf("an address that signs in: %v", err)
	}
	if err := tries(slip, "eve@example.org"); err != nil {
		t.Errorf("after one slip: %v", err)
	}
	token := h.invite(t, "")
	called = "Zoe"
	told := 0
	for i := range 30 {
		switch err := tries(token, []string{"ada@example.org", "bo@example.org"}[i%2]); {
		case errors.Is(err, errs.Conflict):
			if told++; told == 3 != strings.Contains(err.Error(), "this link has ended") {
				t.Errorf("try %d says %v", told, err)
			}
		case !errors.Is(err, errs.NotFound):
			t.Errorf("try %d: %v", i, err)
		}
	}
	if told != 3 {
		t.Errorf("%d of 30 addresses were told", told)
	}
	if inv, err := h.Service.Invitation(ctx, token); err != nil || inv.State != "revoked" {
		t.Errorf("the link is %q, %v", inv.State, err)
	}
	if err := tries(token, "zoe@example.org"); !errors.Is(err, errs.NotFound) {
		t.Errorf("after three: %v", err)
	}
}

// TestAcceptAtOnce: a link opened twice in the same moment makes one account.
func TestAcceptAtOnce(t *testing.T) {
	h := newHall(t)
	token := h.invite(t, "")
	var wg sync.WaitGroup
	ok := make(chan bool, 8)
	for i := range 8 {
		wg.Go(func() {
			_, err := h.Accept(context.Background(), token, account.Acceptance{Name: "Ada", Email: string(rune('a'+i)) + "@example.org", Password: password}, "")
			if err == nil {
				ok <- true
			} else if !errors.Is(err, errs.NotFound) {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if len(ok) != 1 {
		t.Errorf("%d came in by one link", len(ok))
	}
}

func TestSignIn(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")

	first, err := h.signIn(" ADA@example.org", password, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	second, err := h.signIn("ada@example.org", password, "192.0.2.1")
	if err != nil || first == second || len(first) != 64 {
		t.Errorf("two sign-ins: %q, %q, %v", first, second, err)
	}
	if stored, err := h.Owner.Text(ctx, "SELECT count(*) FROM tussock.session WHERE encode(token_hash, 'hex') = $1 OR agent LIKE '%' || $1 || '%'", first); err != nil || stored != "0" {
		t.Errorf("the token itself is stored %s times, %v", stored, err)
	}

	// Whoever tries learns nothing about who has an account.
	_, wrong := h.signIn("ada@example.org", "bluestem after hail", "192.0.2.2")
	_, nobody := h.signIn("nobody@example.org", password, "192.0.2.2")
	_, endless := h.signIn("ada@example.org", strings.Repeat("x", 1000), "192.0.2.2")
	for name, err := range map[string]error{"wrong": wrong, "nobody": nobody, "endless": endless} {
		if !errors.Is(err, errs.Unauthenticated) || err.Error() != wrong.Error() {
			t.Errorf("%s: got %v, want %v", name, err, wrong)
		}
	}
}

func TestSessions(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	one := h.in(t, "ada@example.org")
	two, err := h.signIn("ada@example.org", password, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	alive := func(session string) bool {
		_, err := h.Service.Actor(ctx, session)
		if err != nil && !errors.Is(err, errs.Unauthenticated) {
			t.Error(err)
		}
		return err == nil
	}
	if err := h.SignOut(ctx, one); err != nil || alive(one) || !alive(two) {
		t.Errorf("sign out: %v; first alive %v, second alive %v", err, alive(one), alive(two))
	}
	three, err := h.signIn("ada@example.org", password, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	a, err := h.Service.Actor(ctx, three)
	if err != nil {
		t.Fatal(err)
	}
	if err := h.ChangePassword(ctx, a, "wrong wrong wrong", "a better password"); !errors.Is(err, errs.Invalid) {
		t.Errorf("change with a wrong password: got %v", err)
	}
	if err := h.ChangePassword(ctx, a, password, "a better password"); err != nil || alive(two) || !alive(three) {
		t.Errorf("change: %v; the other session alive %v, this one %v", err, alive(two), alive(three))
	}
	if _, err := h.signIn("ada@example.org", password, "192.0.2.1"); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("the old password: got %v", err)
	}
	if err := h.SignOutEverywhere(ctx, a); err != nil || alive(three) {
		t.Errorf("sign out everywhere: %v, alive %v", err, alive(three))
	}
	for _, junk := range []string{"", "x", strings.Repeat("g", 64), "' OR true --"} {
		if alive(junk) {
			t.Errorf("%q is somebody", junk)
		}
		if err := h.SignOut(ctx, junk); err != nil {
			t.Errorf("sign out of %q: %v", junk, err)
		}
	}
}

// TestThrottle: guessing gets slow, from one place, for one address and over many; a member is never locked out.
func TestThrottle(t *testing.T) {
	h := newHall(t)
	h.in(t, "ada@example.org")
	guess := func(email, ip string) time.Duration {
		t.Helper()
		if _, err := h.signIn(email, "wrong password", ip); !errors.Is(err, errs.Unauthenticated) {
			t.Fatal(err)
		}
		return h.waited
	}
	for i, want := range []time.Duration{0, 0, 0, 250 * time.Millisecond, 500 * time.Millisecond, time.Second, 2 * time.Second, 4 * time.Second, 5 * time.Second, 5 * time.Second} {
		if got := guess("ada@example.org", "192.0.2.1"); got != want {
			t.Errorf("try %d waits %v, want %v", i+1, got, want)
		}
	}
	if got := guess("ada@example.org", "192.0.2.9"); got != 0 {
		t.Errorf("another place waits %v", got)
	}
	if _, err := h.signIn("ada@example.org", password, "192.0.2.1"); err != nil || h.waited > 5*time.Second {
		t.Errorf("the member waits %v and gets %v", h.waited, err)
	}
	if got := guess("ada@example.org", "192.0.2.1"); got != 0 {
		t.Errorf("after coming in, a slip waits %v", got)
	}
	for i := range 30 {
		guess(string(rune('a'+i))+"@example.org", "192.0.2.7")
	}
	if got := guess("z@example.org", "192.0.2.7"); got == 0 {
		t.Error("guessing over many addresses from one place is not slowed")
	}
	h.now = h.now.Add(16 * time.Minute)
	if got := guess("z@example.org", "192.0.2.7"); got != 0 {
		t.Errorf("a quarter of an hour later: waits %v", got)
	}
}

// Two servers on one database know of each other's failures: guessing at both is no faster than at one, and nobody is
// locked out at either.
func TestThrottleOfTwoServers(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	var waited [2]time.Duration
	var servers [2]*account.Service
	for i := range servers {
		db, err := postgres.Open(ctx, h.AppURL, h.DoorURL)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(db.Close)
		servers[i] = account.New(db, account.Options{Now: func() time.Time { return h.now }, Wait: func(_ context.Context, d time.Duration) error {
			waited[i] = d
			return nil
		}})
	}
	sign := func(i int, password string) error {
		_, err := servers[i].SignIn(ctx, "ada@example.org", password, account.Visit{IP: "192.0.2.1", Browser: postgres.NewToken()})
		h.now = h.now.Add(10 * time.Second)
		return err
	}
	for i, want := range []time.Duration{0, 0, 0, 250 * time.Millisecond, 500 * time.Millisecond, time.Second, 2 * time.Second, 4 * time.Second, 5 * time.Second, 5 * time.Second} {
		if err := sign(i%2, "wrong password"); !errors.Is(err, errs.Unauthenticated) || waited[i%2] != want {
			t.Errorf("try %d: waits %v, %v, want %v", i+1, waited[i%2], err, want)
		}
	}
	if err := sign(1, password); err != nil || waited[1] > 5*time.Second {
		t.Errorf("the member waits %v and gets %v", waited[1], err)
	}
	if err := sign(0, "wrong password"); !errors.Is(err, errs.Unauthenticated) || waited[0] != 0 {
		t.Errorf("after coming in at one, a slip at the other waits %v", waited[0])
	}
	// What is kept says neither whom nor where from.
	if got, err := h.Owner.Text(ctx, "SELECT string_agg(attname || ' ' || format_type(atttypid, atttypmod), ', ' ORDER BY attnum) FROM pg_attribute WHERE attrelid = 'tussock.throttle'::regclass AND attnum > 0"); err != nil ||
		got != "coop_id uuid, name_hash bytea, n integer, last_at timestamp with time zone, next_at timestamp with time zone" {
		t.Errorf("columns: %s, %v", got, err)
	}
	h.now = h.now.Add(time.Hour)
	sign(0, "wrong password")
	if got, err := h.Owner.Text(ctx, "SELECT count(*)::text FROM tussock.throttle"); err != nil || got != "3" {
		t.Errorf("an hour later %s rows are left, %v, want those of one try", got, err)
	}
}

// TestHashes checks the parameters against the OWASP Password Storage Cheat Sheet's least: Argon2id, m=19456, t=2,
// p=1; and that a hash of less is made again when its owner comes in.
func TestHashes(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	h.in(t, "ada@example.org")
	stored := func() string {
		hash, err := h.Owner.Text(ctx, "SELECT password_hash FROM tussock.account WHERE email = 'ada@example.org'")
		if err != nil {
			t.Fatal(err)
		}
		return hash
	}
	const owasp = "$argon2id$v=19$m=19456,t=2,p=1$"
	if !strings.HasPrefix(stored(), owasp) {
		t.Errorf("stored as %.40s…", stored())
	}
	weak, err := argon2id.CreateHash(password, &argon2id.Params{Memory: 1024, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.account SET password_hash = $1 WHERE email = 'ada@example.org'", weak); err != nil {
		t.Fatal(err)
	}
	session, err := h.signIn("ada@example.org", password, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.Service.Actor(ctx, session); err != nil {
		t.Errorf("the session after the hash was made again: %v", err)
	}
	if !strings.HasPrefix(stored(), owasp) {
		t.Errorf("after coming in, stored as %.40s…", stored())
	}
	if _, err := h.signIn("ada@example.org", password, "192.0.2.1"); err != nil {
		t.Error(err)
	}
}

// TestSuspendedAtTheDoor: who is suspended and has the right password reads so, with the day on which it ends and who can end it; with a
// wrong one they read what everybody does. A membership elsewhere under the same address stays open.
func TestSuspendedAtTheDoor(t *testing.T) {
	h := newHall(t)
	ctx := context.Background()
	ada, err := h.Actor(ctx, h.in(t, "ada@example.org"))
	if err != nil {
		t.Fatal(err)
	}
	second := h.Member(t, h.boss, access.Coordinator, "Bo Second")
	if _, err := h.Owner.Exec(ctx, "UPDATE tussock.person SET joined_at = joined_at - interval '60 days'"); err != nil {
		t.Fatal(err)
	}
	reads := func(password string) string {
		t.Helper()
		session, err := h.signIn("ada@example.org", password, "192.0.2.1")
		said, ok := errs.Message(err)
		if session != "" || !ok {
			t.Fatalf("came in, or %v", err)
		}
		return said
	}
	wrong := reads("bluestem after hail")
	h.As(t, h.boss, func(tx *postgres.Tx) error { return tx.Suspend(ada.Person) })
	ends := words.Speaker{}.Day(time.Now().UTC().AddDate(0, 0, 14))
	for _, want := range []string{"suspended in Bluestem", "ends by itself on " + ends, "Bo Second, Coordinator of Bluestem."} {
		if got := reads(password); !strings.Contains(got, want) {
			t.Errorf("suspended, reads %q without %q", got, want)
		}
	}
	if got := reads("bluestem after hail"); got != wrong {
		t.Errorf("with a wrong password: %q, want %q", got, wrong)
	}
	h.in(t, "cy@example.org")
	before := len(h.box.All())
	h.AskLink("ada@example.org", account.Visit{IP: "192.0.2.1", Browser: "b"})
	h.AskLink("cy@example.org", account.Visit{IP: "192.0.2.1", Browser: "b"})
	if letter := h.box.Wait(t, before+1); letter.To != "cy@example.org" {
		t.Errorf("a suspended member gets %q", letter.Subject)
	}
	h.As(t, second, func(tx *postgres.Tx) error { return tx.KeepSuspended(ada.Person) })
	if got := reads(password); !strings.Contains(got, "lasts until a coordinator ends it: Bo Second, Coordinator of Bluestem.") || strings.Contains(got, ends) {
		t.Errorf("suspended by two, reads %q", got)
	}

	other := h.Cooperative(t, "Grama")
	var token string
	h.As(t, other, func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Landowner, "Ada Marsh", "ada@example.org", nil)
		return err
	})
	if _, err := h.Accept(ctx, token, account.Acceptance{Name: "Ada Marsh", Password: password}, "test"); err != nil {
		t.Fatal(err)
	}
	if session, err := h.signIn("ada@example.org", password, "192.0.2.1"); err != nil || session == "" {
		t.Errorf("a member elsewhere: %v", err)
	}
}
