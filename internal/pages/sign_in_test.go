package pages_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/mail"
	"tussock/internal/mail/mailtest"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
)

const (
	home     = "https://tussock.example.org"
	password = "four plain words here" // everybody's on the stage
)

// newPostedStage is a stage that letters leave from, over https as far as it knows; box is where they arrive and log
// what the server would write down.
func newPostedStage(t *testing.T) (st *stage, box *mailtest.Box, log *bytes.Buffer) {
	t.Helper()
	return postedStageOn(t, pgtest.New(t))
}

func postedStageOn(t *testing.T, f *pgtest.Fixture) (st *stage, box *mailtest.Box, log *bytes.Buffer) {
	t.Helper()
	box, log = mailtest.New(t), &bytes.Buffer{}
	logger := slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	post, err := mail.Open(box.URL, logger)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(post.Close)
	st = &stage{t: t, db: f, accounts: account.New(f.DB, account.Options{URL: home, Mail: post})}
	if st.app, err = pages.New(pages.Config{DB: f.DB, Account: st.accounts, URL: home, Log: logger}); err != nil {
		t.Fatal(err)
	}
	return st, box, log
}

// A browser keeps cookies.
type browser struct {
	*stage
	jar map[string]*http.Cookie
}

func (st *stage) browser() *browser { return &browser{st, map[string]*http.Cookie{}} }

func (b *browser) asks(r *http.Request) answer {
	b.t.Helper()
	for _, c := range b.jar {
		r.AddCookie(&http.Cookie{Name: c.Name, Value: c.Value})
	}
	resp, err := b.app.Test(r, -1)
	if err != nil {
		b.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, c := range resp.Cookies() {
		b.jar[c.Name] = c
		if c.Value == "" || !c.Expires.IsZero() && c.Expires.Before(time.Now()) {
			delete(b.jar, c.Name)
		}
	}
	return answer{resp.StatusCode, resp.Header, string(body)}
}

func (b *browser) opens(path string) answer {
	b.t.Helper()
	return b.asks(httptest.NewRequest(http.MethodGet, path, nil))
}

// posts fills the form of a page that is open and sends it.
func (b *browser) posts(page answer, path string, fields ...string) answer {
	b.t.Helper()
	form := url.Values{"csrf": {wordOn(page)}}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.asks(r)
}

func wordOn(page answer) string {
	if found := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(page.body); found != nil {
		return found[1]
	}
	return ""
}

// signsIn does so in a browser that is remembered, where that matters.
func (b *browser) signsIn(email, password string) answer {
	b.t.Helper()
	b.isKnownTo(email)
	return b.posts(b.opens("/sign-in"), "/sign-in", "email", email, "password", password, "next", "/account")
}

// isKnownTo makes it one in which the member of an address gave two proofs.
func (b *browser) isKnownTo(email string) {
	b.t.Helper()
	ctx := context.Background()
	accounts, err := b.db.DB.Credentials(ctx, email)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, a := range accounts {
		device := &http.Cookie{Name: "__Host-tussock-device", Value: postgres.NewToken()}
		if before := b.jar[device.Name]; before != nil {
			device = before
		}
		if err := b.db.DB.TrustDevice(ctx, a.Coop, a.Person, device.Value, "a test", time.Hour); err != nil {
			b.t.Fatal(err)
		}
		b.jar[device.Name] = device
	}
}

func (b *browser) session() string {
	if c := b.jar["__Host-tussock"]; c != nil {
		return c.Value
	}
	return ""
}

func (b *browser) want(a answer, status int, sentences ...string) {
	b.t.Helper()
	(&member{stage: b.stage}).want(a, status, sentences...)
}

// Nothing that somebody else could have put into a browser becomes a way in: a session is new at each sign-in, the one
// before it ends, and the secret that a code is waited for under is new too.
func TestSessionFixation(t *testing.T) {
	st, _, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	planted := strings.Repeat("ab", 32)
	b.jar["__Host-tussock"] = &http.Cookie{Name: "__Host-tussock", Value: planted}
	b.opens("/sign-in")
	visitor := b.jar["__Host-tussock-visitor"].Value
	if got := b.signsIn("person1@example.org", password); got.status != http.StatusSeeOther || got.header.Get("Location") != "/account" {
		t.Fatalf("signing in: %d %s", got.status, got.text())
	}
	first := b.session()
	if first == planted || len(first) != 64 {
		t.Errorf("the session is %q", first)
	}
	if b.jar["__Host-tussock-visitor"].Value == visitor {
		t.Error("the visitor's secret from before the password goes on")
	}
	b.want(b.opens("/account"), http.StatusOK, "You sign in with person1@example.org")

	// Signing in again over it, as a form left open in another tab would.
	page := b.opens("/about")
	if got := b.posts(page, "/sign-in", "email", "person1@example.org", "password", password); got.status != http.StatusSeeOther {
		t.Fatalf("a second time: %d", got.status)
	}
	if b.session() == first {
		t.Error("the second sign-in kept the session of the first")
	}
	old := st.browser()
	old.jar["__Host-tussock"] = &http.Cookie{Name: "__Host-tussock", Value: first}
	if got := old.opens("/account"); got.status != http.StatusSeeOther {
		t.Errorf("the first session lives on: %d", got.status)
	}
}

// Every cookie is the host's alone and out of scripts' reach (OWASP ASVS 5.0, 3.3.1 to 3.3.4).
func TestCookieFlags(t *testing.T) {
	st, _, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	b.signsIn("person1@example.org", password)
	if len(b.jar) != 3 {
		t.Errorf("%d cookies, want session, device and visitor", len(b.jar))
	}
	for name, c := range b.jar {
		if !strings.HasPrefix(name, "__Host-") || !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
			t.Errorf("cookie %s", c.Raw)
		}
	}
}

