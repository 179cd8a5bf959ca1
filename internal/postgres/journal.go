package postgres

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"tussock/internal/access"
)

// A JournalNote is something that a restored backup must not undo unseen. It has ids and no names: it stands in a file.
type JournalNote struct {
	ID     int64     `json:"-"` // in the database, until it has been moved
	At     time.Time `json:"at"`
	What   string    `json:"what"` // the first word of undone below, or "backup"
	Coop   access.ID `json:"coop,omitempty"`
	Ranch  access.ID `json:"ranch,omitempty"`
	Person access.ID `json:"person,omitempty"`
	Thing  string    `json:"thing,omitempty"` // a season, or an id
}

// JournalDue returns what has not been moved to a file yet, at most a thousand. A note that two servers move at the same time is
// in both files.
func (db *DB) JournalDue(ctx context.Context) ([]JournalNote, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT id, at, what, coalesce(coop::text, ''), coalesce(ranch::text, ''), coalesce(person::text, ''), thing FROM tussock.journal_due(1000)")
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []JournalNote
	for rows.Next() {
		var n JournalNote
		if err := rows.Scan(&n.ID, &n.At, &n.What, &n.Coop, &n.Ranch, &n.Person, &n.Thing); err != nil {
			return nil, translate(err)
		}
		list = append(list, n)
	}
	return list, translate(rows.Err())
}

// JournalDone forgets those that stand in a file for good.
func (db *DB) JournalDone(ctx context.Context, notes []JournalNote) error {
	ids := make([]int64, len(notes))
	for i, n := range notes {
		ids[i] = n.ID
	}
	_, err := db.door.ExecContext(ctx, "SELECT tussock.journal_done($1)", ids)
	return translate(err)
}

// MarkBackup notes in the database, and so in the backup that is about to be made, and in the journal, that it is made. It waits
// for those who are at the journal: what stands before its note is in the backup, and what stands after it may not be.
func MarkBackup(ctx context.Context, adminURL string) error {
	o, err := OpenOwner(ctx, adminURL)
	if err != nil {
		return err
	}
	defer o.Close()
	err = o.mark(ctx)
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == "42P01" {
		return nil // of a version that had no journal: the backup does not say when it was made
	}
	return translate(err)
}

func (o *Owner) mark(ctx context.Context) error {
	tx, err := o.pool.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, "LOCK TABLE migration.journal IN SHARE MODE"); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `WITH marked AS (INSERT INTO migration.dumped DEFAULT VALUES RETURNING id)
		INSERT INTO migration.journal (what, thing) SELECT 'backup', id::text FROM marked`); err != nil {
		return err
	}
	return tx.Commit()
}

// Restored is what came of restoring a backup.
type Restored struct {
	At    time.Time // when the backup was made; zero where it does not say
	Notes []RestoredNote
	// What was open in the backup and has been ended with everything else that opens something.
	Invitations, FieldLinks, Calendars, Tokens int64
}

// A RestoredNote says what happened since the backup, and whether it has been done again.
type RestoredNote struct {
	At   time.Time
	Text string
	Done bool
}

