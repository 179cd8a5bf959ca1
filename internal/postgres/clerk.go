package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tussock/internal/access"
	"tussock/internal/survey"
)

// A Clerk reads the sheets that members have sent and writes down what they say. It has one connection; several may be at
// work on one database, in one process or in many.
type Clerk struct {
	Small bool // leaves large files to others, so that a short sheet never waits behind two long ones

	url  string
	conn *pgx.Conn
	turn bool // to look for a sheet that is not filed yet first

	caughtUp bool // every ranch's findings are of this version's method
}

// smallFile is the largest file that a small clerk takes, in bytes.
const smallFile = 2 << 20

// lease is how long a clerk may be silent about a sheet before another takes it up.
const lease = time.Minute

// A Task is one sheet to be read, with all that decides how. A sheet that is not filed under a ranch yet has no Upload.
type Task struct {
	Coop, Ranch, Upload access.ID
	RanchName           string
	SentBy              access.ID
	SentFor             bool // by the coordinator, for the ranch's owner: seasons alone that had closed by then
	Owners              bool // an owner's, or sent for one: read with the words that owners explained
	SentAt              time.Time
	Dated               map[int]bool // SentFor: whether a season that has dates had closed
	Ranches             []Ranch      // those that the sender may send for now: their IDs and names
	Had                 []Ranch      // the names that these and the task's own ranch had before
	File                string
	Data                []byte
	Answers             map[string]string
	Undone              []string
	Settings            Settings
	Words               map[string]string // what was explained for the ranch before
	Settled             []string          // the words among them that this sheet's own answers explained
	Language            string            // of whoever sent it, or answered last
	Tries               int               // how often it was begun, this time among them
	Rest                bool              // it is kept, and only what it says in other languages is missing

	asked   int
	unfiled access.ID
}

// A Read is what a sheet said.
type Read struct {
	Season  int // 0: the latest season among the rows
	Rows    *survey.Data
	Refused int
	Open    int
	Words   map[string]string // explained by the answers
	Pages   map[string][]byte // what the sender sees, by language
	Parts   [][]byte          // of a long sheet, all rows
	Also    []access.ID       // ranches of the same sender that the sheet is to be filed under, too
}

// OpenClerk connects as tussock_clerk. It refuses a superuser, a role that bypasses policies and an owner of tables.
func OpenClerk(ctx context.Context, url string) (*Clerk, error) {
	pool, err := connect(ctx, url, "", 1)
	if err != nil {
		return nil, fmt.Errorf("connect as the clerk: %w", err)
	}
	defer pool.Close()
	if err := refusePower(ctx, pool); err != nil {
		return nil, err
	}
	c := &Clerk{url: url}
	return c, c.reconnect(ctx)
}

// sheets is the channel on which a waiting clerk hears of a new sheet.
const sheets = "tussock_clerk"

func (c *Clerk) reconnect(ctx context.Context) error {
	if c.conn != nil {
		c.conn.Close(ctx)
	}
	cfg, err := pgx.ParseConfig(c.url)
	if err != nil {
		return hideURL(err)
	}
	cfg.RuntimeParams["application_name"] = "tussock clerk"
	conn, err := pgx.ConnectConfig(ctx, cfg)
	if err != nil {
		return fmt.Errorf("connect as the clerk: %w", err)
	}
	c.conn = conn
	_, err = c.conn.Exec(ctx, "LISTEN "+sheets)
	return err
}

// Close ends the connection.
func (c *Clerk) Close() { c.conn.Close(context.Background()) }

