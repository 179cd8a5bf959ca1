package pages_test

import (
	"context"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/pquerna/otp/totp"

	"tussock/internal/access"
	"tussock/internal/mail/mailtest"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	fieldseason "tussock/internal/season"
	"tussock/internal/survey"
)

// TestT41NothingToSteal watches the database over members' shoulders, as the pages' role and with more than it has: it may read
// the statements of all roles, what is kept of them, and the log of a server that writes down bound values too. No secret is
// in the views, and nothing of all that was seen opens a session, a transaction or a page.
func TestT41NothingToSteal(t *testing.T) {
	f, log := pgtest.Watched(t)
	st, box, _ := postedStageOn(t, f)
	spy := watch(t, f)
	p := &play{stage: st, secrets: map[string]string{}}
	p.act(t, box)
	views := spy.ends()
	written, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	if len(views) < 50 || !strings.Contains(string(written), "parameters: $1 = '") {
		t.Fatalf("the watch saw %d statements and a log of %d bytes", len(views), len(written))
	}
	texts := strings.Join(views, "\n")
	for kind, secret := range p.everySecret(t) {
		for form, said := range map[string]string{"": secret, " in base64": base64.StdEncoding.EncodeToString([]byte(secret))} {
			if strings.Contains(texts, said) {
				t.Errorf("the database's views tell the %s%s", kind, form)
			}
		}
		// With what is kept of a key, a proof in the log could be uncovered.
		if opens := regexp.MustCompile(`^(session|api_token|field_session)\.token_hash`); opens.MatchString(kind) && strings.Contains(string(written), secret) {
			t.Errorf("the database's log tells the %s", kind)
		}
	}
	for kind, secret := range p.secrets {
		// A challenge opens nothing without the passkey that it is put to.
		if kind != "passkey's challenge" && strings.Contains(string(written), secret) {
			t.Errorf("the database's log tells the %s", kind)
		}
	}
	thief := newThief(t, p)
	if opened := thief.tries(p.session()); len(opened) == 0 {
		t.Fatal("this attack would not notice a real session")
	}
	found := candidates(texts + string(written))
	for _, c := range found {
		if opened := thief.tries(c); len(opened) > 0 {
			t.Errorf("something seen, %.9s…, opens %s", c, strings.Join(opened, ", "))
		}
	}
	t.Logf("%d statements seen, %d kB of log, %d things tried", len(views), len(written)>>10, len(found))
}

// TestPagesThroughPgBouncer: every page of every role opens where the database is reached through PgBouncer's transaction pooling.
func TestPagesThroughPgBouncer(t *testing.T) {
	f := pgtest.New(t)
	f.DB, _ = f.Pooled(t)
	w := newWorldOn(t, f)
	for _, role := range access.Roles {
		paths, _ := w.members[role].walks() // which fails where a page is a fault of ours
		t.Logf("%s: %d pages", role, len(paths))
	}
}

// A spy polls the database's views until it is told to end.
type spy struct {
	stop chan struct{}
	done chan []string
}

func watch(t *testing.T, f *pgtest.Fixture) *spy {
	t.Helper()
	ctx := context.Background()
	admin, err := pgx.Connect(ctx, f.AdminURL)
	if err != nil {
		t.Fatal(err)
	}
	defer admin.Close(ctx)
	// More than the pages' role has: so the test would see what a slip in those rights lets out.
	for _, statement := range []string{"GRANT pg_read_all_stats TO tussock_app", "GRANT EXECUTE ON ALL FUNCTIONS IN SCHEMA pg_catalog TO tussock_app", "GRANT SELECT ON ALL TABLES IN SCHEMA pg_catalog TO tussock_app"} {
		if _, err := admin.Exec(ctx, statement); err != nil {
			t.Fatal(err)
		}
	}
	conn, err := pgx.Connect(ctx, f.AppURL)
	if err != nil {
		t.Fatal(err)
	}
	s := &spy{make(chan struct{}), make(chan []string, 1)}
	go func() {
		defer conn.Close(ctx)
		seen := map[string]bool{}
		look := func(query string) {
			rows, err := conn.Query(ctx, query, pgx.QueryExecModeSimpleProtocol)
			if err != nil {
				t.Error(err)
				return
			}
			list, err := pgx.CollectRows(rows, pgx.RowTo[string])
			if err != nil {
				t.Error(err)
			}
			for _, text := range list {
				seen[text] = true
			}
		}
		for going := true; going; {
			select {
			case <-s.stop:
				going = false
			case <-time.After(2 * time.Millisecond):
			}
			look("SELECT coalesce(query, '') FROM pg_stat_activity WHERE pid <> pg_backend_pid()")
		}
		look("SELECT query FROM public.pg_stat_statements WHERE query !~ 'pg_stat_'")
		look("SELECT coalesce(x::text, '') FROM pg_locks x")
		look("SELECT coalesce(x::text, '') FROM pg_stat_activity x WHERE pid <> pg_backend_pid()")
		s.done <- slices.Collect(maps.Keys(seen))
	}()
	return s
}