// No form of any page does anything without its word, from another site, or with another member's word.
func TestEveryFormIsGuarded(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner)
	seen := 0
	for _, route := range pages.Table() {
		if route[0] != http.MethodPost {
			continue
		}
		path := strings.NewReplacer(":id", string(mine), ":season", "2026", ":token", postgres.NewToken()).Replace(route[1])
		for _, m := range []*member{rosa, ada} {
			for name, tt := range map[string]struct{ body, header, value string }{
				"no word":             {"", "X-Nothing", "x"},
				"another's word":      {"csrf=" + bo.word(), "X-Nothing", "x"},
				"from another site":   {"csrf=" + m.word(), "Sec-Fetch-Site", "cross-site"},
				"from another origin": {"csrf=" + m.word(), "Origin", "https://evil.example"},
			} {
				r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(tt.body))
				r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				r.Header.Set(tt.header, tt.value)
				seen++
				if got := m.asks(r); got.status != http.StatusForbidden {
					t.Errorf("POST %s as %s, %s: %d, want 403", route[1], m.actor.Role, name, got.status)
				}
			}
		}
	}
	if seen < 100 {
		t.Errorf("only %d posts were tried", seen)
	}
	if got := rosa.opens("/cooperative/members"); got.status != http.StatusOK || ada.opens("/ranch").status >= 400 {
		t.Errorf("after all that: %d", got.status)
	}
}

// After signing out the session is over on the server, not only in the browser; and no page is kept that the back button
// could show (T35).
func TestSignOut(t *testing.T) {
	st, _, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	rosa.adds("Cottonwood Draw", "Ada Marsh")
	b := st.browser()
	b.signsIn("person1@example.org", password)
	for _, route := range pages.Table() {
		if route[0] != http.MethodGet || strings.Contains(route[1], ":") {
			continue
		}
		got := b.opens(route[1])
		if route[1] == "/sw.js" { // a script, the same for everybody: browsers ask for it again each time
			continue
		}
		if cache := got.header.Get("Cache-Control"); cache != "no-store" {
			t.Errorf("%s (%d): Cache-Control is %q, want no-store", route[1], got.status, cache)
		}
	}
	kept := b.session()
	if got := b.posts(b.opens("/account"), "/sign-out"); got.status != http.StatusSeeOther || b.session() != "" {
		t.Fatalf("signing out: %d, cookie %q", got.status, b.session())
	}
	b.jar["__Host-tussock"] = &http.Cookie{Name: "__Host-tussock", Value: kept}
	for _, path := range []string{"/account", "/cooperative", "/cooperative/members"} {
		if got := b.opens(path); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
			t.Errorf("%s with the old cookie: %d", path, got.status)
		}
	}
}

