package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
)

// later carries out what is due so long from now, by a clock of the test's own, and returns what was done.
func (s *stage) later(t *testing.T, d time.Duration) []postgres.Departed {
	t.Helper()
	s.DB.Now = func() time.Time { return time.Now().Add(d) }
	defer func() { s.DB.Now = nil }()
	done, err := s.DB.CarryOut(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range done {
		if d.Failure != "" {
			t.Errorf("%s of %q failed: %s", d.Kind, d.RanchName, d.Failure)
		}
	}
	return done
}

func (s *stage) text(t *testing.T, query string, args ...any) string {
	t.Helper()
	got, err := s.Owner.Text(context.Background(), query, args...)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	return got
}

// tables lists every table that has a column.
func (s *stage) tables(t *testing.T, column string) []string {
	t.Helper()
	return strings.Fields(s.text(t, `SELECT string_agg(DISTINCT c.oid::regclass::text, ' ') FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid
		WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND c.relkind = 'r' AND a.attname = $1 AND NOT a.attisdropped`, column))
}

// anywhere lists the tables in which any row says a word, in whatever column.
func (s *stage) anywhere(t *testing.T, word string) (list []string) {
	t.Helper()
	for _, table := range s.tables(t, "coop_id") {
		if n := s.text(t, "SELECT count(*) FROM "+table+" x WHERE x.coop_id = $1 AND strpos(lower(x::text), lower($2)) > 0", s.boss.Coop, word); n != "0" {
			list = append(list, table)
		}
	}
	return list
}

// fieldwork gives a ranch a season's plan with one line, a look, a photo, a link for the crew that somebody has open, and a
// reminder that was sent; and returns the line.
func (s *stage) fieldwork(t *testing.T, ranch access.ID) access.ID {
	t.Helper()
	coop, line, link := s.a.Coop, access.ID(s.text(t, "SELECT gen_random_uuid()")), s.text(t, "SELECT gen_random_uuid()")
	s.seed(t, `INSERT INTO tussock.season_plan (coop_id, ranch_id, season, purpose, lines, stops, spacing, pace, covers, seed, apart_fence, apart_road, apart_water, apart_lines,
			first_days, last_days, slack, belt_width, belt_length, saved_by, saved_at)
		VALUES ($1, $2, 2026, 'trend', 1, 1, 1, 1, '[]', '', 0, 0, 0, 0, 14, 28, 3, 6, 660, $3, now())`, coop, ranch, s.a.Person)
	s.seed(t, `INSERT INTO tussock.season_line (coop_id, ranch_id, id, season, name, code, placed, lon, lat, bearing, stops, spacing, pace, covers, slack, belt_width, belt_length)
		VALUES ($1, $2, $3, 2026, 'the line by the windmill', 'CODE-A', false, 0, 0, 0, 1, 1, 1, '[]', 3, 6, 660)`, coop, ranch, line)
	s.seed(t, `INSERT INTO tussock.field_link (coop_id, ranch_id, id, token_hash, name, lines, from_on, through, made_by)
		VALUES ($1, $2, $3, sha256('link'), 'Lupe', ARRAY[$4::uuid], current_date, current_date, $5)`, coop, ranch, link, line, s.a.Person)
	s.seed(t, `INSERT INTO tussock.field_session (coop_id, ranch_id, link_id, token_hash) VALUES ($1, $2, $3, sha256('open'))`, coop, ranch, link)
	s.seed(t, `INSERT INTO tussock.look (coop_id, ranch_id, id, season, line_id, stop, kind, who, device, seq, at, answers, link_id)
		VALUES ($1, $2, gen_random_uuid(), 2026, $3, 1, 'check', 'LO', 'd', 1, now(), '{}', $4)`, coop, ranch, line, link)
	s.seed(t, `INSERT INTO tussock.photo (coop_id, ranch_id, id, line_id, data) VALUES ($1, $2, gen_random_uuid(), $3, 'x')`, coop, ranch, line)
	s.seed(t, `INSERT INTO tussock.reminder (coop_id, person_id, named, language) VALUES ($1, $2, true, 'en')`, coop, s.a.Person)
	s.seed(t, `INSERT INTO tussock.reminded (coop_id, person_id, line_id, what, due, late) VALUES ($1, $2, $3, 'check', current_date, false)`, coop, s.a.Person, line)
	s.seed(t, `INSERT INTO tussock.calendar (coop_id, person_id, token_hash, named, language) VALUES ($1, $2, sha256('feed'), true, 'en')`, coop, s.a.Person)
	return line
}

// TestErase asks for a ranch to be erased and then looks, as the owner of all tables, for anything of it that is left.
func TestErase(t *testing.T) {
	s := newStage(t)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := tx.Share(postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "burn plan", Through: time.Now().AddDate(1, 0, 0)})
		return errors.Join(err, tx.SetWelcome(s.ranchA, true), tx.Show(postgres.Showing{Ranch: s.ranchA, Season: 2031, Item: postgres.ShowCover, Estimate: 287.65125}))
	})
	s.As(t, s.biologist, func(tx *postgres.Tx) error { _, err := tx.NamedSurvey([]access.ID{s.ranchA}); return err })
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		_, err := tx.Invite(access.Hand, "", "next@example.org", []access.ID{s.ranchA})
		return err
	})
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, _, err := tx.Send(postgres.Sending{Ranch: s.ranchA, File: "the sheet of A.csv", Data: []byte("other bytes"), Rows: season(t, "")})
		return err
	})
	s.seed(t, "UPDATE tussock.person SET name = 'Ada' WHERE id = $1", s.a.Person) // the stage calls people after ranches
	s.seed(t, "UPDATE tussock.invitation SET name = '' WHERE coop_id = $1", s.boss.Coop)
	line := s.fieldwork(t, s.ranchA)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		rows, photos, err := tx.Along(s.ranchA)
		if !strings.Contains(rows, "the line by the windmill") || len(photos) != 1 {
			t.Errorf("the owner takes along %d photos and %s", len(photos), rows)
		}
		return err
	})
	known := s.Again(t, s.hand).Known
	elsewhere := func() string {
		return s.text(t, `SELECT md5(string_agg(x, '|' ORDER BY x)) FROM (SELECT n::text FROM tussock.nest n WHERE ranch_id <> $1 UNION ALL SELECT f::text FROM tussock.upload_file f
			WHERE ranch_id <> $1 UNION ALL SELECT b::text FROM pub.bulletin b UNION ALL SELECT c::text FROM pub.cell c UNION ALL SELECT v::text FROM tussock.view_log v WHERE ranch_id <> $1) t(x)`, s.ranchA)
	}
	before := elsewhere()

	var id access.ID
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		id, err = tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
		return err
	})
	if err := s.DB.As(context.Background(), s.a, func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
		return err
	}); !errors.Is(err, errs.Conflict) {
		t.Errorf("asked for twice: %v, want a conflict", err)
	}
	if done := s.later(t, 13*24*time.Hour); len(done) != 0 {
		t.Fatalf("after 13 days %v was carried out", done)
	}
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.CallOff(id) })
	if done := s.later(t, 400*24*time.Hour); len(done) != 0 {
		t.Fatalf("called off, and yet %v", done)
	}
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		_, err = tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
		return err
	})
	done := s.later(t, 14*24*time.Hour+time.Minute)
	if len(done) != 1 || done[0].RanchName != "Dry Fork" || len(done[0].Addresses) != 1 {
		t.Fatalf("carried out: %v", done)
	}
	if again := s.later(t, 15*24*time.Hour); len(again) != 0 {
		t.Errorf("carried out a second time: %v", again)
	}

	// Who once could open it stays, without a word of what was in it: the gate counts what they know.
	stays := map[string]bool{"tussock.assignment": true, "tussock.sharing": true, "tussock.showcase": true, "tussock.departure": true}
	for _, table := range s.tables(t, "ranch_id") {
		if n := s.text(t, "SELECT count(*) FROM "+table+" WHERE ranch_id = $1", s.ranchA); n != "0" && !stays[table] {
			t.Errorf("%s has %s rows of the ranch", table, n)
		}
	}
	for _, table := range s.tables(t, "ranches") {
		if n := s.text(t, "SELECT count(*) FROM "+table+" WHERE $1::uuid = ANY (ranches)", s.ranchA); n != "0" {
			t.Errorf("%s names the ranch in %s rows", table, n)
		}
	}
	for _, table := range s.anywhere(t, string(s.ranchA)) {
		if !stays[table] && table != "tussock.ranch" {
			t.Errorf("%s still speaks of the ranch", table)
		}
	}
	for _, word := range []string{string(line), string(s.uploadA), "Dry Fork", "Marsh family", "burn plan", "287.65125", "sheet of A"} {
		if found := s.anywhere(t, word); len(found) > 0 {
			t.Errorf("%q is left in %v", word, found)
		}
	}
	if s.Again(t, s.hand).Known != known || len(s.Again(t, s.a).Ranches) != 0 {
		t.Error("the hand has forgotten, or the owner still opens it")
	}
	if elsewhere() != before {
		t.Error("the neighbors’ rows, or what is published, have changed")
	}
	s.As(t, s.boss, func(tx *postgres.Tx) error {
		ranches, err := tx.AllRanches()
		entities, err2 := tx.OwnersToVouch()
		if len(ranches) != 1 || len(entities) != 1 {
			t.Errorf("the coordinator still has %v of %v", ranches, entities)
		}
		return errors.Join(err, err2)
	})
}