// Next waits for a sheet and takes it. One that another clerk took and has been silent about is taken up again.
func (c *Clerk) Next(ctx context.Context) (*Task, error) {
	for {
		if c.conn.IsClosed() {
			if err := c.reconnect(ctx); err != nil {
				return nil, err
			}
		}
		t, err := c.take(ctx)
		if err != nil || t != nil {
			return t, err
		}
		if !c.caughtUp {
			more, err := c.catchUp(ctx)
			if err != nil {
				return nil, err
			}
			c.caughtUp = !more
			continue
		}
		// The wake-up is a courtesy; the look every few seconds is what counts.
		wait, cancel := context.WithTimeout(ctx, 2*time.Second)
		_, err = c.conn.WaitForNotification(wait)
		cancel()
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if err != nil && !pgconn.Timeout(err) {
			return nil, err
		}
	}
}

// take takes a filed or an unfiled sheet, in turns; nil where none waits.
func (c *Clerk) take(ctx context.Context) (*Task, error) {
	c.turn = !c.turn
	first, second := c.takeFiled, c.takeUnfiled
	if c.turn {
		first, second = second, first
	}
	t, err := first(ctx)
	if err != nil || t != nil {
		return t, err
	}
	return second(ctx)
}

// takeFiled takes the sheet that has waited longest, of those whose cooperative and ranch have the fewest in work.
func (c *Clerk) takeFiled(ctx context.Context) (*Task, error) {
	t := &Task{}
	err := c.conn.QueryRow(ctx, `WITH taken AS MATERIALIZED (SELECT coop_id, ranch_id FROM tussock.to_read WHERE taken_until > now())
		UPDATE tussock.to_read SET begun_at = now(), taken_until = now() + $1, tries = tries + 1
		WHERE (coop_id, ranch_id, upload_id) = (
			SELECT w.coop_id, w.ranch_id, w.upload_id FROM tussock.to_read w
			WHERE (w.taken_until IS NULL OR w.taken_until < now()) AND ($2 = 0 OR w.size <= $2)
			ORDER BY w.rest, (SELECT count(*) FROM taken b WHERE b.coop_id = w.coop_id),
				(SELECT count(*) FROM taken b WHERE b.coop_id = w.coop_id AND b.ranch_id = w.ranch_id),
				w.asked_at, w.upload_id
			LIMIT 1 FOR UPDATE SKIP LOCKED)
		RETURNING coop_id::text, ranch_id::text, upload_id::text, asked, language, tries, rest`, lease, c.most()).
		Scan(&t.Coop, &t.Ranch, &t.Upload, &t.asked, &t.Language, &t.Tries, &t.Rest)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return c.loaded(ctx, t)
}

func (c *Clerk) most() int {
	if c.Small {
		return smallFile
	}
	return 0
}

// loaded fills a filed task; nil where its ranch was erased meanwhile.
func (c *Clerk) loaded(ctx context.Context, t *Task) (*Task, error) {
	var answers, undone, settings, settled []byte
	err := c.conn.QueryRow(ctx, `SELECT r.name, u.sent_by::text, u.called <> '', u.called <> '' OR u.rank >= 2, u.sent_at, f.name, f.data, g.answers, g.undone, g.settings, g.settled
		FROM tussock.upload u
		JOIN tussock.ranch r ON r.coop_id = u.coop_id AND r.id = u.ranch_id
		JOIN tussock.upload_file f ON f.coop_id = u.coop_id AND f.ranch_id = u.ranch_id AND f.upload_id = u.id
		JOIN tussock.reading g ON g.coop_id = u.coop_id AND g.ranch_id = u.ranch_id AND g.upload_id = u.id
		WHERE u.coop_id = $1 AND u.ranch_id = $2 AND u.id = $3`, string(t.Coop), string(t.Ranch), string(t.Upload)).
		Scan(&t.RanchName, &t.SentBy, &t.SentFor, &t.Owners, &t.SentAt, &t.File, &t.Data, &answers, &undone, &settings, &settled)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if err := errors.Join(json.Unmarshal(answers, &t.Answers), json.Unmarshal(undone, &t.Undone), json.Unmarshal(settings, &t.Settings), json.Unmarshal(settled, &t.Settled)); err != nil {
		return nil, err
	}
	if t.Words, err = c.words(ctx, t); err != nil {
		return nil, err
	}
	if t.SentFor {
		if err := c.dated(ctx, t); err != nil {
			return nil, err
		}
	}
	return t, c.ranches(ctx, t)
}

