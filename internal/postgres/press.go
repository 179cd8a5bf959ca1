package postgres

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/survey"
)

// Press composes bulletins: it reads the copies of results that were made at the cut-off, and neither results nor roster nor
// consents themselves; it adds to what is published, and can change nothing there. It has one connection and no reader.
type Press struct {
	// Version of the program goes into what is published.
	Version string

	url  string
	conn *pgx.Conn
}

// A Print is an edition to be composed.
type Print struct {
	Coop    access.ID
	Season  int
	Edition int
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
	return nil
}

// Close ends the connection.
func (p *Press) Close() { p.conn.Close(context.Background()) }

// pause is how often the press looks whether a day has come.
const pause = time.Second

// Next waits for an edition whose day has come. Until then it opens seasons, copies results at their cut-offs, and lets out what is
// approved. A second press on the same database waits until the first is gone, and then takes over what that one left half done.
func (p *Press) Next(ctx context.Context) (Print, error) {
	for {
		if p.conn.IsClosed() {
			if err := p.reconnect(ctx); err != nil {
				return Print{}, err
			}
		}
		o, ok, err := p.take(ctx)
		if err != nil || ok {
			return o, err
		}
		select {
		case <-time.After(pause):
		case <-ctx.Done():
			return Print{}, ctx.Err()
		}
	}
}

func (p *Press) take(ctx context.Context) (o Print, ok bool, err error) {
	var mine bool
	// A lock taken twice by the same session must be released twice, so it is asked for only where it is not held.
	err = p.conn.QueryRow(ctx, `SELECT CASE WHEN EXISTS (
			SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND pid = pg_backend_pid() AND granted)
		THEN true ELSE pg_try_advisory_lock(hashtext('tussock press')) END`).Scan(&mine)
	if err != nil || !mine {
		return o, false, err
	}
	for _, due := range []statement{"SELECT tussock.freeze_due(NULL)", "SELECT tussock.publish_due(NULL)"} {
		if _, err := p.conn.Exec(ctx, due.text()); err != nil {
			return o, false, err
		}
	}
	var coop *string
	var season, edition *int
	err = p.conn.QueryRow(ctx, "SELECT coop::text, season, edition FROM tussock.print_due($1)", p.Version).Scan(&coop, &season, &edition)
	if err != nil || coop == nil {
		return o, false, err
	}
	return Print{access.ID(*coop), *season, *edition}, true, nil
}

// Load returns what an edition is composed from: the copy made at its cut-off, of the ranches on the roster as it stood when the season
// opened, each under its own id. It tells whether the copy is whole: whoever was erased since is not in it.
func (p *Press) Load(ctx context.Context, o Print) (in bulletin.Input, whole bool, err error) {
	in.Season, in.Version = o.Season, p.Version
	if in.Salt, err = p.salt(ctx, o.Coop); err != nil {
		return in, false, err
	}
	tx, err := p.conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return in, false, err
	}
	defer tx.Rollback(ctx)
	if in.Before, err = logBefore(ctx, tx, o); err != nil {
		return in, false, err
	}
	if err = tx.QueryRow(ctx, "SELECT remains_key FROM tussock.season WHERE coop_id = $1 AND year = $2", string(o.Coop), o.Season).Scan(&in.KeyVersion); err != nil {
		return in, false, err
	}
	keys, err := keysOf(ctx, p.conn, o.Coop)
	if err != nil {
		return in, false, err
	}
	in.Key = keys(o.Season)
	rows, err := tx.Query(ctx, `SELECT x.ranch_id::text, s.counts_as::text, s.area, s.group_name, NOT bool_or(s.settled) OVER one, bool_and(s.fresh) OVER one, x.shown, x.open
		FROM tussock.snapshot x JOIN tussock.season_ranch s ON s.coop_id = x.coop_id AND s.season = x.season AND s.ranch_id = x.ranch_id
		WHERE x.coop_id = $1 AND x.season = $2 AND x.edition = $3
		WINDOW one AS (PARTITION BY s.counts_as) ORDER BY x.ranch_id`, string(o.Coop), o.Season, o.Edition)
	if err != nil {
		return in, false, err
	}
	var m bulletin.Member
	var area bulletin.Area
	var shown, open bool
	roster, areas := map[access.ID]Ranch{}, map[string]bool{}
	in.Open = map[string]bool{}
	_, err = pgx.ForEachRow(rows, []any{&m.ID, &m.Entity, &area.Name, &area.Group, &m.Unsettled, &m.New, &shown, &open}, func() error {
		m.Ranch, m.Area, m.Consent = m.ID, area.Name, bulletin.Counted
		if shown {
			m.Consent = bulletin.Shown
		}
		in.Roster = append(in.Roster, m)
		in.Open[m.ID] = open
		roster[access.ID(m.ID)] = Ranch{ID: access.ID(m.ID), Name: m.ID, Area: m.Area, Owner: m.Entity}
		if area.Name != "" && !areas[area.Name] {
			areas[area.Name] = true
			in.Areas = append(in.Areas, area)
		}
		return nil
	})
	if err != nil {
		return in, false, err
	}
	var counted int
	if err := tx.QueryRow(ctx, "SELECT coalesce(counted, 0), first_check, last_check FROM tussock.edition WHERE coop_id = $1 AND season = $2 AND edition = $3",
		string(o.Coop), o.Season, o.Edition).Scan(&counted, &in.First, &in.Last); err != nil {
		return in, false, err
	}
	in.Data, err = loadCopy(ctx, p.conn, o, roster)
	return in, len(in.Roster) == counted, err
}

