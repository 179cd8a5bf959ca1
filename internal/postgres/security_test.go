package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"net/url"
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

const refused = "42501" // insufficient_privilege

// TestWhoSeesWhat is the promise to every ranch as one table: how many rows of each table each member sees, over a
// plain connection with a statement of their own. Of two cooperatives, all viewers but the last are in the first.
func TestWhoSeesWhat(t *testing.T) {
	s := newStage(t)
	viewers := []struct {
		name    string
		session string
	}{
		{"a", s.a.Session}, {"b", s.b.Session}, {"hand", s.hand.Session}, {"boss", s.boss.Session}, {"biologist", s.biologist.Session},
		{"planner", s.planner.Session}, {"nobody", ""}, {"forged", postgres.NewToken()}, {"stranger", s.stranger.Session},
	}
	const no = refused
	tables := []struct {
		table string
		want  [9]any
	}{
		//                       a   b  hand boss bio plan none forg stranger
		{"tussock.coop", [9]any{1, 1, 1, 1, 1, 1, 0, 0, 1}},
		{"tussock.person", [9]any{3, 2, 3, 6, 1, 1, 0, 0, 2}}, // of others a landowner and a hand see who is a coordinator, and who is on their ranch
		{"(SELECT password_hash FROM tussock.account) x", [9]any{no, no, no, no, no, no, no, no, no}},
		{"(SELECT email FROM tussock.account) x", [9]any{1, 1, 1, 6, 1, 1, 0, 0, 1}},
		{"tussock.area", [9]any{1, 1, 1, 1, 1, 1, 0, 0, 0}},
		{"tussock.entity", [9]any{1, 1, 1, 2, 0, 0, 0, 0, 1}},
		{"tussock.ranch", [9]any{1, 1, 1, 2, 0, 0, 0, 0, 1}},
		{"tussock.assignment", [9]any{2, 1, 2, 3, 0, 0, 0, 0, 1}},
		{"tussock.consent", [9]any{1, 1, 1, 2, 0, 0, 0, 0, 1}},
		{"tussock.session", [9]any{no, no, no, no, no, no, no, no, no}},
		{"(SELECT id FROM tussock.invitation) x", [9]any{0, 0, 0, 6, 0, 0, 0, 0, 0}},
		{"(SELECT token_hash FROM tussock.invitation) x", [9]any{no, no, no, no, no, no, no, no, no}},
		{"tussock.upload", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.came_in()", [9]any{0, 0, 0, 2, 0, 0, 0, 0, 0}}, // the coordinator sees that it came
		{"tussock.upload_file", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.reading", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.to_read", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.readback", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.readback_part", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.unfiled", [9]any{1, 1, 0, 0, 0, 0, 0, 0, 1}}, // whoever sent it, and nobody who works there
		{"tussock.sending_consent", [9]any{1, 1, 1, 2, 0, 0, 0, 0, 1}},
		{"tussock.word", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.nest", [9]any{3, 3, 3, 0, 0, 0, 0, 0, 3}},
		{"tussock.belt", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.site", [9]any{1, 1, 1, 0, 0, 0, 0, 0, 1}},
		{"tussock.view_log", [9]any{3, 3, 0, 0, 0, 0, 0, 0, 3}},
		{"tussock.season", [9]any{2, 2, 2, 2, 2, 2, 0, 0, 2}},
		{"(SELECT area FROM tussock.season_ranch) x", [9]any{2, 2, 2, 0, 0, 0, 0, 0, 2}},
		{"(SELECT counts_as FROM tussock.season_ranch) x", [9]any{no, no, no, no, no, no, no, no, no}},
		{"tussock.edition", [9]any{0, 0, 0, 1, 0, 0, 0, 0, 0}},
		{"tussock.approval", [9]any{0, 0, 0, 1, 0, 0, 0, 0, 0}},
		{"tussock.snapshot", [9]any{no, no, no, no, no, no, no, no, no}},
		{"tussock.vouch", [9]any{1, 1, 0, 4, 0, 0, 0, 0, 0}},
		{"tussock.browser", [9]any{no, no, no, no, no, no, no, no, no}},
		{"tussock.roster_change", [9]any{no, no, no, no, no, no, no, no, no}},
		{"tussock.roster_log('2000-01-01')", [9]any{15, 15, 15, 15, 4, 4, 0, 0, 6}},
		{"tussock.remains_key", [9]any{1, 1, 1, 1, 1, 1, 0, 0, 0}},
		{"tussock.take_back", [9]any{0, 0, 0, 0, 0, 0, 0, 0, 0}},
		{"tussock.owners_to_vouch()", [9]any{1, 1, 0, 2, 0, 0, 0, 0, 0}},
		{"pub.bulletin", [9]any{1, 1, 0, 1, 1, 1, 0, 0, 1}},
		{"pub.place", [9]any{1, 1, 0, 1, 1, 1, 0, 0, 1}},
		{"(SELECT estimate FROM pub.cell) x", [9]any{3, 3, 0, 3, 1, 1, 0, 0, 3}}, // on 5, 9 and 10 entities
		{"tussock.targets", [9]any{0, 0, 0, 0, 0, 0, 0, 0, 0}},
		{"tussock.gate_key", [9]any{no, no, no, no, no, no, no, no, no}}, // with which fingerprints are keyed
		{"(SELECT n FROM pub.cell) x", [9]any{no, no, no, no, no, no, no, no, no}},
	}
	for i, v := range viewers {
		s.raw(t, v.session, func(tx pgx.Tx) {
			for _, tt := range tables {
				if got := count(t, tx, tt.table); got != tt.want[i] {
					t.Errorf("%s sees of %s: got %v, want %v", v.name, tt.table, got, tt.want[i])
				}
			}
		})
	}
}

// TestWhoChangesWhat tries what no page offers, over a plain connection.
func TestWhoChangesWhat(t *testing.T) {
	s := newStage(t)
	for _, tt := range []struct {
		name      string
		who       access.Actor
		statement string
		args      []any
		want      any // rows touched, or the code of the refusal
	}{
		{"a neighbor's upload", s.a, "UPDATE tussock.upload SET state = 'undone' WHERE id = $1", []any{s.uploadB}, 0},
		{"a neighbor's rows", s.a, "DELETE FROM tussock.nest WHERE upload_id = $1", []any{s.uploadB}, 0},
		{"a nest into a neighbor's upload", s.a, insertNest, []any{s.a.Coop, s.ranchB, s.uploadB}, refused},
		{"a neighbor's consent", s.a, insertConsent, []any{s.a.Coop, s.ranchB, s.a.Person}, refused},
		{"consent in a neighbor's name", s.a, insertConsent, []any{s.a.Coop, s.ranchA, s.b.Person}, refused},
		{"the hand's consent", s.hand, insertConsent, []any{s.a.Coop, s.ranchA, s.hand.Person}, refused},
		{"the coordinator's consent", s.boss, insertConsent, []any{s.a.Coop, s.ranchA, s.boss.Person}, refused},
		{"what was sent goes at once", s.a, "DELETE FROM tussock.upload WHERE ranch_id = $1", []any{s.ranchA}, refused},
		{"no days to think it over", s.a, "INSERT INTO tussock.departure (coop_id, kind, person_id, due_at) VALUES ($1, 'leave', $2, now())", []any{s.a.Coop, s.a.Person}, refused},
		{"somebody else is made to leave", s.a, "INSERT INTO tussock.departure (coop_id, kind, person_id) VALUES ($1, 'leave', $2)", []any{s.a.Coop, s.b.Person}, refused},
		{"a neighbor is erased", s.a, "INSERT INTO tussock.departure (coop_id, kind, ranch_id, person_id) VALUES ($1, 'erase', $2, $3)", []any{s.a.Coop, s.ranchB, s.a.Person}, refused},
		{"the hand erases", s.hand, "INSERT INTO tussock.departure (coop_id, kind, ranch_id, person_id) VALUES ($1, 'erase', $2, $3)", []any{s.a.Coop, s.ranchA, s.hand.Person}, refused},
		{"a page carries out", s.a, "SELECT tussock.carry_out('2099-01-01')", nil, refused},
		{"a page erases", s.a, "SELECT tussock.erase($1, $2, $3)", []any{s.a.Coop, s.ranchA, s.a.Person}, refused},
		{"a neighbor on show", s.a, insertShowing, []any{s.a.Coop, s.ranchB, s.a.Person}, refused},
		{"a ranch under another name", s.a, insertShowing, []any{s.a.Coop, s.ranchA, s.a.Person}, refused},
		{"a landowner takes a ranch", s.a, insertAssignment, []any{s.a.Coop, s.a.Person, s.ranchB}, refused},
		{"a landowner becomes coordinator", s.a, "UPDATE tussock.person SET role = 'coordinator' WHERE id = $1", []any{s.a.Person}, refused},
		{"a landowner removes a member", s.a, "UPDATE tussock.person SET left_at = now() WHERE id = $1", []any{s.hand.Person}, 0},
		{"the owner ends a hand", s.a, "UPDATE tussock.assignment SET until = now() WHERE person_id = $1", []any{s.hand.Person}, 1},
		{"the hand ends the owner", s.hand, "UPDATE tussock.assignment SET until = now() WHERE person_id = $1", []any{s.a.Person}, 0},
		{"another's password", s.a, "UPDATE tussock.account SET password_hash = 'x' WHERE person_id = $1", []any{s.b.Person}, 0},
		{"the coordinator sets a password", s.boss, "UPDATE tussock.account SET password_hash = 'x' WHERE person_id = $1", []any{s.b.Person}, 0},
		{"a landowner invites", s.a, insertInvitation, []any{s.a.Coop, s.a.Person}, refused},
		{"a landowner sets a season", s.a, insertSeason, []any{s.a.Coop, s.a.Person}, refused},
		{"a season of today", s.boss, "INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on, set_by) SELECT $1, 2030, d, d + 1, d + 1, d + 1, $2 FROM (SELECT current_date AS d) x", []any{s.a.Coop, s.boss.Person}, "23514"},
		{"a season that has opened is moved", s.boss, "UPDATE tussock.season SET cut_off_on = cut_off_on + 1, published_on = published_on + 9, composed_on = composed_on + 9, set_by = $1", []any{s.boss.Person}, 0},
		{"a season that has opened is dropped", s.boss, "DELETE FROM tussock.season", nil, 0},
		{"a season is opened", s.boss, "UPDATE tussock.season SET opened_at = now()", nil, refused},
		{"a word in another's name", s.boss, "INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes) VALUES ($1, 2026, 1, $2, true)", []any{s.a.Coop, s.a.Person}, refused},
		{"a landowner approves", s.a, "INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes) VALUES ($1, 2026, 1, $2, true)", []any{s.a.Coop, s.a.Person}, refused},
		{"a page freezes", s.boss, "SELECT tussock.freeze_due(NULL)", nil, refused},
		{"a page publishes", s.boss, "SELECT tussock.publish_due(NULL)", nil, refused},
		{"an owner vouches for themselves", s.a, "INSERT INTO tussock.vouch (coop_id, owner_id, person_id) VALUES ($1, $2, $2)", []any{s.a.Coop, s.a.Person}, refused},
		{"a hand vouches", s.hand, "INSERT INTO tussock.vouch (coop_id, owner_id, person_id) VALUES ($1, $2, $3)", []any{s.a.Coop, s.b.Person, s.hand.Person}, refused},
		{"a vouch in another's name", s.boss, "INSERT INTO tussock.vouch (coop_id, owner_id, person_id) VALUES ($1, $2, $3)", []any{s.a.Coop, s.a.Person, s.b.Person}, refused},
		{"a yes on paper for whom has an account", s.boss, "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by, paper) VALUES ($1, $2, 1, $3, true)", []any{s.a.Coop, s.ranchA, s.boss.Person}, refused},
		{"an owner's own yes as one on paper", s.a, "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by, paper) VALUES ($1, $2, 1, $3, true)", []any{s.a.Coop, s.ranchA, s.a.Person}, refused},
		{"the roster's log is wiped", s.boss, "DELETE FROM tussock.roster_change", nil, refused},
		{"browsers are forgotten", s.a, "DELETE FROM tussock.browser", nil, refused},
		{"a landowner sets the key", s.a, insertKey, []any{s.a.Coop, s.a.Person}, refused},
		{"a biologist sets the key", s.biologist, insertKey, []any{s.a.Coop, s.biologist.Person}, refused},
		{"a coordinator sets the key", s.boss, insertKey, []any{s.a.Coop, s.boss.Person}, 1},
		{"the key in another's name", s.boss, insertKey, []any{s.a.Coop, s.a.Person}, refused},
		{"another cooperative's key", s.boss, insertKey, []any{s.stranger.Coop, s.boss.Person}, refused},
		{"a key without a source", s.boss, "INSERT INTO tussock.remains_key (coop_id, set_by, source, counted, lines) VALUES ($1, $2, '', false, '[[\"bits\", \"halves\", \"fox\", 2]]')", []any{s.a.Coop, s.boss.Person}, "23514"},
		{"a version of one's choice", s.boss, "INSERT INTO tussock.remains_key (coop_id, version, set_by, source, counted, lines) VALUES ($1, 0, $2, '', false, '[]')", []any{s.a.Coop, s.boss.Person}, refused},
		{"the key is rewritten", s.boss, "UPDATE tussock.remains_key SET source = 'x'", nil, refused},
		{"the key is dropped", s.boss, "DELETE FROM tussock.remains_key", nil, refused},
		{"a season's key is changed", s.boss, "UPDATE tussock.season SET remains_key = 0", nil, refused},
		{"a bulletin's key is changed", s.boss, "UPDATE pub.bulletin SET key_source = 'x'", nil, refused},
		{"a look is wiped", s.a, "DELETE FROM tussock.view_log", nil, refused},
		{"a look in another's name", s.hand, "INSERT INTO tussock.view_log (coop_id, ranch_id, person_id, looked_at) VALUES ($1, $2, $3, now())", []any{s.a.Coop, s.ranchA, s.a.Person}, refused},
		{"a bulletin is changed", s.boss, "UPDATE pub.cell SET estimate = 1", nil, refused},
		{"a bulletin is deleted", s.boss, "DELETE FROM pub.bulletin", nil, refused},
		{"a cell is added", s.boss, "INSERT INTO pub.cell (coop_id, season, row, measure, predator, entities, n) VALUES ($1, 2025, 9, 'x', '', '', 9)", []any{s.boss.Coop}, refused},
		{"another cooperative's name", s.boss, "UPDATE tussock.coop SET name = 'x' WHERE coop_id = $1", []any{s.stranger.Coop}, 0},
		{"a row in another cooperative", s.boss, "INSERT INTO tussock.area (coop_id, name) VALUES ($1, 'x')", []any{s.stranger.Coop}, refused},
		{"all rows at once", s.a, "TRUNCATE tussock.nest", nil, refused},
		{"a table of one's own", s.a, "CREATE TABLE tussock.mine (x int)", nil, refused},
		{"a function of one's own", s.a, "CREATE FUNCTION public.mine() RETURNS int LANGUAGE sql AS 'SELECT 1'", nil, refused},
		{"the owner's role", s.a, "SET ROLE tussock_owner", nil, refused},
		{"the press's role", s.a, "SET ROLE tussock_press", nil, refused},
		{"the clerk's role", s.a, "SET ROLE tussock_clerk", nil, refused},
		{"what was read is rewritten", s.a, "UPDATE tussock.readback SET body = 'x'", nil, refused},
		{"a reading of one's own", s.a, "INSERT INTO tussock.readback (coop_id, ranch_id, upload_id, language, body) VALUES ($1, $2, $3, 'es', 'x')", []any{s.a.Coop, s.ranchA, s.uploadA}, refused},
		{"a neighbor's sheet read again", s.a, "UPDATE tussock.to_read SET asked = 9 WHERE upload_id = $1", []any{s.uploadB}, 0},
		{"an unfiled sheet in another's name", s.a, insertUnfiled, []any{s.a.Coop, s.b.Person}, refused},
		{"the coordinator lets herself send", s.boss, insertSendingConsent, []any{s.a.Coop, s.ranchB, s.boss.Person}, refused},
		{"the hand lets her send", s.hand, insertSendingConsent, []any{s.a.Coop, s.ranchA, s.hand.Person}, refused},
		{"a neighbor lets her send", s.a, insertSendingConsent, []any{s.a.Coop, s.ranchB, s.a.Person}, refused},
		{"for longer", s.a, "INSERT INTO tussock.sending_consent (coop_id, ranch_id, given_by, through) VALUES ($1, $2, $3, '2099-01-01')", []any{s.a.Coop, s.ranchA, s.a.Person}, refused},
		{"the hand ends it", s.hand, "UPDATE tussock.sending_consent SET ended_at = now() WHERE ranch_id = $1", []any{s.ranchA}, 0},
		{"the coordinator's upload", s.boss, "INSERT INTO tussock.upload (coop_id, ranch_id, season, sent_by, sent_at) VALUES ($1, $2, 2026, $3, now())", []any{s.a.Coop, s.ranchA, s.boss.Person}, refused},
		{"policies off", s.a, "ALTER TABLE tussock.nest DISABLE ROW LEVEL SECURITY", nil, refused},
		{"a session for somebody else", s.a, "SELECT tussock.open_session($1, $2, '1 hour', '1 hour', '')", []any{s.b.Coop, s.b.Person}, refused},
		{"somebody's hash", s.a, "SELECT tussock.credentials('b@example.org')", nil, refused},
	} {
		s.raw(t, tt.who.Session, func(tx pgx.Tx) {
			if got := try(t, tx, tt.statement, tt.args...); got != tt.want {
				t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
			}
		})
	}
}

const (
	insertNest = `INSERT INTO tussock.nest (coop_id, ranch_id, upload_id, row, season, transect, number, substrate, visit_on, visit_state)
		VALUES ($1, $2, $3, 99, 2026, '1', '1', 'yucca', '{}', '{}')`
	insertConsent        = "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) VALUES ($1, $2, 1, $3)"
	insertUnfiled        = `INSERT INTO tussock.unfiled (coop_id, person_id, sending_id, name, size, data, language) VALUES ($1, $2, gen_random_uuid(), 'x', 1, 'x', 'en')`
	insertSendingConsent = `INSERT INTO tussock.sending_consent (coop_id, ranch_id, given_by) VALUES ($1, $2, $3)`
	insertShowing        = `INSERT INTO tussock.showcase (coop_id, ranch_id, entity_id, name, season, item, put_by) VALUES ($1, $2, gen_random_uuid(), 'Long Draw', 2026, 'cover', $3)`
	insertAssignment     = `INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind) VALUES ($1, $2, $3, gen_random_uuid(), 'owner')`
	insertInvitation     = `INSERT INTO tussock.invitation (coop_id, token_hash, role, invited_by, expires_at) VALUES ($1, sha256('x'), 'coordinator', $2, now() + interval '1 day')`
	insertKey            = `INSERT INTO tussock.remains_key (coop_id, set_by, source, counted, lines) VALUES ($1, $2, 'A book', false, '[["bits", "halves", "fox", 2]]')`
	insertSeason         = `INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on, set_by) VALUES ($1, 2090, '2090-01-01', '2090-02-01', '2090-02-01', '2090-02-01', $2)`
)

// TestPressRights: the press reads figures and adds bulletins; it sees no name of a person, no file and no way to a
// nest, and changes nothing that is published.
func TestPressRights(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.PressURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	tx, err := conn.Begin(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback(ctx)
	for _, tt := range []struct {
		statement string
		want      any
	}{
		{"SELECT nests FROM tussock.snapshot", 3},
		{"SELECT substrate FROM tussock.nest", refused},
		{"SELECT level FROM tussock.consent", refused},
		{"SELECT name FROM tussock.ranch", refused},
		{"SELECT name FROM tussock.entity", refused},
		{"SELECT name FROM tussock.person", refused},
		{"SELECT email FROM tussock.account", refused},
		{"SELECT data FROM tussock.upload_file", refused},
		{"SELECT sent_by FROM tussock.upload", refused},
		{"SELECT looked_at FROM tussock.view_log", refused},
		{"SELECT 1 FROM tussock.session", refused},
		{"SELECT source FROM tussock.remains_key", 1},
		{"SELECT set_by FROM tussock.remains_key", refused},
		{"SELECT words FROM tussock.season", refused},
		{"UPDATE tussock.season SET remains_key = 1", refused},
		{"UPDATE pub.bulletin SET key_version = 1", refused},
		{"UPDATE pub.cell SET estimate = 1", refused},
		{"DELETE FROM pub.cell", refused},
		{"DELETE FROM pub.bulletin", refused},
		{"UPDATE pub.bulletin SET hash = ''", refused},
		{"TRUNCATE pub.cell", refused},
		{"UPDATE pub.bulletin SET published_at = now()", refused},
		{"INSERT INTO tussock.approval (coop_id, season, edition, person_id, yes) SELECT coop_id, 2026, 1, coop_id, true FROM tussock.edition", refused},
		{"UPDATE tussock.snapshot SET nests = '[]'", refused},
		{"INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) SELECT coop_id, ranch_id, 1, given_by FROM tussock.consent", refused},
		{"SET ROLE tussock_owner", refused},
	} {
		if got := try(t, tx, tt.statement); got != tt.want {
			t.Errorf("press: %s: got %v, want %v", tt.statement, got, tt.want)
		}
	}
}

// TestClerkRights: the clerk reads what was sent and writes what it says; it knows no person, no consent and no bulletin,
// and cannot change who sent what.
func TestClerkRights(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, s.ClerkURL)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	tx, err := conn.Begin(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback(ctx)
	for _, tt := range []struct {
		statement string
		want      any
	}{
		{"SELECT data FROM tussock.upload_file", 3},
		{"SELECT name FROM tussock.ranch", 3},
		{"SELECT entity_id FROM tussock.ranch", refused},
		{"SELECT name FROM tussock.person", refused},
		{"SELECT email FROM tussock.account", refused},
		{"SELECT person_id FROM tussock.assignment", refused},
		{"SELECT level FROM tussock.consent", refused},
		{"SELECT given_by FROM tussock.sending_consent", refused},
		{"SELECT 1 FROM tussock.session", refused},
		{"SELECT looked_at FROM tussock.view_log", refused},
		{"SELECT estimate FROM pub.cell", refused},
		{"UPDATE tussock.upload SET state = 'undone'", refused},
		{"UPDATE tussock.upload SET sent_by = gen_random_uuid()", refused},
		{"UPDATE tussock.upload_file SET data = 'x'", refused},
		{"DELETE FROM tussock.upload_file", refused},
		{"DELETE FROM tussock.upload", refused},
		{"UPDATE tussock.reading SET answers = '{}'", refused},
		{"UPDATE tussock.nest SET season = 1", refused},
		{"SET ROLE tussock_owner", refused},
	} {
		if got := try(t, tx, tt.statement); got != tt.want {
			t.Errorf("clerk: %s: got %v, want %v", tt.statement, got, tt.want)
		}
	}
}

// TestGate: a cell is there for a reader where it rests on enough entities for their role, and on at least four that
// they do not know.
func TestGate(t *testing.T) {
	f := pgtest.New(t)
	s := &stage{Fixture: f, boss: f.Cooperative(t, "Bluestem")}
	s.bulletin(t, s.boss.Coop, 2025, 5, 6, 7, 8, 9, 10, 11, 12)
	var ranches []access.ID
	for i := range 6 {
		f.As(t, s.boss, func(tx *postgres.Tx) error {
			id, err := tx.SaveRanch(postgres.Ranch{Name: fmt.Sprintf("Ranch %d", i), Owner: fmt.Sprintf("Owner %d", i/2*2)}) // two ranches an owner
			ranches = append(ranches, id)
			return err
		})
	}
	for _, tt := range []struct {
		name    string
		role    access.Role
		ranches []access.ID
		known   int
		want    int // cells of the eight
	}{
		{"CoordinatorFromFive", access.Coordinator, nil, 0, 8},
		{"LandownerOfOneFromFive", access.Landowner, ranches[:1], 1, 8},
		{"LandownerOfTwoRanchesOneEntity", access.Landowner, ranches[:2], 1, 8},
		{"LandownerOfTwoEntitiesFromSix", access.Landowner, ranches[:3], 2, 7},
		{"LandownerOfThreeEntitiesFromSeven", access.Landowner, ranches, 3, 6},
		{"LandownerWithoutRanch", access.Landowner, nil, 0, 3},
		{"BiologistFromTen", access.Biologist, nil, 0, 3},
		{"PlannerFromTen", access.Planner, nil, 0, 3},
		{"HandNone", access.Hand, ranches[:1], 1, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := f.Member(t, s.boss, tt.role, tt.name, tt.ranches...)
			agrees := func(level int) {
				for _, r := range tt.ranches {
					if tt.role == access.Landowner {
						f.As(t, a, func(tx *postgres.Tx) error { return tx.SetConsent(r, level) })
					}
				}
			}
			agrees(1)
			cells := func() (n int) {
				f.As(t, a, func(tx *postgres.Tx) error {
					list, err := tx.Cells(0)
					n = len(list)
					return err
				})
				return n
			}
			if got := cells(); got != tt.want || a.Known != tt.known {
				t.Errorf("got %d cells knowing %d, want %d knowing %d", got, a.Known, tt.want, tt.known)
			}
			// Who adds nothing to the figures reads them as an outsider does.
			outside := min(tt.want, 3)
			if agrees(0); tt.role == access.Landowner && cells() != outside {
				t.Errorf("private, sees %d cells, want %d", cells(), outside)
			}
			if agrees(1); cells() != tt.want {
				t.Errorf("counted again, sees %d cells, want %d", cells(), tt.want)
			}
			if tt.role != access.Landowner {
				outside = tt.want
			}
			// What somebody once saw they still know.
			for _, r := range tt.ranches {
				f.TakeOff(t, s.boss, a.Person, r)
			}
			if again := f.Again(t, a); again.Known != tt.known || len(again.Ranches) != 0 || cells() != outside {
				t.Errorf("after leaving the ranches: knows %d, opens %d, sees %d cells", again.Known, len(again.Ranches), cells())
			}
		})
	}
	t.Run("CoordinatorWhoRanches", func(t *testing.T) {
		a := f.Member(t, s.boss, access.Landowner, "both", ranches...)
		s.seed(t, "UPDATE tussock.person SET role = 'coordinator' WHERE id = $1", a.Person)
		if a = f.Again(t, a); a.Known != 3 || len(a.Ranches) != 0 {
			t.Errorf("knows %d and opens %d ranches, want 3 and none", a.Known, len(a.Ranches))
		}
		f.As(t, a, func(tx *postgres.Tx) error {
			list, err := tx.Cells(0)
			if len(list) != 6 {
				t.Errorf("sees %d cells, want 6", len(list))
			}
			return err
		})
	})
}

// TestForeignIDs tries every method that takes an id with a neighbor's, as everybody, and with one that names
// nothing: the two must be answered alike, and nothing may be changed.
func TestForeignIDs(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	random := access.ID(uuid.NewString())
	methods := map[string]func(tx *postgres.Tx, ranch, upload access.ID) error{
		"Ranch":    func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Ranch(r); return err },
		"Survey":   func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Survey([]access.ID{r}, 0); return err },
		"Seasons":  func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Seasons(r); return err },
		"Uploads":  func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Uploads(r); return err },
		"Words":    func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Words(r); return err },
		"Remember": func(tx *postgres.Tx, r, _ access.ID) error { return tx.RememberWords(r, map[string]string{"a": "b"}) },
		"Consent":  func(tx *postgres.Tx, r, _ access.ID) error { return tx.SetConsent(r, 0) },
		"Along":    func(tx *postgres.Tx, r, _ access.ID) error { _, _, err := tx.Along(r); return err },
		"Agreed":   func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Consent(r); return err },
		"Erase": func(tx *postgres.Tx, r, _ access.ID) error {
			_, err := tx.Depart(postgres.Departure{Kind: postgres.EraseKind, Ranch: r})
			return err
		},
		"HandOver": func(tx *postgres.Tx, r, _ access.ID) error {
			_, err := tx.Depart(postgres.Departure{Kind: postgres.HandOverKind, Ranch: r, Heir: "heir@example.org"})
			return err
		},
		"CallOff":    func(tx *postgres.Tx, _, x access.ID) error { return tx.CallOff(x) },
		"Answer":     func(tx *postgres.Tx, _, x access.ID) error { return tx.AnswerOffer(x, true) },
		"InviteHeir": func(tx *postgres.Tx, _, x access.ID) error { _, err := tx.InviteHeir(x); return err },
		"Show": func(tx *postgres.Tx, r, _ access.ID) error {
			return tx.Show(postgres.Showing{Ranch: r, Season: 2027, Item: postgres.ShowCover, Estimate: 300})
		},
		"Showings": func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.OwnShowings(r); return err },
		"TakeDown": func(tx *postgres.Tx, _, x access.ID) error { return tx.TakeDown(x) },
		"People":   func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.People(r); return err },
		"Looked":   func(tx *postgres.Tx, r, _ access.ID) error { return tx.Looked(r) },
		"Sharings": func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.Sharings(r); return err },
		"Share": func(tx *postgres.Tx, r, _ access.ID) error {
			_, err := tx.Share(postgres.Sharing{Ranch: r, Person: s.biologist.Person, Purpose: "x", Through: time.Now()})
			return err
		},
		"EndSharing":  func(tx *postgres.Tx, _, x access.ID) error { return tx.EndSharing(x) },
		"NamedSurvey": func(tx *postgres.Tx, r, _ access.ID) error { _, err := tx.NamedSurvey([]access.ID{r}); return err },
		"Send": func(tx *postgres.Tx, r, _ access.ID) error {
			_, _, err := tx.Send(postgres.Sending{Ranch: r, Data: []byte("x"), Rows: &survey.Data{}})
			return err
		},
		"Upload":     func(tx *postgres.Tx, _, u access.ID) error { _, err := tx.Upload(u); return err },
		"UploadFile": func(tx *postgres.Tx, _, u access.ID) error { _, _, err := tx.UploadFile(u); return err },
		"Answers":    func(tx *postgres.Tx, _, u access.ID) error { _, err := tx.Answers(u); return err },
		"Undo":       func(tx *postgres.Tx, _, u access.ID) error { return tx.UndoUpload(u) },
		"Restore":    func(tx *postgres.Tx, _, u access.ID) error { return tx.RestoreUpload(u) },
		"ReadAgain":  func(tx *postgres.Tx, _, u access.ID) error { return tx.ReadAgain(u, postgres.Answers{}, "") },
		"Progress":   func(tx *postgres.Tx, _, u access.ID) error { _, err := tx.Progress(u); return err },
		"Readback":   func(tx *postgres.Tx, _, u access.ID) error { _, err := tx.Readback(u, "en"); return err },
		"Part":       func(tx *postgres.Tx, _, u access.ID) error { _, err := tx.ReadbackPart(u, 0); return err },
		"Accept":     func(tx *postgres.Tx, _, u access.ID) error { return tx.Accept(u) },
		"FileUnder":  func(tx *postgres.Tx, r, u access.ID) error { _, _, err := tx.FileUnder(u, r); return err },
		"Drop":       func(tx *postgres.Tx, _, u access.ID) error { return tx.DropUnfiled(u) },
		"LetSend":    func(tx *postgres.Tx, r, _ access.ID) error { return tx.LetSend(r) },
		"StopSend":   func(tx *postgres.Tx, r, _ access.ID) error { return tx.StopSending(r) },
	}
	fingerprint := func() string {
		got, err := s.Owner.Text(ctx, `SELECT md5(string_agg(x, '|' ORDER BY x)) FROM (
			SELECT u::text FROM tussock.upload u UNION ALL SELECT n::text FROM tussock.nest n UNION ALL SELECT c::text FROM tussock.consent c
			UNION ALL SELECT w::text FROM tussock.word w UNION ALL SELECT v::text FROM tussock.view_log v) t(x)`)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	before := fingerprint()
	for _, who := range []access.Actor{s.a, s.hand, s.boss, s.biologist, s.planner, s.stranger} {
		for name, method := range methods {
			foreign := s.DB.As(ctx, who, func(tx *postgres.Tx) error { return method(tx, s.ranchB, s.uploadB) })
			nothing := s.DB.As(ctx, who, func(tx *postgres.Tx) error { return method(tx, random, random) })
			garbage := s.DB.As(ctx, who, func(tx *postgres.Tx) error { return method(tx, "' OR true --", "' OR true --") })
			for what, err := range map[string]error{"a foreign id": foreign, "no id at all": garbage} {
				if !errors.Is(err, errs.NotFound) || nothing == nil || err.Error() != nothing.Error() {
					t.Errorf("%s, %s with %s: got %v; an id that names nothing gets %v", who.Name, name, what, err, nothing)
				}
			}
			// A forged actor, as a faulty page could make one: the ranch is on the list, but not in the database. The
			// coordinator's roster has the ranch's name; there is nothing else to find.
			forged := who
			forged.Role, forged.Ranches = access.Landowner, []access.ID{s.ranchB}
			err := s.DB.As(ctx, forged, func(tx *postgres.Tx) error { return method(tx, s.ranchB, s.uploadB) })
			if roster := map[string]bool{"Ranch": true, "Survey": true, "Seasons": true, "Uploads": true, "Words": true, "People": true, "Sharings": true, "Agreed": true, "Showings": true, "Along": true}; who.Role == access.Coordinator && roster[name] {
				continue
			}
			if !errors.Is(err, errs.NotFound) {
				t.Errorf("%s forged as the neighbor, %s: got %v, want not found", who.Name, name, err)
			}
		}
	}
	forged := s.boss
	forged.Role, forged.Ranches = access.Landowner, []access.ID{s.ranchB}
	s.As(t, forged, func(tx *postgres.Tx) error {
		d, err := tx.Survey([]access.ID{s.ranchB}, 0)
		uploads, err2 := tx.Uploads(s.ranchB)
		words, err3 := tx.Words(s.ranchB)
		seasons, err4 := tx.Seasons(s.ranchB)
		if len(d.Nests)+len(d.Belts)+len(uploads)+len(words)+len(seasons) != 0 {
			t.Errorf("the coordinator forged as the neighbor sees %d nests, %d uploads, %v, %v", len(d.Nests), len(uploads), words, seasons)
		}
		return errors.Join(err, err2, err3, err4)
	})
	if after := fingerprint(); after != before {
		t.Error("somebody's rows were changed")
	}
}

