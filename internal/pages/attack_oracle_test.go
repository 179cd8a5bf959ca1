package pages_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/pages"
	"tussock/internal/postgres"
)

// A wire lies between the pages and the database and counts what passes.
type wire struct {
	asked, told atomic.Int64 // bytes
	url         string
}

// newWire listens in a folder of its own and passes everything on to the database at address.
func newWire(t *testing.T, address string) *wire {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	name := ".s.PGSQL.5432"
	if q.Get("port") != "" {
		name = ".s.PGSQL." + q.Get("port")
	}
	behind := filepath.Join(q.Get("host"), name)
	if _, err := os.Stat(behind); err != nil {
		t.Skip("the database is not on a socket of this machine")
	}
	dir, err := os.MkdirTemp("", "wire") // shorter than t.TempDir: a socket's path may have 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	ln, err := net.Listen("unix", filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ln.Close() })
	w := &wire{}
	go func() {
		for {
			front, err := ln.Accept()
			if err != nil {
				return
			}
			back, err := net.Dial("unix", behind)
			if err != nil {
				front.Close()
				return
			}
			pass := func(to, from net.Conn, n *atomic.Int64) {
				io.Copy(io.MultiWriter(counter{n}, to), from) // counted first: whoever is answered may be asked for the sum at once
				to.Close()
				from.Close()
			}
			go pass(back, front, &w.asked)
			go pass(front, back, &w.told)
		}
	}()
	q.Set("host", dir)
	u.RawQuery = q.Encode()
	w.url = u.String()
	return w
}

type counter struct{ n *atomic.Int64 }

func (c counter) Write(p []byte) (int, error) {
	c.n.Add(int64(len(p)))
	return len(p), nil
}

// TestT24Wire: for something of somebody else's the pages ask the database for the same, to the byte, as for something
// that does not exist, and hear the same: what takes the same work cannot be told apart by its time. Unlike a clock,
// this cannot be wrong by chance; TestT24Timing holds a clock to it as well.
func TestT24Wire(t *testing.T) {
	w := newWorld(t)
	wired := newWire(t, w.db.AppURL)
	db, err := postgres.OpenOne(t.Context(), wired.url, w.db.DoorURL)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if w.app, err = pages.NewUnpaced(pages.Config{DB: db, Account: account.New(db, account.Options{}), Now: time.Now}); err != nil {
		t.Fatal(err)
	}
	ada := w.members[access.Landowner]
	foreign := someOf(t, w.far())
	foreign = append(foreign, someOf(t, w.near())...)
	for _, route := range pages.Table() {
		if route[0] != http.MethodGet || at(route[1], nobodys) == at(route[1], "") || ada.opens(at(route[1], nobodys)).status == http.StatusForbidden {
			continue
		}
		weigh := func(id string) [2]int64 {
			asked, told := wired.asked.Load(), wired.told.Load()
			ada.opens(at(route[1], id))
			return [2]int64{wired.asked.Load() - asked, wired.told.Load() - told}
		}
		weigh(nobodys)               // statements are prepared the first time
		usual := map[[2]int64]bool{} // a note that is written now and then, such as of a visit, may come between
		for range 5 {
			usual[weigh(nobodys)] = true
		}
		if usual[[2]int64{}] {
			t.Fatalf("%s did not ask the database", route[1])
		}
		for _, id := range foreign {
			got := weigh(id)
			for range 5 {
				if usual[got] {
					break
				}
				got = weigh(id)
			}
			if !usual[got] {
				t.Errorf("%s with a %s: %v bytes to and from the database; with nothing %v", route[1], table(w.far(), w.near(), id), got, usual)
			}
		}
	}
}

