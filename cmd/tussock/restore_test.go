package main

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/season"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// TestRestoreEndsWhatWasOpen makes a backup, ends and changes much, and restores the backup elsewhere: no secret of before opens
// anything, what closed something is closed again, and the rest is told.
func TestRestoreEndsWhatWasOpen(t *testing.T) {
	ctx := t.Context()
	open := func(data string) *service {
		t.Helper()
		cfg, err := readConfig(func(string) string { return "" })
		if err != nil {
			t.Fatal(err)
		}
		cfg.Data = data
		s, err := openService(context.Background(), cfg, false, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	command := func(args ...string) string {
		t.Helper()
		var out screen
		if status := run(ctx, args, func(string) string { return "" }, &out, &out); status != 0 {
			t.Fatalf("%s: %s", args[0], out.String())
		}
		return out.String()
	}
	data := dataFolder(t)
	s := open(data)
	owner, err := s.owner(ctx)
	if err != nil {
		t.Fatal(err)
	}
	join := func(token, name string) (access.Actor, postgres.Credentials) {
		t.Helper()
		c, err := s.db.AcceptInvitation(ctx, token, postgres.Acceptance{Name: name, Email: strings.ToLower(name) + "@example.org", Hash: "the first hash"})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := owner.Exec(ctx, "UPDATE tussock.assignment SET confirmed_at = now() WHERE confirmed_at IS NULL"); err != nil {
			t.Fatal(err)
		}
		secret, err := s.db.OpenSession(ctx, postgres.NewSession{Coop: c.Coop, Person: c.Person, Idle: time.Hour, Max: time.Hour})
		if err != nil {
			t.Fatal(err)
		}
		a, err := s.db.ActorOf(ctx, secret)
		if err != nil {
			t.Fatal(err)
		}
		return a, c
	}
	as := func(a access.Actor, fn func(tx *postgres.Tx) error) {
		t.Helper()
		if err := s.db.As(ctx, a, fn); err != nil {
			t.Fatal(err)
		}
	}
	_, first, err := owner.CreateCooperative(ctx, postgres.Cooperative{Name: "Sandhill Grass"})
	if err != nil {
		t.Fatal(err)
	}
	rosa, _ := join(first, "Rosa")
	var ranch, other access.ID
	as(rosa, func(tx *postgres.Tx) (err error) {
		if ranch, err = tx.SaveRanch(postgres.Ranch{Name: "Cottonwood Draw", Owner: "Marsh family"}); err == nil {
			other, err = tx.SaveRanch(postgres.Ranch{Name: "Antelope Flat", Owner: "Flat family"})
		}
		return err
	})
	invite := func(role access.Role, ranches ...access.ID) (token string) {
		t.Helper()
		as(rosa, func(tx *postgres.Tx) (err error) {
			token, err = tx.Invite(role, "", "", ranches)
			return err
		})
		return token
	}
	ada, _ := join(invite(access.Landowner, ranch), "Ada")
	bo, _ := join(invite(access.Landowner, other), "Bo")
	cy, _ := join(invite(access.Biologist), "Cy")
	secrets := map[string]string{"invitation": invite(access.Planner), "session": ada.Session, "device": postgres.NewToken()}
	today := survey.DateFrom(time.Now())
	as(ada, func(tx *postgres.Tx) (err error) {
		plan := season.Plan{Ranch: ranch, Season: 2026, Purpose: season.Trend, Lines: 1, Stops: 4, First: 14, Last: 28, SetOn: today}
		if err := tx.SaveLines(ranch, 2026, plan, []season.Line{{Ranch: ranch, Season: 2026, Name: "1", Stops: 4, SetOn: today}}); err != nil {
			return err
		}
		lines, err := tx.Lines(ranch, 2026)
		if err != nil {
			return err
		}
		if secrets["field link"], err = tx.MakeFieldLink(postgres.FieldLink{Ranch: ranch, Name: "Lupe", Lines: []access.ID{lines[0].ID}, From: today, Through: today + 30}); err != nil {
			return err
		}
		if secrets["token"], err = tx.MakeToken("R", 30); err != nil {
			return err
		}
		if secrets["calendar"], err = tx.MakeFeed(true, words.English); err != nil {
			return err
		}
		return errors.Join(tx.SetConsent(ranch, 1), tx.AddPasskey("a lost phone", []byte("key"), []byte("{}")))
	})
	as(bo, func(tx *postgres.Tx) error { return tx.SetConsent(other, 1) })
	as(ada, func(tx *postgres.Tx) error {
		_, err := tx.Share(postgres.Sharing{Ranch: ranch, Person: cy.Person, Purpose: "cover", Through: time.Now().AddDate(0, 6, 0)})
		return err
	})
	if secrets["field session"], err = s.db.OpenField(ctx, secrets["field link"], "phone"); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(s.db.TrustDevice(ctx, ada.Coop, ada.Person, secrets["device"], "phone", time.Hour),
		s.db.OpenStep(ctx, "link of a letter", postgres.Step{Coop: ada.Coop, Person: ada.Person, Data: []byte("{}")}, time.Hour)); err != nil {
		t.Fatal(err)
	}

	backup := filepath.Join(t.TempDir(), "tussock.dump")
	command("backup", "--data", data, backup)

	as(ada, func(tx *postgres.Tx) error {
		keys, err := tx.Passkeys()
		if err != nil {
			return err
		}
		return errors.Join(tx.SetConsent(ranch, 0), tx.SetPasswordHash("another hash"), tx.RemovePasskey(keys[0].ID))
	})
	as(rosa, func(tx *postgres.Tx) error { return tx.RemoveMember(cy.Person) })
	if _, err := owner.Exec(ctx, "INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash) VALUES ($1, 2025, 1, now(), 'h')", rosa.Coop); err != nil {
		t.Fatal(err)
	}
	if _, err := owner.Exec(ctx, "UPDATE tussock.account SET email = 'cy.far@example.org' WHERE person_id = $1", cy.Person); err != nil {
		t.Fatal(err)
	}
	as(bo, func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: other})
		return err
	})
	s.db.Now = func() time.Time { return time.Now().Add(15 * 24 * time.Hour) }
	if done, err := s.db.CarryOut(ctx); err != nil || len(done) != 1 {
		t.Fatalf("erasing: %v, %v", done, err)
	}
	if err := moveJournal(ctx, s.db, data); err != nil {
		t.Fatal(err)
	}
	if left, err := s.db.JournalDue(ctx); err != nil || len(left) != 0 {
		t.Errorf("%d notes are left in the database: %v", len(left), err)
	}
	owner.Close()
	s.close()

	said := command("restore", "--data", dataFolder(t), backup)
	if !strings.Contains(said, "NOTHING IS KNOWN OF WHAT HAPPENED SINCE") {
		t.Errorf("without a journal: %s", said)
	}
	elsewhere := dataFolder(t)
	said = command("restore", "--data", elsewhere, "--journal", filepath.Join(data, journalFile), backup)
	for _, sentence := range []string{"as it was on " + time.Now().UTC().Format("2006-01-02"), "1 invitations, 1 field links, 1 calendars and 1 tokens that were open",
		"Done again", "Cottonwood Draw was taken out of comparisons by Ada", "Cottonwood Draw ended its sharing with Cy", "Cy left or was removed", "Ada has another password",
		"Ada removed a passkey", "Antelope Flat was erased at the wish of Bo", "Look at these before anybody signs in", "Cy has another address", "the bulletin of season 2025 was composed and may have been read"} {
		if !strings.Contains(said, sentence) {
			t.Errorf("restore does not say %q: %s", sentence, said)
		}
	}
	if strings.Contains(said, "was let into comparisons") || strings.Contains(said, "failed") {
		t.Errorf("restore says what was before the backup, or failed: %s", said)
	}

	s = open(elsewhere)
	defer s.close()
	refused := func(kind string, err error, want error) {
		t.Helper()
		if !errors.Is(err, want) {
			t.Errorf("the %s of before: %v", kind, err)
		}
	}
	_, err = s.db.ActorOf(ctx, secrets["session"])
	refused("session", err, errs.Unauthenticated)
	_, err = s.db.Bearer(ctx, secrets["token"], "")
	refused("token", err, errs.Unauthenticated)
	_, err = s.db.Field(ctx, secrets["field session"])
	refused("field session", err, errs.Unauthenticated)
	_, err = s.db.OpenField(ctx, secrets["field link"], "phone")
	refused("field link", err, errs.NotFound)
	_, err = s.db.AcceptInvitation(ctx, secrets["invitation"], postgres.Acceptance{Name: "X", Email: "x@example.org", Hash: "x"})
	refused("invitation", err, errs.NotFound)
	_, err = s.db.Step(ctx, "link of a letter")
	refused("link of a letter", err, errs.NotFound)
	_, _, _, err = s.db.FeedLines(ctx, secrets["calendar"])
	refused("calendar", err, errs.NotFound)
	if trusted, err := s.db.TrustsDevice(ctx, ada.Coop, ada.Person, secrets["device"]); err != nil || trusted {
		t.Errorf("the browser of before is remembered: %v", err)
	}
	if keys, err := s.db.PasskeysOf(ctx, ada.Coop, ada.Person); err != nil || len(keys) != 0 {
		t.Errorf("the removed passkey is back: %v", err)
	}
	if list, err := s.db.Credentials(ctx, "cy@example.org"); err != nil || len(list) != 1 || !list[0].Suspended { // told so at the door, and not let in
		t.Errorf("who was removed signs in: %v", err)
	}
	if list, err := s.db.Credentials(ctx, "ada@example.org"); err != nil || len(list) != 1 || list[0].Hash == "the first hash" {
		t.Errorf("the password of before is good: %v", err)
	}
	if owner, err = s.owner(ctx); err != nil {
		t.Fatal(err)
	}
	defer owner.Close()
	for query, want := range map[string]string{
		"SELECT level::text FROM tussock.consent WHERE ranch_id = '" + string(ranch) + "' ORDER BY seq DESC LIMIT 1": "0",
		"SELECT count(*)::text FROM tussock.sharing WHERE ended_at IS NULL":                                          "0",
		"SELECT count(*)::text FROM tussock.ranch WHERE name = 'Antelope Flat'":                                      "0",
	} {
		if got, err := owner.Text(ctx, query); err != nil || got != want {
			t.Errorf("%s: %s, %v, want %s", query, got, err, want)
		}
	}
}