// The whole way of a link: asked for alike by anybody, looked at without being used up, used once, good for a new
// password.
func TestSignInByLink(t *testing.T) {
	st, box, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	b.want(b.opens("/sign-in"), http.StatusOK, "Have a link sent to you")
	b.isKnownTo("person1@example.org")
	ask := func(b *browser, email string) answer {
		t.Helper()
		got := b.posts(b.opens("/sign-in/link"), "/sign-in/link", "email", email)
		if got.status != http.StatusSeeOther {
			t.Fatalf("asking for %s: %d", email, got.status)
		}
		page := b.opens(got.header.Get("Location"))
		page.body = strings.ReplaceAll(page.body, wordOn(page), "")
		return page
	}
	nobody, member := ask(st.browser(), "nobody@example.org"), ask(b, "person1@example.org")
	if nobody.body != member.body || nobody.status != member.status {
		t.Error("the answer tells who is a member")
	}
	link := regexp.MustCompile(home + `(/sign-in/link/[0-9a-f]{64})`).FindStringSubmatch(box.Wait(t, 1).Text)
	if link == nil || len(box.All()) != 1 {
		t.Fatalf("letters: %+v", box.All())
	}
	// A scanner opens it first, every way that only looks.
	scanner := st.browser()
	for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodOptions} {
		if got := scanner.asks(httptest.NewRequest(method, link[1], nil)); scanner.session() != "" {
			t.Errorf("%s signed the scanner in (%d)", method, got.status)
		}
	}
	scanner.want(scanner.opens(link[1]), http.StatusOK, "Sign in as Person One", "asked for in another browser")
	page := b.opens(link[1])
	b.want(page, http.StatusOK, "Sign in as Person One")
	if strings.Contains(page.text(), "another browser") {
		t.Error("the browser that asked is called another")
	}
	if got := b.posts(page, link[1]); got.status != http.StatusSeeOther || b.session() == "" {
		t.Fatalf("the button: %d %s", got.status, got.text())
	}
	b.want(b.opens("/account"), http.StatusOK, "Forgotten?")
	b.want(scanner.posts(scanner.opens("/sign-in"), link[1]), http.StatusGone, "That link is over")
	b.want(scanner.opens(link[1]), http.StatusGone, "good for ten minutes, and once")
	if got := b.posts(b.opens("/account"), "/account/password", "old", "", "new", "grama under late snow"); got.status != http.StatusSeeOther {
		t.Errorf("a new password in place of the forgotten one: %d %s", got.status, got.text())
	}
	if got := st.browser().signsIn("person1@example.org", "grama under late snow"); got.status != http.StatusSeeOther {
		t.Errorf("with the new password: %d", got.status)
	}

	without := newStage(t)
	without.cooperative("No Post")
	w := without.browser()
	if got := w.opens("/sign-in"); strings.Contains(got.body, "/sign-in/link") || strings.Contains(got.body, "passkey") {
		t.Error("without a mail server and a name, links or passkeys are offered")
	}
	w.want(w.opens("/sign-in/link"), http.StatusNotFound)
}

