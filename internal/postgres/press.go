package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tussock/internal/access"
	"tussock/internal/bulletin"
)

// Press composes bulletins: it reads the rows of all ranches and adds to what is published, and can change nothing
// there. It has one connection and no reader.
type Press struct {
	Now func() time.Time // stamps what is published; nil is time.Now
	// Version of the program goes into what is published.
	Version string

	url  string
	conn *pgx.Conn
}

// An Order is a press order in hand.
type Order struct {
	Coop   access.ID
	ID     access.ID
	Season int
	Kind   string
}

// OpenPress connects as tussock_press. It refuses a superuser, a role that bypasses policies and an owner of tables.
func OpenPress(ctx context.Context, url string) (*Press, error) {
	pool, err := connect(ctx, url, "", 1)
	if err != nil {
		return nil, fmt.Errorf("connect as the press: %w", err)
	}
	defer pool.Close()
	if err := refusePower(ctx, pool); err != nil {
		return nil, err
	}
	p := &Press{url: url}
	return p, p.reconnect(ctx)
}

func (p *Press) reconnect(ctx context.Context) error {
	if p.conn != nil {
		p.conn.Close(ctx)
	}
	cfg, err := pgx.ParseConfig(p.url)
	if err != nil {
		return hideURL(err)
	}
	cfg.RuntimeParams["application_name"] = "tussock press"
	p.conn, err = pgx.ConnectConfig(ctx, cfg)
	if err != nil {
		return fmt.Errorf("connect as the press: %w", err)
	}
	_, err = p.conn.Exec(ctx, "LISTEN "+orders)
	return err
}

// Close ends the connection.
func (p *Press) Close() { p.conn.Close(context.Background()) }

// Next waits for an order and takes it. A second press on the same database waits until the first is gone, and then
// takes over what that one left half done.
func (p *Press) Next(ctx context.Context) (Order, error) {
	for {
		if p.conn.IsClosed() {
			if err := p.reconnect(ctx); err != nil {
				return Order{}, err
			}
		}
		o, ok, err := p.take(ctx)
		if err != nil || ok {
			return o, err
		}
		// The wake-up is a courtesy; the look every few seconds is what counts.
		wait, cancel := context.WithTimeout(ctx, 2*time.Second)
		_, err = p.conn.WaitForNotification(wait)
		cancel()
		if ctx.Err() != nil {
			return Order{}, ctx.Err()
		}
		if err != nil && !pgconn.Timeout(err) {
			return Order{}, err
		}
	}
}

func (p *Press) take(ctx context.Context) (o Order, ok bool, err error) {
	var mine bool
	// A lock taken twice by the same session must be released twice, so it is asked for only where it is not held.
	err = p.conn.QueryRow(ctx, `SELECT CASE WHEN EXISTS (
			SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND pid = pg_backend_pid() AND granted)
		THEN true ELSE pg_try_advisory_lock(hashtext('tussock press')) END`).Scan(&mine)
	if err != nil || !mine {
		return o, false, err
	}
	err = p.conn.QueryRow(ctx, `UPDATE tussock.press_order SET state = 'working' WHERE (coop_id, id) = (
			SELECT coop_id, id FROM tussock.press_order WHERE state IN ('waiting', 'working') ORDER BY ordered_at, id LIMIT 1)
		RETURNING coop_id::text, id::text, season, kind`).Scan(&o.Coop, &o.ID, &o.Season, &o.Kind)
	if errors.Is(err, pgx.ErrNoRows) {
		return o, false, nil
	}
	return o, err == nil, err
}

// consentLevel is a ranch's level for the press: 0 where its owner said no, or did not renew a yes; 3 where that owner shows,
// or once showed, a figure under any ranch's name, so that everybody is taken to know all of theirs.
const consentLevel = `coalesce((SELECT CASE WHEN c.through < ($2::timestamptz AT TIME ZONE 'UTC')::date OR c.level = 0 THEN 0
				WHEN EXISTS (SELECT 1 FROM tussock.showcase s WHERE s.coop_id = r.coop_id AND s.entity_id = r.entity_id) THEN 3
				ELSE c.level END
			FROM tussock.consent c WHERE c.coop_id = r.coop_id AND c.ranch_id = r.id ORDER BY c.seq DESC LIMIT 1), 0)`