// TestForeignKeyOracle: a key to a neighbor's row and a key to nothing fail alike.
func TestForeignKeyOracle(t *testing.T) {
	s := newStage(t)
	random := uuid.NewString()
	s.raw(t, s.a.Session, func(tx pgx.Tx) {
		for _, ranch := range []any{s.ranchA, s.ranchB, s.ranchX, random} {
			foreign := try(t, tx, insertNest, s.a.Coop, ranch, s.uploadB)
			nothing := try(t, tx, insertNest, s.a.Coop, ranch, random)
			if foreign != nothing || foreign == 1 {
				t.Errorf("ranch %v: a foreign upload gives %v, none gives %v", ranch, foreign, nothing)
			}
		}
	})
}

// TestNamespaces: names that a neighbor uses are free, and nothing says that they are taken.
func TestNamespaces(t *testing.T) {
	s := newStage(t)
	s.As(t, s.a, func(tx *postgres.Tx) error {
		// The neighbor has the same bytes, sites, words and season already.
		_, already, err := tx.Send(postgres.Sending{Ranch: s.ranchA, File: "secret.csv", Data: []byte("other bytes"), Rows: season(t, "")})
		if already {
			t.Error("somebody else's upload was taken for one's own")
		}
		return errors.Join(err, tx.RememberWords(s.ranchA, map[string]string{"state/hit": "lost"}))
	})
	s.As(t, s.b, func(tx *postgres.Tx) error {
		words, err := tx.Words(s.ranchB)
		if words["state/hit"] != "taken" {
			t.Errorf("the neighbor's word: got %q, want taken", words["state/hit"])
		}
		return err
	})
}