// TestLeaving: nothing happens before the days have passed; then the member is gone, and the ranch that stays is counted
// nowhere and waits for whoever comes after.
func TestLeaving(t *testing.T) {
	s := newStage(t)
	email := s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", s.a.Person)
	s.fieldwork(t, s.ranchA)
	s.As(t, s.a, func(tx *postgres.Tx) error { _, err := tx.MakeToken("R", 30); return err })
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.LeaveKind})
		return err
	})
	s.later(t, 13*24*time.Hour)
	if len(s.Again(t, s.a).Ranches) != 1 {
		t.Fatal("gone too early")
	}
	// A server that was stopped meanwhile carries it out when it is back.
	if done := s.later(t, 90*24*time.Hour); len(done) != 1 || fmt.Sprint(done[0].Addresses) != "["+email+"]" {
		t.Fatalf("carried out: %v", done)
	}
	if _, err := s.DB.ActorOf(context.Background(), s.a.Session); !errors.Is(err, errs.Unauthenticated) {
		t.Errorf("still signed in: %v", err)
	}
	if found := s.anywhere(t, email); len(found) > 0 {
		t.Errorf("the address is left in %v", found)
	}
	for _, table := range []string{"account", "session", "api_token", "calendar", "reminder", "reminded", "passkey", "device"} {
		if n := s.text(t, "SELECT count(*) FROM tussock."+table+" WHERE person_id = $1", s.a.Person); n != "0" {
			t.Errorf("%s keeps %s rows of who left", table, n)
		}
	}
	if len(s.Again(t, s.hand).Ranches) != 0 || s.text(t, "SELECT count(*) FROM tussock.field_link WHERE revoked_at IS NULL") != "0" || s.text(t, "SELECT count(*) FROM tussock.field_session") != "0" {
		t.Error("a ranch without an owner is still open to its crew")
	}
	if got := s.text(t, "SELECT count(*) FROM tussock.consent WHERE ranch_id = $1", s.ranchA); got != "0" {
		t.Errorf("the yes of somebody who left stands: %s", got)
	}
	// The next owner starts at no.
	heir := s.Member(t, s.boss, access.Landowner, "Heir", s.ranchA)
	s.As(t, heir, func(tx *postgres.Tx) error {
		r, err := tx.Ranch(s.ranchA)
		if r.Consent != 0 {
			t.Errorf("the new owner has inherited consent %d", r.Consent)
		}
		return err
	})
}