// One-time codes from setting up to the recovery code.
func TestCodesOnThePages(t *testing.T) {
	st, _, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	b.signsIn("person1@example.org", password)
	b.want(b.opens("/account/codes"), http.StatusOK, "Set up one-time codes")
	page := b.posts(b.opens("/account/codes"), "/account/codes")
	b.want(page, http.StatusOK, "then type in the first code")
	secret := regexp.MustCompile(`<code>([A-Z2-7 ]{39})</code>`).FindStringSubmatch(page.body)
	if secret == nil || !strings.Contains(page.body, `src="data:image/png;base64,`) {
		t.Fatalf("no secret or no picture on the page: %s", page.text())
	}
	code := func(step time.Duration) string {
		c, err := totp.GenerateCode(strings.ReplaceAll(secret[1], " ", ""), time.Now().Add(step*30*time.Second))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	wrong := b.posts(page, "/account/codes/confirm", "code", "12345")
	b.want(wrong, http.StatusUnprocessableEntity, "That code is not right")
	if !strings.Contains(wrong.body, secret[1]) {
		t.Error("after a wrong code the secret is gone")
	}
	on := b.posts(page, "/account/codes/confirm", "code", code(-1))
	b.want(on, http.StatusOK, "Here are your recovery codes")
	recovery := regexp.MustCompile(`<code>([a-z2-7-]{19})</code>`).FindAllStringSubmatch(on.body, -1)
	if len(recovery) != 10 {
		t.Fatalf("%d recovery codes, want 10", len(recovery))
	}
	again := b.opens("/account/codes")
	b.want(again, http.StatusOK, "10 recovery codes are left")
	if strings.Contains(again.body, recovery[0][1]) || strings.Contains(again.body, secret[1]) {
		t.Error("a secret is shown a second time")
	}

	phone := st.browser()
	got := phone.signsIn("person1@example.org", password)
	if to := got.header.Get("Location"); got.status != http.StatusSeeOther || to != "/sign-in/code?next=%2Faccount" || phone.session() != "" {
		t.Fatalf("the password alone: %d to %q, session %q", got.status, to, phone.session())
	}
	page = phone.opens("/sign-in/code?next=%2Faccount")
	phone.want(phone.posts(page, "/sign-in/code", "code", "000", "next", "/account"), http.StatusUnprocessableEntity, "That code is not right")
	if got := phone.posts(page, "/sign-in/code", "code", code(0), "next", "/account"); got.status != http.StatusSeeOther || phone.session() == "" {
		t.Fatalf("with the code: %d %s", got.status, got.text())
	}
	lost := st.browser()
	lost.signsIn("person1@example.org", password)
	if got := lost.posts(lost.opens("/sign-in/code"), "/sign-in/code", "code", recovery[7][1]); got.status != http.StatusSeeOther || lost.session() == "" {
		t.Fatalf("with a recovery code: %d %s", got.status, got.text())
	}
	b.want(lost.opens("/account/codes"), http.StatusOK, "9 recovery codes are left")
	nobody := st.browser()
	nobody.want(nobody.posts(nobody.opens("/sign-in/code"), "/sign-in/code", "code", code(1)), http.StatusUnauthorized, "Please begin again")
	if got := lost.posts(lost.opens("/account/codes"), "/account/codes/stop"); got.status != http.StatusSeeOther {
		t.Errorf("turning codes off: %d", got.status)
	}
	if got := st.browser().signsIn("person1@example.org", password); got.header.Get("Location") != "/account" {
		t.Errorf("after that: to %q", got.header.Get("Location"))
	}
}

// What nobody may do at a screen left open asks for a proof once ten minutes have gone by, and loses nothing that was
// typed (OWASP ASVS 5.0, 7.5.1 and 7.5.3).
func TestProofForWhatMatters(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	stale := func() {
		t.Helper()
		if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.session SET proved_at = now() - interval '11 minutes'"); err != nil {
			t.Fatal(err)
		}
	}
	consent := func() string {
		t.Helper()
		level, err := st.db.Owner.Text(context.Background(), "SELECT level FROM tussock.consent ORDER BY given_at DESC LIMIT 1")
		if err != nil {
			t.Fatal(err)
		}
		return level
	}
	stale()
	if got := ada.opens("/account/passkeys"); got.status != http.StatusSeeOther || got.header.Get("Location") != "/sign-in/again?next=%2Faccount%2Fpasskeys" {
		t.Errorf("a page: %d to %q", got.status, got.header.Get("Location"))
	}
	ada.want(ada.posts("/sign-in/again", "next", "/account/passkeys", "proof_password", "not this one"), http.StatusUnprocessableEntity, "That is not your password")
	if got := ada.posts("/sign-in/again", "next", "/account/passkeys", "proof_password", password); got.header.Get("Location") != "/account/passkeys" {
		t.Errorf("the proof: %d to %q", got.status, got.header.Get("Location"))
	}
	ada.want(ada.opens("/account/passkeys"), http.StatusOK)
	if got := ada.posts("/sign-in/again", "next", "//evil.example", "proof_password", password); got.header.Get("Location") != "/" {
		t.Errorf("on to elsewhere: %q", got.header.Get("Location"))
	}

	stale()
	held := ada.posts("/who/"+string(mine), "level", "1")
	ada.want(held, http.StatusForbidden, "Is it still you?", "What you typed is kept")
	if !strings.Contains(held.body, `action="/who/`+string(mine)+`"`) || !strings.Contains(held.body, `name="level" value="1"`) || consent() != "" {
		t.Errorf("the choice was not held, or was made: %q", consent())
	}
	ada.want(ada.posts("/who/"+string(mine), "level", "1", "proof_password", "not this one"), http.StatusUnprocessableEntity, "That is not your password")
	if consent() != "" {
		t.Error("a wrong password made the choice")
	}
	if got := ada.posts("/who/"+string(mine), "level", "1", "proof_password", password); got.status != http.StatusSeeOther || consent() != "1" {
		t.Errorf("with the password: %d, level %q", got.status, consent())
	}
	if got := ada.posts("/who/"+string(mine), "level", "0", "sure", "1"); got.status != http.StatusSeeOther || consent() != "0" {
		t.Errorf("right after: %d, level %q", got.status, consent())
	}
	// All of them.
	stale()
	for _, path := range []string{"/who/share", "/who/newcomers/" + string(mine), "/tokens", "/account/passkeys/new", "/account/passkeys", "/account/codes",
		"/account/codes/confirm", "/account/codes/recovery", "/account/codes/stop", "/account/address", "/account/leave"} {
		if got := ada.posts(path, "withdraw", string(mine)); got.status != http.StatusForbidden || !strings.Contains(got.body, "Is it still you?") {
			t.Errorf("%s asks for no proof: %d", path, got.status)
		}
	}
	ada.want(ada.posts("/who/owners/"+string(mine), "answer", "yes"), http.StatusForbidden, "Is it still you?")
	member, ranch := "/cooperative/members/"+string(ada.actor.Person), "/cooperative/ranches/"+string(mine)
	for _, path := range []string{member + "/remove", member + "/suspend", member + "/restore", "/cooperative/invitations",
		ranch, ranch + "/people", ranch + "/people/" + string(ada.actor.Person) + "/end",
		ranch + "/paper", "/cooperative/bulletins", "/cooperative/bulletins/2026/drop", "/cooperative/bulletins/2026/retract", "/cooperative/bulletins/2026/1", "/changes/vouch"} {
		if got := rosa.posts(path, "role", "coordinator", "name", "Friend"); got.status != http.StatusForbidden || !strings.Contains(got.body, "Is it still you?") {
			t.Errorf("%s asks for no proof: %d", path, got.status)
		}
	}
	ada.wakes()
}