// TestForgedSettings: whoever can slip a statement into a page can set any setting. Without a live secret it gives nothing:
// not with what the database keeps of one, nor with what was shown in another transaction.
func TestForgedSettings(t *testing.T) {
	s := newStage(t)
	ended := s.SignIn(t, postgres.Credentials{Coop: s.b.Coop, Person: s.b.Person})
	if err := s.DB.CloseSession(context.Background(), ended.Session); err != nil {
		t.Fatal(err)
	}
	var shown string // to another transaction, which is over
	s.raw(t, s.b.Session, func(tx pgx.Tx) {
		if err := tx.QueryRow(t.Context(), "SELECT current_setting('tussock.viewer')").Scan(&shown); err != nil {
			t.Fatal(err)
		}
		if got := count(t, tx, "tussock.nest"); got != 3 {
			t.Fatalf("what is shown in its own transaction shows %v nests", got)
		}
	})
	kept := s.text(t, "SELECT encode(tussock.kept($1), 'hex')", s.b.Session)
	handle, zeros := shown[:64], strings.Repeat("0", 64)
	for name, said := range map[string]string{
		"empty": "", "the person's id": string(s.b.Person), "the ranch's id": string(s.ranchB), "a wildcard": "%", "a quote": "' OR true --",
		"the secret": s.b.Session, "the secret twice": s.b.Session + s.b.Session, "the secret under its handle": handle + s.b.Session,
		"what was shown before": shown, "what was shown before, in capitals": strings.ToUpper(shown), "half of it": shown[:64], "the other half": shown[64:], "more of it": shown + "00",
		"what is kept": kept, "what is kept under its handle": handle + kept, "the handle twice": handle + handle, "the handle and nothing": handle + zeros, "nothing": zeros + zeros,
		"an ended session": postgres.ViewerIn(1, ended.Session), "another secret": postgres.ViewerIn(1, postgres.NewToken()), "the first transaction": postgres.ViewerIn(1, s.b.Session),
	} {
		s.raw(t, postgres.NewToken(), func(tx pgx.Tx) {
			if got := try(t, tx, "SELECT set_config('tussock.viewer', $1, true)", said); got != 1 {
				t.Fatalf("%s: %v", name, got)
			}
			for _, setting := range []string{"tussock.coop", "tussock.coop_id", "tussock.person", "tussock.ranch", "tussock.session", "app.session"} {
				try(t, tx, "SELECT set_config($1, $2, true)", setting, string(s.b.Person))
			}
			for _, table := range []string{"tussock.nest", "tussock.ranch", "tussock.coop", "(SELECT estimate FROM pub.cell) x", "tussock.field_viewer()"} {
				if got := count(t, tx, table); got != 0 {
					t.Errorf("%s shows %v rows of %s", name, got, table)
				}
			}
		})
	}
	s.raw(t, ended.Session, func(tx pgx.Tx) {
		if got := count(t, tx, "tussock.nest"); got != 0 {
			t.Errorf("an ended session shows %v nests", got)
		}
	})
	for _, bad := range []string{"", "x", s.a.Session + "0", strings.ToUpper(s.a.Session), s.a.Session[:63] + "'"} {
		err := s.DB.As(context.Background(), access.Actor{Session: bad}, func(*postgres.Tx) error { return nil })
		if !errors.Is(err, errs.Unauthenticated) {
			t.Errorf("As with session %q: got %v, want unauthenticated", bad, err)
		}
	}
}