// undone is what a backup brings back or lacks, by the word in the journal: how it is told, of a ranch %[1]s, a person %[2]s and a
// thing %[3]s, and the statement that does it again where that closes something; $1 is the cooperative, $2 the ranch, $3 the
// person, $4 the thing.
var undone = map[string]struct {
	told  string
	again statement
}{
	"no": {"%[1]s was taken out of comparisons by %[2]s", `WITH yes AS (UPDATE tussock.consent SET over = true
			WHERE coop_id = $1 AND ranch_id = $2 AND level > 0 AND NOT paper) -- whoever says it again counts again
		INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by)
		SELECT c.coop_id, c.ranch_id, 0, coalesce((SELECT p.id FROM tussock.person p WHERE p.coop_id = $1 AND p.id = $3), c.given_by)
		FROM tussock.consent c WHERE c.coop_id = $1 AND c.ranch_id = $2 AND coalesce($4, '') IS NOT NULL ORDER BY c.seq DESC LIMIT 1`},
	"sharing ended": {"%[1]s ended its sharing with %[2]s", `UPDATE tussock.sharing SET ended_at = now()
		WHERE coop_id = $1 AND ranch_id = $2 AND person_id = $3 AND ended_at IS NULL AND $4 = ''`},
	"taken down": {"%[1]s took a figure off show", `UPDATE tussock.showcase SET ended_at = now()
		WHERE coop_id = $1 AND ranch_id = $2 AND coalesce($3::text, '') IS NOT NULL AND id::text = $4 AND ended_at IS NULL`},
	"taken off": {"%[2]s was taken off %[1]s", `UPDATE tussock.assignment SET until = now()
		WHERE coop_id = $1 AND ranch_id = $2 AND person_id = $3 AND until IS NULL AND $4 = ''`},
	"left":      {"%[2]s left or was removed", suspendAgain},
	"suspended": {"%[2]s was suspended", suspendAgain},
	"password": {"%[2]s has another password", `UPDATE tussock.account SET password_hash = 'changed since the backup'
		WHERE coop_id = $1 AND person_id = $3 AND $2::text IS NULL AND $4 = ''`},
	"passkey": {"%[2]s removed a passkey", `DELETE FROM tussock.passkey WHERE coop_id = $1 AND person_id = $3 AND id::text = $4 AND $2::text IS NULL`},
	"codes":   {"%[2]s turned one-time codes off or set them up again", `DELETE FROM tussock.code_secret WHERE coop_id = $1 AND person_id = $3 AND $2::text IS NULL AND $4 = ''`},
	"erased": {"%[1]s was erased at the wish of %[2]s", `SELECT tussock.erase(r.coop_id, r.id, $3::uuid) FROM tussock.ranch r
		WHERE r.coop_id = $1 AND r.id = $2 AND r.erased_at IS NULL AND $4 = ''`},
	"gone":        {"%[2]s left with everything that is theirs", `SELECT tussock.depart(p.coop_id, p.id) FROM tussock.person p WHERE p.coop_id = $1 AND p.id = $3 AND p.left_at IS NULL AND $2::text IS NULL AND $4 = ''`},
	"handed over": {told: "%[1]s was handed over by %[2]s, who is off it again: put its new owner on it"},
	"yes":         {told: "%[1]s was let into comparisons by %[2]s: they must say yes again"},
	"let in":      {told: "%[2]s was let in again, or is something else to the cooperative"},
	"put on":      {told: "%[2]s was put on %[1]s"},
	"shared":      {told: "%[1]s was shared with %[2]s: it must be shared again"},
	"address":     {told: "%[2]s has another address to sign in with: change it back only when they say so"},
	"published":   {"the bulletin of season %[3]s was composed and may have been read. It is not in this backup, and none is made again: two bulletins of one season tell what changed between them", "SELECT tussock.close_edition($1, $4::integer, 1::smallint) WHERE $2::text IS NULL AND $3::text IS NULL"},
	"revised":     {"season %[3]s had its final revision. It is not in this backup, and none is made again", "SELECT tussock.close_edition($1, $4::integer, 2::smallint) WHERE $2::text IS NULL AND $3::text IS NULL"},
	"taken back":  {told: "figures of season %[3]s were taken back: take them back again"},
}

const suspendAgain = `UPDATE tussock.person SET suspended_at = coalesce(suspended_at, now()) WHERE coop_id = $1 AND id = $3 AND left_at IS NULL AND $2::text IS NULL AND $4 = ''`

// FinishRestore brings a restored database up to date and ends everything that came with it and opens something: sessions,
// tokens, links of every kind, calendars, remembered browsers, recovery codes, the leave to send old sheets. Any of them may have been ended since the backup
// was made. Of the journal it does again what closed something since then, and tells the rest.
func FinishRestore(ctx context.Context, adminURL string, journal []JournalNote) (r Restored, err error) {
	if err := Setup(ctx, adminURL, Roles{}); err != nil {
		return r, err
	}
	o, err := OpenOwner(ctx, adminURL)
	if err != nil {
		return r, err
	}
	defer o.Close()
	if err := o.endSecrets(ctx, &r); err != nil {
		return r, err
	}
	var mark string
	err = o.pool.QueryRowContext(ctx, "SELECT id, at FROM migration.dumped ORDER BY at DESC LIMIT 1").Scan(&mark, &r.At)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return r, err
	}
	if _, err := o.pool.ExecContext(ctx, "DELETE FROM migration.journal"); err != nil { // of before the backup: it is in it
		return r, err
	}
	for _, n := range since(journal, mark, r.At) {
		note, err := o.doAgain(ctx, n)
		if err != nil {
			return r, err
		}
		r.Notes = append(r.Notes, note)
	}
	return r, nil
}