// A landowner is asked before anybody else opens the ranch.
func TestOwnerIsAsked(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	ada.kept(ada.sends([]sheet{{"nests.csv", plain}}))
	var token string
	rosa.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Hand, "Luis Ortega", "luis@example.org", []access.ID{mine})
		return err
	})
	session, err := st.accounts.Accept(context.Background(), token, account.Acceptance{Name: "Luis Ortega", Password: password}, "")
	if err != nil {
		t.Fatal(err)
	}
	luis := &member{stage: st, session: session}
	luis.wakes()
	luis.want(luis.opens("/ranch/"+string(mine)), http.StatusNotFound)
	rosa.want(rosa.opens("/cooperative/members"), http.StatusOK, "Waits for a yes, their own and an owner’s on “Who can see this”, or, where the ranch has no owner, of two landowners who were here a month, sent results and are vouched for: Cottonwood Draw")
	ada.want(ada.opens("/who"), http.StatusOK, "Who waits for your yes?", "Yes, let Luis Ortega in")
	path := "/who/newcomers/" + string(luis.actor.Person)
	ada.want(ada.posts(path, "ranch", string(mine), "answer", "perhaps"), http.StatusNotFound)
	rosa.want(rosa.posts(path, "ranch", string(mine), "answer", "yes"), http.StatusForbidden)
	luis.want(luis.opens("/ranch/"+string(mine)), http.StatusNotFound)
	if got := ada.posts(path, "ranch", string(mine), "answer", "yes"); got.status != http.StatusSeeOther {
		t.Fatalf("the yes: %d %s", got.status, got.text())
	}
	luis.want(luis.opens("/ranch/"+string(mine)), http.StatusOK, "Cottonwood Draw")
	if got := ada.opens("/who"); strings.Contains(got.text(), "Who waits") || !strings.Contains(got.text(), "Luis Ortega") {
		t.Errorf("after the yes: %s", got.text())
	}
	ada.want(ada.posts(path, "ranch", string(mine), "answer", "yes"), http.StatusNotFound)
}