func (s *spy) ends() []string {
	close(s.stop)
	return <-s.done
}

// A play is what members do with every kind of secret, and the secrets.
type play struct {
	*stage
	ada     *browser
	secrets map[string]string
}

func (p *play) session() string { return p.ada.session() }

// act has members sign in by every way, look at pages, and make and use every kind of link and token.
func (p *play) act(t *testing.T, box *mailtest.Box) {
	t.Helper()
	keep := func(kind, pattern, in string) string {
		t.Helper()
		found := regexp.MustCompile(pattern).FindStringSubmatch(in)
		if found == nil {
			t.Fatalf("no %s in %.2000s", kind, in)
		}
		p.secrets[kind] = strings.ReplaceAll(found[1], " ", "")
		return found[1]
	}
	rosa := p.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	p.secrets["first session"] = rosa.session
	rosa.does(func(tx *postgres.Tx) (err error) {
		p.secrets["invitation"], err = tx.Invite(access.Landowner, "Ada", "ada@example.org", []access.ID{ranch})
		return err
	})
	b := p.browser()
	if got := b.posts(b.opens("/join/"+p.secrets["invitation"]), "/join/"+p.secrets["invitation"], "name", "Ada Marsh", "password", password); got.status != http.StatusSeeOther {
		t.Fatalf("joining: %d %s", got.status, got.text())
	}
	p.db.Confirm(t)
	p.secrets["session of the one who joined"], p.secrets["password"] = b.session(), password

	// A password and a letter's code.
	p.ada = p.browser()
	p.ada.triesPassword("ada@example.org", password)
	page := p.ada.opens("/sign-in/letter")
	code := keep("letter's code", `(\d{4} \d{4})`, box.Wait(t, 1).Text)
	p.ada.posts(page, "/sign-in/letter", "code", code)
	p.secrets["session"], p.secrets["device"] = p.ada.session(), p.ada.jar["__Host-tussock-device"].Value
	for _, path := range []string{"/", "/ranch/" + string(ranch), "/region", "/account", "/who", "/files", "/plan/" + string(ranch)} {
		p.ada.opens(path)
	}
	form := p.ada.opens("/account")

	// A program, a calendar, a phone in the field.
	made := p.ada.posts(form, "/tokens", "name", "R in the office", "days", "30")
	token := keep("token", `value="tussock_([0-9a-f]{64})"`, made.body)
	if got := p.calls("tussock_"+token, http.MethodGet, "/api/v1/ranches"); got.status != http.StatusOK {
		t.Fatalf("the token: %d %s", got.status, got.body)
	}
	feed := keep("calendar", `/calendar/([0-9a-f]{64})`, p.ada.posts(form, "/plan/calendar", "named", "yes").body)
	p.browser().opens("/calendar/" + feed + ".ics")
	today, year := survey.DateFrom(time.Now()), time.Now().Year()
	actor, err := p.db.DB.ActorOf(t.Context(), p.ada.session())
	if err != nil {
		t.Fatal(err)
	}
	var lines []fieldseason.Line
	p.db.As(t, actor, func(tx *postgres.Tx) (err error) {
		plan := fieldseason.Plan{Ranch: ranch, Season: year, Purpose: fieldseason.Trend, Lines: 1, Stops: 4, First: 14, Last: 28, SetOn: today}
		if err := tx.SaveLines(ranch, year, plan, []fieldseason.Line{{Ranch: ranch, Season: year, Name: "1", Stops: 4, SetOn: today}}); err != nil {
			return err
		}
		lines, err = tx.Lines(ranch, year)
		return err
	})
	link := keep("field link", `/field/open/([0-9a-f]{64})`, p.ada.posts(form, "/field/links", "ranch", string(ranch), "name", "Lupe", "line", string(lines[0].ID), "from", today.String(), "through", (today+30).String()).body)
	phone := p.browser()
	phone.posts(phone.opens("/field/open/"+link), "/field/open/"+link)
	if got := phone.opens("/field/pack"); got.status != http.StatusOK {
		t.Fatalf("the field link: %d %s", got.status, got.text())
	}
	p.secrets["field session"] = phone.jar["__Host-tussock-field"].Value

	// A forgotten password: a letter's link and the coordinator's code; then a new password.
	lost := p.browser()
	lost.posts(lost.opens("/sign-in/link"), "/sign-in/link", "email", "ada@example.org")
	path := home + "/sign-in/link/"
	mailed := keep("letter's link", path+`([0-9a-f]{64})`, box.Wait(t, 2).Text)
	lost.posts(lost.opens("/sign-in/link/"+mailed), "/sign-in/link/"+mailed)
	office := p.browser()
	office.signsIn("person1@example.org", password)
	helped := keep("coordinator's code", `(\d{4} \d{4} \d{4})`, office.posts(office.opens("/cooperative/members"), "/cooperative/members/"+string(actor.Person)+"/help").body)
	if got := lost.posts(lost.opens("/sign-in/letter"), "/sign-in/letter", "password", "", "code", helped); got.status != http.StatusSeeOther {
		t.Fatalf("by link and code: %d %s", got.status, got.text())
	}
	p.secrets["session of the one who forgot"], p.secrets["new password"] = lost.session(), "grama under late snow"
	lost.posts(lost.opens("/account"), "/account/password", "old", "", "new", p.secrets["new password"])
	box.Wait(t, 3)

	// An address, one-time codes, a passkey.
	p.ada = lost
	form = lost.opens("/account")
	lost.posts(form, "/account/address", "email", "ada.marsh@example.org")
	keep("address link", `/account/address/([0-9a-f]{64})`, p.letterTo(t, box, "ada.marsh@example.org"))
	secret := keep("secret of one-time codes", `<code>([A-Z2-7 ]{39})</code>`, lost.posts(form, "/account/codes").body)
	once, err := totp.GenerateCode(strings.ReplaceAll(secret, " ", ""), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	keep("recovery code", `<code>([a-z2-7-]{19})</code>`, lost.posts(form, "/account/codes/confirm", "code", once).body)
	new := p.browser()
	keep("passkey's challenge", `"challenge":"([^"]{22,})"`, new.posts(new.opens("/sign-in"), "/sign-in/passkey/ask").body)
	lost.opens("/ranch/" + string(ranch))
}

// letterTo waits for the first letter to an address.
func (p *play) letterTo(t *testing.T, box *mailtest.Box, to string) string {
	t.Helper()
	for n := 1; ; n++ {
		if l := box.Wait(t, n); l.To == to {
			return l.Text
		}
	}
}

// everySecret is what members hold, and what the database keeps of it: hashes, sealed secrets, hashes of passwords.
func (p *play) everySecret(t *testing.T) map[string]string {
	t.Helper()
	all := maps.Clone(p.secrets)
	columns, err := p.db.Owner.Text(t.Context(), `SELECT string_agg(format('SELECT %L || row_number() OVER () AS k, %s AS v FROM %I.%I', table_name || '.' || column_name || ' ',
			CASE data_type WHEN 'bytea' THEN format('encode(%I, ''hex'')', column_name) ELSE quote_ident(column_name) END, table_schema, table_name), ' UNION ALL ')
		FROM information_schema.columns WHERE table_schema = 'tussock' AND (data_type = 'bytea' AND column_name ~ 'hash|secret' AND table_name <> 'upload_file' OR column_name IN ('password_hash', 'salt'))`)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := p.db.Owner.Text(t.Context(), "SELECT string_agg(k || E'\t' || v, E'\n') FROM ("+columns+") x")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(kept, "\n") {
		kind, value, _ := strings.Cut(line, "\t")
		all[kind] = value
	}
	if len(all) < len(p.secrets)+12 {
		t.Fatalf("the database keeps only %v", slices.Sorted(maps.Keys(all)))
	}
	return all
}

// candidates are the things in a text that could be secrets: what is long enough and looks random.
func candidates(text string) []string {
	set := map[string]bool{}
	for _, run := range regexp.MustCompile(`[0-9a-f]{32,}`).FindAllString(text, -1) {
		set[run] = true
		for i := 0; i+64 <= len(run); i += 64 {
			set[run[i:i+64]] = true
		}
	}
	for _, run := range regexp.MustCompile(`[A-Za-z0-9_+/-]{43,}={0,2}`).FindAllString(text, -1) {
		if b, err := base64.RawURLEncoding.DecodeString(run[:43]); err == nil && len(b) == 32 {
			set[hex.EncodeToString(b)] = true
		}
	}
	return slices.Sorted(maps.Keys(set))
}

// A thief has what was seen, the pages, and statements of their own as the pages' role.
type thief struct {
	t        *testing.T
	uses     map[string]func(string) answer
	nothing  map[string][]string // what each use answers to a secret of nobody's, and to what cannot be one
	conn     *pgx.Conn
	settings []string // by which the database is told who looks
}

func newThief(t *testing.T, p *play) *thief {
	t.Helper()
	ctx := context.Background()
	cookie := func(name, path string) func(string) answer {
		return func(secret string) answer {
			b := p.browser()
			b.jar[name] = &http.Cookie{Name: name, Value: secret}
			return b.opens(path)
		}
	}
	path := func(before, after string) func(string) answer {
		return func(secret string) answer { return p.browser().opens(before + url.PathEscape(secret) + after) }
	}
	th := &thief{t: t, nothing: map[string][]string{}, uses: map[string]func(string) answer{
		"a session": cookie("__Host-tussock", "/account"), "a field session": cookie("__Host-tussock-field", "/field/pack"),
		"the interface": func(secret string) answer { return p.calls("tussock_"+secret, http.MethodGet, "/api/v1/ranches") },
		"a calendar":    path("/calendar/", ".ics"), "a field link": path("/field/open/", ""), "an invitation": path("/join/", ""), "a letter's link": path("/sign-in/link/", ""),
		"a new address": func(secret string) answer {
			return p.ada.asks(httptest.NewRequest(http.MethodGet, "/account/address/"+url.PathEscape(secret), nil))
		},
	}}
	for name, use := range th.uses {
		for _, none := range []string{postgres.NewToken(), "no-secret"} {
			th.nothing[name] = append(th.nothing[name], stripped(use(none), none))
		}
	}
	var err error
	if th.conn, err = pgx.Connect(ctx, p.db.AppURL); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { th.conn.Close(ctx) })
	source, err := p.db.Owner.Text(ctx, "SELECT string_agg(prosrc, '') FROM pg_proc WHERE pronamespace = 'tussock'::regnamespace")
	if err != nil {
		t.Fatal(err)
	}
	for _, found := range regexp.MustCompile(`current_setting\('(tussock\.\w+)'`).FindAllStringSubmatch(source, -1) {
		if !slices.Contains(th.settings, found[1]) {
			th.settings = append(th.settings, found[1])
		}
	}
	if len(th.settings) == 0 {
		t.Fatal("no setting tells who looks")
	}
	return th
}