// since returns the notes after a backup's own, or where that is not there, all from the first that is younger than it on. Where
// nothing is known of the backup, it returns all. A note that stands in two files counts once.
func since(journal []JournalNote, mark string, at time.Time) []JournalNote {
	first := len(journal)
	for i, n := range journal {
		if n.What == "backup" && n.Thing == mark && mark != "" {
			first = i + 1
			break
		}
		if first == len(journal) && n.At.After(at.Add(-5*time.Minute)) {
			first = i
		}
	}
	var list []JournalNote
	seen := map[JournalNote]bool{}
	for _, n := range journal[first:] {
		if n.ID = 0; n.What != "backup" && !seen[n] {
			seen[n], list = true, append(list, n)
		}
	}
	return list
}

func (o *Owner) endSecrets(ctx context.Context, r *Restored) error {
	tx, err := o.pool.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	for _, end := range []struct {
		how   statement
		count *int64
	}{
		{"UPDATE tussock.session SET closed_at = now() WHERE closed_at IS NULL", nil},
		{"UPDATE tussock.api_token SET revoked_at = now() WHERE revoked_at IS NULL", &r.Tokens},
		{"UPDATE tussock.invitation SET revoked_at = now() WHERE used_at IS NULL AND revoked_at IS NULL", &r.Invitations},
		{"DELETE FROM tussock.field_session", nil},
		{"UPDATE tussock.field_link SET revoked_at = now() WHERE revoked_at IS NULL", &r.FieldLinks},
		{"UPDATE tussock.calendar SET revoked_at = now() WHERE revoked_at IS NULL", &r.Calendars},
		{"DELETE FROM tussock.step", nil},
		{"DELETE FROM tussock.device", nil},
		{"DELETE FROM tussock.recovery_code", nil},
		{"UPDATE tussock.sending_consent SET ended_at = now() WHERE ended_at IS NULL", nil},
	} {
		res, err := tx.ExecContext(ctx, end.how.text())
		if err != nil {
			return err
		}
		if end.count != nil {
			*end.count, _ = res.RowsAffected() // the driver always knows
		}
	}
	return tx.Commit()
}

// doAgain does again what a note says, where that closes something, and tells it by the names that the backup has.
func (o *Owner) doAgain(ctx context.Context, n JournalNote) (RestoredNote, error) {
	u, known := undone[n.What]
	if !known {
		return RestoredNote{At: n.At, Text: fmt.Sprintf("something happened that this version does not know: %s", n.What)}, nil
	}
	var coop, ranch, person string
	err := o.pool.QueryRowContext(ctx, `SELECT coalesce((SELECT name FROM tussock.coop WHERE coop_id = $1), 'a cooperative that is not in the backup'),
		coalesce((SELECT name FROM tussock.ranch WHERE coop_id = $1 AND id = $2), 'a ranch that is not in the backup'),
		coalesce((SELECT name FROM tussock.person WHERE coop_id = $1 AND id = $3), 'somebody who is not in the backup')`, nullID(n.Coop), nullID(n.Ranch), nullID(n.Person)).Scan(&coop, &ranch, &person)
	if err != nil {
		return RestoredNote{}, err
	}
	text := u.told
	for place, value := range map[string]string{"%[1]s": ranch, "%[2]s": person, "%[3]s": n.Thing} {
		text = strings.ReplaceAll(text, place, value)
	}
	note := RestoredNote{At: n.At, Text: coop + ": " + text}
	if u.again == "" {
		return note, nil
	}
	if _, err := o.pool.ExecContext(ctx, u.again.text(), nullID(n.Coop), nullID(n.Ranch), nullID(n.Person), n.Thing); err != nil {
		// Such as the last coordinator, who cannot be suspended. Whoever reads the list does what can be done.
		note.Text += " (doing it again failed: " + translate(err).Error() + ")"
		return note, nil
	}
	note.Done = true
	return note, nil
}