// A lost phone, a suspicion, and the office changing hands.
func TestCoordinatorStops(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	in := func(m *member) bool { return m.opens("/account").status == http.StatusOK }
	path := "/cooperative/members/" + string(ada.actor.Person)
	if got := rosa.posts(path + "/sign-out"); got.status != http.StatusNotFound || !in(ada) {
		t.Errorf("a coordinator signs a member out: %d, still in %v", got.status, in(ada))
	}
	rosa.posts(path + "/suspend")
	rosa.want(rosa.opens("/cooperative/members"), http.StatusOK, "suspended", "Let Person Two in again")
	if _, err := st.accounts.SignIn(context.Background(), "person2@example.org", password, account.Visit{Browser: "b"}); err == nil || in(ada) {
		t.Errorf("suspended: signs in %v, still in %v", err == nil, in(ada))
	}
	for typed, want := range map[string]string{password: "You are suspended in Sandhill Grass and cannot sign in. It ends by itself on", "another password": "do not go together"} {
		got := st.browser().signsIn("person2@example.org", typed)
		if suspended := strings.Contains(got.text(), "suspended"); got.status == http.StatusSeeOther || !strings.Contains(got.text(), want) || suspended != (typed == password) {
			t.Errorf("suspended, with %q: %d %s", typed, got.status, got.text())
		}
	}
	rosa.want(rosa.posts("/cooperative/invitations", "role", "biologist", "email", "Person2@example.org"), http.StatusUnprocessableEntity, "Person Two already has an account here with that address")
	rosa.posts(path + "/restore")
	if _, err := st.accounts.SignIn(context.Background(), "person2@example.org", password, account.Visit{Browser: "b"}); err != nil {
		t.Errorf("restored: %v", err)
	}
	own := "/cooperative/members/" + string(rosa.actor.Person)
	rosa.want(rosa.posts(own+"/suspend"), http.StatusConflict, "cannot suspend yourself")

	rosa.want(rosa.opens("/account/leave"), http.StatusOK, "You are the only coordinator")
	rosa.want(rosa.posts("/account/leave"), http.StatusUnprocessableEntity, "no coordinator left")
	heir := rosa.invites(access.Coordinator)
	rosa.want(rosa.opens("/account/leave"), http.StatusOK, "Person Three will run the cooperative without you")
	if got := rosa.posts("/account/leave"); got.status != http.StatusSeeOther || in(rosa) {
		t.Errorf("leaving: %d, still in %v", got.status, in(rosa))
	}
	heir.want(heir.opens("/cooperative/members"), http.StatusOK, "Person Two")
}