// dated loads which seasons that have dates had closed when the task's sheet was sent.
func (c *Clerk) dated(ctx context.Context, t *Task) error {
	rows, err := c.conn.Query(ctx, "SELECT year, closed FROM tussock.dated_seasons($1, ($2::timestamptz AT TIME ZONE 'UTC')::date)", string(t.Coop), t.SentAt)
	if err != nil {
		return err
	}
	t.Dated = map[int]bool{}
	var year int
	var closed bool
	_, err = pgx.ForEachRow(rows, []any{&year, &closed}, func() error {
		t.Dated[year] = closed
		return nil
	})
	return err
}

// Takes tells whether rows of a season may be read of the task's sheet.
func (t *Task) Takes(season int) bool {
	if closed, dated := t.Dated[season]; dated || !t.SentFor {
		return closed || !t.SentFor
	}
	return season < t.SentAt.UTC().Year()
}

// words returns what was explained for the task's ranch, for a hand's sheet by hands, too. A word with an empty meaning is one to be asked about again.
func (c *Clerk) words(ctx context.Context, t *Task) (map[string]string, error) {
	rows, err := c.conn.Query(ctx, "SELECT word, meaning FROM tussock.word WHERE coop_id = $1 AND ranch_id = $2 AND meaning <> '' AND (owners OR NOT $3) ORDER BY owners", string(t.Coop), string(t.Ranch), t.Owners)
	if err != nil {
		return nil, err
	}
	words := map[string]string{}
	var word, meaning string
	_, err = pgx.ForEachRow(rows, []any{&word, &meaning}, func() error {
		words[word] = meaning
		return nil
	})
	return words, err
}

func (c *Clerk) ranches(ctx context.Context, t *Task) error {
	rows, err := c.conn.Query(ctx, "SELECT id::text, name FROM tussock.ranches_of($1, $2)", string(t.Coop), string(t.SentBy))
	if err != nil {
		return err
	}
	var r Ranch
	_, err = pgx.ForEachRow(rows, []any{&r.ID, &r.Name}, func() error {
		t.Ranches = append(t.Ranches, r)
		return nil
	})
	if err != nil {
		return err
	}
	ids := []string{}
	if t.Ranch != "" {
		ids = append(ids, string(t.Ranch))
	}
	for _, r := range t.Ranches {
		ids = append(ids, string(r.ID))
	}
	if rows, err = c.conn.Query(ctx, "SELECT id::text, name FROM tussock.names_had($1, $2)", string(t.Coop), ids); err != nil {
		return err
	}
	_, err = pgx.ForEachRow(rows, []any{&r.ID, &r.Name}, func() error {
		t.Had = append(t.Had, r)
		return nil
	})
	return err
}

// takeUnfiled takes a sheet of which it is not known yet which ranch it is of.
func (c *Clerk) takeUnfiled(ctx context.Context) (*Task, error) {
	t := &Task{}
	var settings []byte
	err := c.conn.QueryRow(ctx, `WITH taken AS MATERIALIZED (SELECT coop_id, person_id FROM tussock.unfiled WHERE taken_until > now())
		UPDATE tussock.unfiled SET begun_at = now(), taken_until = now() + $1, tries = tries + 1
		WHERE (coop_id, person_id, id) = (
			SELECT w.coop_id, w.person_id, w.id FROM tussock.unfiled w
			WHERE w.unclear = '' AND (w.taken_until IS NULL OR w.taken_until < now()) AND ($2 = 0 OR w.size <= $2)
			ORDER BY (SELECT count(*) FROM taken b WHERE b.coop_id = w.coop_id),
				(SELECT count(*) FROM taken b WHERE b.coop_id = w.coop_id AND b.person_id = w.person_id),
				w.sent_at, w.id
			LIMIT 1 FOR UPDATE SKIP LOCKED)
		RETURNING coop_id::text, person_id::text, id::text, name, data, settings, language, tries`, lease, c.most()).
		Scan(&t.Coop, &t.SentBy, &t.unfiled, &t.File, &t.Data, &settings, &t.Language, &t.Tries)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, c.tidy(ctx)
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(settings, &t.Settings); err != nil {
		return nil, err
	}
	return t, c.ranches(ctx, t)
}

