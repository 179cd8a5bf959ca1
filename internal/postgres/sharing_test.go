package postgres_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/postgres/pgtest"
	"tussock/internal/survey"
)

// share lets the stage's biologist read ranch A for a year.
func (s *stage) share(t testing.TB) (id access.ID) {
	t.Helper()
	s.As(t, s.a, func(tx *postgres.Tx) (err error) {
		id, err = tx.Share(postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "cover study", Through: time.Now().AddDate(1, 0, 0)})
		return err
	})
	return id
}

// named returns what an actor reads of ranches by name.
func (s *stage) named(who access.Actor, ranches ...access.ID) (list []postgres.Sharing, d *survey.Data, err error) {
	err = s.DB.As(context.Background(), who, func(tx *postgres.Tx) (err error) {
		if list, err = tx.Named(); err == nil {
			d, err = tx.NamedSurvey(ranches)
		}
		return err
	})
	return list, d, err
}

// TestSharing: what one owner grants, one biologist reads, and nobody else.
func TestSharing(t *testing.T) {
	s := newStage(t)
	other := s.Member(t, s.boss, access.Biologist, "Another biologist")
	s.share(t)

	list, d, err := s.named(s.biologist, s.ranchA)
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != 1 || list[0].RanchName != "Dry Fork" || list[0].Area != "North" || list[0].Purpose != "cover study" || !list[0].Open {
		t.Errorf("the biologist's ranches = %+v", list)
	}
	if len(d.Nests) != 3 || len(d.Belts) != 1 || len(d.Sites) == 0 {
		t.Fatalf("rows = %d nests, %d belts, %d sites", len(d.Nests), len(d.Belts), len(d.Sites))
	}
	for _, n := range d.Nests {
		if n.Spot != (survey.Spot{}) || n.Notes != "" || n.Ranch != "Dry Fork" {
			t.Errorf("nest %s of %q came with its spot %+v or notes %q", n.Number, n.Ranch, n.Spot, n.Notes)
		}
	}
	for _, site := range d.Sites {
		if site.Owner != "" {
			t.Errorf("a site came with its owner %q", site.Owner)
		}
	}
	for name, who := range map[string]access.Actor{"another biologist": other, "the planner": s.planner, "the coordinator": s.boss, "a stranger": s.stranger, "the neighbor": s.b} {
		if list, _, err := s.named(who, s.ranchA); len(list) != 0 || !errors.Is(err, errs.NotFound) {
			t.Errorf("%s: lists %d ranches, reads with %v", name, len(list), err)
		}
	}
	if _, _, err := s.named(s.biologist, s.ranchB); !errors.Is(err, errs.NotFound) {
		t.Errorf("the neighbor's ranch: %v", err)
	}

	// The owner and the hand see who reads; the owner when.
	s.As(t, s.a, func(tx *postgres.Tx) error {
		people, err := tx.People(s.ranchA)
		if len(people) != 3 || people[2].Role != access.Biologist || people[2].Name != "Biologist" || people[2].LastLooked.IsZero() {
			t.Errorf("the owner's list of people = %+v", people)
		}
		sharings, err2 := tx.Sharings(s.ranchA)
		if len(sharings) != 1 || !sharings[0].Open || sharings[0].Name != "Biologist" || sharings[0].LastLooked.IsZero() {
			t.Errorf("the owner's sharings = %+v", sharings)
		}
		return errors.Join(err, err2)
	})
	s.As(t, s.hand, func(tx *postgres.Tx) error {
		sharings, err := tx.Sharings(s.ranchA)
		if len(sharings) != 1 || !sharings[0].LastLooked.IsZero() {
			t.Errorf("the hand's sharings = %+v", sharings)
		}
		return err
	})
	s.As(t, s.a, func(tx *postgres.Tx) error {
		list, err := tx.Biologists()
		if len(list) != 2 {
			t.Errorf("the owner can choose from %+v", list)
		}
		return err
	})
}