// TestSessionEnds: each way in which a session ends, ends it in the database at once.
func TestSessionEnds(t *testing.T) {
	s := newStage(t)
	ctx := context.Background()
	for name, end := range map[string]func(a access.Actor) error{
		"closed": func(a access.Actor) error { return s.DB.CloseSession(ctx, a.Session) },
		"everywhere": func(a access.Actor) error {
			return s.DB.As(ctx, a, func(tx *postgres.Tx) error { return tx.EndSessions(false) })
		},
		"unused": func(a access.Actor) error {
			_, err := s.Owner.Exec(ctx, "UPDATE tussock.session SET seen_at = now() - idle WHERE token_hash = tussock.kept($1)", a.Session)
			return err
		},
		"old": func(a access.Actor) error {
			_, err := s.Owner.Exec(ctx, "UPDATE tussock.session SET ends_at = now() WHERE token_hash = tussock.kept($1)", a.Session)
			return err
		},
		"removed": func(a access.Actor) error {
			s.Remove(t, s.boss, a.Person)
			return nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			a := s.Member(t, s.boss, access.Landowner, name, s.ranchB)
			if err := end(a); err != nil {
				t.Fatal(err)
			}
			if _, err := s.DB.ActorOf(ctx, a.Session); !errors.Is(err, errs.Unauthenticated) {
				t.Errorf("actor: got %v, want unauthenticated", err)
			}
			s.raw(t, a.Session, func(tx pgx.Tx) {
				if got := count(t, tx, "tussock.nest"); got != 0 {
					t.Errorf("an ended session sees %v nests", got)
				}
			})
		})
	}
}