// tidy forgets sheets that nobody said the ranch of within a week.
func (c *Clerk) tidy(ctx context.Context) error {
	_, err := c.conn.Exec(ctx, "DELETE FROM tussock.unfiled WHERE sent_at < now() - interval '7 days'")
	return err
}

// Extend says that the clerk is still at it.
func (c *Clerk) Extend(ctx context.Context, t *Task) error {
	keep := statement("UPDATE tussock.to_read SET taken_until = now() + $1 WHERE coop_id = $2 AND ranch_id = $3 AND upload_id = $4 AND asked = $5")
	args := []any{lease, string(t.Coop), string(t.Ranch), string(t.Upload), t.asked}
	if t.unfiled != "" {
		keep = "UPDATE tussock.unfiled SET taken_until = now() + $1 WHERE coop_id = $2 AND person_id = $3 AND id = $4"
		args = []any{lease, string(t.Coop), string(t.SentBy), string(t.unfiled)}
	}
	_, err := c.conn.Exec(ctx, keep.text(), args...)
	return err
}

// SamePeople tells whether everybody who can open one ranch of the task's sender can open the other.
func (c *Clerk) SamePeople(ctx context.Context, t *Task, one, other access.ID) (same bool, err error) {
	err = c.conn.QueryRow(ctx, "SELECT tussock.same_people($1, $2, $3)", string(t.Coop), string(one), string(other)).Scan(&same)
	return same, err
}

// errAsked says that somebody has answered since the sheet was taken: what was read is not kept, and the sheet waits.
var errAsked = errors.New("asked again meanwhile")

// Keep puts what a sheet said in the place of what it said before, whole or not at all. What it says in other languages is
// left for later, where rest is true. kept is false where somebody answered in the meantime, or where the sheet is gone.
func (c *Clerk) Keep(ctx context.Context, t *Task, r *Read, rest bool) (kept bool, err error) {
	done := statement("DELETE FROM tussock.to_read WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3 AND asked = $4")
	if rest {
		done = "UPDATE tussock.to_read SET rest = true, taken_until = NULL, tries = 0 WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3 AND asked = $4"
	}
	return c.once(ctx, t, done, func(tx pgx.Tx) error {
		if err := c.keepRows(ctx, tx, t, r); err != nil {
			return err
		}
		if err := keepPages(ctx, tx, t, r); err != nil {
			return err
		}
		if err := c.settle(ctx, tx, t); err != nil {
			return err
		}
		for _, ranch := range r.Also {
			if _, err := fileUnder(ctx, tx, t, ranch, fromUpload(t)); err != nil {
				return err
			}
		}
		return nil
	})
}

// settle works out the findings of the task's ranch, unless more sheets of it wait: the last one read does. (Those who keep sheets of one ranch come
// one after another, by the lock of the trigger forget_findings, and so one of them is the last.)
func (c *Clerk) settle(ctx context.Context, tx pgx.Tx, t *Task) error {
	var more bool
	err := tx.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM tussock.to_read WHERE coop_id = $1 AND ranch_id = $2 AND NOT rest)", string(t.Coop), string(t.Ranch)).Scan(&more)
	if err == nil && !more {
		_, err = findingsOf{ctx, c.conn, t.Coop, t.Ranch}.settle()
	}
	return err
}