// TestT24Calls: for something of somebody else's the database calls its own functions, which tell policies who asks, as
// often as for something that does not exist. They are what most of an answer's time goes into, and a policy may call them
// only once a row is found. PostgreSQL counts them for each connection and adds them up when it ends.
func TestT24Calls(t *testing.T) {
	w := newWorld(t)
	w.db.CountCalls(t)
	open := w.connections()
	for _, role := range access.Roles {
		m := w.members[role]
		ids := someOf(t, w.near())
		if role == access.Coordinator { // whose roster the neighbor is on
			ids = someOf(t, w.far())
		}
		word := m.word()
		ask := func(route [2]string, id string) answer {
			form := url.Values{"csrf": {word}, "name": {"x"}, "level": {"1"}, "zero": {"taken"}}
			r := httptest.NewRequest(route[0], at(route[1], id), strings.NewReader(form.Encode()))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			return m.asks(r)
		}
		called := func(routes [][2]string, ids ...string) string {
			t.Helper()
			before := w.functionCalls()
			db, err := postgres.OpenOne(context.Background(), w.db.AppURL, w.db.DoorURL)
			if err != nil {
				t.Fatal(err)
			}
			if w.app, err = pages.NewUnpaced(pages.Config{DB: db, Account: account.New(db, account.Options{}), Now: time.Now}); err != nil {
				t.Fatal(err)
			}
			for _, route := range routes {
				for _, id := range ids {
					ask(route, id)
				}
			}
			db.Close()
			for deadline := time.Now().Add(time.Minute); w.connections() > open; time.Sleep(5 * time.Millisecond) {
				if time.Now().After(deadline) {
					t.Fatal("connections are still open")
				}
			}
			var told []string
			for name, n := range w.functionCalls() {
				if n -= before[name]; n > 0 {
					told = append(told, fmt.Sprint(name, " ", n))
				}
			}
			slices.Sort(told)
			return strings.Join(told, ", ")
		}
		nothing := slices.Repeat([]string{nobodys}, len(ids))
		app := w.app
		var routes [][2]string
		for _, route := range pages.Table() {
			if at(route[1], "a") == at(route[1], "b") {
				continue
			}
			if got := ask(route, nobodys); got.status == http.StatusNotFound {
				routes = append(routes, route)
			}
		}
		usual := called(routes, nothing...)
		if usual == "" && len(routes) > 0 {
			t.Fatal("nothing was counted")
		}
		if called(routes, ids...) != usual {
			for _, route := range routes {
				if got, usual := called([][2]string{route}, ids...), called([][2]string{route}, nothing...); got != usual {
					t.Errorf("%s, %v: for others' things the database calls\n%s\nand for nothing\n%s", role, route, got, usual)
				}
			}
		}
		t.Logf("%s: %d routes, %d things", role, len(routes), len(ids))
		w.app = app
	}
}

// connections returns how many the pages and the door have to the database.
func (w *world) connections() int {
	w.t.Helper()
	text, err := w.db.Owner.Text(context.Background(), "SELECT count(*)::text FROM pg_stat_activity WHERE datname = current_database() AND application_name = 'tussock'")
	if err != nil {
		w.t.Fatal(err)
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		w.t.Fatal(err)
	}
	return n
}

// functionCalls returns how often each function of the database was called by connections that have ended.
func (w *world) functionCalls() map[string]int {
	w.t.Helper()
	text, err := w.db.Owner.Text(context.Background(), "SELECT coalesce(jsonb_object_agg(funcname, calls), '{}')::text FROM pg_stat_user_functions")
	if err != nil {
		w.t.Fatal(err)
	}
	calls := map[string]int{}
	if err := json.Unmarshal([]byte(text), &calls); err != nil {
		w.t.Fatal(err)
	}
	return calls
}

