package pages_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/mail"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// from sends a sign-in from an address, as a proxy that is believed says it.
func (b *browser) from(ip, email, password string) answer {
	b.t.Helper()
	form := url.Values{"csrf": {wordOn(b.opens("/sign-in"))}, "email": {email}, "password": {password}, "next": {"/account"}}
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Real-IP", ip)
	return b.asks(r)
}

// TestNameUnderAttack: while somebody guesses at a member's password from many places at once, without end, the member comes
// in: from their own browser even out of the same place, from a new one elsewhere, and by a link where they ask for one.
// (OWASP ASVS 5.0, 6.3.1)
func TestNameUnderAttack(t *testing.T) {
	st, box, _ := newPostedStage(t)
	st.cooperative("Sandhill Grass")
	post, err := mail.Open(box.URL, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(post.Close)
	st.accounts = account.New(st.db.DB, account.Options{URL: home, Mail: post})
	if st.app, err = pages.New(pages.Config{DB: st.db.DB, Account: st.accounts, URL: home, TrustedProxies: []string{"0.0.0.0"}}); err != nil {
		t.Fatal(err)
	}
	const name = "person1@example.org"
	over := make(chan struct{})
	var attack sync.WaitGroup
	for i := range 4 {
		attack.Go(func() {
			b := st.browser()
			for {
				select {
				case <-over:
					return
				default:
				}
				got := b.from("192.0.2."+string(rune('1'+i%2)), name, "grama under late snow")
				if got.status != http.StatusUnauthorized && got.status != http.StatusServiceUnavailable {
					t.Errorf("a guess: %d", got.status)
					return
				}
				b.posts(b.opens("/sign-in/link"), "/sign-in/link", "email", name)
			}
		})
	}
	time.Sleep(2 * time.Second) // until guesses line up

	own := st.browser()
	own.isKnownTo(name)
	if got := own.from("192.0.2.1", name, password); got.status != http.StatusSeeOther || own.session() == "" {
		t.Errorf("the member's own browser, out of the attacker's place: %d %s", got.status, got.text())
	}
	letters := len(box.All())
	newer := st.browser()
	if got := newer.from("198.51.100.7", name, password); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in/letter") {
		t.Errorf("a new browser elsewhere: %d %s", got.status, got.text())
	}
	box.Wait(t, letters+1) // the letter with the code
	own = st.browser()
	own.isKnownTo(name)
	own.posts(own.opens("/sign-in/link"), "/sign-in/link", "email", name)
	if got := box.Wait(t, letters+2); !strings.Contains(got.Text, "/sign-in/link/") {
		t.Errorf("the letter that was asked for is %q", got.Subject)
	}
	close(over)
	attack.Wait()
}

// TestFieldsOfTheBody: what stands in an address is no field of a form: no link fills one in, or takes the place of what was
// typed, and no form's word is good there.
func TestFieldsOfTheBody(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	send := func(path, body string) answer {
		r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		return ada.asks(r)
	}
	if got := send("/who/"+string(mine)+"?level=1&csrf="+ada.word(), ""); got.status != http.StatusForbidden {
		t.Errorf("the form's word in the address: %d", got.status)
	}
	if got := send("/who/"+string(mine)+"?level=0", "level=1&csrf="+ada.word()); got.status != http.StatusSeeOther {
		t.Errorf("a field in both: %d %s", got.status, got.text())
	}
	ada.does(func(tx *postgres.Tx) error {
		r, err := tx.Ranch(mine)
		if r.Consent != 1 {
			t.Errorf("the address had its way: %d", r.Consent)
		}
		return err
	})
}

// TestJoiningEndsTheSessionBefore: whoever takes up an invitation in a browser where somebody was signed in ends that.
// (OWASP ASVS 5.0, 7.2.4)
func TestJoiningEndsTheSessionBefore(t *testing.T) {
	st, box, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var token string
	rosa.does(func(tx *postgres.Tx) (err error) { token, err = tx.Invite(access.Biologist, "", "", nil); return err })
	b := st.browser()
	b.signsIn("person1@example.org", password)
	before := b.session()
	b.posts(b.opens("/join/"+token), "/join/"+token, "name", "Ada Marsh", "email", "ada@example.org", "password", password)
	letter := joinLetter(t, box.Wait(t, 1).Text)
	if got := b.posts(b.opens(letter), letter); got.status != http.StatusSeeOther || b.session() == before {
		t.Fatalf("joining: %d %s", got.status, got.text())
	}
	old := st.browser()
	old.jar["__Host-tussock"] = &http.Cookie{Name: "__Host-tussock", Value: before}
	if got := old.opens("/account"); got.status != http.StatusSeeOther {
		t.Errorf("the session from before lives on: %d", got.status)
	}
}