// TestHandOver: the land is sold. The new owner must say yes; what was sent goes along only where the old owner chose so;
// consent is never inherited.
func TestHandOver(t *testing.T) {
	for _, keep := range []bool{false, true} {
		t.Run(fmt.Sprintf("WithRows=%v", keep), func(t *testing.T) {
			s := newStage(t)
			heir := s.Member(t, s.boss, access.Landowner, "Heir Newcomb")
			email := s.text(t, "SELECT email FROM tussock.account WHERE person_id = $1", heir.Person)
			s.seed(t, "INSERT INTO pub.cell (coop_id, season, row, measure, predator, estimate, entities, n) VALUES ($1, 2025, 99, 'x', '', 0.5, '5-9', 5)", s.boss.Coop)
			s.As(t, heir, func(tx *postgres.Tx) error {
				cells, err := tx.Cells(0)
				for _, c := range cells {
					if c.Measure == "x" {
						t.Error("who has never had a ranch sees figures of five landowners")
					}
				}
				return err
			})
			s.fieldwork(t, s.ranchA)
			var id access.ID
			s.As(t, s.a, func(tx *postgres.Tx) (err error) {
				id, err = tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: s.ranchA, Heir: strings.ToUpper(email), WithRows: keep})
				if err != nil {
					return err
				}
				_, err = tx.InviteHeir(id)
				return err
			})
			for _, other := range []access.Actor{s.b, s.hand, s.boss} {
				s.As(t, other, func(tx *postgres.Tx) error {
					list, err := tx.Offers()
					if len(list) > 0 || !errors.Is(tx.AnswerOffer(id, true), errs.NotFound) {
						t.Errorf("%s takes what is offered to somebody else", other.Name)
					}
					return err
				})
			}
			if done := s.later(t, 30*24*time.Hour); len(done) != 0 {
				t.Fatal("handed over without the new owner’s yes")
			}
			s.As(t, heir, func(tx *postgres.Tx) error {
				list, err := tx.Offers()
				if len(list) != 1 || list[0].RanchName != "Dry Fork" || list[0].WithRows != keep {
					t.Errorf("offered: %v", list)
				}
				return errors.Join(err, tx.AnswerOffer(id, true))
			})
			if done := s.later(t, 13*24*time.Hour); len(done) != 0 {
				t.Fatal("handed over before the days to think it over had passed")
			}
			s.later(t, 15*24*time.Hour)
			old, heir := s.Again(t, s.a), s.Again(t, heir)
			if len(old.Ranches) != 0 || len(heir.Ranches) != 1 || len(s.Again(t, s.hand).Ranches) != 0 {
				t.Fatalf("the old owner opens %v, the new one %v", old.Ranches, heir.Ranches)
			}
			s.As(t, heir, func(tx *postgres.Tx) error {
				r, err := tx.Ranch(s.ranchA)
				if r.Consent != 0 || r.Owner != "Heir Newcomb" {
					t.Errorf("the ranch is %+v", r)
				}
				d, err2 := tx.Survey([]access.ID{s.ranchA}, 0)
				if (len(d.Nests) > 0) != keep {
					t.Errorf("the new owner gets %d nests", len(d.Nests))
				}
				people, err3 := tx.People(s.ranchA)
				if len(people) != 1 {
					t.Errorf("who is on it: %v", people)
				}
				return errors.Join(err, err2, err3)
			})
			if open := s.text(t, "SELECT count(*) FROM tussock.field_link WHERE revoked_at IS NULL") + s.text(t, "SELECT count(*) FROM tussock.field_session"); open != "00" {
				t.Error("the old crew’s links still open it")
			}
			if got := s.text(t, "SELECT count(*) FROM tussock.view_log WHERE ranch_id = $1", s.ranchA); got != "0" {
				t.Errorf("the new owner would read who looked at the old one’s: %s", got)
			}
			if got := s.text(t, "SELECT string_agg(heir, '') FROM tussock.departure"); got != "" {
				t.Errorf("the new owner’s address is left: %s", got)
			}
		})
	}
}