// KeepRest adds what a sheet says in other languages.
func (c *Clerk) KeepRest(ctx context.Context, t *Task, pages map[string][]byte) (kept bool, err error) {
	const done = "DELETE FROM tussock.to_read WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3 AND asked = $4 AND rest"
	return c.once(ctx, t, done, func(tx pgx.Tx) error {
		var batch pgx.Batch
		queuePages(&batch, t, pages)
		return tx.SendBatch(ctx, &batch).Close()
	})
}

// once carries out what ends with a task being done, unless somebody asked again since it was taken.
func (c *Clerk) once(ctx context.Context, t *Task, done statement, keep func(pgx.Tx) error) (kept bool, err error) {
	err = pgx.BeginFunc(ctx, c.conn, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, done.text(), string(t.Coop), string(t.Ranch), string(t.Upload), t.asked)
		if err != nil {
			return err
		}
		if tag.RowsAffected() == 0 {
			return errAsked
		}
		return keep(tx)
	})
	if errors.Is(err, errAsked) {
		return false, nil
	}
	return err == nil, err
}

// keepRows writes the rows and the sums of a reading. The upload comes first: what is due to be copied of a season is copied before
// an upload changes, and so with the rows that it had.
func (c *Clerk) keepRows(ctx context.Context, tx pgx.Tx, t *Task, r *Read) error {
	if _, err := tx.Exec(ctx, `UPDATE tussock.upload SET season = $4, seasons = $5, open_count = $6, accepted_at = NULL, accepted_by = NULL
		WHERE coop_id = $1 AND ranch_id = $2 AND id = $3`, string(t.Coop), string(t.Ranch), string(t.Upload), seasonOf(r.Season, r.Rows), seasonsOf(r.Rows), r.Open); err != nil {
		return err
	}
	for _, forget := range []statement{
		"DELETE FROM tussock.nest WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3",
		"DELETE FROM tussock.belt WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3",
		"DELETE FROM tussock.site WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3",
	} {
		if _, err := tx.Exec(ctx, forget.text(), string(t.Coop), string(t.Ranch), string(t.Upload)); err != nil {
			return err
		}
	}
	for _, table := range []copied{nestsOf(r.Rows.Nests), beltsOf(r.Rows.Belts), sitesOf(r.Rows.Sites)} {
		if table.length == 0 {
			continue
		}
		if err := table.write(ctx, c.conn, t.Coop, t.Ranch, t.Upload); err != nil {
			return err
		}
	}
	settled := slices.Clone(t.Settled)
	for word := range r.Words {
		settled = append(settled, word)
	}
	slices.Sort(settled)
	settledJSON, err := json.Marshal(append([]string{}, slices.Compact(settled)...))
	if err != nil {
		return err
	}
	var batch pgx.Batch
	batch.Queue(`UPDATE tussock.reading SET nests = $4, belts = $5, refused = $6, settled = $7
		WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3`, string(t.Coop), string(t.Ranch), string(t.Upload), len(r.Rows.Nests), len(r.Rows.Belts), r.Refused, string(settledJSON))
	for word, meaning := range r.Words {
		batch.Queue(`INSERT INTO tussock.word (coop_id, ranch_id, word, meaning, owners) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (coop_id, ranch_id, word, owners) DO UPDATE SET meaning = EXCLUDED.meaning`, string(t.Coop), string(t.Ranch), word, meaning, t.Owners)
	}
	return tx.SendBatch(ctx, &batch).Close()
}

// keepPages writes what the sender sees.
func keepPages(ctx context.Context, tx pgx.Tx, t *Task, r *Read) error {
	var batch pgx.Batch
	for _, forget := range []statement{
		"DELETE FROM tussock.readback WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3",
		"DELETE FROM tussock.readback_part WHERE coop_id = $1 AND ranch_id = $2 AND upload_id = $3",
	} {
		batch.Queue(forget.text(), string(t.Coop), string(t.Ranch), string(t.Upload))
	}
	queuePages(&batch, t, r.Pages)
	for i, body := range r.Parts {
		batch.Queue("INSERT INTO tussock.readback_part (coop_id, ranch_id, upload_id, part, body) VALUES ($1, $2, $3, $4, $5)",
			string(t.Coop), string(t.Ranch), string(t.Upload), i, body)
	}
	return tx.SendBatch(ctx, &batch).Close()
}