// TestOneConnection: with a single connection, whatever one request leaves behind the next would find.
func TestOneConnection(t *testing.T) {
	s := newStage(t)
	db, err := postgres.OpenOne(context.Background(), s.AppURL, s.DoorURL)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	look := func(tx *postgres.Tx) error {
		d, err := tx.Survey([]access.ID{s.ranchA}, 0)
		if err == nil && len(d.Nests) != 3 {
			t.Errorf("the owner sees %d nests, want 3", len(d.Nests))
		}
		return err
	}
	for name, request := range map[string]func() error{
		"commits": func() error { return db.As(context.Background(), s.a, look) },
		"fails": func() error {
			return db.As(context.Background(), s.a, func(tx *postgres.Tx) error { return errors.Join(look(tx), errors.New("no")) })
		},
		"panics": func() (err error) {
			defer func() { err = fmt.Errorf("%v", recover()) }()
			return db.As(context.Background(), s.a, func(tx *postgres.Tx) error {
				if err := look(tx); err != nil {
					t.Error(err)
				}
				panic("no")
			})
		},
		"times out": func() error {
			ctx, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
			defer cancel()
			return db.As(ctx, s.a, func(tx *postgres.Tx) error {
				if err := look(tx); err != nil {
					return err
				}
				<-ctx.Done()
				return look(tx)
			})
		},
		"is cancelled": func() error {
			ctx, cancel := context.WithCancel(context.Background())
			return db.As(ctx, s.a, func(tx *postgres.Tx) error {
				defer cancel()
				return look(tx)
			})
		},
	} {
		t.Run(name, func(t *testing.T) {
			err := request()
			if (err == nil) != (name == "commits") {
				t.Errorf("the request: got %v", err)
			}
			nobody := access.Actor{Session: postgres.NewToken(), Coop: s.a.Coop, Person: s.a.Person, Role: access.Landowner, Ranches: []access.ID{s.ranchA}}
			err = db.As(context.Background(), nobody, func(tx *postgres.Tx) error {
				list, err := tx.Ranches()
				if len(list) != 0 {
					t.Errorf("the next request, of nobody, sees %v", list)
				}
				return err
			})
			if err != nil {
				t.Errorf("the next request: %v", err)
			}
		})
	}
}