// TestTwoOwners: either owner calls off what the other asked for.
func TestTwoOwners(t *testing.T) {
	s := newStage(t)
	second := s.Member(t, s.boss, access.Landowner, "Second owner", s.ranchA)
	var id access.ID
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		id, err = tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: s.ranchA})
		return err
	})
	to, err := s.DB.DepartureAddresses(context.Background(), s.a.Coop, id)
	if err != nil || len(to) != 2 {
		t.Errorf("letters go to %v (%v), want both owners", to, err)
	}
	for _, other := range []access.Actor{s.b, s.hand, s.boss, s.stranger} {
		if err := s.DB.As(context.Background(), other, func(tx *postgres.Tx) error { return tx.CallOff(id) }); !errors.Is(err, errs.NotFound) {
			t.Errorf("%s calls it off: %v", other.Name, err)
		}
	}
	s.As(t, second, func(tx *postgres.Tx) error {
		list, err := tx.Departures()
		if len(list) != 1 || list[0].By != s.a.Name {
			t.Errorf("the second owner sees %v", list)
		}
		return errors.Join(err, tx.CallOff(id))
	})
	if done := s.later(t, 30*24*time.Hour); len(done) != 0 {
		t.Errorf("carried out: %v", done)
	}
	// One owner leaves: the other's ranch, and their yes, stay.
	s.As(t, second, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, 1) })
	s.As(t, s.a, func(tx *postgres.Tx) error {
		_, err := tx.Depart(postgres.Departure{Kind: postgres.LeaveKind})
		return err
	})
	s.later(t, 15*24*time.Hour)
	s.As(t, second, func(tx *postgres.Tx) error {
		c, err := tx.Consent(s.ranchA)
		if c.Level != 1 || c.By != "Second owner" {
			t.Errorf("consent is %+v", c)
		}
		return err
	})
}