func queuePages(batch *pgx.Batch, t *Task, pages map[string][]byte) {
	for language, body := range pages {
		batch.Queue(`INSERT INTO tussock.readback (coop_id, ranch_id, upload_id, language, body) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT ON CONSTRAINT readback_pkey DO UPDATE SET body = EXCLUDED.body`, string(t.Coop), string(t.Ranch), string(t.Upload), language, body)
	}
}

// A fileAt says where the file of a sheet that is being filed lies, as a part of a statement, with its arguments from $5 on.
type fileAt struct {
	from statement
	args []any
}

func fromUpload(t *Task) fileAt {
	return fileAt{`SELECT f.name, f.size, f.sha256, f.data, u.sent_by, u.sent_at, u.sending_id, g.settings FROM tussock.upload_file f
		JOIN tussock.upload u ON u.coop_id = f.coop_id AND u.ranch_id = f.ranch_id AND u.id = f.upload_id
		JOIN tussock.reading g ON g.coop_id = f.coop_id AND g.ranch_id = f.ranch_id AND g.upload_id = f.upload_id
		WHERE f.coop_id = $1 AND f.ranch_id = $5 AND f.upload_id = $6`, []any{string(t.Ranch), string(t.Upload)}}
}

func fromUnfiled(t *Task) fileAt {
	return fileAt{`SELECT x.name, x.size, sha256(x.data) AS sha256, x.data, x.person_id AS sent_by, x.sent_at, x.sending_id, x.settings FROM tussock.unfiled x
		WHERE x.coop_id = $1 AND x.person_id = $5 AND x.id = $6`, []any{string(t.SentBy), string(t.unfiled)}}
}

// fileUnder makes an upload of a ranch of a file that lies elsewhere, to be read for it. Where the ranch has the very bytes
// already, held is the upload that has them, and nothing is made; but an owner's takes the place of a hand's (tussock.own_file).
func fileUnder(ctx context.Context, tx pgx.Tx, t *Task, ranch access.ID, from fileAt) (held access.ID, err error) {
	if _, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock(hashtextextended('files of ' || $1, 0))", string(ranch)); err != nil {
		return "", err
	}
	id := newID()
	args := append([]any{string(t.Coop), string(ranch), string(id), t.Language}, from.args...)
	there := `SELECT h.upload_id::text FROM (` + from.from + `) s, tussock.upload_file h JOIN tussock.upload u ON u.coop_id = h.coop_id AND u.ranch_id = h.ranch_id AND u.id = h.upload_id
		WHERE h.coop_id = $1 AND h.ranch_id = $2 AND h.own AND h.sha256 = s.sha256 AND (u.rank >= 2 OR NOT tussock.owns($1, $2, s.sent_by)) AND $3::uuid IS NOT NULL AND $4 <> ''`
	err = tx.QueryRow(ctx, there.text(), args...).Scan(&held)
	if err == nil || !errors.Is(err, pgx.ErrNoRows) {
		return held, err
	}
	made := "INSERT INTO tussock.upload (coop_id, ranch_id, id, season, sent_by, sent_at, sending_id) SELECT $1, $2, $3, 0, s.sent_by, s.sent_at, s.sending_id FROM (" + from.from + ") s WHERE $4 <> ''"
	if _, err := tx.Exec(ctx, made.text(), args...); err != nil {
		return "", err
	}
	file := `WITH s AS (` + from.from + `), kept AS (
			INSERT INTO tussock.upload_file (coop_id, ranch_id, upload_id, name, size, sha256, data) SELECT $1, $2, $3, s.name, s.size, s.sha256, s.data FROM s
		), to_be AS (
			INSERT INTO tussock.reading (coop_id, ranch_id, upload_id, nests, belts, refused, settings) SELECT $1, $2, $3, 0, 0, 0, s.settings FROM s
		)
		INSERT INTO tussock.to_read (coop_id, ranch_id, upload_id, language, size) SELECT $1, $2, $3, $4, s.size FROM s`
	_, err = tx.Exec(ctx, file.text(), args...)
	return "", err
}