// joinLetter is the path in a letter by which somebody finishes joining.
func joinLetter(t *testing.T, text string) string {
	t.Helper()
	link := regexp.MustCompile(home + `(/join/[0-9a-f]{64}/[0-9a-f]{64})`).FindStringSubmatch(text)
	if link == nil {
		t.Fatalf("no link in %q", text)
	}
	return link[1]
}

// TestJoiningTellsOfNobody: where letters can be sent, whoever has an invitation's link is answered the same for an address that signs in already and
// for one that does not; the letter's link tells its reader, is good once, and the invitation's link stays.
func TestJoiningTellsOfNobody(t *testing.T) {
	st, box, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	var token string
	rosa.does(func(tx *postgres.Tx) (err error) { token, err = tx.Invite(access.Biologist, "", "", nil); return err })
	path := "/join/" + token
	b := st.browser()
	var answers, letters []string
	for i, email := range []string{"person1@example.org", "nobody1@example.org"} {
		got := b.posts(b.opens(path), path, "name", "Ruth Bell", "email", email, "password", password)
		b.want(got, http.StatusOK, "We have written to "+email)
		answers = append(answers, strings.ReplaceAll(strings.ReplaceAll(got.body, email, ""), wordOn(got), ""))
		letter := box.Wait(t, i+1)
		if letter.To != email || b.session() != "" {
			t.Fatalf("a letter to %q, session %q", letter.To, b.session())
		}
		letters = append(letters, joinLetter(t, letter.Text))
	}
	if answers[0] != answers[1] {
		t.Error("the answer tells who signs in")
	}
	b.want(b.posts(b.opens(letters[0]), letters[0]), http.StatusConflict, "already signs in with that e-mail address")
	if got := b.posts(b.opens(letters[1]), letters[1]); got.status != http.StatusSeeOther || b.session() == "" {
		t.Fatalf("the letter: %d %s", got.status, got.text())
	}
	if got := st.browser().opens(letters[1]); got.status != http.StatusGone {
		t.Errorf("the letter again: %d", got.status)
	}
	if got := st.browser().opens(path + "/" + postgres.NewToken()); got.status == http.StatusOK {
		t.Errorf("somebody else's letter opens")
	}
}