// logBefore returns the log of the bulletin before this season's, nil where there is none.
func logBefore(ctx context.Context, tx pgx.Tx, o Print) (*bulletin.Log, error) {
	rows, err := tx.Query(ctx, `SELECT l.log FROM tussock.gate_log l JOIN pub.bulletin b ON b.coop_id = l.coop_id AND b.season = l.season
		WHERE l.coop_id = $1 AND b.number < coalesce((SELECT x.number FROM pub.bulletin x WHERE x.coop_id = $1 AND x.season = $2), 2147483647)
		ORDER BY b.number DESC LIMIT 1`, string(o.Coop), o.Season)
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil || len(list) == 0 {
		return nil, err
	}
	var log bulletin.Log
	return &log, json.Unmarshal([]byte(list[0]), &log)
}

func loadCopy(ctx context.Context, c *pgx.Conn, o Print, roster map[access.ID]Ranch) (*survey.Data, error) {
	return load(ctx, c, source{
		nests: "nest",
		below: "coalesce(x.upload_id = ANY (s.hands), false)",
		rows: func(table statement) statement {
			return ` FROM tussock.snapshot s CROSS JOIN LATERAL jsonb_populate_recordset(NULL::tussock.` + table + `, s.` + table + `s) WITH ORDINALITY x
				WHERE s.coop_id = $1 AND s.ranch_id = ANY ($2::uuid[]) AND s.season = $3 AND s.edition = $4 ORDER BY s.ranch_id, x.ordinality`
		},
		args: []any{string(o.Coop), idsOf(roster), o.Season, o.Edition},
	}, roster)
}

// salt returns the cooperative's key for the tokens in the log, making one where there is none.
func (p *Press) salt(ctx context.Context, coop access.ID) (salt string, err error) {
	if _, err = p.conn.Exec(ctx, "INSERT INTO tussock.gate_key (coop_id) VALUES ($1) ON CONFLICT DO NOTHING", string(coop)); err != nil {
		return "", err
	}
	err = p.conn.QueryRow(ctx, "SELECT salt FROM tussock.gate_key WHERE coop_id = $1", string(coop)).Scan(&salt)
	return salt, err
}