// TestSharingEnds: each way in which a sharing ends, ends it at once and reads like a ranch that does not exist; the
// entity stays known (disclosure test T36).
func TestSharingEnds(t *testing.T) {
	ctx := context.Background()
	for _, tt := range []struct {
		name string
		end  func(s *stage, id access.ID) error
	}{
		{"Revoked", func(s *stage, id access.ID) error {
			return s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { return tx.EndSharing(id) })
		}},
		{"Expired", func(s *stage, _ access.ID) error {
			_, err := s.Owner.Exec(ctx, "UPDATE tussock.sharing SET given_at = now() - interval '1 year', through = (now() AT TIME ZONE 'UTC')::date - 1")
			return err
		}},
		{"Private", func(s *stage, _ access.ID) error {
			return s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchA, 0) })
		}},
		{"Withdrawn", func(s *stage, _ access.ID) error {
			s.Erase(t, s.ranchA)
			return nil
		}},
		{"Sold", func(s *stage, _ access.ID) error {
			s.TakeOff(t, s.boss, s.a.Person, s.ranchA)
			return nil
		}},
		{"NoBiologistAnyMore", func(s *stage, _ access.ID) error {
			_, err := s.Owner.Exec(ctx, "UPDATE tussock.person SET role = 'planner' WHERE id = $1", s.biologist.Person)
			return err
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStage(t)
			id := s.share(t)
			if _, _, err := s.named(s.biologist, s.ranchA); err != nil {
				t.Fatal(err)
			}
			if err := tt.end(s, id); err != nil {
				t.Fatal(err)
			}
			list, _, err := s.named(s.biologist, s.ranchA)
			_, _, nothing := s.named(s.biologist, access.ID(uuid.NewString()))
			if len(list) != 0 || !errors.Is(err, errs.NotFound) || err.Error() != nothing.Error() {
				t.Errorf("lists %d ranches, reads with %v; a ranch that does not exist gives %v", len(list), err, nothing)
			}
			if got := s.Again(t, s.biologist).Known; got != 1 {
				t.Errorf("knows %d entities, want the one for good", got)
			}
			s.raw(t, s.biologist.Session, func(tx pgx.Tx) {
				for _, table := range []string{"tussock.sharing", "tussock.ranch", "tussock.upload", "tussock.belt", "tussock.site", "tussock.shared_nest()"} {
					if got := count(t, tx, table); got != 0 {
						t.Errorf("still sees %v rows of %s", got, table)
					}
				}
				if got := try(t, tx, insertLook, s.a.Coop, s.ranchA, s.biologist.Person); got != refused {
					t.Errorf("notes a look: %v", got)
				}
			})
		})
	}
}

const insertLook = "INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at) VALUES ($1, $2, $3, now())"