// Load returns what a bulletin of the order's season is composed from: the whole roster with each ranch's consent, the
// rows of the ranches that consent, and what is published already.
func (p *Press) Load(ctx context.Context, o Order) (in bulletin.Input, err error) {
	in.Season, in.Final, in.WithFigures, in.Version = o.Season, o.Kind == FinalKind, true, p.Version
	if in.Salt, err = p.salt(ctx, o.Coop); err != nil {
		return in, err
	}
	tx, err := p.conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return in, err
	}
	defer tx.Rollback(ctx)
	roster := map[access.ID]Ranch{}
	rows, err := tx.Query(ctx, `SELECT r.name, e.name, coalesce(a.name, ''),
			`+consentLevel+`,
			e.vouched_at IS NULL, r.id::text
		FROM tussock.ranch r
		LEFT JOIN tussock.area a ON a.coop_id = r.coop_id AND a.id = r.area_id
		JOIN tussock.entity e ON e.coop_id = r.coop_id AND e.id = r.entity_id
		WHERE r.coop_id = $1 AND r.erased_at IS NULL ORDER BY r.name`, string(o.Coop), p.now())
	if err != nil {
		return in, err
	}
	if in.Roster, err = pgx.CollectRows(rows, pgx.RowToStructByPos[bulletin.Member]); err != nil {
		return in, err
	}
	for _, m := range in.Roster {
		if m.Consent > 0 {
			roster[access.ID(m.ID)] = Ranch{ID: access.ID(m.ID), Name: m.Ranch, Area: m.Area, Owner: m.Entity, Consent: m.Consent}
		}
	}
	if rows, err = tx.Query(ctx, "SELECT name, group_name FROM tussock.area WHERE coop_id = $1 ORDER BY name", string(o.Coop)); err != nil {
		return in, err
	}
	if in.Areas, err = pgx.CollectRows(rows, pgx.RowToStructByPos[bulletin.Area]); err != nil {
		return in, err
	}
	if in.Earlier, err = published(ctx, tx, o.Coop); err != nil {
		return in, err
	}
	if in.Open, err = openQuestions(ctx, tx, o); err != nil {
		return in, err
	}
	in.Data, err = load(ctx, p.conn, false, o.Coop, roster, 0, o.Season)
	return in, err
}

// salt returns the cooperative's key for the tokens in the log, making one where there is none.
func (p *Press) salt(ctx context.Context, coop access.ID) (salt string, err error) {
	if _, err = p.conn.Exec(ctx, "INSERT INTO tussock.gate_key (coop_id) VALUES ($1) ON CONFLICT DO NOTHING", string(coop)); err != nil {
		return "", err
	}
	err = p.conn.QueryRow(ctx, "SELECT salt FROM tussock.gate_key WHERE coop_id = $1", string(coop)).Scan(&salt)
	return salt, err
}