// First returns the first edition of a season as it is out: without what was taken back.
func (p *Press) First(ctx context.Context, o Print) (b bulletin.Bulletin, err error) {
	b.Season, b.Edition = o.Season, 1
	coop := string(o.Coop)
	if err := p.conn.QueryRow(ctx, "SELECT covers, hash, version, key_version, key_source, key_counted FROM pub.bulletin WHERE coop_id = $1 AND season = $2", coop, o.Season).
		Scan(&b.Covers, &b.Hash, &b.Version, &b.Key.Version, &b.Key.Source, &b.Key.Counted); err != nil {
		return b, err
	}
	rows, err := p.conn.Query(ctx, "SELECT area, label FROM pub.place WHERE coop_id = $1 AND season = $2 ORDER BY area", coop, o.Season)
	if err != nil {
		return b, err
	}
	if b.Places, err = pgx.CollectRows(rows, pgx.RowToStructByPos[bulletin.Place]); err != nil {
		return b, err
	}
	rows, err = p.conn.Query(ctx, `SELECT c.season, c.area, c.substrate, c.measure, c.predator, c.clumps, true, c.estimate, c.low, c.high, c.entities, c.nests, c.transects, c.belts, '', c.n, c.n
		FROM pub.cell c WHERE c.coop_id = $1 AND c.season = $2 AND c.edition = 1
		AND NOT EXISTS (SELECT 1 FROM pub.retraction x WHERE x.coop_id = c.coop_id AND x.season = c.season AND x.edition = 1 AND x.row = c.row) ORDER BY c.row`, coop, o.Season)
	if err != nil {
		return b, err
	}
	b.Cells, err = pgx.CollectRows(rows, pgx.RowToStructByPos[bulletin.Cell])
	return b, err
}

// Keep keeps a composed edition for good, whole or not at all, with the log of the gate. It is not out yet.
func (p *Press) Keep(ctx context.Context, o Print, b bulletin.Bulletin) error {
	err := pgx.BeginFunc(ctx, p.conn, func(tx pgx.Tx) error {
		var batch pgx.Batch
		coop := string(o.Coop)
		if b.Edition == 1 {
			batch.Queue(`INSERT INTO pub.bulletin (coop_id, season, number, hash, version, covers, held, first_check, last_check, key_version, key_source, key_counted)
				SELECT $1, $2, coalesce(max(number), 0) + 1, $3, $4, $5, $6, $7, $8, $9, $10, $11 FROM pub.bulletin WHERE coop_id = $1`,
				coop, b.Season, b.Hash, b.Version, b.Covers, b.Held(), b.First, b.Last, b.Key.Version, b.Key.Source, b.Key.Counted)
			for _, place := range b.Places {
				batch.Queue("INSERT INTO pub.place (coop_id, season, area, label) VALUES ($1, $2, $3, $4)", coop, b.Season, place.Area, place.Label)
			}
			log, err := json.Marshal(b.Log)
			if err != nil {
				return err
			}
			batch.Queue("INSERT INTO tussock.gate_log (coop_id, season, edition, log) VALUES ($1, $2, 1, $3)", coop, b.Season, string(log))
		} else {
			batch.Queue("INSERT INTO pub.revision (coop_id, season, edition, hash, version, held) SELECT $1, $2, 2, $3, $4, held FROM pub.bulletin WHERE coop_id = $1 AND season = $2", coop, b.Season, b.Hash, b.Version)
		}
		row := 0
		for _, c := range b.Cells {
			if !c.Published {
				continue
			}
			row++
			batch.Queue(`INSERT INTO pub.cell (coop_id, season, edition, row, area, substrate, measure, predator, clumps, estimate, low, high, entities, n, nests, transects, belts)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)`,
				coop, b.Season, b.Edition, row, c.Area, c.Substrate, c.Measure, c.Predator, c.Clumps, c.Estimate, c.Low, c.High, c.Entities, c.Gate, c.Nests, c.Transects, c.Belts)
		}
		batch.Queue("UPDATE tussock.edition SET composed_at = now(), note = '' WHERE coop_id = $1 AND season = $2 AND edition = $3", coop, o.Season, o.Edition)
		return tx.SendBatch(ctx, &batch).Close()
	})
	return translate(err)
}

// Refuse ends an edition that there is none of, with a sentence for the coordinator that says why.
func (p *Press) Refuse(ctx context.Context, o Print, why string) error {
	_, err := p.conn.Exec(ctx, "UPDATE tussock.edition SET composed_at = now(), note = $4 WHERE coop_id = $1 AND season = $2 AND edition = $3", string(o.Coop), o.Season, o.Edition, why)
	return err
}

// Fail leaves an edition to a later version of the program, with a sentence for the coordinator.
func (p *Press) Fail(ctx context.Context, o Print, why string) error {
	_, err := p.conn.Exec(ctx, "UPDATE tussock.edition SET note = $4 WHERE coop_id = $1 AND season = $2 AND edition = $3", string(o.Coop), o.Season, o.Edition, why)
	return err
}