// TestSharingRows: over a plain connection, what a biologist with a sharing gets and when. Without a note of the look
// there is no row, and no statement gets at how to walk to a nest.
func TestSharingRows(t *testing.T) {
	s := newStage(t)
	s.share(t)
	s.raw(t, s.biologist.Session, func(tx pgx.Tx) {
		see := func(table string, want any) {
			t.Helper()
			if got := count(t, tx, table); got != want {
				t.Errorf("sees of %s: got %v, want %v", table, got, want)
			}
		}
		rows := []string{"tussock.upload", "tussock.belt", "tussock.site", "tussock.shared_nest()"}
		see("tussock.ranch", 1)
		for _, table := range rows {
			see(table, 0)
		}
		// A note with another time is a note, and opens nothing.
		if got := try(t, tx, "INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at) VALUES ($1, $2, $3, now() - interval '1 day')",
			s.a.Coop, s.ranchA, s.biologist.Person); got != 1 {
			t.Errorf("notes an earlier look: %v", got)
		}
		see("tussock.belt", 0)
		if got := try(t, tx, insertLook, s.a.Coop, s.ranchA, s.biologist.Person); got != 1 {
			t.Fatalf("notes a look: %v", got)
		}
		for i, want := range []int{1, 1, 1, 3} {
			see(rows[i], want)
		}
		for _, table := range []string{"tussock.nest", "tussock.upload_file", "tussock.reading", "tussock.word", "tussock.entity", "tussock.consent", "tussock.assignment"} {
			see(table, 0)
		}
		see("(SELECT steps FROM tussock.shared_nest()) x", "42703") // undefined_column
		for what, statement := range map[string]string{
			"writes a nest":   "INSERT INTO tussock.nest (coop_id, ranch_id, upload_id, row, season, transect, number, substrate, visit_on, visit_state) SELECT coop_id, ranch_id, id, 99, 2026, '1', '1', 'yucca', '{}', '{}' FROM tussock.upload",
			"writes a belt":   "INSERT INTO tussock.belt (coop_id, ranch_id, upload_id, row, season, transect, length_ft, width_ft, counts) SELECT coop_id, ranch_id, upload_id, 99, 2026, '1', 1, 1, '{}' FROM tussock.belt",
			"chooses the day": "INSERT INTO tussock.sharing (coop_id, ranch_id, person_id, entity_id, purpose, given_by, through) SELECT coop_id, ranch_id, person_id, entity_id, 'more', given_by, through + 30 FROM tussock.sharing",
		} {
			if got := try(t, tx, statement); got != refused {
				t.Errorf("%s: got %v", what, got)
			}
		}
		for what, statement := range map[string]string{
			"takes rows back": "UPDATE tussock.upload SET state = 'undone'",
			"deletes belts":   "DELETE FROM tussock.belt",
			"ends the row":    "UPDATE tussock.sharing SET ended_at = now()",
		} {
			if got := try(t, tx, statement); got != 0 {
				t.Errorf("%s: got %v rows", what, got)
			}
		}
	})
	// A read-only transaction can note nothing and is shown nothing.
	err := s.DB.Reading(context.Background(), s.biologist, func(tx *postgres.Tx) error {
		list, err := tx.Named()
		if len(list) != 0 {
			t.Errorf("reading only, the biologist lists %d ranches", len(list))
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	// Undone rows are gone for the biologist too.
	s.As(t, s.a, func(tx *postgres.Tx) error { return tx.UndoUpload(s.uploadA) })
	if _, d, err := s.named(s.biologist, s.ranchA); err != nil || len(d.Nests)+len(d.Belts) != 0 {
		t.Errorf("after the owner took the sheet back: %d nests, %d belts, %v", len(d.Nests), len(d.Belts), err)
	}
}

// TestShareRefuses: who may share what with whom, by the methods and by a statement of one's own.
func TestShareRefuses(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	year := time.Now().AddDate(1, 0, 0)
	for _, tt := range []struct {
		name string
		who  access.Actor
		give postgres.Sharing
		want error
	}{
		{"Neighbor", s.b, postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "x", Through: year}, errs.NotFound},
		{"Hand", s.hand, postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "x", Through: year}, errs.NotFound},
		{"Coordinator", s.boss, postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "x", Through: year}, errs.NotFound},
		{"ToPlanner", s.a, postgres.Sharing{Ranch: s.ranchA, Person: s.planner.Person, Purpose: "x", Through: year}, errs.NotFound},
		{"ToStranger", s.a, postgres.Sharing{Ranch: s.ranchA, Person: s.stranger.Person, Purpose: "x", Through: year}, errs.NotFound},
		{"ToNobody", s.a, postgres.Sharing{Ranch: s.ranchA, Person: "x", Purpose: "x", Through: year}, errs.NotFound},
		{"NoPurpose", s.a, postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: " ", Through: year}, errs.Invalid},
		{"Past", s.a, postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "x", Through: time.Now().AddDate(0, 0, -2)}, errs.Invalid},
		{"TooLong", s.a, postgres.Sharing{Ranch: s.ranchA, Person: s.biologist.Person, Purpose: "x", Through: time.Now().AddDate(2, 0, 3)}, errs.Invalid},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := s.DB.As(ctx, tt.who, func(tx *postgres.Tx) error { _, err := tx.Share(tt.give); return err })
			if !errors.Is(err, tt.want) {
				t.Errorf("got %v, want %v", err, tt.want)
			}
		})
	}
	t.Run("Private", func(t *testing.T) {
		s.As(t, s.b, func(tx *postgres.Tx) error { return tx.SetConsent(s.ranchB, 0) })
		err := s.DB.As(ctx, s.b, func(tx *postgres.Tx) error {
			_, err := tx.Share(postgres.Sharing{Ranch: s.ranchB, Person: s.biologist.Person, Purpose: "x", Through: year})
			return err
		})
		if !errors.Is(err, errs.Invalid) {
			t.Errorf("got %v, want invalid", err)
		}
	})
	t.Run("Ending", func(t *testing.T) {
		id := s.share(t)
		for name, who := range map[string]access.Actor{"neighbor": s.b, "hand": s.hand, "coordinator": s.boss, "biologist": s.biologist} {
			if err := s.DB.As(ctx, who, func(tx *postgres.Tx) error { return tx.EndSharing(id) }); !errors.Is(err, errs.NotFound) {
				t.Errorf("%s ends it: %v", name, err)
			}
		}
		again := s.share(t) // takes the earlier one's place
		err := s.DB.As(ctx, s.a, func(tx *postgres.Tx) error { return tx.EndSharing(id) })
		if !errors.Is(err, errs.NotFound) {
			t.Errorf("the earlier one is still there: %v", err)
		}
		s.As(t, s.a, func(tx *postgres.Tx) error { return tx.EndSharing(again) })
	})
	const give = "INSERT INTO tussock.sharing (coop_id, ranch_id, person_id, entity_id, purpose, given_by, through) SELECT $1, $2, $3, r.entity_id, 'x', $4, current_date + 30 FROM tussock.ranch r WHERE r.id = $5"
	for _, tt := range []struct {
		name      string
		who       access.Actor
		statement string
		args      []any
		want      any
	}{
		{"own", s.a, give, []any{s.a.Coop, s.ranchA, s.biologist.Person, s.a.Person, s.ranchA}, 1},
		{"a neighbor's ranch", s.a, give, []any{s.a.Coop, s.ranchB, s.biologist.Person, s.a.Person, s.ranchA}, refused},
		{"another's entity", s.boss, give, []any{s.a.Coop, s.ranchA, s.biologist.Person, s.boss.Person, s.ranchB}, refused},
		{"in another's name", s.a, give, []any{s.a.Coop, s.ranchA, s.biologist.Person, s.b.Person, s.ranchA}, refused},
		{"to a planner", s.a, give, []any{s.a.Coop, s.ranchA, s.planner.Person, s.a.Person, s.ranchA}, refused},
		{"by a hand", s.hand, give, []any{s.a.Coop, s.ranchA, s.biologist.Person, s.hand.Person, s.ranchA}, refused},
		{"wiped", s.a, "DELETE FROM tussock.sharing", nil, refused},
		{"stretched", s.a, "UPDATE tussock.sharing SET through = through + 365", nil, refused},
		{"made older", s.a, "UPDATE tussock.sharing SET given_at = now()", nil, refused},
		{"opened again", s.a, "UPDATE tussock.sharing SET ended_at = NULL", nil, 0},
	} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, tt.statement, tt.args...); got != tt.want {
				t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
			}
		})
	}
}