// TestSecretsAreOfOneKind: a secret opens what it was made for and nothing else: where another kind of secret is asked for, it
// is as good as one of nobody's.
func TestSecretsAreOfOneKind(t *testing.T) {
	w := newWorld(t)
	ada := w.members[access.Landowner]
	nobody := &member{stage: w.stage}
	today := survey.DateFrom(time.Now())
	line, err := w.db.Owner.Text(t.Context(), "SELECT id::text FROM tussock.season_line WHERE ranch_id = $1", w.mine)
	if err != nil {
		t.Fatal(err)
	}
	secrets := map[string]string{"session": ada.session, "token": strings.TrimPrefix(ada.token(), "tussock_"), "device": postgres.NewToken(), "visitor": strings.Repeat("ab", 32)}
	ada.does(func(tx *postgres.Tx) (err error) {
		if secrets["calendar"], err = tx.MakeFeed(true, words.English); err == nil {
			secrets["field link"], err = tx.MakeFieldLink(postgres.FieldLink{Ranch: w.mine, Name: "Lupe", Lines: []access.ID{access.ID(line)}, From: today, Through: today + 9})
		}
		return err
	})
	w.members[access.Coordinator].does(func(tx *postgres.Tx) (err error) {
		secrets["invitation"], err = tx.Invite(access.Coordinator, "", "", nil)
		return err
	})
	secrets["mail link"], secrets["address link"] = postgres.NewToken(), postgres.NewToken()
	for key, kind := range map[string]string{"link ": "mail link", "address ": "address link"} {
		if err := w.db.DB.OpenStep(t.Context(), key+secrets[kind], postgres.Step{Coop: ada.actor.Coop, Person: ada.actor.Person, Data: []byte(`{"email": "new@example.org"}`)}, time.Hour); err != nil {
			t.Fatal(err)
		}
	}
	if secrets["field session"], err = w.db.DB.OpenField(t.Context(), secrets["field link"], "phone"); err != nil {
		t.Fatal(err)
	}
	if err := w.db.DB.TrustDevice(t.Context(), ada.actor.Coop, ada.actor.Person, secrets["device"], "phone", time.Hour); err != nil {
		t.Fatal(err)
	}
	cookie := func(name, path string) func(string) answer {
		return func(secret string) answer {
			r := httptest.NewRequest(http.MethodGet, path, nil)
			r.AddCookie(&http.Cookie{Name: name, Value: secret})
			return nobody.asks(r)
		}
	}
	path := func(m *member, before, after string) func(string) answer {
		return func(secret string) answer { return m.opens(before + secret + after) }
	}
	uses := map[string][]func(string) answer{
		"session":       {cookie("tussock", "/ranch/"+string(w.mine)), cookie("tussock", "/account")},
		"field session": {cookie("tussock-field", "/field/pack"), cookie("tussock-field", "/field/hello")},
		"token":         {func(secret string) answer { return w.calls("tussock_"+secret, http.MethodGet, "/api/v1/ranches") }},
		"calendar":      {path(nobody, "/calendar/", ".ics")},
		"field link":    {path(nobody, "/field/open/", "")},
		"invitation":    {path(nobody, "/join/", "")},
		"mail link":     {path(nobody, "/sign-in/link/", "")},
		"address link":  {path(ada, "/account/address/", "")},
	}
	stripped := func(a answer, secret string) string {
		word := regexp.MustCompile(`[0-9a-f]{64}|\d{4}-\d\d-\d\dT[0-9:.]+Z`)
		return fmt.Sprint(a.status, word.ReplaceAllString(strings.ReplaceAll(a.body+a.header.Get("Location"), secret, ""), ""))
	}
	for kind, list := range uses {
		for i, use := range list {
			none := postgres.NewToken()
			want := stripped(use(none), none)
			for of, secret := range secrets {
				if got := stripped(use(secret), secret); (got != want) != (of == kind) {
					t.Errorf("where a %s is asked for (%d), a %s gives %.300s; one of nobody’s %.100s", kind, i+1, of, got, want)
				}
			}
		}
	}
}

// TestLinksNameUs: a link that a page makes for somebody else begins with the address we were told, whatever the request says
// that we are called.
func TestLinksNameUs(t *testing.T) {
	for _, tt := range []struct{ url, want string }{{home, home}, {"", "http://127.0.0.1:8080"}} {
		st := sharedStage(t)
		rosa := st.cooperative("Sandhill Grass")
		ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
		ada := rosa.invites(access.Landowner, ranch)
		app, err := pages.New(pages.Config{DB: st.db.DB, Account: st.accounts, URL: tt.url, TrustedProxies: []string{"0.0.0.0"}})
		if err != nil {
			t.Fatal(err)
		}
		st.app = app
		cookie := "tussock"
		if strings.HasPrefix(tt.url, "https") {
			cookie = "__Host-tussock"
		}
		asks := func(m *member, method, path string, fields url.Values) answer {
			r := httptest.NewRequest(method, path, strings.NewReader(fields.Encode()))
			r.Host = "thief.example"
			r.Header.Set("X-Forwarded-Host", "thief.example")
			r.Header.Set("X-Forwarded-Proto", "ftp")
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.AddCookie(&http.Cookie{Name: cookie, Value: m.session})
			return m.asks(r)
		}
		word := func(m *member) string { return wordOn(asks(m, http.MethodGet, "/account", nil)) }
		invited := asks(rosa, http.MethodPost, "/cooperative/invitations", url.Values{"csrf": {word(rosa)}, "role": {"biologist"}, "email": {"ruth@example.org"}})
		feed := asks(ada, http.MethodPost, "/plan/calendar", url.Values{"csrf": {word(ada)}, "named": {"yes"}})
		tokens := asks(ada, http.MethodGet, "/tokens", nil)
		for name, got := range map[string]struct{ body, link string }{
			"the invitation": {invited.body, tt.want + "/join/"}, "the calendar": {feed.body, tt.want + "/calendar/"}, "the example for programs": {tokens.body, tt.want + "/api/v1/"},
		} {
			if !strings.Contains(got.body, got.link) {
				t.Errorf("%s does not begin with %s", name, got.link)
			}
			if strings.Contains(got.body, "thief.example") {
				t.Errorf("the page with %s says what the request called us", name)
			}
		}
	}
}
