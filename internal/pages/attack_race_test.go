package pages_test

import (
	"context"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/press/presstest"
)

// atOnce asks several times in the same moment.
func atOnce(n int, ask func(i int) answer) []answer {
	got := make([]answer, n)
	begin := make(chan struct{})
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			<-begin
			got[i] = ask(i)
		})
	}
	close(begin)
	all.Wait()
	return got
}

// sessions counts the answers that let somebody in, and fails where one is a fault of ours.
func sessions(t *testing.T, answers []answer) (in int) {
	t.Helper()
	for _, a := range answers {
		if a.status == http.StatusInternalServerError {
			t.Errorf("a fault of ours: %s", a.text())
		}
		for _, c := range a.header["Set-Cookie"] {
			if strings.HasPrefix(c, "__Host-tussock=") && !strings.HasPrefix(c, "__Host-tussock=;") {
				in++
			}
		}
	}
	return in
}

// TestOnceAtOnce: whatever lets in once lets in once, however many use it in the same moment: a link, a letter's code, a
// one-time code, a recovery code, a coordinator's code, an invitation. (OWASP ASVS 5.0, 6.5.1)
func TestOnceAtOnce(t *testing.T) {
	st, box, _ := newPostedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ada := rosa.invites(access.Landowner, rosa.adds("Cottonwood Draw", "Ada Marsh"))
	const n = 6
	const email = "person2@example.org"
	// half is a browser in which the password was given, with the page that asks for more.
	half := func(asks string) (*browser, answer) {
		t.Helper()
		b := st.browser()
		if got := b.triesPassword(email, password); got.status != http.StatusSeeOther {
			t.Fatalf("the password: %d %s", got.status, got.text())
		}
		return b, b.opens(asks)
	}
	once := func(what string, answers []answer) {
		t.Helper()
		if in := sessions(t, answers); in != 1 {
			t.Errorf("%s let in %d times", what, in)
		}
	}
	copies := func(b *browser) *browser { return &browser{b.stage, maps.Clone(b.jar)} }

	asking := st.browser()
	asking.isKnownTo(email)
	asking.posts(asking.opens("/sign-in/link"), "/sign-in/link", "email", email)
	link := regexp.MustCompile(home + `(/sign-in/link/[0-9a-f]{64})`).FindStringSubmatch(box.Wait(t, 1).Text)[1]
	page := asking.opens(link)
	once("a link", atOnce(n, func(int) answer { return copies(asking).posts(page, link) }))

	b, page := half("/sign-in/letter")
	code := codeIn(t, box.Wait(t, 2))
	once("a letter's code", atOnce(4, func(int) answer { return copies(b).posts(page, "/sign-in/letter", "code", code) }))

	office := st.browser()
	office.signsIn("person1@example.org", password)
	made := office.posts(office.opens("/cooperative/members"), "/cooperative/members/"+string(ada.actor.Person)+"/help")
	code = regexp.MustCompile(`\d{4} \d{4} \d{4}`).FindString(made.body)
	browsers, asked := make([]*browser, 4), make([]answer, 4)
	for i := range browsers {
		browsers[i], asked[i] = half("/sign-in/letter")
	}
	once("a coordinator's code", atOnce(4, func(i int) answer { return browsers[i].posts(asked[i], "/sign-in/letter", "code", code) }))

	// With one-time codes.
	own := st.browser()
	own.signsIn(email, password)
	setting := own.posts(own.opens("/account/codes"), "/account/codes")
	secret := strings.ReplaceAll(regexp.MustCompile(`<code>([A-Z2-7 ]{39})</code>`).FindStringSubmatch(setting.body)[1], " ", "")
	now := func(step int) string {
		c, err := totp.GenerateCode(secret, time.Now().Add(time.Duration(step)*30*time.Second))
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	on := own.posts(setting, "/account/codes/confirm", "code", now(-1))
	recovery := regexp.MustCompile(`<code>([a-z2-7-]{19})</code>`).FindStringSubmatch(on.body)
	if recovery == nil {
		t.Fatalf("no codes: %s", on.text())
	}
	for what, code := range map[string]string{"a one-time code": now(0), "a recovery code": recovery[1]} {
		for i := range browsers {
			browsers[i], asked[i] = half("/sign-in/code")
		}
		once(what, atOnce(4, func(i int) answer { return browsers[i].posts(asked[i], "/sign-in/code", "code", code) }))
	}

	var token string
	rosa.does(func(tx *postgres.Tx) (err error) {
		token, err = tx.Invite(access.Biologist, "", "cy@example.org", nil)
		return err
	})
	once("an invitation", atOnce(n, func(i int) answer {
		b := st.browser()
		return b.posts(b.opens("/join/"+token), "/join/"+token, "name", "Cy Far", "email", fmt.Sprintf("cy%d@example.org", i), "password", password)
	}))
}

// TestChangesAtOnce: what two change in the same moment is changed once or after one another, never by halves: an approval, a
// departure, a sheet sent, undone and restored.
func TestChangesAtOnce(t *testing.T) {
	st := newStage(t)
	rosa := st.cooperative("Sandhill Grass")
	others := []*member{rosa.invites(access.Coordinator), rosa.invites(access.Coordinator), rosa.invites(access.Coordinator)}
	mine := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada := rosa.invites(access.Landowner, mine)
	sql := func(query string, args ...any) string {
		t.Helper()
		got, err := st.db.Owner.Text(context.Background(), query, args...)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.person SET joined_at = now() - interval '60 days'"); err != nil {
		t.Fatal(err)
	}
	count := func(answers []answer, status int) (n int) {
		for _, a := range answers {
			if a.status == status {
				n++
			}
			if a.status == http.StatusInternalServerError {
				t.Errorf("a fault of ours: %s", a.text())
			}
		}
		return n
	}

	// Two words of four are needed and one says no: whatever the order in which they come, it stays in.
	st.db.Vouch(t, rosa.actor.Coop)
	st.db.Open(t, rosa.actor.Coop, 2026)
	st.db.Cut(t, rosa.actor.Coop, 2026)
	presstest.Compose(t, st.db)
	all := append([]*member{rosa}, others...)
	says := func(i int) string { return map[bool]string{true: "no", false: "yes"}[i == 2] }
	got := atOnce(len(all), func(i int) answer { return all[i].posts("/cooperative/bulletins/2026/1", "says", says(i)) })
	out, words := sql("SELECT count(*)::text FROM pub.bulletin WHERE published_at IS NOT NULL"), sql("SELECT count(*)::text FROM tussock.approval")
	if done := count(got, http.StatusSeeOther); out == "0" && (words != "4" || done != 4) || out == "1" && got[2].status == http.StatusSeeOther && words == "4" {
		t.Errorf("%d said their word at once, %s are kept, %s is out", done, words, out)
	}

	got = atOnce(5, func(int) answer { return ada.sends([]sheet{{"nests.csv", plain}}) })
	if count(got, http.StatusSeeOther) != 5 || sql("SELECT count(*)::text FROM tussock.upload") != "1" {
		t.Errorf("one sheet sent five times at once is %s: %d", sql("SELECT count(*)::text FROM tussock.upload"), got[0].status)
	}
	id := sql("SELECT id::text FROM tussock.upload")
	got = atOnce(8, func(i int) answer { return ada.posts("/uploads/" + id + "/" + []string{"undo", "restore"}[i%2]) })
	if count(got, http.StatusSeeOther) != 8 {
		t.Errorf("undone and restored at once: %d of 8 were done", count(got, http.StatusSeeOther))
	}

	got = atOnce(5, func(i int) answer {
		return ada.posts("/account/leave/"+[]string{"erase", "hand-over"}[i%2], "ranch", string(mine), "heir", "heir@example.org")
	})
	if n := sql("SELECT count(*)::text FROM tussock.departure WHERE called_off_at IS NULL"); n != "2" || count(got, http.StatusUnprocessableEntity) != 3 { // one of each kind
		t.Errorf("%s ways out at once, and %d were refused", n, count(got, http.StatusUnprocessableEntity))
	}
	// Called off in the moment in which it is done: one or the other.
	if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.departure SET called_off_at = now() WHERE kind = 'hand over'"); err != nil {
		t.Fatal(err)
	}
	off := offs(t, ada.opens("/account/leave"))
	if _, err := st.db.Owner.Exec(context.Background(), "UPDATE tussock.departure SET due_at = now() WHERE kind = 'erase'"); err != nil {
		t.Fatal(err)
	}
	word := ada.word()
	got = atOnce(4, func(i int) answer {
		if i == 0 {
			if err := st.accounts.CarryOut(context.Background()); err != nil {
				t.Error(err)
			}
			return answer{}
		}
		return ada.postsWith(word, off)
	})
	state := sql("SELECT (done_at IS NOT NULL)::text || ' ' || (called_off_at IS NOT NULL)::text FROM tussock.departure WHERE due_at <= now()")
	if state != "true false" && state != "false true" || (count(got, http.StatusSeeOther) > 0) != (state == "false true") {
		t.Errorf("done and called off: %s, with %d answered as called off", state, count(got, http.StatusSeeOther))
	}
}