// TestSharingGate: a biologist who once read so many ranches by name sees no cell that the rest would be too few for.
func TestSharingGate(t *testing.T) {
	f := pgtest.New(t)
	s := &stage{Fixture: f, boss: f.Cooperative(t, "Bluestem")}
	s.biologist = s.Member(t, s.boss, access.Biologist, "Biologist")
	s.bulletin(t, s.boss.Coop, 2026, 10, 12)
	cells := func() (n int) {
		s.As(t, s.biologist, func(tx *postgres.Tx) error {
			list, err := tx.Cells(2026)
			n = len(list)
			return err
		})
		return n
	}
	for i, want := range []int{2, 2, 2, 2, 2, 2, 2, 1, 1, 0} { // 10 − known ≥ 4 up to six, 12 − known ≥ 4 up to eight
		if i > 0 {
			id, owner := s.Ranch(t, s.boss, postgres.Ranch{Name: strings.Map(func(r rune) rune { // no person has digits in their name
				if r >= '0' && r <= '9' {
					r += 'g' - '0'
				}
				return r
			}, uuid.NewString())})
			s.As(t, owner, func(tx *postgres.Tx) error { return tx.SetConsent(id, 1) })
			s.As(t, owner, func(tx *postgres.Tx) error {
				sharing, err := tx.Share(postgres.Sharing{Ranch: id, Person: s.biologist.Person, Purpose: "x", Through: time.Now()})
				return errors.Join(err, tx.EndSharing(sharing))
			})
		}
		if got := cells(); got != want {
			t.Errorf("knowing %d entities the biologist sees %d cells, want %d", i, got, want)
		}
	}
}
