package pages_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/clerk"
	"tussock/internal/pages"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/words"
	"tussock/web"
)

// A stage is the whole application over a fresh database, for tests that read like a play: somebody opens a page,
// sends a sheet, and sees what comes back.
type stage struct {
	t        testing.TB
	db       *pgtest.Fixture
	app      *fiber.App
	accounts *account.Service
	people   int
}

// newStage has a database of its own.
func newStage(t testing.TB) *stage {
	t.Helper()
	return newStageOn(t, pgtest.New(t))
}

// sharedStage is newStage among other tests' cooperatives.
func sharedStage(t testing.TB) *stage {
	t.Helper()
	return newStageOn(t, pgtest.Shared(t))
}

func newStageOn(t testing.TB, f *pgtest.Fixture) *stage {
	t.Helper()
	st := &stage{t: t, db: f, accounts: account.New(f.DB, account.Options{})}
	app, err := pages.New(pages.Config{DB: f.DB, Account: st.accounts, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	st.app = app
	opensDesk(t, f)
	return st
}

// opensDesk has a clerk read what is sent until the test ends.
func opensDesk(t testing.TB, f *pgtest.Fixture) {
	t.Helper()
	book, err := words.Open(web.FS)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	desk := &clerk.Desk{DB: f.Clerk(t), Book: book, Now: time.Now, Log: slog.New(slog.DiscardHandler)}
	go func() { done <- desk.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// A member is somebody at a browser.
type member struct {
	*stage
	session string
	actor   access.Actor
	speaks  string // the language chosen; "" is what the browser asks for, nothing
}

// cooperative founds one and returns its first coordinator.
func (st *stage) cooperative(name string) *member {
	st.t.Helper()
	_, token, err := st.db.Owner.CreateCooperative(context.Background(), postgres.Cooperative{Name: name})
	if err != nil {
		st.t.Fatal(err)
	}
	return st.joins(token)
}

// joins takes an invitation up.
func (st *stage) joins(token string) *member {
	st.t.Helper()
	st.people++
	session, err := st.accounts.Accept(context.Background(), token, account.Acceptance{
		Name: "Person " + spelled(st.people), Email: fmt.Sprintf("person%d@example.org", st.people), Phone: fmt.Sprintf("555 01%02d", st.people),
		Password: "four plain words here"}, "a test")
	if err != nil {
		st.t.Fatal(err)
	}
	st.db.Confirm(st.t)
	m := &member{stage: st, session: session}
	m.wakes()
	return m
}

// wakes looks up again what the member may do.
func (m *member) wakes() {
	m.t.Helper()
	var err error
	if m.actor, err = m.db.DB.ActorOf(context.Background(), m.session); err != nil {
		m.t.Fatal(err)
	}
}

// invites makes an invitation and takes it up.
func (m *member) invites(role access.Role, ranches ...access.ID) *member {
	m.t.Helper()
	var token string
	m.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(role, "", "", ranches)
		return err
	})
	return m.joins(token)
}

// adds puts a ranch on the roster.
func (m *member) adds(name, owner string) (id access.ID) {
	m.t.Helper()
	m.does(func(tx *postgres.Tx) (err error) {
		id, err = tx.SaveRanch(postgres.Ranch{Name: name, Owner: owner})
		return err
	})
	return id
}

// does runs something in the store as the member.
func (m *member) does(fn func(*postgres.Tx) error) {
	m.t.Helper()
	if err := m.db.DB.As(context.Background(), m.actor, fn); err != nil {
		m.t.Fatal(err)
	}
}

// An answer is what the browser got.
type answer struct {
	status int
	header http.Header
	body   string
}

// text is the page's main part without its markup, white space folded.
func (a answer) text() string {
	body := a.body
	if i := strings.Index(body, "<main"); i >= 0 {
		body = body[i:strings.Index(body, "</main>")]
	}
	body = strings.NewReplacer("<bdi>", "", "</bdi>", "").Replace(body) // names, which stand in the sentence
	body = regexp.MustCompile(`(?s)<svg.*?</svg>|<script.*?</script>`).ReplaceAllString(body, " ")
	return strings.Join(strings.Fields(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(body, " "))), " ")
}

func (a answer) title() string {
	found := regexp.MustCompile(`(?s)<h1>(.*?)</h1>`).FindStringSubmatch(a.body)
	if found == nil {
		return ""
	}
	return html.UnescapeString(found[1])
}

func (m *member) asks(r *http.Request) answer {
	m.t.Helper()
	r.AddCookie(&http.Cookie{Name: "tussock", Value: m.session})
	if m.speaks != "" {
		r.AddCookie(&http.Cookie{Name: "language", Value: m.speaks})
	}
	resp, err := m.app.Test(r, -1)
	if err != nil {
		m.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		m.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Header, string(body)}
}

func (m *member) opens(path string) answer {
	m.t.Helper()
	return m.asks(httptest.NewRequest(http.MethodGet, path, nil))
}

// word is what a form must carry.
func (m *member) word() string {
	m.t.Helper()
	found := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindStringSubmatch(m.opens("/about").body)
	if found == nil {
		m.t.Fatal("no form word on the page")
	}
	return found[1]
}

// posts sends a form: pairs of field and value.
func (m *member) posts(path string, fields ...string) answer {
	m.t.Helper()
	return m.postsWith(m.word(), path, fields...)
}

// postsWith sends a form with the word of a page that was opened before.
func (m *member) postsWith(word, path string, fields ...string) answer {
	m.t.Helper()
	form := url.Values{"csrf": {word}}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return m.asks(r)
}

// A sheet is a file on the member's desk.
type sheet struct{ name, data string }

// sends sends sheets with the form of /send: pairs of field and value beside them.
func (m *member) sends(sheets []sheet, fields ...string) answer {
	m.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	fields = append(fields, "csrf", m.word())
	for i := 0; i+1 < len(fields); i += 2 {
		if err := w.WriteField(fields[i], fields[i+1]); err != nil {
			m.t.Fatal(err)
		}
	}
	for _, s := range sheets {
		part, err := w.CreateFormFile("file", s.name)
		if err != nil {
			m.t.Fatal(err)
		}
		if _, err := io.WriteString(part, s.data); err != nil {
			m.t.Fatal(err)
		}
	}
	if err := errors.Join(w.Close()); err != nil {
		m.t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, "/send", &b)
	r.Header.Set("Content-Type", w.FormDataContentType())
	return m.asks(r)
}

// kept follows to the page of the sheet just sent.
func (m *member) kept(a answer) (id access.ID, page answer) {
	m.t.Helper()
	id = m.filed(a)
	to := a.header.Get("Location")
	for end := time.Now().Add(time.Minute); ; time.Sleep(10 * time.Millisecond) {
		if page = m.opens(to); !strings.Contains(page.body, `http-equiv="refresh"`) {
			break
		}
		if time.Now().After(end) {
			m.t.Fatal("nobody has read the sheet within a minute")
		}
	}
	if page.status != http.StatusOK {
		m.t.Fatalf("%s gave %d: %s", to, page.status, page.text())
	}
	return id, page
}

// filed returns the id of a sheet that was sent, read or not.
func (m *member) filed(a answer) access.ID {
	m.t.Helper()
	to := a.header.Get("Location")
	if a.status != http.StatusSeeOther || !strings.HasPrefix(to, "/uploads/") {
		m.t.Fatalf("sending gave %d %q: %s", a.status, to, a.text())
	}
	return access.ID(strings.TrimPrefix(strings.Split(to, "?")[0], "/uploads/"))
}

// want fails where the page does not say a sentence.
func (m *member) want(a answer, status int, sentences ...string) {
	m.t.Helper()
	if a.status != status {
		m.t.Errorf("status = %d, want %d: %s", a.status, status, a.text())
	}
	for _, s := range sentences {
		if !strings.Contains(a.text(), s) {
			m.t.Errorf("the page does not say %q: %s", s, a.text())
		}
	}
}

// spelled is a number as a word: no person's name has digits.
func spelled(n int) string {
	if n >= 100 {
		return spelled(n/100) + "hundred" + strings.ToLower(spelled(n%100))
	}
	words := strings.Fields("Zero One Two Three Four Five Six Seven Eight Nine Ten Eleven Twelve Thirteen Fourteen Fifteen Sixteen Seventeen Eighteen Nineteen")
	if n < len(words) {
		return words[n]
	}
	word := strings.Fields("Twenty Thirty Forty Fifty Sixty Seventy Eighty Ninety")[n/10-2]
	if n%10 > 0 {
		word += strings.ToLower(words[n%10])
	}
	return word
}