// File files an unfiled sheet under its ranches, of which the sender may send for each.
func (c *Clerk) File(ctx context.Context, t *Task, ranches ...access.ID) error {
	return pgx.BeginFunc(ctx, c.conn, func(tx pgx.Tx) error {
		var heldBy access.ID
		filed := 0
		for _, ranch := range ranches {
			full, err := noRoom(ctx, tx, t, ranch)
			if err != nil {
				return err
			}
			if full {
				return unclear(ctx, tx, t, "full", nil, "")
			}
			held, err := fileUnder(ctx, tx, t, ranch, fromUnfiled(t))
			if err != nil {
				return err
			}
			if held == "" {
				filed++
			} else {
				heldBy = held
			}
		}
		if filed == 0 {
			return unclear(ctx, tx, t, "held", nil, heldBy)
		}
		_, err := tx.Exec(ctx, "DELETE FROM tussock.unfiled WHERE coop_id = $1 AND person_id = $2 AND id = $3", string(t.Coop), string(t.SentBy), string(t.unfiled))
		return err
	})
}

// noRoom tells whether a ranch has as many files as it may, or as much in them.
func noRoom(ctx context.Context, tx pgx.Tx, t *Task, ranch access.ID) (full bool, err error) {
	err = tx.QueryRow(ctx, "SELECT count(*) >= $3 OR coalesce(sum(size), 0) + $4 > $5 FROM tussock.upload_file WHERE coop_id = $1 AND ranch_id = $2 AND own",
		string(t.Coop), string(ranch), filesMost, len(t.Data), bytesMost).Scan(&full)
	return full, err
}

// Unclear leaves an unfiled sheet to its sender: why is UnclearRanch or UnclearSheet, and problem a sentence by language.
func (c *Clerk) Unclear(ctx context.Context, t *Task, why string, problem map[string]string) error {
	return pgx.BeginFunc(ctx, c.conn, func(tx pgx.Tx) error { return unclear(ctx, tx, t, why, problem, "") })
}

// Why a sheet is not filed.
const (
	UnclearRanch = "ranch"      // it does not say which of the sender's ranches it is of
	UnclearSheet = "unreadable" // nothing in it can be read
	UnclearHeld  = "held"       // the ranch has the very file already
	UnclearFull  = "full"       // the ranch has as many files as it may
)

func unclear(ctx context.Context, tx pgx.Tx, t *Task, why string, problem map[string]string, held access.ID) error {
	said, err := json.Marshal(problem)
	if err != nil {
		return err
	}
	if problem == nil {
		said = []byte("{}")
	}
	_, err = tx.Exec(ctx, "UPDATE tussock.unfiled SET unclear = $4, problem = $5, held = $6, taken_until = NULL WHERE coop_id = $1 AND person_id = $2 AND id = $3",
		string(t.Coop), string(t.SentBy), string(t.unfiled), why, string(said), nullID(held))
	return err
}

// Unfiled tells whether a task is of a sheet that is not filed under a ranch yet.
func (t *Task) Unfiled() bool { return t.unfiled != "" }

// seasonsOf lists the seasons that rows are of, latest first.
func seasonsOf(rows *survey.Data) []int32 {
	seasons := []int32{}
	for i := range rows.Nests {
		seasons = append(seasons, int32(rows.Nests[i].Season))
	}
	for i := range rows.Belts {
		seasons = append(seasons, int32(rows.Belts[i].Season))
	}
	slices.Sort(seasons)
	seasons = slices.Compact(seasons)
	slices.Reverse(seasons)
	return seasons
}