// TestCarelessPolicy: a permissive policy that somebody adds one day opens at most their own cooperative.
func TestCarelessPolicy(t *testing.T) {
	s := newStage(t)
	s.seed(t, "CREATE POLICY careless ON tussock.nest TO tussock_app USING (true)")
	for name, tt := range map[string]struct {
		session string
		want    int
	}{"member": {s.a.Session, 6}, "stranger": {s.stranger.Session, 3}, "nobody": {"", 0}} {
		s.raw(t, tt.session, func(tx pgx.Tx) {
			if got := count(t, tx, "tussock.nest"); got != tt.want {
				t.Errorf("%s sees %v nests, want %d", name, got, tt.want)
			}
		})
	}
}

// TestCatalog asks PostgreSQL itself whether the fences stand. Each query lists what is wrong.
func TestCatalog(t *testing.T) {
	f := pgtest.New(t)
	for what, query := range map[string]string{
		"tables without forced row-level security": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND c.relkind IN ('r', 'p') AND NOT (c.relrowsecurity AND c.relforcerowsecurity)`,
		"tables without the tenant guard": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND c.relkind IN ('r', 'p') AND NOT EXISTS (SELECT 1 FROM pg_policy p WHERE p.polrelid = c.oid AND NOT p.polpermissive AND p.polroles = ARRAY['tussock_app'::regrole::oid])`,
		"tables of ours elsewhere": `SELECT c.oid::regclass::text FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
			WHERE c.relkind IN ('r', 'p', 'v', 'm') AND n.nspname NOT IN ('tussock', 'pub', 'migration', 'pg_catalog', 'information_schema', 'pg_toast')`,
		"tables not of the owner": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND c.relowner <> 'tussock_owner'::regrole`,
		"roles with too much power": `SELECT rolname FROM pg_roles WHERE rolname IN ('tussock_app', 'tussock_door', 'tussock_press', 'tussock_owner')
			AND (rolsuper OR rolbypassrls OR rolcreaterole OR rolcreatedb OR rolreplication OR (rolname = 'tussock_owner' AND rolcanlogin))`,
		"roles that may become another": `SELECT m.member::regrole::text || ' ' || m.roleid::regrole::text FROM pg_auth_members m
			WHERE m.member::regrole::text IN ('tussock_app', 'tussock_door', 'tussock_press')`,
		"schemas to create in": `SELECT n.nspname || ' ' || r.rolname FROM pg_namespace n CROSS JOIN pg_roles r WHERE r.rolname IN ('tussock_app', 'tussock_door', 'tussock_press')
			AND n.nspname NOT LIKE 'pg_%' AND has_schema_privilege(r.oid, n.oid, 'CREATE')`,
		"a migration schema to look into": `SELECT r.rolname FROM pg_roles r WHERE r.rolname IN ('tussock_app', 'tussock_door', 'tussock_press') AND has_schema_privilege(r.oid, 'migration', 'USAGE')`,
		"views that see with their owner's eyes": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND (c.relkind = 'm' OR (c.relkind = 'v' AND NOT coalesce(c.reloptions::text LIKE '%security_invoker=true%', false)))`,
		"functions that claim to be leakproof": `SELECT p.oid::regprocedure::text FROM pg_proc p WHERE p.pronamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND p.proleakproof`,
		"owner's functions with an open search path": `SELECT p.oid::regprocedure::text FROM pg_proc p WHERE p.pronamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND p.prosecdef AND NOT coalesce(p.proconfig::text LIKE '%search_path=pg_catalog, pg_temp%', false)`,
		"functions for everybody": `SELECT p.oid::regprocedure::text FROM pg_proc p WHERE p.pronamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND EXISTS (SELECT 1 FROM aclexplode(coalesce(p.proacl, acldefault('f', p.proowner))) a WHERE a.grantee = 0)`,
		"tables for the door": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND c.relkind = 'r' AND has_table_privilege('tussock_door', c.oid, 'SELECT, INSERT, UPDATE, DELETE, TRUNCATE, REFERENCES, TRIGGER')`,
		"tables for everybody": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace)
			AND EXISTS (SELECT 1 FROM aclexplode(c.relacl) a WHERE a.grantee = 0)`,
		"truncate, references or trigger granted": `SELECT c.oid::regclass::text || ' ' || a.privilege_type FROM pg_class c, aclexplode(c.relacl) a
			WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND a.grantee <> c.relowner AND a.privilege_type IN ('TRUNCATE', 'REFERENCES', 'TRIGGER')`,
		"keys that do not begin with coop_id": `SELECT c.conrelid::regclass::text || ' ' || c.conname FROM pg_constraint c
			WHERE c.connamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND c.contype IN ('p', 'u', 'f')
			AND (SELECT a.attname FROM pg_attribute a WHERE a.attrelid = c.conrelid AND a.attnum = c.conkey[1]) <> 'coop_id'`,
		"unique indexes that do not begin with coop_id": `SELECT i.indexrelid::regclass::text FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid
			WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND i.indisunique
			AND (SELECT a.attname FROM pg_attribute a WHERE a.attrelid = c.oid AND a.attnum = i.indkey[0]) <> 'coop_id'`,
		"sequences, which tell how many": `SELECT c.oid::regclass::text FROM pg_class c WHERE c.relnamespace IN ('tussock'::regnamespace, 'pub'::regnamespace) AND c.relkind = 'S'`,
		"a column in a bulletin that names a ranch or an owner": `SELECT attrelid::regclass::text || '.' || attname FROM pg_attribute WHERE attnum > 0
			AND attrelid IN ('pub.cell'::regclass, 'pub.bulletin'::regclass, 'pub.place'::regclass) AND (attname LIKE '%ranch%' OR attname LIKE '%entity%' OR attname LIKE '%person%')`,
	} {
		got, err := f.Owner.Text(context.Background(), "SELECT string_agg(x, ', ') FROM ("+query+") t(x)")
		if err != nil {
			t.Errorf("%s: %v", what, err)
		} else if got != "" {
			t.Errorf("there are %s: %s", what, got)
		}
	}
}