// The address changes once the new one's letters arrive, and the old one is told.
func TestAddressOnThePages(t *testing.T) {
	st, box, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	b.signsIn("person1@example.org", password)
	b.want(b.posts(b.opens("/account/address"), "/account/address", "email", "nonsense"), http.StatusUnprocessableEntity, "does not look like")
	b.posts(b.opens("/account/address"), "/account/address", "email", "rosa@example.org")
	link := regexp.MustCompile(home + `(/account/address/[0-9a-f]{64})`).FindStringSubmatch(box.Wait(t, 1).Text)
	if link == nil || box.Wait(t, 2).To != "person1@example.org" {
		t.Fatalf("letters: %+v", box.All())
	}
	page := b.opens(link[1])
	b.want(page, http.StatusOK, "From now on, sign in with rosa@example.org")
	if got := st.browser().opens(link[1]); got.status != http.StatusSeeOther {
		t.Errorf("the link without a sign-in: %d", got.status)
	}
	if got := b.posts(page, link[1]); got.status != http.StatusSeeOther {
		t.Fatalf("the button: %d %s", got.status, got.text())
	}
	b.want(b.opens("/account/address?changed=1"), http.StatusOK, "You sign in with rosa@example.org", "Your address is changed")
	b.want(b.opens(link[1]), http.StatusGone)
}

// TestLogTellsNoSecrets goes through the ways in and out, wrong and right, and reads the log (T32): no token, no password,
// no code, no address of a person.
func TestLogTellsNoSecrets(t *testing.T) {
	st, box, log := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	b := st.browser()
	b.signsIn("person1@example.org", "a wrong password")
	b.signsIn("nobody@example.org", "a wrong password")
	b.signsIn("person1@example.org", password)
	session := b.session()
	b.posts(b.opens("/sign-in/link"), "/sign-in/link", "email", "person1@example.org")
	link := regexp.MustCompile(`/sign-in/link/([0-9a-f]{64})`).FindStringSubmatch(box.Wait(t, 1).Text)
	wrong := postgres.NewToken()
	for _, path := range []string{link[0], "/sign-in/link/" + wrong, "/join/" + wrong, "/account/address/" + wrong, "/nothing/" + wrong, "/ranch/" + wrong} {
		b.opens(path)
		b.posts(b.opens("/about"), path)
		b.asks(httptest.NewRequest(http.MethodPost, path, nil)) // no word: refused, and logged
	}
	b.posts(b.opens("/about"), "/sign-in/passkey", "proof_passkey", `{"id":"junk"}`)
	b.posts(b.opens("/about"), "/sign-in/code", "code", "123456")
	said := log.String()
	if !strings.Contains(said, "request failed") {
		t.Fatalf("the log says nothing: %s", said)
	}
	for name, secret := range map[string]string{"session": session, "link": link[1], "token in a path": wrong, "password": password, "wrong password": "a wrong password",
		"address": "example.org", "code": "123456", "hash": "argon2id"} {
		if strings.Contains(said, secret) {
			t.Errorf("the log tells a %s: %s", name, secret)
		}
	}
}

// TestNoOracle asks for a ranch that is another's and for one that does not exist, and compares status, bytes and headers.
// What the database does for each is counted in TestT24Calls, and the time taken is compared in TestT24Timing.
func TestNoOracle(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine, theirs := rosa.adds("Cottonwood Draw", "Ada Marsh"), rosa.adds("Antelope Flat", "Bo Flat")
	ada, bo := rosa.invites(access.Landowner, mine), rosa.invites(access.Landowner, theirs)
	bo.kept(bo.sends([]sheet{{"nests.csv", plain}}))
	foreign, none := ada.opens("/ranch/"+string(theirs)), ada.opens("/ranch/3b241101-e2bb-4255-8caf-4136c566a962")
	if foreign.status != http.StatusNotFound || foreign.body != none.body {
		t.Errorf("status %d and %d; same bytes: %v", foreign.status, none.status, foreign.body == none.body)
	}
	if a, b := fmt.Sprint(foreign.header), fmt.Sprint(none.header); a != b {
		t.Errorf("headers differ:\n%s\n%s", a, b)
	}
}