func stripped(a answer, secret string) string {
	word := regexp.MustCompile(`[0-9a-f]{64}|\d{4}-\d\d-\d\dT[0-9:.]+Z`)
	return fmt.Sprint(a.status, word.ReplaceAllString(strings.ReplaceAll(a.body+a.header.Get("Location"), secret, ""), ""))
}

// tries returns what a thing opens.
func (th *thief) tries(thing string) (opened []string) {
	th.t.Helper()
	for name, use := range th.uses {
		if !slices.Contains(th.nothing[name], stripped(use(thing), thing)) {
			opened = append(opened, name)
		}
	}
	ctx := context.Background()
	for _, mode := range []pgx.TxAccessMode{pgx.ReadOnly, pgx.ReadWrite} {
		tx, err := th.conn.BeginTx(ctx, pgx.TxOptions{AccessMode: mode})
		if err != nil {
			th.t.Fatal(err)
		}
		var somebody bool
		_, err = tx.Exec(ctx, "SELECT pg_current_xact_id()")
		for _, setting := range th.settings {
			if err == nil {
				_, err = tx.Exec(ctx, "SELECT set_config($1, $2, true)", setting, thing)
			}
		}
		if err == nil {
			err = tx.QueryRow(ctx, "SELECT tussock.my_coop() IS NOT NULL OR EXISTS (SELECT 1 FROM tussock.field_viewer())").Scan(&somebody)
		}
		if err != nil {
			th.t.Fatal(err)
		}
		if somebody {
			opened = append(opened, "a transaction ("+string(mode)+")")
		}
		tx.Rollback(ctx)
	}
	return opened
}