// asOwner is an address whose connections take on the owner's role.
func asOwner(t *testing.T, address string) string {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	q := u.Query()
	q.Set("role", "tussock_owner")
	u.RawQuery = q.Encode()
	return u.String()
}

// TestOpenRefusesPower: pages are not served as a role that policies do not bind.
func TestOpenRefusesPower(t *testing.T) {
	f := pgtest.New(t)
	ctx := context.Background()
	refuses := func(t *testing.T, appURL, doorURL, want string) {
		t.Helper()
		db, err := postgres.Open(ctx, appURL, doorURL)
		if err == nil {
			db.Close()
			t.Fatal("opened")
		}
		if message, _ := errs.Message(err); !strings.Contains(message, want) {
			t.Errorf("got %v, want a sentence with %q", err, want)
		}
	}
	admin := "superuser"
	if super, err := f.Owner.Text(ctx, "SELECT rolname FROM pg_roles WHERE rolsuper AND rolname = session_user"); err != nil {
		t.Fatal(err)
	} else if super == "" {
		admin = "owns the tables" // TUSSOCK_DATABASE_URL names no superuser
	}
	t.Run("admin", func(t *testing.T) { refuses(t, f.AdminURL, f.DoorURL, admin) })
	t.Run("admin at the door", func(t *testing.T) { refuses(t, f.AppURL, f.AdminURL, admin) })
	t.Run("owner", func(t *testing.T) { refuses(t, asOwner(t, f.AdminURL), f.DoorURL, "owns the tables") })
	t.Run("values in the text", func(t *testing.T) {
		refuses(t, f.AppURL+"&default_query_exec_mode=simple_protocol", f.DoorURL, "simple protocol")
		refuses(t, f.AppURL, f.DoorURL+"&default_query_exec_mode=simple_protocol", "simple protocol")
	})
	t.Run("policies off", func(t *testing.T) {
		if _, err := f.Owner.Exec(ctx, "ALTER TABLE tussock.word NO FORCE ROW LEVEL SECURITY"); err != nil {
			t.Fatal(err)
		}
		refuses(t, f.AppURL, f.DoorURL, "tussock.word")
		if _, err := f.Owner.Exec(ctx, "ALTER TABLE tussock.word FORCE ROW LEVEL SECURITY"); err != nil {
			t.Fatal(err)
		}
	})
}