// TestT24Timing asks 2 000 times for a ranch that is a neighbor's and for one that does not exist, and compares the
// times by Welch's test. It takes a while and wants a quiet machine: TUSSOCK_TIMING=1 asks for it.
func TestT24Timing(t *testing.T) {
	if os.Getenv("TUSSOCK_TIMING") == "" {
		t.Skip("TUSSOCK_TIMING=1 asks for it")
	}
	w := newWorld(t)
	ada := w.members[access.Landowner]
	for _, path := range []string{"/ranch/:id", "/uploads/:id", "/files/ranches/:id/sheets.zip"} {
		foreign := w.theirs
		if path == "/uploads/:id" {
			foreign = w.bo.sent(w.theirs)[0].ID
		}
		const n = 1000
		var took [2][]float64
		for i := range 2 * n {
			id := []access.ID{foreign, nobodys}[i%2]
			begun := time.Now()
			ada.opens(at(path, string(id)))
			took[i%2] = append(took[i%2], time.Since(begun).Seconds())
		}
		m0, v0 := moments(took[0])
		m1, v1 := moments(took[1])
		welch := (m0 - m1) / math.Sqrt(v0/n+v1/n)
		t.Logf("%s: another's %.3f ms, none %.3f ms, t = %.2f", path, 1000*m0, 1000*m1, welch)
		if math.Abs(welch) > 4.5 { // the customary threshold of leakage tests (ISO/IEC 17825)
			t.Errorf("%s: how long it takes tells what exists: t = %.1f", path, welch)
		}
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

// TestSessionsEndOnTheServer: what ends a session ends it there, at once, for every request from then on: signing out
// everywhere, a coordinator's word, a new password, leaving. Time ends it too, unused or not.
func TestSessionsEndOnTheServer(t *testing.T) {
	w := newWorld(t)
	rosa := w.members[access.Coordinator]
	in := func(m *member) bool { return m.opens("/account").status == http.StatusOK }
	seed := func(statement string, args ...any) {
		t.Helper()
		if _, err := w.db.Owner.Exec(context.Background(), statement, args...); err != nil {
			t.Fatal(err)
		}
	}
	again := func(m *member) *member {
		t.Helper()
		session, err := w.db.DB.OpenSession(t.Context(), postgres.NewSession{Coop: m.actor.Coop, Person: m.actor.Person, Idle: time.Hour, Max: 2 * time.Hour})
		if err != nil {
			t.Fatal(err)
		}
		return &member{stage: w.stage, session: session, actor: m.actor}
	}
	for name, tt := range map[string]struct {
		role access.Role
		ends func(m, other *member)
	}{
		"EverywhereByTheMember": {access.Landowner, func(m, other *member) { m.posts("/account/sessions/end") }},
		"Suspended":             {access.Biologist, func(m, other *member) { rosa.posts("/cooperative/members/" + string(m.actor.Person) + "/suspend") }},
		"Removed":               {access.Planner, func(m, other *member) { rosa.posts("/cooperative/members/" + string(m.actor.Person) + "/remove") }},
		"Unused": {access.Landowner, func(m, other *member) {
			seed("UPDATE tussock.session SET seen_at = now() - idle WHERE token_hash IN (tussock.kept($1), tussock.kept($2))", m.session, other.session)
		}},
		"TooOld": {access.Landowner, func(m, other *member) {
			seed("UPDATE tussock.session SET ends_at = now() WHERE token_hash IN (tussock.kept($1), tussock.kept($2))", m.session, other.session)
		}},
	} {
		m := again(w.members[tt.role])
		other := again(m)
		if !in(m) || !in(other) {
			t.Errorf("%s: two sessions at once do not work", name)
		}
		tt.ends(m, other)
		if in(m) || in(other) {
			t.Errorf("%s: a session lives on", name)
		}
	}
}

// TestCalendarsEndWithSessions: a calendar's address opens without a sign-in, is listed on the account, and ends where all
// sign-ins do.
func TestCalendarsEndWithSessions(t *testing.T) {
	w := newWorld(t)
	hand := w.members[access.Hand]
	stranger := &member{stage: w.stage}
	for name, ends := range map[string]func(m *member){
		"Everywhere": func(m *member) { m.posts("/account/sessions/end") },
		"Password": func(m *member) {
			m.posts("/account/password", "old", "four plain words here", "new", "five plain words for here")
		},
		"ByTheCoordinator": func(m *member) {
			w.members[access.Coordinator].posts("/cooperative/members/" + string(m.actor.Person) + "/suspend")
			w.members[access.Coordinator].posts("/cooperative/members/" + string(m.actor.Person) + "/restore")
		},
	} {
		session, err := w.db.DB.OpenSession(t.Context(), postgres.NewSession{Coop: hand.actor.Coop, Person: hand.actor.Person, Idle: time.Hour, Max: 2 * time.Hour})
		if err != nil {
			t.Fatal(err)
		}
		m := &member{stage: w.stage, session: session, actor: hand.actor}
		address := regexp.MustCompile(`/calendar/[0-9a-f]{64}\.ics`).FindString(m.posts("/plan/calendar", "named", "1").body)
		if got := stranger.opens(address); got.status != http.StatusOK {
			t.Fatalf("%s: the calendar gives %d", name, got.status)
		}
		m.want(m.opens("/account"), http.StatusOK, "Calendars", "says the ranch", "Take this address back", "Your calendars’ addresses end too.")
		ends(m)
		if got := stranger.opens(address); got.status != http.StatusNotFound {
			t.Errorf("%s: the calendar lives on: %d", name, got.status)
		}
	}
}

// TestManyAtOnce: a member who takes files, or a token that asks, far faster than work needs is told to wait, in words,
// and nobody else is. (OWASP ASVS 5.0, 2.4.1)
func TestManyAtOnce(t *testing.T) {
	w := newWorld(t)
	var err error
	if w.app, err = pages.New(pages.Config{DB: w.db.DB, Account: w.accounts}); err != nil {
		t.Fatal(err)
	}
	ada := w.members[access.Landowner]
	path := "/files/ranches/" + string(w.mine) + "/darwin-core.zip"
	taken := 0
	var last answer
	for range 70 {
		if last = ada.opens(path); last.status == http.StatusOK {
			taken++
		}
	}
	if taken < 60 || last.status != http.StatusTooManyRequests || last.header.Get("Retry-After") == "" {
		t.Errorf("%d of 70 files were handed out; the last answer was %d %v", taken, last.status, last.header)
	}
	ada.want(last, http.StatusTooManyRequests, "That was a lot at once")
	if got := w.bo.opens("/files/ranches/" + string(w.theirs) + "/darwin-core.zip"); got.status != http.StatusOK {
		t.Errorf("the neighbor: %d", got.status)
	}
	if got := ada.opens("/ranch"); got.status >= 400 {
		t.Errorf("pages: %d", got.status)
	}

	token, other := ada.token(), ada.token()
	asked := 0
	for range 400 {
		if last = w.calls(token, http.MethodGet, "/api/v1/bulletins"); last.status == http.StatusOK {
			asked++
		}
	}
	if asked < 300 || last.status != http.StatusTooManyRequests || last.header.Get("Retry-After") == "" {
		t.Errorf("%d of 400 questions were answered; the last was %d", asked, last.status)
	}
	describe(t).fits(t, "/api/v1/bulletins", last)
	if got := w.calls(other, http.MethodGet, "/api/v1/bulletins"); got.status != http.StatusOK {
		t.Errorf("another token: %d", got.status)
	}
}