// published returns the frozen bulletins of a cooperative with their logs, oldest first, a final revision after what it
// revised. What was taken back is among them: it has been seen.
func published(ctx context.Context, tx pgx.Tx, coop access.ID) ([]bulletin.Bulletin, error) {
	rows, err := tx.Query(ctx, `SELECT x.season, x.edition, x.hash, x.version, x.seed, coalesce(l.log, '{}') FROM (
			SELECT season, 1::smallint AS edition, hash, version, seed FROM pub.bulletin WHERE coop_id = $1
			UNION ALL SELECT season, edition, hash, version, seed FROM pub.revision WHERE coop_id = $1) x
		LEFT JOIN tussock.gate_log l ON l.coop_id = $1 AND l.season = x.season AND l.edition = x.edition
		ORDER BY x.season, x.edition`, string(coop))
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (b bulletin.Bulletin, err error) {
		var log []byte
		var seed int64
		if err = row.Scan(&b.Season, &b.Edition, &b.Hash, &b.Version, &seed, &log); err != nil {
			return b, err
		}
		b.Seed = uint64(seed)
		return b, json.Unmarshal(log, &b.Log)
	})
	if err != nil {
		return nil, err
	}
	for i := range list {
		b := &list[i]
		if rows, err = tx.Query(ctx, "SELECT area, label FROM pub.place WHERE coop_id = $1 AND season = $2 ORDER BY area", string(coop), b.Season); err != nil {
			return nil, err
		}
		if b.Places, err = pgx.CollectRows(rows, pgx.RowToStructByPos[bulletin.Place]); err != nil {
			return nil, err
		}
		if rows, err = tx.Query(ctx, `SELECT season, area, substrate, measure, predator, true, estimate, low, high, entities, nests, transects, belts, '', n, n
			FROM pub.cell WHERE coop_id = $1 AND season = $2 AND edition = $3 ORDER BY row`, string(coop), b.Season, b.Edition); err != nil {
			return nil, err
		}
		if b.Cells, err = pgx.CollectRows(rows, pgx.RowToStructByPos[bulletin.Cell]); err != nil {
			return nil, err
		}
	}
	for i := range list {
		if list[i].Figures, err = frozenFigures(ctx, tx, coop, list[i].Season); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// SavePreview keeps what would be published and held, and why, and drops every value. It finishes the order.
func (p *Press) SavePreview(ctx context.Context, o Order, b bulletin.Bulletin) error {
	return p.finish(ctx, o, func(tx pgx.Tx) error {
		var batch pgx.Batch
		for i, c := range b.Cells {
			batch.Queue(`INSERT INTO tussock.press_preview (coop_id, order_id, row, season, area, substrate, measure, predator, published, entities, held_because)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
				string(o.Coop), string(o.ID), i+1, c.Season, c.Area, c.Substrate, c.Measure, c.Predator, c.Published, c.Entities, c.HeldBecause)
		}
		for i, v := range b.Verdicts {
			batch.Queue("INSERT INTO tussock.press_preview_figure (coop_id, order_id, row, kind, place, number, held_because) VALUES ($1, $2, $3, $4, $5, $6, $7)",
				string(o.Coop), string(o.ID), i+1, v.Kind, v.Place, v.Number, v.HeldBecause)
		}
		return tx.SendBatch(ctx, &batch).Close()
	})
}

// Freeze publishes a bulletin for good, whole or not at all, with the log of the gate, and finishes the order.
// errs.Conflict where the season has one, or has had its final revision: that stays as it is.
func (p *Press) Freeze(ctx context.Context, o Order, b bulletin.Bulletin) error {
	return p.finish(ctx, o, func(tx pgx.Tx) error {
		head := statement(`INSERT INTO pub.bulletin (coop_id, season, number, published_at, hash, version, seed)
			SELECT $1, $2, count(*) + 1, $3, $4, $5, $6 FROM pub.bulletin WHERE coop_id = $1`)
		if b.Edition > 1 {
			head = "INSERT INTO pub.revision (coop_id, season, edition, published_at, hash, version, seed) VALUES ($1, $2, 2, $3, $4, $5, $6)"
		}
		if _, err := tx.Exec(ctx, head.text(), string(o.Coop), b.Season, p.now(), b.Hash, b.Version, int64(b.Seed)); err != nil {
			return err
		}
		var batch pgx.Batch
		row := 0
		for _, c := range b.Cells {
			if !c.Published {
				continue
			}
			row++
			batch.Queue(`INSERT INTO pub.cell (coop_id, season, edition, row, area, substrate, measure, predator, estimate, low, high, entities, n, nests, transects, belts)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)`,
				string(o.Coop), b.Season, b.Edition, row, c.Area, c.Substrate, c.Measure, c.Predator, c.Estimate, c.Low, c.High, c.Entities, c.Gate,
				c.Nests, c.Transects, c.Belts)
		}
		if b.Edition == 1 {
			for _, place := range b.Places {
				batch.Queue("INSERT INTO pub.place (coop_id, season, area, label) VALUES ($1, $2, $3, $4)", string(o.Coop), b.Season, place.Area, place.Label)
			}
		}
		if b.Edition == 1 {
			queueFigures(&batch, o.Coop, b)
		}
		log, err := json.Marshal(b.Log)
		if err != nil {
			return err
		}
		batch.Queue("INSERT INTO tussock.gate_log (coop_id, season, edition, hash, log) VALUES ($1, $2, $3, $4, $5)",
			string(o.Coop), b.Season, b.Edition, b.Log.Hash, string(log))
		return tx.SendBatch(ctx, &batch).Close()
	})
}

// Fail finishes an order with a sentence for the coordinator.
func (p *Press) Fail(ctx context.Context, o Order, note string) error {
	_, err := p.conn.Exec(ctx, "UPDATE tussock.press_order SET state = 'failed', finished_at = $3, note = $4 WHERE coop_id = $1 AND id = $2",
		string(o.Coop), string(o.ID), p.now(), note)
	return err
}

func (p *Press) finish(ctx context.Context, o Order, fn func(pgx.Tx) error) error {
	err := pgx.BeginFunc(ctx, p.conn, func(tx pgx.Tx) error {
		if err := fn(tx); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, "UPDATE tussock.press_order SET state = 'done', finished_at = $3 WHERE coop_id = $1 AND id = $2",
			string(o.Coop), string(o.ID), p.now())
		return err
	})
	return translate(err)
}

func (p *Press) now() time.Time {
	if p.Now == nil {
		return time.Now().UTC().Truncate(time.Microsecond)
	}
	return p.Now().UTC().Truncate(time.Microsecond)
}
